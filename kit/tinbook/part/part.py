"""A part in the making: each verb takes lengths and angles at the door and returns a new part with one feature more."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from tinbook import units
from tinbook.errors import BadValue
from tinbook.part.features import MOST_HOLES, Hole, HoleGrid, HoleRow, HoleUse
from tinbook.part.folding import Folding
from tinbook.part.forms.bead import Bead
from tinbook.part.forms.mark import Etch, Text
from tinbook.plane.loops import Loop, Point

if TYPE_CHECKING:
    from tinbook.flatpattern import Direction
    from tinbook.part.outline import Outline


@dataclass(frozen=True, slots=True, init=False, repr=False)
class Part(Folding):
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
        undersize: Any = None,
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
            plug weld, tack screw, nut insert, bolt, press nut, standoff, drawn hole, drain, cut-out, mark and drill.
        size : str, optional
            Thread size ("M6") for a bolt or an insert.
        length, turn
            Slot: length over all and its angle.
        undersize : length, optional
            Diameter that the cutter makes; the rest is drilled or reamed out, as for a pin or a bore whose
            edge must not be hard from the cut.
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
                undersize=None if undersize is None else units.length(undersize, f"hole {new!r} undersize"),
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
        drawn: Any = getattr(shape, "loop", shape)
        if not isinstance(drawn, Loop):
            raise BadValue(f"cut-out {new!r} shape", shape, "an Outline")
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
        if not isinstance(edges, Iterable):
            raise BadValue("holes_along edges", edges, "the name of an edge, or several")
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
                counts=_counts(counts, new),
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
        new = self._form_name(Bead, name, "bead")
        points: tuple[Point, ...] = units.points(path, f"bead {new!r} path")
        return self.formed(
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
        if copies > MOST_HOLES:
            raise BadValue("repeated copies", copies, f"at most {MOST_HOLES}")
        if self.last == Bead.TABLE:
            bead = self.beads[-1]
            if isinstance(step, (tuple, list)):
                vector = units.point(step, "repeated step")
            else:
                vector = _across(bead.path, units.length(step, "repeated step"))
            more = replace(bead, copies=copies, step=vector)
            return self._changed(forms=tuple(more if f is bead else f for f in self.forms))
        if self.last != "holes":
            raise BadValue("repeated", self.last or "nothing", "a bead or a hole added just before")
        newest = self.holes[-1]
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
        return self.formed(
            Text(
                text=text,
                panel=self._panel(panel, "text panel"),
                at=units.point(at, "text at"),
                height=units.length(height, "text height"),
                turn=units.angle(turn, "text turn"),
                face=face,
            ),
        )

    def etch(
        self,
        path: Sequence[Any],
        *,
        closed: bool = False,
        panel: str = "base",
        face: Direction = "up",
        name: str | None = None,
        note: str = "",
    ) -> Part:
        """Mark a line: where another part stands, where to lay a rule.

        Parameters
        ----------
        path : sequence of (length, length)
            Corner points in the panel's coordinates.
        closed : bool
            Whether it goes back to its first point.
        panel, face : str
            Panel and side of the sheet.
        name : str, optional
            Else "line".
        note : str
            What stands within the line and is not made by this part; the line is then shown and not marked.

        Returns
        -------
        Part
        """
        new = self._form_name(Etch, name, "line")
        points = units.points(path, f"etched line {new!r} path")
        where = self._panel(panel, "etched line panel")
        return self.formed(Etch(name=new, panel=where, path=points, closed=closed, face=face, note=note))


def _counts(counts: Any, name: str) -> tuple[int, int]:
    if not isinstance(counts, (tuple, list)) or len(counts) != 2 or any(type(n) is not int for n in counts):
        raise BadValue(f"holes {name!r} counts", counts, "two whole numbers, along x and along y")
    return counts[0], counts[1]


def _across(path: tuple[Point, ...], step: float) -> Point:
    dx, dy = path[-1][0] - path[0][0], path[-1][1] - path[0][1]
    n = math.hypot(dx, dy) or 1.0
    ax, ay = dy / n, -dx / n
    if ax < -1e-9 or (abs(ax) <= 1e-9 and ay < 0):
        ax, ay = -ax, -ay
    return ax * step, ay * step
