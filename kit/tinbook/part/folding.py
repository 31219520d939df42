"""How a part gets its folds: legs, hems and curls, with lengths and angles taken at the door."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Self

from tinbook import units
from tinbook.errors import BadValue
from tinbook.part.declaration import Declaration
from tinbook.part.features import Corner, CornerKind, Fold, Hem, HemKind, LegTo, Relief, ReliefKind

if TYPE_CHECKING:
    from tinbook.flatpattern import Direction
    from tinbook.part.outline import Outline


@dataclass(frozen=True, slots=True, init=False, repr=False)
class Folding(Declaration):
    """A declaration that can be folded; `Part` adds holes, beads and marks."""

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
    ) -> Self:
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
            if not hasattr(shape, "loop"):
                raise BadValue(f"{me} shape", shape, "an Outline")
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
    ) -> Self:
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
        leg: Any = None,
        to: LegTo = "tangent",
        start: Any = None,
        stop: Any = None,
        rule: str | None = None,
        relief: ReliefKind | Relief = "square",
        shape: Outline | None = None,
        name: str | None = None,
    ) -> Self:
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
        to, start, stop, rule, relief, shape, name
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
            rule=rule, relief=relief, shape=shape, name=name,
        )  # fmt: skip
        return part._changed(folds=(*part.folds[:-1], replace(part.folds[-1], curl=True, angle=turned)))
