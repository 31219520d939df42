"""Host cuts: what must be cut from the body or rail that a part goes into, as a card to mark it by."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from html import escape
from typing import Any, Final

import shapely

from tinbook import units
from tinbook.calc.spotwelds import nugget_diameter
from tinbook.errors import BadValue
from tinbook.finding import Finding, Findings, caution
from tinbook.fit.places import PLACE_HEADS, Place, cross, place_of
from tinbook.fit.setting_out import SCRIBE, ScribeCard, scribe_card
from tinbook.fit.slots import slots_of
from tinbook.htmltable import html_table
from tinbook.making.made import Made, need_made
from tinbook.part.outline import Outline
from tinbook.plane.loops import Edge, Move, circle
from tinbook.shown import Shown, picture_html
from tinbook.space import SPACE, Frame
from tinbook.svg import num, path_data
from tinbook.tracing import Drawing, Numbers, Traced
from tinbook.values import dataclass

CUTTERS: Final = (6.5, 8.0, 10.0)
"""mm: spot-weld cutters as they are sold (common practice)."""
AROUND: Final = 1.5
"""mm: a cutter is so much larger than the nugget, for nobody drills its very middle (own proposal)."""
NARROW: Final = 10.0
"""mm: less metal than this between a slot and a hole or edge tears (common practice: two to three sheets, and a drill's slip)."""

THICKEST: Final = 3.0
"""mm: range of the nugget's rule (EN 1993-1-3 8.4)."""
ARROW: Final = 40.0
"""mm: length of the arrow."""

SIDES: Final = {"left": "right", "right": "left"}
FACES: Final = {"outside": "inside", "inside": "outside"}


@dataclass(frozen=True, slots=True, kw_only=True)
class HostCut(Shown):
    """What to cut from the body for a part, and what to drill.

    Parameters
    ----------
    name : str
        Of the part.
    cards : tuple of ScribeCard
        One for each closed line, all measured from the same P and Q.
    welds : tuple of Place
        Spot welds to drill out.
    cutter, nugget : float or None
        Diameters of the spot-weld cutter and of the nugget it takes out, mm; None without spot welds.
    side, face : str
        "left" or "right" side of the vehicle, "outside" or "inside" of the metal that is marked.
    arrow : str
        Where the drawing's +y points: "up", or "front" on a floor.
    corners : float
        Radius of a slot's corners, mm; 0 for a line back to a lip.
    findings : Findings
        What should be looked at.
    """

    name: str
    cards: tuple[ScribeCard, ...]
    welds: tuple[Place, ...]
    cutter: float | None
    nugget: float | None
    side: str
    face: str
    arrow: str
    corners: float
    findings: Findings

    @property
    def lines(self) -> tuple[Outline, ...]:
        """The lines to cut to, with the corners as they are cut."""
        return tuple(card.line.rounded(self.corners) if self.corners else card.line for card in self.cards)

    def other_side(self) -> HostCut:
        """Return the card for the same part on the other side of the vehicle: the mirror image."""
        return replace(_mirrored(self), side=SIDES[self.side])

    def other_face(self) -> HostCut:
        """Return the card to be laid on the other face of the same metal: the mirror image."""
        return replace(_mirrored(self), face=FACES[self.face])

    @property
    def title(self) -> str:
        """Part, side and face, for headings and the foot of each tile."""
        return f"host cut for {self.name}, {self.side.upper()} side, marked on the {self.face.upper()}"

    def drawing(self) -> Drawing:
        """Return the card at true size for a paper template, or a DXF file."""
        what = "slot, cut inside this line" if self.corners else "cut the old sheet to this line"
        drawn = [Traced(kind="scribe", edges=_longest_first(line), text=what) for line in self.lines]
        drawn += [Traced(kind="mark", edges=card.outline.loop.edges) for card in self.cards]
        for letter, at in zip("PQ", self.cards[0].base, strict=True):
            drawn.append(cross(letter, at, 5.0))
        for card in self.cards:
            drawn += [cross(p.letter, p.at, 1.5 if self.corners else 3.0) for p in card.places if "-" not in p.letter]
        for p in self.welds:
            drawn += [cross(p.letter, p.at, 3.0), Traced(kind="drill", edges=circle(p.at, self.cutter or 0.0).edges)]
        drawn.append(Traced(kind="mark", edges=_arrow(self), text=self.arrow.upper()))
        return Drawing(
            name=f"{self.name}_host_cut_{self.side}_{self.face}",
            lines=tuple(drawn),
            numbers=self.numbers,
            notes=self.notes,
            heading=f"{self.title}, mm",
            view=f"{self.side.upper()} side of the vehicle, lies on the {self.face.upper()} of the metal",
        )

    @property
    def numbers(self) -> tuple[Numbers, ...]:
        """The dimensions as tables: places, edges and checks of each line, spot welds."""
        found = [n for card in self.cards for n in card.numbers]
        if self.welds:
            found.append(Numbers(heads=PLACE_HEADS, rows=tuple(p.row for p in self.welds)))
        return tuple(found)

    @property
    def notes(self) -> tuple[str, ...]:
        """What must be said with the dimensions."""
        own = [
            (
                f"For the {self.side} side of the vehicle, drawn as seen on the {self.face} of the metal; the arrow points "
                f"{self.arrow}. The other side and the other face each have a card of their own: the mirror image."
            )
        ]
        if self.corners:
            own.append(
                f"Drill Ø{2 * self.corners:.3g} in the slot's corners first, R {self.corners:.3g}: a sharp corner cracks. "
                "A slot weakens the wall until the part is welded in: prop the rail, and cut one at a time."
            )
        if self.welds:
            own.append(
                f"Drill the spot welds with a cutter of Ø{self.cutter:g} (nugget about {self.nugget:.1f} mm), through the sheet "
                "that comes off only; what stays keeps its metal."
            )
        return (*own, *self.cards[0].notes, *(str(f) for f in self.findings))

    def __repr__(self) -> str:
        welds = f", {len(self.welds)} spot welds" if self.welds else ""
        return f"<{self.title}: {len(self.cards)} lines to cut{welds}>"

    def _repr_svg_(self) -> str:
        drawing = self.drawing()
        x0, y0, x1, y1 = drawing.box
        size = max(x1 - x0, y1 - y0) / 40
        room = 2 * size
        body = []
        for line in drawing.lines:
            data = path_data(line.edges)
            colour = SCRIBE if line.kind in ("scribe", "drill") else "#39424a"
            wide = size / (8 if line.kind == "scribe" else 16)
            body.append(f'<path d="{data}" fill="none" stroke="{colour}" stroke-width="{num(wide)}"/>')
            if line.text and line.kind != "scribe":
                x, y = line.edges[0].at(0.5)
                body.append(
                    f'<text x="{num(x + size / 2)}" y="{num(-y - size / 2)}" fill="{colour}">{line.text}</text>'
                )
        view = " ".join(num(v) for v in (x0 - room, -y1 - room, x1 - x0 + 2 * room, y1 - y0 + 2 * room))
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" width="640" font-family="sans-serif" '
            f'font-size="{num(size)}">\n<title>{escape(self.title)}</title>\n' + "\n".join(body) + "\n</svg>\n"
        )

    def _repr_html_(self) -> str:
        tables = "".join(html_table(n.heads, n.rows) for n in self.numbers)
        return picture_html(self._repr_svg_()) + tables + "".join(f"<p>{escape(n)}</p>\n" for n in self.notes)


def host_cut(
    made: Made,
    lip: Mapping[str, Any] | Any = None,
    *,
    wall: Frame | None = None,
    at: Frame = SPACE,
    clearance: Any = "1 mm",
    datums: Sequence[Sequence[Any]] | None = None,
    welds: Sequence[Sequence[Any]] = (),
    sheet: Any = None,
    cutter: Any = None,
    side: str = "left",
    face: str = "outside",
    arrow: str | None = None,
    turn: Any = 0.0,
) -> HostCut:
    """Return what must be cut from the body or rail that a part goes into, and the spot welds to drill.

    Parameters
    ----------
    made : Made
        The part.
    lip : length, or mapping of edge name to length, optional
        For a panel that lies on the body: how much of the body's metal stays under each lapped edge of its base
        outline. Edges with a fold stand clear of the cut by `clearance`.
    wall : Frame, optional
        In place of a lip, for a part that passes through a wall: the plane of the wall's marked face, in the
        coordinates of `at`, its y where the arrow points and its z towards whoever marks it.
    at : Frame
        Where the part's own coordinates lie in those of the wall.
    clearance : length
        Between part and cut; also sets the radius of a slot's corners, twice as much.
    datums : ((x, y), (x, y)), optional
        P and Q, two points that exist on the body: in the wall's x and y, needed there; or in those of the base
        outline, in place of the ends of its longest straight edge.
    welds : sequence of (x, y)
        Spot welds to drill out, in the same coordinates.
    sheet : length, optional
        Thickness of the thinner sheet at the spot welds; needed with them.
    cutter : length, optional
        Diameter of the spot-weld cutter, in place of the smallest that takes the whole nugget.
    side : {"left", "right"}
        Side of the vehicle that the part is drawn for.
    face : {"outside", "inside"}
        Face of the metal that is marked; a base outline is seen from its up side.
    arrow : str, optional
        Where the arrow points: by default "up" on a wall and "front" on a floor.
    turn : angle
        For a base outline: from its +y to where the arrow points, degrees anticlockwise.

    Returns
    -------
    HostCut
        `other_side` and `other_face` give the mirror images; `tb.write_template` and `tb.write.write_cut_line` its files.
    """
    need_made(made, "host cut")
    if not isinstance(side, str) or side not in SIDES:
        raise BadValue("side", side, " or ".join(SIDES))
    if not isinstance(face, str) or face not in FACES:
        raise BadValue("face", face, " or ".join(FACES))
    if arrow is not None and (not isinstance(arrow, str) or not arrow.strip() or len(arrow) > 20):
        raise BadValue("arrow", arrow, "a word such as 'up' or 'front'")
    keep, back = units.positive(clearance, "clearance"), -units.angle(turn, "turn")
    turned = Move.turn(back)
    if (lip is None) == (wall is None):
        raise BadValue("lip or wall", "both" if lip is not None else "neither", "one of them")
    name = made.part.number
    if wall is not None:
        if not isinstance(wall, Frame) or not isinstance(at, Frame):
            raise BadValue("wall", wall, "a Frame, as frame_at(origin, x, y) gives one")
        if datums is None:
            raise BadValue("datums", datums, "two points of the wall, ((x, y), (x, y)): an edge's end, a hole's middle")
        if back:
            raise BadValue("turn", turn, "0 with a wall: its y says where the arrow points")
        slots = slots_of(made, at, wall)
        cards = [scribe_card(s, -keep, datums=datums, name=f"slot for {name}") for s in slots]
        corners = _corners(cards, 2 * keep)
    else:
        base = made.part.base
        lips = _lips(made, lip, keep)
        if datums is not None:
            datums = [turned(p) for p in units.points(datums, "datums")]
        cards = [scribe_card(base.moved(turn=back), lips, datums=datums, name=f"cut for {name}")]
        corners = 0.0
    marked = [turned(p) for p in units.points(welds, "welds")]
    places = tuple(place_of(cards[0].base, f"W{k}", "spot weld", p) for k, p in enumerate(marked, 1))
    nugget, size, found = _cutter(places, sheet, cutter)
    return HostCut(
        name=name,
        cards=tuple(cards),
        welds=places,
        cutter=size,
        nugget=nugget,
        side=side,
        face=face,
        arrow=arrow or ("up" if wall is not None else "front"),
        corners=corners,
        findings=Findings([*found, *_near(cards, places, size or 0.0)]),
    )


def _lips(made: Made, lip: Any, keep: float) -> dict[str, Any]:
    """Return the lip of each edge of the base outline: minus the clearance where a leg is folded."""
    base = made.part.base
    folded = {f.edge for f in made.part.folds if f.panel == made.panels[0].name}
    given = dict(lip) if isinstance(lip, Mapping) else dict.fromkeys((n for n in base.names if n not in folded), lip)
    return {**dict.fromkeys(folded, -keep), **given}


def _corners(cards: Sequence[ScribeCard], most: float) -> float:
    """Return the largest radius up to a limit that every corner of the slots takes."""
    for radius in (most, most / 2, most / 4):
        try:
            for card in cards:
                card.line.rounded(radius)
        except BadValue:
            continue
        return radius
    return 0.0


def _cutter(welds: Sequence[Place], sheet: Any, cutter: Any) -> tuple[float | None, float | None, list[Finding]]:
    """Return the nugget, the cutter for it, and what must be said of them."""
    if not welds:
        return None, None, []
    if sheet is None:
        raise BadValue("sheet", sheet, "the thickness of the thinner sheet at the spot welds")
    thin = units.positive(sheet, "sheet")
    if thin > THICKEST:
        raise BadValue("sheet", sheet, f"at most {THICKEST:g} mm: thicker sheet is hardly spot-welded")
    nugget = nugget_diameter(thin)
    fits = [c for c in CUTTERS if c >= nugget + AROUND]
    size = units.positive(cutter, "cutter") if cutter is not None else fits[0] if fits else CUTTERS[-1]
    if size >= nugget + AROUND:
        return nugget, size, []
    what = "the cutter may leave a rim of the nugget standing"
    remedy = "grind the rest off, or take a larger cutter"
    return nugget, size, [caution("host.cutter", "spot welds", what, remedy, size, nugget + AROUND)]


def _near(cards: Sequence[ScribeCard], welds: Sequence[Place], size: float) -> list[Finding]:
    """Return the spot welds that lie on or too near the line: a hole there tears, or spoils the lip's edge."""
    found = []
    for card in cards:
        ring = shapely.LinearRing(card.line.loop.chords())
        for w in welds:
            away = float(shapely.distance(shapely.Point(w.at), ring)) - size / 2
            if away < NARROW:
                what, remedy = (
                    "drilled out, it leaves little metal beside the cut",
                    "move the line, or plug the hole again",
                )
                found.append(caution("host.weld", f"spot weld {w.letter}", what, remedy, max(away, 0.0), NARROW))
    return found


def _longest_first(line: Outline) -> tuple[Edge, ...]:
    """Return the edges in turn from the longest on, along which the text is written."""
    edges = line.loop.edges
    k = max(range(len(edges)), key=lambda i: (round(edges[i].chord, 6), -i))
    return edges[k:] + edges[:k]


def _arrow(cut: HostCut) -> tuple[Edge, ...]:
    """Return an arrow along +y beside the cut."""
    x0, y0, _, y1 = cut.cards[0].outline.box
    x = min(x0, *(p[0] for p in cut.cards[0].base), *(w.at[0] for w in cut.welds)) - 15
    middle, half = (y0 + y1) / 2, ARROW / 2
    top = x, middle + half
    return (
        Edge((x, middle - half), top),
        Edge(top, (x - ARROW / 8, top[1] - ARROW / 5)),
        Edge(top, (x + ARROW / 8, top[1] - ARROW / 5)),
    )


def _mirrored(cut: HostCut) -> HostCut:
    """Return the mirror image, x turned to -x: the arrow still points along +y."""
    cards = []
    for card in cut.cards:
        p, q = ((-x, y) for x, y in card.base)
        if card.baseline:
            # Run on round the mirrored outline, so that what is square off the baseline stays positive.
            p, q = q, p
        lips = {s.name: s.lip for s in card.sides if s.name in card.outline.names}
        drawn = scribe_card(card.outline.mirrored(), lips, datums=(p, q), name=card.name)
        cards.append(replace(drawn, baseline=card.baseline))
    welds = tuple(place_of(cards[0].base, w.letter, w.name, (-w.at[0], w.at[1])) for w in cut.welds)
    return replace(cut, cards=tuple(cards), welds=welds)
