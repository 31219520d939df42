"""Two revisions held against each other: the edits are known, their effects worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

import tinbook as tb
from tinbook.job.comparing.changes import Change, merged
from tinbook.shop.revisions import next_revision

SHOP = tb.Shop.demo()


def plate(rev: str = "A", width: float = 300) -> tb.Part:
    part = tb.Part("HN-C1", rev=rev, sheet="DC01 1.5", base=tb.Outline.rectangle(width, 200))
    return part.hole((50, 50), 10, name="left one").fold("rear", "up", leg=30)


def rows(found: object) -> dict[tuple[str, str], tuple[str, str, str]]:
    return {(r[0], r[1]): r[2:] for r in found.rows()}  # type: ignore[attr-defined]


def test_a_wider_plate_with_a_moved_hole() -> None:
    new = plate("B", 360)
    new = new._changed(holes=()).hole((50, 65), 12, name="left one").hole((200, 100), 8, name="drain one", use="drain")
    found = tb.compare(plate(), new, SHOP)
    table = rows(found)
    assert table["title block", "revision"] == ("A", "B", "")
    assert table["blank", "length along x"] == ("300.00 mm", "360.00 mm", "+60.00 mm")
    assert table["hole left one on base", "y"] == ("50.00 mm", "65.00 mm", "+15.00 mm")
    assert table["hole left one on base", "diameter"] == ("10.00 mm", "12.00 mm", "+2.00 mm")
    assert table["hole drain one on base", ""][2] == "added"
    assert ("blank", "length along y") not in table
    assert ("fold rear", "angle turned") not in table
    # kg: 60 mm more of the blank, less two holes that grew or came, 1.5 mm of steel at 7850 kg/m³; the bend itself is
    # a little larger than its allowance in the blank.
    h = tb.make(plate(), SHOP).flat.size[1]  # type: ignore[union-attr]
    by = (60 * h - 3.14159265 / 4 * (12**2 - 10**2 + 8**2)) * 1.5 * 7850e-9
    change = next(c for c in found.changes if c.what == "mass")
    assert change.difference == pytest.approx(by, rel=3e-3)
    assert len(found.pictures) == 2


def test_nothing_changed_is_said() -> None:
    found = tb.compare(plate(), plate(), SHOP)
    assert found.same
    assert "nothing changed" in repr(found)
    assert found.pictures == ()
    assert "nothing changed" in found._repr_html_()


def test_a_new_tool_shows_as_deduction_and_blank_only() -> None:
    old = tb.make(plate(), SHOP)
    new = tb.make(plate().fold("front", "down", leg=25, angle=45), SHOP)
    found = rows(tb.compare(old, new))
    assert found["fold front", ""][2] == "added"
    back = rows(tb.compare(new, old))
    assert back["fold front", ""][2] == "removed"


def test_many_holes_that_moved_alike_share_a_row() -> None:
    old = tb.Part("HN-C2", sheet="DC01 1.5", base=tb.Outline.rectangle(400, 100)).hole_grid(
        (50, 50), (6, 1), (50, 10), dia=8
    )
    new = tb.Part("HN-C2", rev="B", sheet="DC01 1.5", base=tb.Outline.rectangle(400, 100)).hole_grid(
        (50, 55), (6, 1), (50, 10), dia=8
    )
    found = tb.compare(old, new, SHOP)
    moved = [r for r in found.rows() if r[1] == "y"]
    assert len(moved) == 1
    assert "6 of them" in moved[0][0]
    assert moved[0][4] == "+5.00 mm"
    assert sum(c.what == "y" for c in found.changes) == 6


def test_assemblies_name_members_that_came_went_and_moved() -> None:
    from tinbook.space import frame_at

    old = tb.Assembly("HN-C3").add("plate", plate()).add("second", plate(), frame_at((0, 0, 100)))
    new = (
        tb.Assembly("HN-C3", rev="B").add("plate", plate("B", 360)).add("third", plate("B", 360), frame_at((0, 0, 120)))
    )
    table = rows(tb.compare(old, new, SHOP))
    assert table["member second", ""][2] == "removed"
    assert table["member third", ""][2] == "added"
    assert table["plate: blank", "length along x"][2] == "+60.00 mm"
    assert table["member plate", "item"][:2] == ("HN-C1 rev A", "HN-C1 rev B")


def test_a_foreign_blank_is_held_against_a_made_part() -> None:
    made = tb.make(plate(), SHOP)
    found = tb.compare(made.flat, tb.make(plate("B", 360), SHOP))
    assert rows(found)["blank", "length along x"][2] == "+60.00 mm"


def test_names_stand_in_html_as_text() -> None:
    assert "<script>" not in tb.compare(plate(), plate().renamed(title="<script>x"), SHOP)._repr_html_()


@pytest.mark.parametrize("bad", [None, 1, "HN-C1", float("nan"), [], tb.make])
def test_what_cannot_be_compared_is_refused(bad: object) -> None:
    with pytest.raises(tb.errors.BadValue, match="compare old"):
        tb.compare(bad, plate(), SHOP)
    with pytest.raises(tb.errors.BadValue, match="compare new"):
        tb.compare(plate(), bad, SHOP)
    with pytest.raises(tb.errors.BadValue, match="shop"):
        tb.compare(plate(), plate())
    with pytest.raises(tb.errors.BadValue, match="assembly beside"):
        tb.compare(plate(), tb.Assembly("HN-C4").add("plate", plate()), SHOP)


@pytest.mark.parametrize(
    ("rev", "scheme", "following"),
    [  # ASME Y14.35: letters without I, O, Q, S, X, Z; after Y come two letters
        ("-", "ASME Y14.35", "A"), ("H", "ASME Y14.35", "J"), ("R", "ASME Y14.35", "T"), ("W", "ASME Y14.35", "Y"),
        ("Y", "ASME Y14.35", "AA"), ("AH", "ASME Y14.35", "AJ"), ("AY", "ASME Y14.35", "BA"),
        ("R", "letters without I O Q", "S"), ("Z", "letters without I O Q", "AA"),
        ("-", "numbers", "1"), ("0", "numbers", "1"), ("9", "numbers", "10"),
    ],
)  # fmt: skip
def test_the_next_revision_follows_the_scheme(rev: str, scheme: str, following: str) -> None:
    assert next_revision(rev, scheme) == following
    assert replace(SHOP, revision_scheme=scheme).next_revision(rev) == following


@pytest.mark.parametrize(
    ("rev", "scheme"),
    [("I", "ASME Y14.35"), ("1", "ASME Y14.35"), ("YY", "ASME Y14.35"), ("9999", "numbers"), ("", "numbers")],
)
def test_a_revision_outside_its_scheme_has_no_next(rev: str, scheme: str) -> None:
    with pytest.raises(tb.errors.BadValue, match="revision"):
        next_revision(rev, scheme)


def test_a_part_that_cannot_be_made_has_no_mass_and_small_changes_are_told_apart() -> None:
    part = tb.Part("A", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100)).fold("front", "up", leg=30)
    found = tb.compare(part, part.fold("rear", "up", leg=1), SHOP)
    said = [str(c) for c in found.changes]
    assert "part, mass: removed" in said
    assert "part, can be made: added" in said
    assert not any("0.000 kg" in text for text in said)
    (area,) = [
        c.cells() for c in tb.compare(part, part.hole((50, 50), 20), SHOP).changes if c.what.startswith("net area")
    ]
    assert area[2] != area[3], "314 mm² of 25 374"


def test_files_of_other_content_share_one_row_as_hashes_say_nothing() -> None:
    files = [Change(f"file papers/{n}.pdf", "content", f"{n}a", f"{n}b") for n in range(5)]
    rows = list(merged([*files, Change("WL: part", "mass", 1.0, 2.0, "kg")]))
    assert [row[0] for row in rows] == ["file papers/0.pdf to file papers/4.pdf (5 of them)", "WL: part"]
    assert rows[0][1:] == ("content", "each its own", "each its own", "")
