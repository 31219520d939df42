"""Invariant 5: every kind of feature is handled in the part file, the flat, the preview, the solid and the checks.

The kinds are read from `part/features.py` and from the list `FORMS`: a new class, or a new word in one of its choices,
has no animal in the zoo and fails here until it gets one.
"""

from __future__ import annotations

import dataclasses
import inspect
from typing import Any, Literal, get_args, get_origin

import pytest

from tinbook.fields import Inside, kinds
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part import features, partfile
from tinbook.part.forms import FORMS
from tinbook.part.part import Part
from tinbook.rules.registry import RULES, live
from zoo import SHOP, ZOO, made_zoo

CLASSES = {
    name: cls
    for name, cls in inspect.getmembers(features, inspect.isclass)
    if cls.__module__ == features.__name__ and dataclasses.is_dataclass(cls)
} | {cls.__name__: cls for cls in FORMS}
WORDS = {
    "to": features.LegTo,
    "relief": features.ReliefKind,
    "corner": features.CornerKind,
    "hem": features.HemKind,
    "use": features.HoleUse,
    "direction": features.Direction,
}
WHERE = {"Fold": "folds", "Hole": "holes", "HoleRow": "holes", "HoleGrid": "holes"} | {
    cls.__name__: "forms" for cls in FORMS
}
"""Kind -> the tuple of the part that holds it; the others live inside a fold."""


def _everything() -> list[Any]:
    """Every feature of the zoo, those inside folds too."""
    found: list[Any] = []
    for build in ZOO.values():
        part = build()
        for f in (*part.folds, *part.holes, *part.forms):
            found.append(f)
            found += [v for v in (getattr(f, n.name) for n in dataclasses.fields(f)) if dataclasses.is_dataclass(v)]
    return found


def test_every_class_lives_in_the_zoo():
    assert set(CLASSES) - {type(f).__name__ for f in _everything()} == set()


@pytest.mark.parametrize("name", sorted(CLASSES))
def test_every_field_is_used_in_the_zoo(name):
    """Some animal gives each field another value than its default, so nothing that a part can say goes untried."""
    mine = [f for f in _everything() if type(f).__name__ == name]
    for f in dataclasses.fields(CLASSES[name]):
        if f.default is not dataclasses.MISSING:
            default = f.default
        elif f.default_factory is not dataclasses.MISSING:
            default = f.default_factory()
        else:
            continue
        assert any(getattr(v, f.name) != default for v in mine), f.name


@pytest.mark.parametrize("field", WORDS)
def test_every_word_lives_in_the_zoo(field):
    """Every choice of hem, corner, relief, measure, use and direction is made by some animal."""
    if field in ("relief", "corner", "hem"):
        cls = {"relief": "Relief", "corner": "Corner", "hem": "Hem"}[field]
        used = {f.kind for f in _everything() if type(f).__name__ == cls}
    else:
        used = {getattr(f, field) for f in _everything() if hasattr(f, field)}
    assert set(get_args(WORDS[field])) - used == set()


def test_every_choice_of_the_features_is_counted_here():
    """A new literal type in features.py must be added to `WORDS`."""
    rooms = {inspect.getmodule(cls) for cls in CLASSES.values()}
    literals = {name for room in rooms for name, v in vars(room).items() if get_origin(v) is Literal}
    assert literals == {"LegTo", "ReliefKind", "CornerKind", "HemKind", "HoleUse", "Direction"}


def test_part_file_knows_every_class_and_field():
    """A field without a kind in its annotation would be checked by nobody and refused in a file."""
    tables = [kind for _, kind in partfile.TABLES.values()]
    found = [kind for cls in tables for kind in kinds(cls).values()]
    inside = [getattr(kind, "of", kind).cls for kind in found if isinstance(getattr(kind, "of", kind), Inside)]
    assert {cls.__name__ for cls in (*tables, *inside)} == set(CLASSES)
    for cls in CLASSES.values():
        assert list(kinds(cls)) == [f.name for f in dataclasses.fields(cls)]


def _bare(part: Part, kind: str) -> Part:
    """Return the part without its features of one kind (folds take what hangs on them along)."""
    where = WHERE[kind]
    return dataclasses.replace(part, **{where: tuple(f for f in getattr(part, where) if type(f).__name__ != kind)})


ANIMAL = {"Hole": "plate", "HoleRow": "uses", "HoleGrid": "plate", "Fold": "gusset"}
"""Forms have a test of their own, `test_forms.py`."""


def _flat(made: Made) -> Any:
    f = made.flat
    assert f is not None
    return f.outer, f.cuts, f.drills, f.marks


@pytest.mark.parametrize("kind", ANIMAL)
def test_each_kind_shows_in_every_view(kind):
    """Taking a kind away changes the flat, the solid and the preview."""
    part = ZOO[ANIMAL[kind]]()
    plain = _bare(part, kind)
    assert plain != part
    with_it, without = made_zoo(ANIMAL[kind]), make(plain, SHOP)
    assert _flat(with_it) != _flat(without)
    assert abs(with_it.solid.Volume() - without.solid.Volume()) > 1.0
    assert abs(with_it.preview.volume - without.preview.volume) > 1.0


@pytest.mark.parametrize("kind", ["Fold", "Hole", "HoleRow", "HoleGrid", "Bead"])
def test_each_kind_is_checked(kind):
    """Some rule speaks of a feature of that kind when it is spoilt, and not without it."""
    spoilt = {
        "Fold": lambda p: p.fold("front", leg=20, tool="V50", name="spoilt"),
        "Hole": lambda p: p.hole((20, 20), 0.5, name="spoilt"),
        "HoleRow": lambda p: p.holes_along("front", dia=8, count=2, inset=4.8, name="spoilt"),
        "HoleGrid": lambda p: p.hole_grid((40, 40), (2, 1), (8.2, 1), dia=8, name="spoilt"),
        "Bead": lambda p: p.bead([(60, 12), (200, 12)], "R12x3", name="spoilt"),
    }[kind]
    base = Part("HN-KD", sheet="DC01 1.5", base=features_outline())
    before = {(f.code, f.severity) for f in live(make(base, SHOP)) if f.severity != "fine"}
    after = [f for f in live(make(spoilt(base), SHOP)) if f.severity != "fine"]
    assert {(f.code, f.severity) for f in after} - before
    assert any("spoilt" in f.where for f in after), after


def features_outline() -> Any:
    from tinbook.part.outline import Outline

    return Outline.rectangle(300, 200)


def test_every_function_of_the_check_room_is_in_the_list():
    """A rule that was written and forgotten in `RULES` fails here."""
    from tinbook.rules import beads, blank, folds, forms, holes, papers

    listed = {rule.find for rule in RULES}
    for room in (folds, forms, beads, holes, blank, papers):
        for name, f in inspect.getmembers(room, inspect.isfunction):
            if f.__module__ == room.__name__ and not name.startswith("_") and name != "follows":
                assert f in listed, name
