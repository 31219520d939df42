"""Injured STEP files: a flat or a TinbookError, quickly, and nothing else."""

from __future__ import annotations

import faulthandler
import os
import random
import re
import sys
import types
from collections.abc import Callable
from pathlib import Path

import pytest

from injuries import seeds
from tinbook.errors import TinbookError
from tinbook.read.step import guard as step_guard
from tinbook.read.step import load as step_load
from tinbook.read.step.unfold import unfold


def mutated(text: str, rng: random.Random) -> bytes:
    """One random injury: bytes, digits, references, lines lost, doubled or moved."""
    data = bytearray(text.encode())
    kind = rng.randrange(6)
    if kind == 0:
        del data[rng.randrange(len(data)) :]
    elif kind == 1:
        for _ in range(rng.choice([1, 3, 10, 50])):
            data[rng.randrange(len(data))] = rng.randrange(256)
    elif kind == 2:
        digits = [i for i, b in enumerate(data) if 48 <= b <= 57]
        for _ in range(rng.choice([1, 5, 30])):
            data[rng.choice(digits)] = 48 + rng.randrange(10)
    elif kind == 3:
        lines = data.split(b"\n")
        i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
        lines[i : i + rng.randrange(3)] = lines[j : j + rng.randrange(4)]
        data = bytearray(b"\n".join(lines))
    elif kind == 4:
        refs = [m.span() for m in re.finditer(rb"#\d+", data)]
        for a, b in rng.sample(refs, rng.choice([1, 4])):
            data[a:b] = f"#{rng.randrange(400)}".ljust(b - a).encode()
    else:
        numbers = [m.span() for m in re.finditer(rb"-?\d+\.\d*(?:E[-+]\d+)?", data)]
        a, b = rng.choice(numbers)
        data[a:b] = rng.choice([b"0.", b"1.E30", b"-1.E-30", b"1.E400", b"-7.5"])
    return bytes(data)


forks = pytest.mark.skipif(
    not hasattr(os, "fork") or sys.platform == "darwin", reason="needs a cheap child process: fork"
)


@pytest.fixture
def forked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fork the guarded reader instead of starting it, for time; its limit of CPU seconds stays."""

    def run(command: list[str], **options: object) -> types.SimpleNamespace:
        pid = os.fork()
        if pid == 0:
            faulthandler.disable()
            code = 1  # as Python ends on an exception; one that got out of here would run the tests a second time
            try:
                code = step_guard.main(command[3], command[4], float(command[5]), int(command[6]))
            finally:
                os._exit(code)
        _, status = os.waitpid(pid, 0)
        return types.SimpleNamespace(returncode=os.waitstatus_to_exitcode(status), stderr=b"")

    monkeypatch.setattr(step_load.subprocess, "run", run)


def spent() -> float:
    """CPU seconds of this process and its ended children."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


def ends(path: Path, seed: int) -> tuple[str, float]:
    """Read a file; return how it ended and the CPU seconds it took. Anything but a flat or a TinbookError passes on."""
    before, start = sorted(path.parent.iterdir()), spent()
    try:
        unfold(path, 0.44)
        ended = "flat"
    except TinbookError:
        ended = "error"
    except Exception as wrong:
        raise AssertionError(f"case {seed} ends in {type(wrong).__name__}") from wrong
    assert sorted(path.parent.iterdir()) == before
    return ended, spent() - start


@forks
@pytest.mark.usefixtures("forked")
@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
@pytest.mark.parametrize("block", range(2))
def test_mutated_files(block: int, text: str, write: Callable[[str | bytes], Path]) -> None:
    """50 injured files a block, fresh in every run: a flat or a TinbookError, never anything else."""
    found = [ends(write(mutated(text, random.Random(seed))), seed)[0] for seed in seeds("step", 50, 50 * block)]
    assert found.count("error") > 5
    assert found.count("flat") > 0


@forks
@pytest.mark.full
@pytest.mark.usefixtures("forked")
@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
@pytest.mark.parametrize("block", range(20))
def test_two_thousand_mutated_files(
    block: int,
    text: str,
    foreign: Path,
    write: Callable[[str | bytes], Path],
    record_property: Callable[[str, object], None],
) -> None:
    """100 injured files a block, our angle and the parts drawn elsewhere: none takes over 10 s of CPU."""
    texts = [text, *(p.read_text(encoding="latin-1") for p in sorted(foreign.glob("*.step")))]
    longest = 0.0
    for seed in seeds("step, full", 100, 100 * block):
        rng = random.Random(seed)
        _, took = ends(write(mutated(rng.choice(texts), rng)), seed)
        longest = max(longest, took)
    record_property("longest CPU s", round(longest, 2))
    print(f"block {block}: longest {longest:.2f} s")
    assert longest < 10


@forks
@pytest.mark.usefixtures("forked")
@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
def test_a_plane_at_no_finite_place_is_refused(text: str, write: Callable[[str | bytes], Path]) -> None:
    """One plane's own origin far beyond any part; whatever corner of the file holds it."""
    planes = re.findall(r"#\d+ = PLANE\('',(#\d+)\);", text)
    assert planes
    ends = set()
    for plane in planes:
        (place,) = re.findall(rf"{plane} = AXIS2_PLACEMENT_3D\('',(#\d+),", text)
        (point,) = re.findall(rf"{place} = CARTESIAN_POINT\('',\([^)]*\)\);", text)
        spoilt = text.replace(point, f"{place} = CARTESIAN_POINT('',(1.E200,0.,0.));")
        try:
            unfold(write(spoilt), 0.44)
        except TinbookError as e:
            ends.add(type(e).__name__)
    assert ends
