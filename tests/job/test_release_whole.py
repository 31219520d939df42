"""A release is whole or not there: killed at any moment, on a disk that fills."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

import tinbook as tb
from released import KIT, MAKE, made_job

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
    assert [p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*")] == ["out"]


RELEASED = """
import os, sys, threading, time
sys.argv = ["", *sys.argv[1:]]
code, folder, store, after = sys.argv[1:5]
made = {"__name__": "job"}
exec(open(code).read(), made)
import tinbook as tb
if float(after) > 0:
    threading.Thread(target=lambda: (time.sleep(float(after)), os.kill(os.getpid(), 9)), daemon=True).start()
with tb.job.Store(store) as kept:
    tb.release(made["job"], "A", tb.Shop.demo(), folder, effort=0, store=kept)
"""


@pytest.mark.full
@pytest.mark.parametrize("seed", range(4))
def test_killed_at_a_hundred_random_moments_pack_and_store_agree(static: Path, tmp_path: Path, seed: int) -> None:
    """No pack and no record, or a whole pack; a record never without its pack. The next try then ends the work."""
    code, rng, ended = tmp_path / "make.py", random.Random(seed), []
    code.write_text(MAKE)
    env = {**os.environ, "PYTHONPATH": str(KIT), "TMPDIR": str(tmp_path)}
    whole = 0.0
    for k in range(26):
        folder, store = tmp_path / f"{k}", tmp_path / f"{k}.db"
        with tb.job.Store(store):
            pass
        begun = time.monotonic()
        after = rng.uniform(0.3, 1.05) * whole
        words = [sys.executable, "-c", RELEASED, str(code), str(folder), str(store), str(after)]
        ended.append(subprocess.run(words, env=env, capture_output=True, check=False).returncode)
        whole = whole or time.monotonic() - begun
        pack = folder / "Q7_A.zip"
        with tb.job.Store(store) as kept:
            assert not kept.check()
            known = kept.released("Q7", "A")
            assert pack.exists() or not known
            if pack.exists():
                assert tb.verify(pack, kept if known else None).ok
    assert ended[0] == 0
    assert ended.count(-9) >= 12
