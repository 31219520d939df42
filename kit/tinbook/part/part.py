"""A sheet-metal part as it is wanted: a value, and the methods that return it with one feature more.

The methods pass on what they are given: units, limits and choices are those of the fields in `features` and `forms`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import field, replace
from typing import Annotated, Any, TypeVar, Unpack

from tinbook.errors import BadValue, UnknownName
from tinbook.fields import Count, Positive, check_fields, kinds
from tinbook.flatpattern import Direction
from tinbook.part import adding
from tinbook.part.declared import part_html, part_text
from tinbook.part.features import Fold, FoldOptions, HemKind, Hole, HoleGrid, HoleOptions, HoleRow, LegTo
from tinbook.part.forms.bead import Bead
from tinbook.part.forms.form import Form
from tinbook.part.forms.mark import Etch, MarkOptions, Text
from tinbook.part.names import EVERY_EDGE, NUMBER, REVISION, SENTENCES, TITLE
from tinbook.part.outline import Contour, Outline
from tinbook.part.provenance import Provenance
from tinbook.part.stretching import stretched_part
from tinbook.plane.loops import Loop
from tinbook.plane.stretch import Axis
from tinbook.shop.material import Sheet
from tinbook.units import Angle, Length, Place
from tinbook.values import dataclass

F = TypeVar("F", bound=Form)


@dataclass(frozen=True, slots=True, init=False, repr=False)
class Part:
    """A sheet-metal part as it is wanted: a base outline, folds, holes and forms.

    Parts are immutable; each method returns a new one, and `dataclasses.replace` checks what it is given. BadValue names
    what cannot be used. The base outline is drawn to the outside mould lines, seen from the up side of the sheet.

    Parameters
    ----------
    number : str
        Part number: letters, digits, ".", "_", "-"; it becomes part of file names.
    sheet : Sheet or str
        Sheet of the shop, or its key ("DC01 1.6").
    base : Outline
        Outline of the base panel, its edges named.
    drawn_thickness : float or None
        Of the sheet that sizes were set out for, where they depend on it; a check compares it with the shop's sheet.
    rev, title, quantity, cautions
        Revision letter; plain name for tables and sheets; how many are wanted; sentences on papers and strength answers.
    trim, marking : bool
        Whether edges are trimmed and drilled after beading, instead of an allowance for the beads' draw in the blank;
        whether fold lines, bead lines and the part number are marked on the blank.
    folds, holes, forms, other_hand, clean
        What it has, which the methods below add; whether it is the other hand; (panel, edge) pairs without nicks.
    """

    number: Annotated[str, NUMBER]
    sheet: str
    base: Outline
    rev: Annotated[str, REVISION]
    title: Annotated[str, TITLE]
    quantity: Annotated[int, Count(1, 1_000_000)]
    drawn_thickness: Positive | None
    trim: bool
    marking: bool
    cautions: Annotated[tuple[str, ...], SENTENCES]
    folds: tuple[Fold, ...]
    holes: tuple[Hole | HoleRow | HoleGrid, ...]
    forms: tuple[Form, ...]
    other_hand: bool
    clean: tuple[tuple[str, str], ...]
    newest: str = field(init=False, compare=False)  # where the newest feature is, for `repeated`
    provenance: Provenance | None = field(init=False, compare=False)  # None once it was changed by hand

    def __init__(
        self,
        number: str,
        *,
        sheet: Sheet | str,
        base: Outline,
        rev: str = "A",
        title: str = "",
        quantity: int = 1,
        drawn_thickness: Length | None = None,
        trim: bool = False,
        marking: bool = True,
        cautions: Iterable[str] = (),
        folds: Iterable[Fold] = (),
        holes: Iterable[Hole | HoleRow | HoleGrid] = (),
        forms: Iterable[Form] = (),
        other_hand: bool = False,
        clean: Iterable[tuple[str, str]] = (),
    ) -> None:
        if not isinstance(base, Outline):
            raise BadValue("part base", base, "an Outline")
        start = {"number": number, "base": base, "rev": rev, "title": title, "quantity": quantity, "drawn_thickness": drawn_thickness, "trim": trim, "cautions": cautions,
                 "marking": marking, "other_hand": other_hand, "sheet": sheet.key if isinstance(sheet, Sheet) else sheet,
                 "folds": (), "holes": (), "forms": (), "clean": tuple(clean), "newest": "", "provenance": None}  # fmt: skip
        for name, value in start.items():
            object.__setattr__(self, name, value)
        check_fields(self, "part")
        whole = adding.with_all(self, folds, holes, forms)
        for name in ("folds", "holes", "forms"):
            object.__setattr__(self, name, getattr(whole, name))
        for panel, edge in self.clean:
            if (panel, edge) != EVERY_EDGE:
                adding.edge_at(self, edge if panel == "base" else f"{panel}.{edge}", "clean edge")

    def __repr__(self) -> str:
        return part_text(self)

    def _repr_html_(self) -> str:
        return part_html(self)

    @property
    def panels(self) -> tuple[str, ...]:
        """Names of all panels, the base first."""
        return ("base", *(f.name for f in self.folds))

    @property
    def beads(self) -> tuple[Bead, ...]:
        """The beads among the forms."""
        return self.forms_of(Bead)

    @property
    def texts(self) -> tuple[Text, ...]:
        """The texts among the forms."""
        return self.forms_of(Text)

    @property
    def etches(self) -> tuple[Etch, ...]:
        """The lines among the forms."""
        return self.forms_of(Etch)

    def forms_of(self, kind: type[F]) -> tuple[F, ...]:
        """Return the forms of one kind, in their order."""
        return tuple(f for f in self.forms if type(f) is kind)

    def edges_of(self, panel: str) -> tuple[str, ...]:
        """Return the names of the edges of a panel that can be used."""
        if panel not in self.panels:
            raise UnknownName("panel", panel, self.panels)
        return {"base": tuple(self.base.names), **{f.name: f.edges for f in self.folds}}[panel]

    def fold(
        self,
        edge: str,
        direction: Direction = "up",
        *,
        leg: Length | tuple[Length, Length] | None = None,
        angle: Angle = 90.0,
        to: LegTo = "outside",
        radius: Length | None = None,
        skew: Angle | tuple[Angle, Angle] = 0.0,
        shape: Outline | None = None,
        **more: Unpack[FoldOptions],
    ) -> Part:
        """Fold a leg on an edge.

        Parameters
        ----------
        edge : str
            An edge of the base, or "panel.edge" with edge one of left, right, end.
        direction, leg, angle, to, radius, skew
            As the fields of `Fold`: `leg` and `skew` are one value, or a pair for the left and the right end;
            `angle` is turned through.
        shape : Outline, optional
            A leg of any outline instead of `leg` and `skew`: in its own frame, x from the left end of the
            edge seen with the fold below, y outward from the mould line, with an edge named "base" on y = 0.
        **more
            start, stop, tool, rule, relief and corner, as the fields of `Fold` (relief and corner by their kind will
            do); name : the new panel's, else the edge's.
        """
        bend = {"direction": direction, "angle": angle, "to": to, "radius": radius, "skew": skew}
        return adding.folded(self, edge, leg=leg, shape=shape, **bend, **more)

    def hem(
        self,
        edge: str,
        kind: HemKind = "closed",
        direction: Direction = "up",
        *,
        leg: Length | tuple[Length, Length],
        gap: Length | None = None,
        **more: Unpack[FoldOptions],
    ) -> Part:
        """Fold an edge back on itself; `leg` is measured from the outside of the fold.

        Parameters
        ----------
        edge, direction, leg, kind, gap, **more
            As for `fold`, and as the fields of `Hem`; `more` is start, stop, tool, relief, name.
        """
        hem = {"kind": kind, "gap": gap}
        return adding.folded(self, edge, leg=leg, direction=direction, angle=180.0, hem=hem, **more)

    def curl(
        self,
        edge: str,
        direction: Direction = "up",
        *,
        radius: Length,
        angle: Angle,
        leg: Length | tuple[Length, Length] | None = None,
        to: LegTo = "tangent",
        shape: Outline | None = None,
        **more: Unpack[FoldOptions],
    ) -> Part:
        """Form an edge round a bar: a rolled corner, or an eye that closes round a pin.

        Parameters
        ----------
        edge, direction, radius, angle, leg, to, shape, **more
            As for `fold`; the bar of `radius` lies on the side of `direction`, and `leg` is the straight beyond it.
        """
        bar = {"radius": radius, "angle": angle, "to": to, "curl": True}
        return adding.folded(self, edge, leg=leg, shape=shape, direction=direction, **bar, **more)

    def hole(
        self,
        at: Place,
        dia: Length | None = None,
        *,
        panel: str = "base",
        length: Length | None = None,
        turn: Angle = 0.0,
        undersize: Length | None = None,
        **more: Unpack[HoleOptions],
    ) -> Part:
        """Add a round hole, or a slot when `length` is given.

        Parameters
        ----------
        at : (length, length)
            Centre in the panel; it may cross a fold.
        dia, panel, length, turn, undersize
            As the fields of `Hole`; without `dia` the shop's table gives it from `use` and `size` ("M6").
        **more
            use and size, as the fields of `Hole`; name : else made from the use.
        """
        drawn = {"length": length, "turn": turn, "undersize": undersize}
        return adding.holed(self, Hole, panel=panel, centre=at, dia=dia, **drawn, **more)

    def cut_out(
        self,
        shape: Outline | Loop,
        at: Place = (0.0, 0.0),
        *,
        panel: str = "base",
        turn: Angle = 0.0,
        name: str | None = None,
    ) -> Part:
        """Cut an opening of any shape; `shape` is moved so that its own origin lies at `at`, turned about it.

        Parameters
        ----------
        shape : Outline or Loop
            Closed contour.
        at, panel, turn, name
            As for `hole`.
        """
        loop = Contour().read(shape, "cut-out shape").anticlockwise()
        plain = Loop(tuple(replace(e, name="") for e in loop.edges))
        return adding.holed(adding.heeding(self, shape), Hole, name=name, panel=panel, centre=at, loop=plain, turn=turn)

    def holes_along(
        self,
        edges: str | Sequence[str],
        *,
        dia: Length | None = None,
        pitch: Length | None = None,
        count: int | None = None,
        inset: Length = 10.0,
        ends: Length | None = None,
        **more: Unpack[HoleOptions],
    ) -> Part:
        """Set holes along edges, evenly from both ends; by `count` into the gaps of a row at the same inset.

        Parameters
        ----------
        edges : str or sequence of str
            Edges as for `fold`.
        dia, pitch, count, inset, ends
            As the fields of `HoleRow`; one of `pitch` and `count`.
        **more
            use, size and name, as for `hole`; the use is a plug weld where none is given.
        """
        if not isinstance(edges, Iterable):
            raise BadValue("holes_along edges", edges, "the name of an edge, or several")
        listed = (edges,) if isinstance(edges, str) else tuple(edges)
        places = tuple(adding.edge_at(self, e, "holes_along edge") for e in listed)
        row = {"dia": dia, "pitch": pitch, "count": count, "inset": inset, "ends": ends}
        return adding.holed(self, HoleRow, edges=places, **row, **more)

    def hole_grid(
        self,
        first: Place,
        counts: tuple[int, int],
        steps: Place,
        *,
        dia: Length | None = None,
        panel: str = "base",
        **more: Unpack[HoleOptions],
    ) -> Part:
        """Set round holes in rows and columns; the parameters are the fields of `HoleGrid`, `more` as for `hole`."""
        return adding.holed(self, HoleGrid, first=first, counts=counts, steps=steps, dia=dia, panel=panel, **more)

    def bead(
        self,
        path: Sequence[Place],
        roll: str,
        direction: Direction = "up",
        *,
        panel: str = "base",
        corner_radius: Length | None = None,
        name: str | None = None,
    ) -> Part:
        """Roll a bead along a path of straight stretches with rounded corners; the parameters are the fields of `Bead`."""
        more = {"path": path, "roll": roll, "direction": direction, "corner_radius": corner_radius}
        return adding.formed(self, Bead, name, "bead", panel=panel, **more)

    def text(
        self,
        text: str,
        at: Place,
        *,
        height: Length = 8.0,
        turn: Angle = 0.0,
        **more: Unpack[MarkOptions],
    ) -> Part:
        """Mark a line of text in the single-stroke font; the parameters are the fields of `Text`."""
        return adding.formed(self, Text, None, "", text=text, at=at, height=height, turn=turn, **more)

    def etch(
        self,
        path: Sequence[Place],
        *,
        closed: bool = False,
        name: str | None = None,
        note: str = "",
        **more: Unpack[MarkOptions],
    ) -> Part:
        """Mark a line: where another part stands, where to lay a rule; the parameters are the fields of `Etch`."""
        return adding.formed(self, Etch, name, "line", path=path, closed=closed, note=note, **more)

    def formed(self, form: Form) -> Part:
        """Return the part with one form more, a value of a class in `tinbook.part.forms`; without a name it gets one."""
        return adding.with_form(self, form)

    def repeated(self, copies: int, step: Length | Place) -> Part:
        """Repeat the bead or hole that was added just before; `copies` counts the first.

        One length as `step` goes across the bead toward larger x (else larger y), or along x for a hole.
        """
        return adding.repeated(self, copies, step)

    def mirrored(self, number: str | None = None, title: str | None = None) -> Part:
        """Return the other hand, under another number and title if given; what is added later is drawn on the first."""
        return self.renamed(number=number, title=title)._changed(other_hand=not self.other_hand)

    def renamed(
        self,
        number: str | None = None,
        rev: str | None = None,
        title: str | None = None,
        quantity: int | None = None,
        sheet: Sheet | str | None = None,
    ) -> Part:
        """Return the part under another number, revision, title, quantity or on another sheet."""
        key = sheet.key if isinstance(sheet, Sheet) else sheet
        given = {"number": number, "rev": rev, "title": title, "quantity": quantity, "sheet": key}
        known = kinds(Part)
        return self._changed(**{n: known[n].read(v, f"part {n}") for n, v in given.items() if v is not None})

    def stretched(self, at: Length, by: Length, axis: Axis = "x") -> Part:
        """Return the part drawn out at a line across its base, as `Outline.stretched`; all that it carries follows.

        Repeated beads and grids that cross the line spread, rows along edges are spaced anew.
        """
        return stretched_part(self, at, by, axis)

    def keep_clean(self, *edges: str) -> Part:
        """Keep edges ("rear", "lid.left"; none for all) free of nicks: those that are seen or carry high stress.

        Folds whose ends lie on these edges are set out by numbers where the cutter does not etch them.
        """
        found = [adding.edge_at(self, e, "clean edge") for e in edges] or [EVERY_EDGE]
        return self._changed(clean=tuple(dict.fromkeys((*self.clean, *found))))

    def _changed(self, **values: Any) -> Part:
        """Return a copy with some values, already checked, changed; it is no longer what a family gave."""
        new = object.__new__(Part)
        values.setdefault("provenance", None)
        for name in Part.__dataclass_fields__:
            object.__setattr__(new, name, values[name] if name in values else getattr(self, name))
        return new
