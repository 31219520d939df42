"""A release is whole or not there: killed at any moment, on a disk that fills."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from released import KIT, PAIR, made_job

SHOP = tb.Shop.demo()


@pytest.fixture(scope="module")
def job() -> tb.Job:
    found: tb.Job = made_job()["job"]
    return found


KILLED = """
import os, sys
from pathlib import Path
from tinbook.write.files import write_new
left = int(sys.argv[2])
def hook(event, args):
    global left
    if event in ("open", "os.link", "os.remove", "os.rename", "os.scandir") and "tinbook-test" in str(args[0]):
        left -= 1
        if left == 0:
            os.kill(os.getpid(), 9)
sys.addaudithook(hook)
write_new(Path(sys.argv[1]), b"x" * 100_000)
"""


def test_killed_at_every_write_point_there_is_none_or_a_whole_one(tmp_path: Path) -> None:
    ended = []
    for point in range(1, 12):
        folder = tmp_path / f"tinbook-test {point}"
        folder.mkdir()
        file = folder / "Q7_A.zip"
        env = {**os.environ, "PYTHONPATH": str(KIT)}
        done = subprocess.run([sys.executable, "-c", KILLED, str(file), str(point)], env=env, capture_output=True)
        ended.append(done.returncode)
        assert not file.exists() or file.read_bytes() == b"x" * 100_000
        if done.returncode == 0:
            break
    assert ended[-1] == 0
    assert len(ended) >= 4
    assert set(ended[:-1]) == {-9}


def test_a_full_disk_leaves_nothing(job: tb.Job, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from tinbook.write.files import write_new

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(tb.errors.CannotWrite, match="No space left"):
        write_new(tmp_path / "Q7_A.zip", b"x")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("at", [1, 4])
def test_a_disk_that_fills_within_a_release_leaves_nothing(
    job: tb.Job, static: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    """The system refuses the first, or a later, of the files that are written on the way."""
    count, real = 0, os.fsync

    def full(handle: int) -> None:
        nonlocal count
        count += 1
        if count == at:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with pytest.raises(tb.errors.CannotWrite, match=r"Q7 rev A: nothing was released.*No space left"):
        tb.release(job, "A", SHOP, tmp_path / "out", effort=0)
    assert list(tmp_path.iterdir()) == []


RELEASED = """
import os, signal, sys
folder, store, left = sys.argv[1], sys.argv[2], int(sys.argv[3])
seen = 0
def moment(*_):
    global seen
    seen += 1
    if seen == left:
        os.kill(os.getpid(), 9)
def hook(event, args):
    if event in ("open", "os.link", "os.mkdir", "os.remove", "os.rename", "os.rmdir", "os.scandir", "sqlite3.connect"):
        if "tinbook-test" in str(args[0]):
            moment()
sys.addaudithook(hook)
import tinbook as tb
made = {"__name__": "job"}
exec(CODE, made)
with tb.job.Store(store) as kept:
    kept._db.set_trace_callback(moment)
    tb.release(made["job"], "A", tb.Shop.demo(), folder, effort=0, store=kept)
print(seen, sum(os.times()[:2]))
"""


def run(place: Path, *, point: int = 0, after: float = 0.0) -> subprocess.CompletedProcess[str]:
    """Release in a process of its own that dies at a point of its writing, or after some seconds of computing.

    The timer counts the process's own time, from before Python starts, and ends it without a handler as kill -9 does.
    """
    code = f"CODE = {PAIR!r}\n{RELEASED}"
    env = {**os.environ, "PYTHONPATH": str(KIT), "TMPDIR": str(place)}
    timer = (lambda: signal.setitimer(signal.ITIMER_PROF, after)) if after else None
    words = [sys.executable, "-c", code, str(place / "out"), str(place / "s.db"), str(point)]
    return subprocess.run(words, env=env, capture_output=True, text=True, check=False, preexec_fn=timer)


@pytest.fixture(scope="module")
def undisturbed(static: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[int, float, bytes]:
    """Return the points of writing in a whole release, its CPU seconds, and its pack."""
    place = tmp_path_factory.mktemp("tinbook-test")
    run(place)  # compiles what is not compiled yet
    again = tmp_path_factory.mktemp("tinbook-test")
    points, seconds = run(again).stdout.split()
    return int(points), float(seconds), (again / "out" / "Q9_A.zip").read_bytes()


def judged(place: Path, killed: int, whole: bytes) -> str:
    """Hold what a killed release left against what may be left, release again, and return what was left."""
    pack, store = place / "out" / "Q9_A.zip", place / "s.db"
    here: dict[str, Any] = {"__name__": "job"}
    exec(PAIR, here)
    with tb.job.Store(store) as kept:
        assert not kept.check()
        known = kept.released("Q9", "A")
        there = pack.exists()
        assert there or not known, "a record without its pack"
        assert not there or pack.read_bytes() == whole
        assert there or killed < 0
        if not known:
            assert tb.release(here["job"], "A", SHOP, place / "out", effort=0, store=kept) == pack
        assert pack.read_bytes() == whole
        assert tb.verify(pack, kept).ok
        assert not kept.check()
        with pytest.raises(tb.errors.CannotWrite, match="knows this release already"):
            tb.release(here["job"], "A", SHOP, place / "out", effort=0, store=kept)
    return "recorded" if known else "a pack" if there else "nothing"


@pytest.mark.full
@pytest.mark.skipif(os.name != "posix", reason="kill -9 is a signal")
@pytest.mark.parametrize("seed", range(100))
def test_killed_at_a_hundred_random_moments_the_next_release_ends_the_work(
    undisturbed: tuple[int, float, bytes], tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    """Half of them anywhere in its computing time, Python's start included; half between two of its writes."""
    points, seconds, whole = undisturbed
    rng, place = random.Random(seed), tmp_path_factory.mktemp("tinbook-test")
    how = {"after": rng.uniform(0.01, seconds)} if seed % 2 else {"point": rng.randint(1, points)}
    done = run(place, **how)  # type: ignore[arg-type]
    assert done.returncode in ((0, -signal.SIGPROF) if seed % 2 else (-signal.SIGKILL,)), done.stderr
    print(f"seed {seed}, {how}: {judged(place, done.returncode, whole)}")
    left = [p.name for p in (place / "out").iterdir() if p.name != "Q9_A.zip"]
    assert all(name.endswith(".part") for name in left)
    shutil.rmtree(place)


@pytest.mark.skipif(os.name != "posix", reason="kill -9 is a signal")
def test_killed_between_pack_and_record_the_next_call_records_it(
    monkeypatch: pytest.MonkeyPatch, static: Path, tmp_path: Path
) -> None:
    """A pack without its record is recorded if it follows from the same inputs, and refused if it does not."""
    here: dict[str, Any] = {"__name__": "job"}
    exec(PAIR, here)
    job, out = here["job"], tmp_path / "out"
    pack = tb.release(job, "A", SHOP, out, effort=0)  # as a release leaves it that dies before its record
    data, other = pack.read_bytes(), replace(job, title="another")
    with tb.job.Store(tmp_path / "s.db") as kept:
        with pytest.raises(tb.errors.CannotWrite, match="does not follow from the same inputs"):
            tb.release(other, "A", SHOP, out, effort=0, store=kept)
        pack.write_bytes(data[:-1])
        with pytest.raises(tb.errors.CannotWrite, match="never written over"):
            tb.release(job, "A", SHOP, out, effort=0, store=kept)
        assert not kept.releases("Q9")
        pack.write_bytes(data)
        assert tb.release(job, "A", SHOP, out, effort=0, store=kept) == pack
        assert tb.verify(pack, kept).ok
    assert pack.read_bytes() == data
