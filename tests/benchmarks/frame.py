"""The frame of the benchmarks: cases, each measured against its own baseline in the same run, and one table.

A second on one machine says little about another; a ratio of two jobs measured in turns says much. So
a case brings both jobs, and states what their ratio must be.
"""

from __future__ import annotations

import gc
import os
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from statistics import median

Job = Callable[[], object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Two jobs and what is wanted of them.

    Parameters
    ----------
    name, against : str
        What is measured, and the baseline in words.
    ours, base : callable
        The two jobs; what they need is made before.
    rounds : int
        Measured pairs, after one pair that only warms up.
    faster : float, optional
        Ours must be at least this many times faster than the baseline.
    slower : float, optional
        Ours may take at most this many times the baseline.
    seconds : float, optional
        Ours may take at most this long.
    cpu : bool, optional
        Count processor time, of ended child processes too, instead of the clock on the wall.
    calls : int, optional
        How often one run of ours does what is measured; its time is shared out.
    """

    name: str
    against: str
    ours: Job
    base: Job
    rounds: int = 5
    faster: float | None = None
    slower: float | None = None
    seconds: float | None = None
    cpu: bool = False
    calls: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """Medians of one case in seconds, and the median over the pairs of base / ours."""

    case: Case
    ours: float
    base: float
    ratio: float

    @property
    def missed(self) -> str:
        """What was wanted and not reached, or ""."""
        case = self.case
        if case.faster is not None and self.ratio < case.faster:
            return f"at least {case.faster:g} x faster"
        if case.slower is not None and 1 / self.ratio > case.slower:
            return f"at most {case.slower:.3g} x the time"
        if case.seconds is not None and self.ours > case.seconds:
            return f"at most {case.seconds:g} s"
        return ""


Maker = Callable[[], Iterable[Case]]
MAKERS: list[Maker] = []


def benchmark(maker: Maker) -> Maker:
    """Register a function that yields cases; it runs only when the benchmarks do."""
    MAKERS.append(maker)
    return maker


def processor_time() -> float:
    """Return the seconds that this process and its ended children have computed."""
    return time.process_time() + sum(os.times()[2:4])


def measure(case: Case, clock: Callable[[], float] | None = None) -> Result:
    """Run the two jobs of a case in turns and take medians."""
    clock = clock or (processor_time if case.cpu else time.perf_counter)

    def timed(job: Job) -> float:
        gc.collect()
        start = clock()
        job()
        return max(clock() - start, 1e-9)

    case.base()
    case.ours()
    pairs = []
    for turn in range(case.rounds):
        # Who goes first alternates, so that a machine getting warm or busy hits both alike.
        if turn % 2:
            ours, base = timed(case.ours), timed(case.base)
        else:
            base, ours = timed(case.base), timed(case.ours)
        pairs.append((ours / case.calls, base))
    return Result(
        case=case,
        ours=median(ours for ours, _ in pairs),
        base=median(base for _, base in pairs),
        ratio=median(base / ours for ours, base in pairs),
    )


def _time(seconds: float) -> str:
    return f"{seconds:.2f} s" if seconds >= 1 else f"{seconds * 1e3:.3g} ms"


def row(result: Result) -> tuple[str, ...]:
    """Return the cells of a result."""
    case = result.case
    wanted = [f">= {case.faster:g} x"] if case.faster is not None else []
    wanted += [f">= 1/{case.slower:.3g} x"] if case.slower is not None else []
    wanted += [f"<= {_time(case.seconds)}"] if case.seconds is not None else []
    ratio = f"{result.ratio:.3g} x" if result.ratio >= 1 else f"1/{1 / result.ratio:.3g} x"
    verdict = "MISSED" if result.missed else "good" if wanted else ""
    return (case.name, case.against, _time(result.ours), _time(result.base), ratio, ", ".join(wanted), verdict)


HEAD = ("what", "against", "ours", "baseline", "baseline/ours", "wanted", "")


def table(rows: Sequence[Sequence[str]]) -> str:
    """Return one table of text, columns as wide as they must be."""
    lines = [HEAD, *rows]
    widths = [max(len(line[i]) for line in lines) for i in range(len(HEAD))]
    text = ["  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in lines]
    return "\n".join([text[0], "-" * len(text[0]), *text[1:]])
