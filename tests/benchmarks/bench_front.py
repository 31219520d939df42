"""Import of the package against the start of Python itself."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from frame import Case, Job, benchmark

KIT = Path(__file__).resolve().parents[2] / "kit"


def python(code: str) -> Job:
    env = dict(os.environ, PYTHONPATH=str(KIT))
    return lambda: subprocess.run([sys.executable, "-c", code], env=env, check=True)


@benchmark
def front() -> Iterator[Case]:
    bare = python("pass")
    yield Case(
        name="import tinbook",
        against="python -c pass",
        ours=python("import tinbook"),
        base=bare,
        rounds=11,
        seconds=0.3,
    )
    yield Case(
        name="import tinbook, then Shop, Part and make",
        against="python -c pass",
        ours=python("import tinbook as tb; tb.Shop, tb.Part, tb.make"),
        base=bare,
    )
