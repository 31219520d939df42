"""Parts that just break a rule, and the demo shop with one value changed: what the cases of `check_parts` are built of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.features import Relief
from tinbook.part.forms.drawn_hole import DrawnHole
from tinbook.part.forms.joggle import Joggle
from tinbook.part.forms.louvre import Louvre
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop

SHOP = Shop.demo()
PLUG = SHOP.fixings.plug_weld(1.5)


@dataclass(frozen=True)
class Case:
    """One limit.

    Parameters
    ----------
    code, severity, limit, unit
        Of the finding that `over` must give; None where it has no limit.
    over, kept : callable
        Answer a made part just beyond the limit, and just within it.
    source : str
        Key of the source that the finding must name.
    because : str
        Where the limit comes from, worked out.
    kept_as : str or None
        Severity of the same code on the part that keeps the limit; None: not found at all.
    """

    code: str
    severity: str
    over: Callable[[], Made]
    kept: Callable[[], Made]
    source: str
    because: str
    limit: float | None = None
    unit: str = "mm"
    kept_as: str | None = None


def part(sheet: str = "DC01 1.5", width: float = 300.0, height: float = 200.0, *, trim: bool = False) -> Part:
    return Part("HN-CK", sheet=sheet, base=Outline.rectangle(width, height), trim=trim)


def riveted(inset: float, pitch: float = 30.0, *, dia: float | None = None, size: str | None = "4.8") -> Made:
    whole = part()
    for k in range(2):
        whole = whole.hole((60 + pitch * k, inset), dia, use="rivet", size=size, name=f"rivet {k + 1}")
    return make(whole, SHOP)


def leg(mm: float, tool: str, sheet: str, angle: float = 90.0) -> Made:
    return make(part(sheet).fold("front", leg=mm, tool=tool, angle=angle), SHOP)


def radius(mm: float, edge: str, sheet: str = "DC01 1.5", shop: Shop = SHOP, angle: float = 90.0) -> Made:
    return make(part(sheet).fold(edge, leg=40, radius=mm, angle=angle), shop)


def hole_by_fold(y: float, use: str) -> Made:
    """Hole of 8 mm at y from the outside mould line of a fold in 1.5 mm, inside radius 1.5 mm."""
    return make(part().fold("front", leg=40, tool="F1").hole((150, y), 8, use=use), SHOP)


def drawn(**given: float) -> Made:
    return make(part().formed(DrawnHole(centre=(150, 100), dia=40, height=6, **given)), SHOP)  # type: ignore[arg-type]


def louvred(**given: float | str) -> Made:
    sizes: dict[str, float | str] = {} if "die" in given else {"length": 80, "reach": 20, "opening": 6}
    return make(part().formed(Louvre(centre=(150, 100), **sizes | given)), SHOP)  # type: ignore[arg-type]


def joggled(**given: float) -> Made:
    return make(part().formed(Joggle(edge="rear", **{"lap": 30.0} | given)), SHOP)  # type: ignore[arg-type]


def hem(kind: str, mm: float, sheet: str = "DC01 1.5", gap: float | None = None) -> Made:
    return make(part(sheet).hem("front", kind, leg=mm, gap=gap), SHOP)


def long_fold(mm: float, tool: str, sheet: str) -> Made:
    return make(part(sheet, mm, 300).fold("front", leg=60, tool=tool), SHOP)


def forceless(force: float | None) -> Made:
    machines = tuple(replace(m, force=force) if m.key == "brake" else m for m in SHOP.machines)
    return make(part("S235 3.0").fold("front", leg=60, tool="V16"), replace(SHOP, machines=machines))


def roll(**values: float) -> Shop:
    """Return the demo shop with one pair of rolls changed."""
    rolls = tuple(replace(r, **values) if r.key == "R18x5" else r for r in SHOP.rolls)
    return replace(SHOP, rolls=rolls)


def beaded(shop: Shop = SHOP, sheet: str = "DC01 1.5", y: float = 100.0, **size: float) -> Made:
    """A bead along x at height y; trimmed afterwards, so that nothing moves for the draw."""
    return make(part(sheet, trim=True, **size).bead([(80, y), (220, y)], "R18x5"), shop)


def bead_by_fold(y: float) -> Made:
    return make(part(trim=True).fold("front", leg=40, tool="F1").bead([(80, y), (220, y)], "R18x5"), SHOP)


def bead_by_hole(y: float) -> Made:
    return make(part(trim=True).bead([(80, 100), (220, 100)], "R18x5").hole((150, y), 8), SHOP)


def two_beads(step: float) -> Made:
    return make(part(trim=True).bead([(80, 60), (220, 60)], "R18x5").repeated(2, step), SHOP)


def deep_bead(y: float) -> Made:
    return make(part(width=1000, height=1400, trim=True).bead([(200, y), (800, y)], "R18x5"), SHOP)


def angled_bead(y: float) -> Made:
    """A bead with a corner; the blank has a horn beside the middle of its long leg that only a look between finds."""
    horn = [(0, 0), (1000, 0), (1000, 700), (520, 700), (510, 700 + y), (500, 700), (0, 700)]
    base = Outline.polygon(horn, ["front", "right", "r2", "h2", "h1", "r1", "left"])
    bent = [(200, 350), (800, 350), (900, 250)]
    return make(Part("HN-CK", sheet="DC01 1.5", base=base, trim=True).bead(bent, "R18x5"), SHOP)


def plain(dia: float, sheet: str = "DC01 1.5") -> Made:
    return make(part(sheet).hole((150, 100), dia), SHOP)


def slotted(width: float) -> Made:
    return make(part().hole((150, 100), width, length=30), SHOP)


def relief(width: float | None, sheet: str = "DC01 2.0") -> Made:
    return make(part(sheet).fold("front", leg=40, start=60, relief=Relief(width=width)), SHOP)


def row(inset: float, dia: float, use: str, pitch: float = 60.0, sheet: str = "DC01 1.5") -> Made:
    return make(part(sheet).holes_along("rear", dia=dia, pitch=pitch, inset=inset, use=use), SHOP)


def bored(undersize: float) -> Made:
    return make(part("DC01 3.0").hole((100, 60), 20, undersize=undersize), SHOP)


def lettered(rev: str, scheme: str = "ASME Y14.35") -> Made:
    return make(part().renamed(rev=rev), replace(SHOP, revision_scheme=scheme))


def pair(apart: float, dia: float = 8.0, use: str = "cut-out") -> Made:
    return make(part().hole((100, 100), dia, use=use).hole((100 + apart, 100), dia, use=use), SHOP)


def sized(dia: float, use: str, size: str) -> Made:
    return make(part().hole((100, 60), dia, use=use, size=size), SHOP)


def slot_by_edge(y: float) -> Made:
    return make(part().hole((150, y), 8, length=30), SHOP)


def blank(width: float, height: float, sheet: str = "DC01 1.5") -> Made:
    return make(part(sheet, width, height), SHOP)


def marked(y: float) -> Made:
    return make(part().etch([(50, 100), (50, y)]), SHOP)


def measured(thickness: float) -> Made:
    """A part that was set out for 1.5 mm, on a sheet of this measured thickness."""
    plate = Part("HN-CK", sheet="DC01 1.5", base=Outline.rectangle(300, 200), drawn_thickness=1.5)
    return make(plate, SHOP.with_measured("DC01 1.5", thickness))


def aluminium(angle: float) -> Made:
    """Half-hard aluminium, whose table of radii ends at 90 degrees turned."""
    sheet = replace(SHOP.sheet_by_key("5083 3.0"), key="5052 3.0", material=_material("5052"))
    shop = replace(SHOP, sheets=(*SHOP.sheets, sheet))
    return radius(6.0, "left", "5052 3.0", shop, angle)


def _material(key: str):
    from tinbook.shop.standard import library

    return next(m for m in library().materials if m.key == key)


def wide_die(opening: float) -> Made:
    """A fold in 1.5 mm over a die of any opening."""
    die = replace(SHOP.tool("V25"), key="VX", opening=opening, min_thickness=0.5)
    return make(part().fold("front", leg=60, tool="VX"), replace(SHOP, tools=(*SHOP.tools, die)))
