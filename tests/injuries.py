"""Random injuries to files, from a seed that is fresh in every run and printed: `TINBOOK_SEED=n` runs the same again."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator

ODD = (b"0", b"-1", b"1e308", b"nan", b"inf", b"99999999999", b"1e-300", b"", b"xyz", b"10", b"SPLINE", b"INSERT")
WORDS = (b'"5 mm/0"', b'"5 mm^9^9^9"', b'"5 mm#x"', b"[", b"]]", b"[[fold]]", b'"', b"'''", b"=", b"1_0", b"-", b"\x00")
"""What a drawing, and what a text with units and brackets, may hold in the wrong place."""


def run_seed() -> int:
    """Return the seed of this run; conftest sets it once for all processes."""
    return int(os.environ["TINBOOK_SEED"])


def seeds(what: str, count: int, start: int = 0) -> Iterator[int]:
    """Yield seeds of single cases, other ones for each subject; a case is told by its own number."""
    first = random.Random(f"{run_seed()} {what}").randrange(10**12)
    return iter(range(first + start, first + start + count))


def injured(data: bytes, rng: random.Random, low: int = 0, odd: tuple[bytes, ...] = ODD) -> bytes:
    """One random injury to bytes, digits, stretches or lines, mostly after `low`."""
    out = bytearray(data)
    kind = rng.randrange(7)
    if kind == 0:
        del out[rng.randrange(len(out)) :]
    elif kind == 1:
        for _ in range(rng.choice([1, 3, 10, 50])):
            out[rng.randrange(len(out))] = rng.randrange(256)
    elif kind == 2:
        for _ in range(rng.choice([1, 3, 10])):
            out[rng.randrange(low, len(out))] = rng.randrange(32, 127)
    elif kind == 3:
        i = rng.randrange(low, len(out))
        del out[i : i + rng.randrange(1, 2000)]
    elif kind == 4:
        i, at = rng.randrange(low, len(out)), rng.randrange(low, len(out))
        out[at:at] = out[i : i + rng.randrange(1, 2000)]
    elif kind == 5:
        digits = [i for i in range(low, len(out)) if 48 <= out[i] <= 57]
        for _ in range(rng.choice([1, 5, 30])):
            out[rng.choice(digits)] = 48 + rng.randrange(10)
    else:
        lines = bytes(out[low:]).split(b"\n")
        for _ in range(rng.choice([1, 3])):
            lines[rng.randrange(len(lines))] = rng.choice(odd)
        out[low:] = b"\n".join(lines)
    return bytes(out)
