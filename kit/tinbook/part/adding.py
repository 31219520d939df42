"""How features come into a part: names and places looked up, the feature built of what was given, a new part returned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields, replace
from functools import cache
from typing import TYPE_CHECKING, Any, TypeAlias

from tinbook.errors import BadValue, UnknownName
from tinbook.fields import Count
from tinbook.finding import Findings
from tinbook.part.features import MOST_HOLES, Fold, Hole, HoleGrid, HoleRow
from tinbook.part.forms import FORMS
from tinbook.part.forms.bead import Bead
from tinbook.part.forms.form import Form
from tinbook.part.names import free_name
from tinbook.part.outline import Contour
from tinbook.units import length, point

if TYPE_CHECKING:
    from tinbook.part.part import Part

AnyHole: TypeAlias = Hole | HoleRow | HoleGrid


def _check_options(kind: type[AnyHole | Fold | Form], given: Iterable[str], what: str) -> None:
    """Name an option that a feature does not have, in place of Python's word on a constructor nobody called."""
    known = _options(kind)  # type: ignore[arg-type]  # mypy doubts that a class has a hash
    for name in given:
        if name not in known:
            raise UnknownName(f"{what} option", name, known)


@cache
def _options(kind: type[AnyHole | Fold | Form]) -> tuple[str, ...]:
    own = fields(kind)  # type: ignore[arg-type]  # every form is a dataclass
    return tuple(f.name for f in own if f.name != "panel" or kind is not Fold)


def edge_at(part: Part, path: Any, what: str) -> tuple[str, str]:
    """Split "panel.edge" (or a base edge's name) and check that it exists; `what` is the field for the message."""
    if not isinstance(path, str):
        raise BadValue(what, path, "the name of an edge")
    if path in part.base.names:
        return "base", path
    panel, _, edge = path.rpartition(".")
    if panel in part.panels and edge in part.edges_of(panel):
        return panel, edge
    known = [*part.base.names, *(f"{f.name}.{e}" for f in part.folds for e in f.edges)]
    raise UnknownName(what, path, known)


def heeding(part: Part, shape: Any) -> Part:
    """Return the part with what was found while a shape that it takes was measured."""
    found = getattr(shape, "findings", ())
    if not found:
        return part
    return part._changed(base=replace(part.base, findings=Findings((*part.base.findings, *found))))


def folded(part: Part, edge: str, *, leg: Any = None, shape: Any = None, name: str | None = None, **given: Any) -> Part:
    """Return the part with a fold on an edge; `given` are fields of `Fold`."""
    panel, edge_name = edge_at(part, edge, "fold edge")
    _check_options(Fold, given, "fold")
    new = free_name(name, edge if panel != "base" else edge_name, part.panels, "fold")
    if (leg is None) == (shape is None):
        raise BadValue(f"fold {new!r} leg", leg, "a length, or else a shape")
    loop = None if shape is None else Contour().read(shape, f"fold {new!r} shape")
    leg = leg if loop is None else loop.box[3]
    fold = Fold(name=new, panel=panel, edge=edge_name, leg=leg, shape=loop, **given)
    return heeding(part, shape)._changed(folds=(*part.folds, fold), newest="folds")


def folded_on(part: Part, tool: str | None, *folds: str) -> Part:
    """Return the part with folds on another tool; the outside stays, and the blank follows the tool's radius.

    Parameters
    ----------
    part : Part
        Its hems and curls stay as they are.
    tool : str or None
        Key of a tool of the shop that makes it; None lets `make` choose.
    *folds : str
        Names of folds; none for all.

    Returns
    -------
    Part

    Raises
    ------
    UnknownName
        A fold that the part does not have.
    """
    names = [f.name for f in part.folds]
    for name in folds:
        if name not in names:
            raise UnknownName("fold", name, names)
    free = {f.name for f in part.folds if not f.curl and f.hem is None and (not folds or f.name in folds)}
    return part._changed(folds=tuple(replace(f, tool=tool) if f.name in free else f for f in part.folds))


def holed(part: Part, kind: type[AnyHole], *, name: str | None = None, **given: Any) -> Part:
    """Return the part with a hole, row or grid more; `given` are its fields, and its name comes from its use."""
    if len(part.holes) >= MOST_HOLES:
        raise BadValue("holes", len(part.holes) + 1, f"at most {MOST_HOLES} in a part")
    _check_options(kind, given, "hole")
    wanted = given.get("use", kind.__dataclass_fields__["use"].default)
    new = free_name(name, wanted, [h.name for h in part.holes], "hole")
    if "centre" in given:
        given["centre"] = point(given["centre"], f"hole {new!r} at")
    hole = kind(name=new, **given)
    _check_place(part, hole)
    return part._changed(holes=(*part.holes, hole), newest="holes")


def formed(part: Part, kind: type[Form], name: str | None, wanted: str, **given: Any) -> Part:
    """Return the part with a form more; `given` are its fields, `wanted` its name where none is given."""
    _check_options(kind, given, kind.TITLE)
    if kind.NAMED:
        given["name"] = free_name(name, wanted, [f.name for f in part.forms_of(kind)], kind.TITLE)
    return with_form(part, kind(**{"panel": "base", **given}))


def with_form(part: Part, form: Form) -> Part:
    """Return the part with a form more, its panel and name checked."""
    kind = type(form)
    if kind not in FORMS:
        raise BadValue("form", form, "one of: " + ", ".join(k.__name__ for k in FORMS))
    if form.NAMED and not form.name:
        taken = [n for f in part.forms_of(kind) for n in (f.name, *f.names)]
        form = replace(form, name=free_name(None, form.TITLE, taken, form.TITLE))  # type: ignore[type-var]
    _check_panel(part, form.panel, f"{form.where} panel")
    if form.NAMED:
        free_name(form.name, form.name, [f.name for f in part.forms_of(kind)], form.TITLE)
    forms = sorted((*part.forms, form), key=lambda f: FORMS.index(type(f)))
    return part._changed(forms=tuple(forms), newest=kind.TABLE)


def with_all(part: Part, folds: Iterable[Fold], holes: Iterable[AnyHole], forms: Iterable[Form]) -> Part:
    """Return the part with features more, in their order; their names, panels and edges are checked."""
    for fold in folds:
        part = _with_fold(part, fold)
    listed = tuple(holes)
    if len(listed) > MOST_HOLES:
        raise BadValue("holes", len(listed), f"at most {MOST_HOLES} in a part")
    taken: dict[str, None] = {}
    for hole in listed:
        taken[free_name(hole.name, hole.name, taken, "hole")] = None
        _check_place(part, hole)
    part = part._changed(holes=listed)
    for form in forms:
        part = with_form(part, form)
    return part


def repeated(part: Part, copies: int, step: Any) -> Part:
    """Return the part with its newest bead or hole repeated; see `Part.repeated`."""
    copies = Count(1, MOST_HOLES).read(copies, "repeated copies")
    newest = part.beads[-1] if part.newest == Bead.TABLE else part.holes[-1] if part.newest == "holes" else None
    if not isinstance(newest, Bead | Hole):
        what = newest.name if newest else part.newest or "nothing"
        raise BadValue("repeated", what, "a bead or a single hole added just before; a row or grid already repeats")
    if isinstance(step, tuple | list):
        dx, dy = point(step, "repeated step")
    else:
        by = length(step, "repeated step")
        dx, dy = newest.across(by) if isinstance(newest, Bead) else (by, 0.0)
    if isinstance(newest, Bead):
        more = replace(newest, copies=copies, step=(dx, dy))
        return part._changed(forms=tuple(more if f is newest else f for f in part.forms))
    x, y = newest.centre
    for i in range(1, copies):
        moved = {f: getattr(newest, f) for f in ("panel", "dia", "length", "turn", "loop", "use", "size", "undersize")}
        name = free_name(None, newest.name, [h.name for h in part.holes], "hole")
        part = holed(part, Hole, name=name, centre=(x + i * dx, y + i * dy), **moved)
    return part


def _with_fold(part: Part, fold: Fold) -> Part:
    edge_at(part, fold.edge if fold.panel == "base" else f"{fold.panel}.{fold.edge}", f"fold {fold.name!r} edge")
    free_name(fold.name, fold.name, part.panels, "fold")
    return part._changed(folds=(*part.folds, fold), newest="folds")


def _check_place(part: Part, hole: AnyHole) -> None:
    if not isinstance(hole, HoleRow):
        return _check_panel(part, hole.panel, f"hole {hole.name!r} panel")
    for panel, edge in hole.edges:
        edge_at(part, edge if panel == "base" else f"{panel}.{edge}", f"holes {hole.name!r} edge")
    return None


def _check_panel(part: Part, panel: str, what: str) -> None:
    if panel not in part.panels:
        raise UnknownName(what, panel, part.panels)
