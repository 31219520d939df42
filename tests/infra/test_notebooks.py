"""Notebooks as one book: the same headings in one order, short cells, a picture first, one folder, DXF and STEP read back."""

from __future__ import annotations

import json
import re
from functools import cache
from typing import Any

import pytest

import start_page

WIDE = 88
"""Columns of a line of code beside its output."""
SHORT, SHARE = 12, 0.9
"""Lines with something on them that a cell may have, and the share of all cells that keep to it."""
VERBS = [
    "Add",
    "Ask",
    "Bring",
    "Brace",
    "Build",
    "Calibrate",
    "Check",
    "Choose",
    "Compare",
    "Cut",
    "Declare",
    "Divide",
    "Draw",
    "Estimate",
    "Extend",
    "Feel",
    "Find",
    "Fold",
    "Hang",
    "Hold",
    "Join",
    "Keep",
    "Know",
    "Lay",
    "Let",
    "Load",
    "Make",
    "Measure",
    "Open",
    "Place",
    "Plot",
    "Pull",
    "Put",
    "Read",
    "Reinforce",
    "Roll",
    "Say",
    "Screen",
    "Search",
    "See",
    "Set",
    "Start",
    "State",
    "Step",
    "Stop",
    "Swing",
    "Take",
    "Tighten",
    "Try",
    "Type",
    "Unfold",
    "Watch",
    "Write",
]
"""What a step begins with."""
CLOSING = ["Checkpoint", "Write the files", "In the shop", "On your own", "Sources"]
"""The headings at the end; "In the shop" where there is something to say."""
WITHOUT_BENCH = {
    "05_calibrate_brake": "its part follows readings, not sliders",
    "06_somebody_elses_bracket": "its part is somebody's file",
    "17_what_beads_do": "its panels are those of the reference runs",
}
"""Notebooks whose subject is no design function, and why."""
OTHERWISE = {
    "18_verification": "tables of published values, with a panel at its end",
    "19_a_job": "a job of parts that other pages make",
    "20_fit_a_scan": "a scan beside parts that other pages make",
    "21_release_a_kit": "a release, not the parts in it",
}
"""What is no page about making something."""
BOOKS = [book.stem for book in start_page.books() if book.stem not in OTHERWISE]


@cache
def cells(stem: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads((start_page.BOOKS / f"{stem}.ipynb").read_text(encoding="utf-8"))["cells"]
    return found


def sources(stem: str, kind: str) -> list[str]:
    return [start_page.text_of(c) for c in cells(stem) if c["cell_type"] == kind]


def headings(stem: str) -> list[str]:
    return re.findall(r"^## (.+)$", "\n".join(sources(stem, "markdown")), re.MULTILINE)


@pytest.mark.parametrize("stem", BOOKS)
def test_it_says_first_what_is_made_and_shows_it_before_any_code(stem: str) -> None:
    first = cells(stem)[0]
    assert first["cell_type"] == "markdown"
    text = start_page.text_of(first)
    assert text.startswith("# ")
    shown = re.search(r'<img src="pictures/(\w+)\.svg" alt="([^"]{20,})" width="560">', text)
    assert shown, "a picture of the subject, described for who cannot see it"
    assert shown[1] == stem
    assert (start_page.BOOKS / "pictures" / f"{stem}.svg").exists()
    assert start_page.part_of(text, "What you will make")
    assert start_page.part_of(text, "What you need")


@pytest.mark.parametrize("stem", BOOKS)
def test_its_headings_are_steps_that_begin_with_a_verb_and_end_alike(stem: str) -> None:
    found = headings(stem)
    start = found.index("Checkpoint")
    assert [h.split()[0] for h in found[:start] if h.split()[0].strip(",") not in VERBS] == []
    assert found[start:] == [h for h in CLOSING if h in found or h != "In the shop"]
    assert not any(re.search(r"^#{3,} ", text, re.MULTILINE) for text in sources(stem, "markdown"))


@pytest.mark.parametrize("stem", BOOKS)
def test_its_code_is_narrow(stem: str) -> None:
    wide = [line for text in sources(stem, "code") for line in text.splitlines() if len(line) > WIDE]
    assert wide == []


def test_most_cells_are_short() -> None:
    lines = {
        (stem, k): sum(bool(line.strip()) for line in text.splitlines())
        for stem in BOOKS
        for k, text in enumerate(sources(stem, "code"))
    }
    long = {place: count for place, count in lines.items() if count > SHORT}
    assert len(long) <= (1 - SHARE) * len(lines), f"{len(long)} of {len(lines)}: {long}"


@pytest.mark.parametrize("stem", BOOKS)
def test_it_ends_with_files_in_one_folder_that_are_read_again(stem: str) -> None:
    code = "\n".join(sources(stem, "code"))
    assert "tb.write_files(" in code, "DXF and STEP, as the workbench's button writes them"
    assert "tb.write.read_back(" in code
    folders = set(re.findall(r'Path\("([^"]+)"\)|tb\.write_\w+\([^"\n]*"([^"/]+)["/]', code))
    assert {a or b for a, b in folders} <= {"out", "data", "data/brake_coupons.csv"}


@pytest.mark.parametrize("stem", BOOKS)
def test_its_story_goes_through_the_workbench(stem: str) -> None:
    code = sources(stem, "code")
    place = next((k for k, text in enumerate(code) if re.search(r"^bench = tb\.workbench\(", text, re.MULTILINE)), None)
    if stem in WITHOUT_BENCH:
        assert place is None, f"{stem} has a workbench now: take it off the list"
        return
    assert place is not None, "tb.workbench"
    below = "\n".join(code[place + 1 :])
    assert re.search(r"= bench\.(part|made|values)\b|bench\.part, bench\.made", below), (
        "what the cells below go on with"
    )
    assert not re.search(r"^bench = (?!tb\.workbench)", below, re.MULTILINE)


def test_a_number_names_one_design() -> None:
    """One folder for all: what one notebook writes, no other writes over."""
    numbers: dict[str, list[str]] = {}
    for stem in BOOKS:
        for number in sorted(set(re.findall(r'"(HN-[A-Z0-9-]+)"', "\n".join(sources(stem, "code"))))):
            numbers.setdefault(number, []).append(stem)
    assert {n: found for n, found in numbers.items() if len(found) > 1} == {}
