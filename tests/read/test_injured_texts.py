"""Injured points, strips, part and shop files: a value or a TinbookError, quickly, and nothing else.

A run draws 1 700 fresh cases, `--full` 60 000; the report's head prints the seed, a failure the case's own number.
"""

from __future__ import annotations

import random
import resource
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

import tinbook as tb
from injuries import ODD, WORDS, injured, seeds
from tinbook.errors import TinbookError
from tinbook.families.plain import folded_channel
from tinbook.part.partfile import part_to_toml, read_part
from tinbook.read.rows import LARGEST, read_rows
from tinbook.shop.shop import Shop
from tinbook.shop.tomlfile import DEEPEST

MEMORY = 600_000
"""kB that all injured files of one kind may add to the process at its largest, with what is loaded on first use."""
SHARE = {"points": 600, "part": 1040, "shop": 60}


def points() -> bytes:
    corners = [(0, 0), (900, 0), (900, 500), (0, 500)]
    rows = ["edge,x,y,z"]
    for k, (x, y) in enumerate(corners):
        u, v = corners[(k + 1) % 4]
        rows += [f"side {k},{x + (u - x) * s / 5:.2f},{y + (v - y) * s / 5:.2f},0.{s}" for s in range(6)]
    return "\n".join(rows).encode()


def part() -> bytes:
    made = folded_channel().hole((40, 20), "8 mm").text("HN-CH", (60, 20)).etch([(5, 5), (30, 5)], note="pad")
    return part_to_toml(made).encode()


def shop() -> bytes:
    return (Path(tb.__file__).parent / "shop" / "data" / "demo_shop.toml").read_bytes()


KINDS: dict[str, tuple[Callable[[], bytes], Callable[[Path], object]]] = {
    "points": (points, tb.read_outline),
    "part": (part, read_part),
    "shop": (shop, Shop.load),
}


def ends(kind: str, good: bytes, seed: int, file: Path) -> float:
    """Read one injured file; return the CPU seconds. Anything but a value or a TinbookError fails with its seed."""
    data = injured(good, random.Random(seed), odd=ODD + WORDS)
    file.write_bytes(data)
    start, said = time.process_time(), ""
    try:
        KINDS[kind][1](file)
    except TinbookError as told:
        said = str(told)
    except Exception as wrong:
        raise AssertionError(f"case {seed} of {kind} ends in {type(wrong).__name__}: {wrong}") from wrong
    took = time.process_time() - start
    assert len(said) < 200_000, f"case {seed} of {kind}: a message of {len(said)} characters"
    assert file.read_bytes() == data, f"case {seed} of {kind} changed its file"
    assert took < 5, f"case {seed} of {kind} took {took:.1f} s"
    return took


def run(kind: str, folder: Path, cases: list[int]) -> float:
    good, file = KINDS[kind][0](), folder / "case.txt"
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    longest = max(ends(kind, good, seed, file) for seed in cases)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < MEMORY
    assert [f.name for f in folder.iterdir()] == [file.name]
    return longest


@pytest.mark.parametrize("kind", KINDS)
def test_injured_texts(kind: str, tmp_path: Path) -> None:
    run(kind, tmp_path, list(seeds(kind, SHARE[kind])))


@pytest.mark.full
@pytest.mark.parametrize("kind", KINDS)
def test_sixty_thousand_injured_texts(kind: str, tmp_path: Path) -> None:
    count = {"points": 25_000, "part": 30_000, "shop": 5_000}[kind]
    print(f"{kind}: longest {run(kind, tmp_path, list(seeds(f'{kind}, full', count))):.2f} s")


def test_a_key_of_many_names_is_refused_at_once(tmp_path: Path) -> None:
    """Its tables in tables would cost the square of their number."""
    file = tmp_path / "deep.toml"
    for text in ("a" + ".a" * 100_000 + " = 1\n", "[a" + ".a" * 100_000 + "]\nx = 1\n"):
        file.write_text(text, encoding="utf-8")
        start = time.process_time()
        for read in (read_part, Shop.load):
            with pytest.raises(TinbookError, match=f"at most {DEEPEST}"):
                read(file)
        assert time.process_time() - start < 1


def test_many_wrong_names_cost_no_square(tmp_path: Path) -> None:
    """Thirty thousand edges that are no names: the work is that of reading them, some 0.2 s."""
    file = tmp_path / "names.csv"
    file.write_text("edge,x,y,z\n" + "".join(f"!{i},1,2,3\n" for i in range(30_000)), encoding="utf-8")
    start = time.process_time()
    with pytest.raises(TinbookError, match="edge"):
        read_rows(file)
    assert time.process_time() - start < 2


def test_a_table_beyond_the_limit_is_refused_unread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "large.csv"
    with file.open("wb") as out:
        out.truncate(LARGEST + 1)
    monkeypatch.setattr(Path, "read_bytes", partial(pytest.fail, "it was read"))
    with pytest.raises(TinbookError, match="at most 67 MB"):
        read_rows(file)
