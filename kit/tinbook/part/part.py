"""The declaration of a part: what is wanted, before any tool is chosen."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from tinbook import units
from tinbook.errors import BadValue, UnknownName
from tinbook.part.features import (
    Bead,
    Corner,
    CornerKind,
    Fold,
    Hem,
    HemKind,
    Hole,
    HoleGrid,
    HoleRow,
    HoleUse,
    LegTo,
    Relief,
    ReliefKind,
    Text,
)
from tinbook.plane import Loop, Point

if TYPE_CHECKING:
    from tinbook.flatpattern import Direction
    from tinbook.part.outline import Outline
    from tinbook.shop.material import Sheet

Feature = Fold | Hole | HoleRow | HoleGrid | Bead | Text
_NUMBER = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,38}[A-Za-z0-9])?")
_NAME = re.compile(r"[\w][\w .+-]{0,59}")
_REV = re.compile(r"[A-Za-z0-9-]{1,8}")


@dataclass(frozen=True, slots=True, init=False)
class Part:
    """A sheet-metal part as it is wanted: a base outline, folds, holes, beads, texts.

    Parts are immutable; each method returns a new one. The base outline is
    drawn to the outside mould lines, seen from the up side of the sheet.

    Parameters
    ----------
    number : str
        Part number: letters, digits, ".", "_", "-"; it becomes part of file names.
    rev : str
        Revision letter.
    sheet : Sheet or str
        Sheet of the shop, or its key ("DC01 1.6").
    base : Outline
        Outline of the base panel, its edges named.
    title : str
        Plain name for tables and sheets.
    quantity : int
        How many are wanted, 1 or more.
    trim : bool
        Whether the edges are trimmed and drilled after beading, instead of
        giving the blank an allowance for the draw of the beads.
    marking : bool
        Whether fold lines, bead lines and the part number are marked on the blank.
    """

    number: str
    rev: str
    sheet: str
    base: Outline
    title: str
    quantity: int
    folds: tuple[Fold, ...]
    holes: tuple[Hole | HoleRow | HoleGrid, ...]
    beads: tuple[Bead, ...]
    texts: tuple[Text, ...]
    other_hand: bool
    trim: bool
    marking: bool
    last: str  # which tuple the newest feature is in, for `repeated`

    def __init__(
        self,
        number: str,
        *,
        sheet: Sheet | str,
        base: Outline,
        rev: str = "A",
        title: str = "",
        quantity: int = 1,
        trim: bool = False,
        marking: bool = True,
    ) -> None:
        if not isinstance(number, str) or not _NUMBER.fullmatch(number) or ".." in number:
            raise BadValue("part number", number, "1 to 40 letters, digits, '.', '_', '-', no '..', as in 'HN-FP-L'")
        if not isinstance(rev, str) or not _REV.fullmatch(rev):
            raise BadValue("rev", rev, "1 to 8 letters, digits or '-', as in 'B'")
        if not isinstance(title, str) or len(title) > 80 or not (title.isprintable() or title == ""):
            raise BadValue("title", title, "at most 80 printable characters")
        if isinstance(quantity, bool) or not isinstance(quantity, int) or not 1 <= quantity <= 1_000_000:
            raise BadValue("quantity", quantity, "a whole number from 1")
        if not hasattr(base, "loop"):
            raise BadValue("base", base, "an Outline")
        key = sheet if isinstance(sheet, str) else getattr(sheet, "key", None)
        if not isinstance(key, str):
            raise BadValue("sheet", sheet, "a sheet of the shop or its key, as in 'DC01 1.6'")
        given = {"number": number, "rev": rev, "sheet": key, "base": base, "title": title, "quantity": quantity}
        empty: dict[str, Any] = {"folds": (), "holes": (), "beads": (), "texts": (), "other_hand": False, "last": ""}
        for name, value in {**given, **empty, "trim": trim, "marking": marking}.items():
            object.__setattr__(self, name, value)

    # -- what it has -----------------------------------------------------

    @property
    def panels(self) -> tuple[str, ...]:
        """Names of all panels, the base first."""
        return ("base", *(f.name for f in self.folds))

    def edges_of(self, panel: str) -> tuple[str, ...]:
        """Names of the edges of a panel that can be used."""
        if panel == "base":
            return tuple(self.base.names)
        for f in self.folds:
            if f.name == panel:
                return f.edges
        raise UnknownName("panel", panel, self.panels)

    def _place(self, path: str, what: str) -> tuple[str, str]:
        """Split "panel.edge" (or a base edge's name) and check that it exists."""
        if not isinstance(path, str):
            raise BadValue(what, path, "the name of an edge")
        if path in self.base.names:
            return "base", path
        panel, _, edge = path.rpartition(".")
        if panel in self.panels and edge in self.edges_of(panel):
            return panel, edge
        known = [*self.base.names, *(f"{f.name}.{e}" for f in self.folds for e in f.edges)]
        raise UnknownName(what, path, known)

    def _panel(self, panel: str, what: str) -> str:
        if panel not in self.panels:
            raise UnknownName(what, panel, self.panels)
        return panel

    def _free_name(self, name: str | None, wanted: str, taken: Sequence[str], what: str) -> str:
        if name is not None:
            if not isinstance(name, str) or not _NAME.fullmatch(name):
                raise BadValue(f"{what} name", name, "1 to 60 letters, digits, spaces, '.', '_', '-', '+'")
            if name in taken:
                raise BadValue(f"{what} name", name, "a name that is not taken; taken: " + ", ".join(taken))
            return name
        free, n = wanted, 1
        while free in taken:
            n += 1
            free = f"{wanted} {n}"
        return free

    def _with(self, where: str, feature: Feature) -> Part:
        return self._changed(**{where: (*getattr(self, where), feature), "last": where})

    def _changed(self, **values: Any) -> Part:
        new = object.__new__(Part)
        for name in Part.__slots__:
            object.__setattr__(new, name, values.get(name, getattr(self, name)))
        return new

    # -- what can be added -----------------------------------------------

    def fold(
        self,
        edge: str,
        direction: Direction = "up",
        *,
        leg: Any = None,
        angle: Any = 90.0,
        to: LegTo = "outside",
        start: Any = None,
        stop: Any = None,
        radius: Any = None,
        tool: str | None = None,
        rule: str | None = None,
        relief: ReliefKind | Relief = "square",
        corner: CornerKind | Corner = "open",
        skew: Any = (0.0, 0.0),
        shape: Outline | None = None,
        name: str | None = None,
    ) -> Part:
        """Fold a leg on an edge.

        Parameters
        ----------
        edge : str
            An edge of the base, or "panel.edge" with edge one of left, right, end.
        direction : {"up", "down"}
            Toward the up side of the sheet, or away.
        leg : length, or a pair
            Length; a pair gives the left and the right end, seen with the fold below.
        angle : angle
            Turned through, above 0 up to 180 degrees.
        to : {"outside", "inside", "tangent"}
            Where the length is measured from; above 90 degrees "outside" is the tangent of the outside of the bend.
        start, stop : length, optional
            Stretch of the edge, from its start as drawn.
        radius, tool, rule
            What the part insists on instead of the shop's own choice.
        relief : {"square", "round", "tear"} or Relief
            Notch beside an end within the edge and at the corners.
        corner : {"open", "closed", "lapped"} or Corner
            How it meets a neighbouring return.
        skew : (angle, angle)
            Lean of the leg's left and right end.
        shape : Outline, optional
            A leg of any outline instead of `leg` and `skew`: in its own frame, x from the left end of the
            edge seen with the fold below, y outward from the mould line, with an edge named "base" on y = 0.
        name : str, optional
            Name of the new panel, else the edge's.

        Returns
        -------
        Part

        Raises
        ------
        BadValue
            Any value that cannot be used; UnknownName for an edge that does not exist.
        """
        panel, edge_name = self._place(edge, "fold edge")
        wanted = edge if panel != "base" else edge_name
        new = self._free_name(name, wanted, self.panels, "fold")
        me = f"fold {new!r}"
        if (leg is None) == (shape is None):
            raise BadValue(f"{me} leg", leg, "a length, or else a shape")
        if shape is not None:
            leg = shape.box[3]
        legs = leg if isinstance(leg, (tuple, list)) else (leg, leg)
        if len(legs) != 2:
            raise BadValue(f"{me} leg", leg, "one length, or a pair (left, right)")
        leans = skew if isinstance(skew, (tuple, list)) else (skew, skew)
        if len(leans) != 2:
            raise BadValue(f"{me} skew", skew, "one angle, or a pair (left, right)")
        return self._with(
            "folds",
            Fold(
                name=new,
                panel=panel,
                edge=edge_name,
                direction=direction,
                angle=units.angle(angle, f"{me} angle"),
                leg=(units.length(legs[0], f"{me} leg"), units.length(legs[1], f"{me} leg")),
                to=to,
                start=None if start is None else units.length(start, f"{me} start"),
                stop=None if stop is None else units.length(stop, f"{me} stop"),
                radius=None if radius is None else units.length(radius, f"{me} radius"),
                tool=tool,
                rule=rule,
                relief=Relief(kind=relief) if isinstance(relief, str) else relief,
                corner=Corner(kind=corner) if isinstance(corner, str) else corner,
                skew=(units.angle(leans[0], f"{me} skew"), units.angle(leans[1], f"{me} skew")),
                shape=None if shape is None else shape.loop,
            ),
        )

    def hem(
        self,
        edge: str,
        kind: HemKind = "closed",
        direction: Direction = "up",
        *,
        leg: Any,
        gap: Any = None,
        start: Any = None,
        stop: Any = None,
        tool: str | None = None,
        relief: ReliefKind | Relief = "square",
        name: str | None = None,
    ) -> Part:
        """Fold an edge back on itself; `leg` is measured from the outside of the fold.

        Parameters
        ----------
        edge : str
            As for `fold`.
        kind : {"closed", "open", "teardrop"}
            Flattened, round with a gap, or round with its tip on the sheet.
        direction : {"up", "down"}
            Side to which it is turned.
        leg : length
            Return, from the outside of the fold.
        gap : length, optional
            Clear height inside, for open and teardrop.
        start, stop, tool, relief, name
            As for `fold`.

        Returns
        -------
        Part
        """
        part = self.fold(
            edge, direction, leg=leg, angle=180.0, start=start, stop=stop, tool=tool, relief=relief, name=name
        )
        gap_mm = None if gap is None else units.length(gap, "hem gap")
        hemmed = replace(part.folds[-1], hem=Hem(kind=kind, gap=gap_mm))
        return part._changed(folds=(*part.folds[:-1], hemmed))

    def curl(
        self,
        edge: str,
        direction: Direction = "up",
        *,
        radius: Any,
        angle: Any,
        leg: Any,
        to: LegTo = "tangent",
        start: Any = None,
        stop: Any = None,
        rule: str | None = None,
        relief: ReliefKind | Relief = "square",
        name: str | None = None,
    ) -> Part:
        """Form an edge round a bar: a rolled corner, or an eye that closes round a pin.

        Parameters
        ----------
        edge : str
            As for `fold`.
        direction : {"up", "down"}
            Side on which the bar lies.
        radius : length
            Of the bar, that is the inside radius.
        angle : angle
            Turned through, above 0 up to 330 degrees.
        leg : length
            Straight tail behind the curl, from the tangent line unless `to` says otherwise.
        to, start, stop, rule, relief, name
            As for `fold`.

        Returns
        -------
        Part

        Raises
        ------
        BadValue
            Any value that cannot be used; UnknownName for an edge that does not exist.
        """
        bar = units.positive(radius, "curl radius")
        turned = units.angle(angle, "curl angle")
        part = self.fold(
            edge, direction, leg=leg, angle=min(turned, 180.0), to=to, start=start, stop=stop, radius=bar,
            rule=rule, relief=relief, name=name,
        )  # fmt: skip
        return part._changed(folds=(*part.folds[:-1], replace(part.folds[-1], curl=True, angle=turned)))

    def hole(
        self,
        at: Any,
        dia: Any = None,
        *,
        panel: str = "base",
        use: HoleUse = "cut-out",
        size: str | None = None,
        length: Any = None,
        turn: Any = 0.0,
        name: str | None = None,
    ) -> Part:
        """Add a round hole, or a slot when `length` is given.

        Parameters
        ----------
        at : (length, length)
            Centre in the panel's coordinates.
        dia : length, optional
            Diameter or slot width; left out, the shop's table gives it from `use` and `size`.
        panel : str
            Panel that it is drawn on; it may cross a fold.
        use : str
            plug weld, tack screw, nut insert, bolt, drain, cut-out, mark and drill.
        size : str, optional
            Thread size ("M6") for a bolt or an insert.
        length, turn
            Slot: length over all and its angle.
        name : str, optional
            Else made from the use.

        Returns
        -------
        Part
        """
        new = self._hole_name(name, use)
        return self._with(
            "holes",
            Hole(
                name=new,
                panel=self._panel(panel, "hole panel"),
                centre=units.point(at, f"hole {new!r} at"),
                dia=None if dia is None else units.length(dia, f"hole {new!r} dia"),
                length=None if length is None else units.length(length, f"hole {new!r} length"),
                turn=units.angle(turn, f"hole {new!r} turn"),
                use=use,
                size=size,
            ),
        )

    def cut_out(
        self,
        shape: Outline | Loop,
        at: Any = (0.0, 0.0),
        *,
        panel: str = "base",
        turn: Any = 0.0,
        name: str | None = None,
    ) -> Part:
        """Cut an opening of any shape; `shape` is moved so that its own origin lies at `at`.

        Parameters
        ----------
        shape : Outline or Loop
            Closed contour.
        at : (length, length)
            Where its origin goes.
        panel : str
            Panel that it is drawn on.
        turn : angle
            Turned about its origin, anticlockwise.
        name : str, optional
            Else "cut-out".

        Returns
        -------
        Part
        """
        new = self._hole_name(name, "cut-out")
        drawn: Loop = shape if isinstance(shape, Loop) else shape.loop
        loop = Loop(tuple(replace(e, name="") for e in drawn.anticlockwise().edges))
        return self._with(
            "holes",
            Hole(
                name=new,
                panel=self._panel(panel, "cut-out panel"),
                centre=units.point(at, f"cut-out {new!r} at"),
                loop=loop,
                turn=units.angle(turn, f"cut-out {new!r} turn"),
            ),
        )

    def holes_along(
        self,
        edges: str | Sequence[str],
        *,
        dia: Any = None,
        pitch: Any = None,
        count: int | None = None,
        inset: Any = 10.0,
        ends: Any = None,
        use: HoleUse = "plug weld",
        size: str | None = None,
        name: str | None = None,
    ) -> Part:
        """Set holes along one or several edges, evenly from both ends.

        A row given by `count` over edges that already carry a row at the same
        inset goes into the gaps of that row.

        Parameters
        ----------
        edges : str or sequence of str
            Edges as for `fold`.
        dia : length, optional
            Left out, the shop's table gives it from `use` and `size`.
        pitch, count
            One of the two: nearest even pitch on each edge, or a number over all edges.
        inset : length
            From the edge as drawn to the hole's centre.
        ends : length, optional
            From an edge's end to the first hole; else half the pitch.
        use, size, name
            As for `hole`.

        Returns
        -------
        Part
        """
        listed = (edges,) if isinstance(edges, str) else tuple(edges)
        if not listed:
            raise BadValue("holes_along edges", edges, "one edge or more")
        new = self._hole_name(name, use)
        if count is not None and (isinstance(count, bool) or not isinstance(count, int)):
            raise BadValue(f"holes {new!r} count", count, "a whole number")
        return self._with(
            "holes",
            HoleRow(
                name=new,
                edges=tuple(self._place(e, "holes_along edge") for e in listed),
                dia=None if dia is None else units.length(dia, f"holes {new!r} dia"),
                pitch=None if pitch is None else units.length(pitch, f"holes {new!r} pitch"),
                count=count,
                inset=units.length(inset, f"holes {new!r} inset"),
                ends=None if ends is None else units.length(ends, f"holes {new!r} ends"),
                use=use,
                size=size,
            ),
        )

    def hole_grid(
        self,
        first: Any,
        counts: tuple[int, int],
        steps: Any,
        *,
        dia: Any = None,
        panel: str = "base",
        use: HoleUse = "cut-out",
        size: str | None = None,
        name: str | None = None,
    ) -> Part:
        """Set round holes in rows and columns from the centre of the first.

        Parameters
        ----------
        first : (length, length)
            Centre of the first hole.
        counts : (int, int)
            Holes along x and along y.
        steps : (length, length)
            Distances along x and y.
        dia, panel, use, size, name
            As for `hole`.

        Returns
        -------
        Part
        """
        new = self._hole_name(name, use)
        return self._with(
            "holes",
            HoleGrid(
                name=new,
                panel=self._panel(panel, "hole_grid panel"),
                first=units.point(first, f"holes {new!r} first"),
                counts=(int(counts[0]), int(counts[1])),
                steps=units.point(steps, f"holes {new!r} steps"),
                dia=None if dia is None else units.length(dia, f"holes {new!r} dia"),
                use=use,
                size=size,
            ),
        )

    def bead(
        self,
        path: Sequence[Any],
        roll: str,
        direction: Direction = "up",
        *,
        panel: str = "base",
        corner_radius: Any = None,
        name: str | None = None,
    ) -> Part:
        """Roll a bead along a path of straight stretches with rounded corners.

        Parameters
        ----------
        path : sequence of (length, length)
            Corner points from run-out to run-out.
        roll : str
            Key of the shop's roll pair.
        direction : {"up", "down"}
            Side to which it stands out.
        panel, corner_radius, name
            Panel that carries it; radius at corners, else the rolls' smallest.

        Returns
        -------
        Part
        """
        new = self._free_name(name, "bead", [b.name for b in self.beads], "bead")
        points: tuple[Point, ...] = tuple(units.point(p, f"bead {new!r} path") for p in path)
        return self._with(
            "beads",
            Bead(
                name=new,
                panel=self._panel(panel, "bead panel"),
                path=points,
                roll=roll,
                direction=direction,
                corner_radius=None
                if corner_radius is None
                else units.length(corner_radius, f"bead {new!r} corner radius"),
            ),
        )

    def repeated(self, copies: int, step: Any) -> Part:
        """Repeat the newest bead or hole; `copies` counts the first.

        Parameters
        ----------
        copies : int
            1 or more.
        step : length or (length, length)
            One length goes across the bead toward larger x (else larger y), or along x for a hole.

        Returns
        -------
        Part
        """
        if isinstance(copies, bool) or not isinstance(copies, int) or copies < 1:
            raise BadValue("repeated copies", copies, "a whole number from 1")
        if self.last not in ("beads", "holes"):
            raise BadValue("repeated", self.last or "nothing", "a bead or a hole added just before")
        newest = getattr(self, self.last)[-1]
        if isinstance(newest, Bead):
            if isinstance(step, (tuple, list)):
                vector = units.point(step, "repeated step")
            else:
                vector = _across(newest.path, units.length(step, "repeated step"))
            return self._changed(beads=(*self.beads[:-1], replace(newest, copies=copies, step=vector)))
        if not isinstance(newest, Hole):
            raise BadValue("repeated", newest.name, "a bead or a single hole; a row or grid already repeats")
        single = not isinstance(step, (tuple, list))
        dx, dy = (units.length(step, "repeated step"), 0.0) if single else units.point(step, "repeated step")
        part = self
        for i in range(1, copies):
            moved = (newest.centre[0] + i * dx, newest.centre[1] + i * dy)
            part = part._with("holes", replace(newest, name=part._hole_name(None, newest.name), centre=moved))
        return part

    def text(
        self, text: str, at: Any, *, height: Any = 8.0, turn: Any = 0.0, panel: str = "base", face: Direction = "up"
    ) -> Part:
        """Mark a line of text in the single-stroke font.

        Parameters
        ----------
        text : str
            1 to 80 printable characters.
        at : (length, length)
            Left end of the base line.
        height, turn, panel, face
            Height of capitals, angle, panel, side of the sheet.

        Returns
        -------
        Part
        """
        return self._with(
            "texts",
            Text(
                text=text,
                panel=self._panel(panel, "text panel"),
                at=units.point(at, "text at"),
                height=units.length(height, "text height"),
                turn=units.angle(turn, "text turn"),
                face=face,
            ),
        )

    def mirrored(self, number: str | None = None, title: str | None = None) -> Part:
        """Return the other hand; what is added later is still drawn on the first hand.

        Parameters
        ----------
        number, title : str, optional
            Of the other hand.

        Returns
        -------
        Part
        """
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
        checked = Part(
            self.number if number is None else number,
            rev=self.rev if rev is None else rev,
            sheet=self.sheet if sheet is None else sheet,
            base=self.base,
            title=self.title if title is None else title,
            quantity=self.quantity if quantity is None else quantity,
        )
        names: tuple[Literal["number", "rev", "sheet", "title", "quantity"], ...]
        names = ("number", "rev", "sheet", "title", "quantity")
        return self._changed(**{n: getattr(checked, n) for n in names})

    def with_features(
        self,
        folds: tuple[Fold, ...] = (),
        holes: tuple[Hole | HoleRow | HoleGrid, ...] = (),
        beads: tuple[Bead, ...] = (),
        texts: tuple[Text, ...] = (),
    ) -> Part:
        """Return the part with all its features replaced, their panels and edges checked; for readers of files."""
        part = self._changed(folds=(), holes=(), beads=(), texts=(), last="")
        for f in folds:
            part._place(f.edge if f.panel == "base" else f"{f.panel}.{f.edge}", f"fold {f.name!r} edge")
            part._free_name(f.name, f.name, part.panels, "fold")
            part = part._changed(folds=(*part.folds, f))
        for h in holes:
            part._free_name(h.name, h.name, [o.name for o in part.holes], "hole")
            for panel, edge in h.edges if isinstance(h, HoleRow) else ():
                part._place(edge if panel == "base" else f"{panel}.{edge}", f"holes {h.name!r} edge")
            if not isinstance(h, HoleRow):
                part._panel(h.panel, f"hole {h.name!r} panel")
            part = part._changed(holes=(*part.holes, h))
        for b in beads:
            part._panel(b.panel, f"bead {b.name!r} panel")
            part._free_name(b.name, b.name, [o.name for o in part.beads], "bead")
            part = part._changed(beads=(*part.beads, b))
        for t in texts:
            part._panel(t.panel, f"text {t.text!r} panel")
        return part._changed(texts=texts)

    def _hole_name(self, name: str | None, wanted: str) -> str:
        return self._free_name(name, wanted, [h.name for h in self.holes], "hole")


def _across(path: tuple[Point, ...], step: float) -> Point:
    dx, dy = path[-1][0] - path[0][0], path[-1][1] - path[0][1]
    n = math.hypot(dx, dy) or 1.0
    ax, ay = dy / n, -dx / n
    if ax < -1e-9 or (abs(ax) <= 1e-9 and ay < 0):
        ax, ay = -ax, -ay
    return ax * step, ay * step
