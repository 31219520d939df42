"""What is done to an assembly, as values: its members' ways in, and the work between: primer, welds, dressing, coats, wax. Common practice."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from tinbook.errors import CannotMake
from tinbook.language import Said, joined
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.part.links import Weld
from tinbook.part.part import Part
from tinbook.route.finishing import COURSE, Finish, before_laps, finishing, first_coat, galvanised
from tinbook.route.ways import Solid, patches
from tinbook.space import Vec
from tinbook.values import dataclass

EARLY: Final = ("weld corners", "prime", "weld tails", "plug weld", "fill", "dress")
"""Work on single parts that is done before parts are put together."""
COATS: Final = ("epoxy", "seal", "paint", "rivet", "insert", "wax")
"""Work on everything that was made, once the last weld is dressed."""
KINDS: Final = ("clear", "weld corners", *COURSE)
"""All kinds of work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Something that is done to members, between two steps.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    on : tuple of str
        Members.
    what : str
        In words.
    after : int
        How many steps are done before it.
    """

    kind: str
    on: tuple[str, ...]
    what: str
    after: int = 0

    @property
    def said(self) -> Said:
        """The work and its members in words."""
        return Said("{what} ({on})", what=self.what, on=_listed(self.on))

    def __str__(self) -> str:
        return str(self.said)


def own_work(made: Assembled, names: Iterable[str], kinds: Sequence[str]) -> list[Work]:
    """Return what each part needs by itself, the same work on several parts together, in the order of `kinds`."""
    found: dict[tuple[str, str], list[str]] = {}
    for name in names:
        if isinstance(made.assembly.member(name).thing, Part):
            for f in _own(made.made_of(name)):
                if f.kind in kinds:
                    found.setdefault((f.kind, f.what), []).append(name)
    order = sorted(found, key=lambda k: kinds.index(k[0]))
    return [Work(kind=kind, what=what, on=tuple(found[kind, what])) for kind, what in order]


def _own(made: Made) -> list[Finish]:
    work = finishing(made)
    if any(f.corner.kind == "closed" and f.hem is None for f in made.part.folds):
        work.insert(0, Finish(kind="weld corners", what=Said("weld the closed corners")))
    if any(h.use == "nut insert" for p in made.panels for h in p.holes):
        work.append(Finish(kind="insert", what=Said("set the nut inserts")))
    return [f if f.kind != "plug weld" else _elsewhere(f) for f in work]


def _elsewhere(f: Finish) -> Finish:
    """Say of a part with plug welds, which no weld joins to a member, that what it is welded to is not drawn."""
    return Finish(kind=f.kind, what=Said("{work} to what it lies on, before it goes in here", work=f.what))


def laps(solids: dict[str, Solid], thick: dict[str, float], welds: Iterable[Weld]) -> list[Weld]:
    """Return the welds whose members lie flat on each other, not edge to face."""
    found = []
    for w in welds:
        most = max(thick.get(w.a, 0.0), thick.get(w.b, 0.0))
        if any(p.wider_than(1.5 * most) for p in patches(solids[w.a], solids[w.b])):
            found.append(w)
    return found


def before_welding(made: Assembled, lapped: Sequence[Weld]) -> list[Work]:
    """Return the work on lapped faces before they are covered."""
    if not lapped:
        return []
    on = tuple(dict.fromkeys(n for w in lapped for n in (w.a, w.b)))
    families, zinc = families_of(made, on)
    return [Work(kind="prime", on=on, what=before_laps(families, zinc))]


def welding(made: Assembled, welds: Sequence[Weld], *, in_place: bool, near: Sequence[str] = ()) -> list[Work]:
    """Return the work of welding members together once they stand; `near` burns or bursts and cannot come later."""
    on = tuple(dict.fromkeys(n for w in welds for n in (w.a, w.b)))
    uses = {h.use for n in on if made.assembly.member(n).kind == "part" for p in made.made_of(n).panels for h in p.holes}  # fmt: skip
    each: list[str] = [Said("{a} to {b}", a=w.a, b=w.b) for w in welds[:4]]
    seams = joined(each, ", ")
    if len(welds) > 4:
        seams = Said("{seams} and {n} more", seams=seams, n=len(welds) - 4)
    what = Said("tack all, measure, then weld from the middle out and let it cool: {seams}", seams=seams)
    if in_place:
        what = Said(
            "tack all, measure, then weld from the middle out and let it cool (in its place): {seams}", seams=seams
        )
    work = []
    if in_place:
        clear = Said(
            "disconnect the battery; take out or cover what burns or bursts: tank, lines, rubber, gas struts, glass"
        )
        if len(near) == 1:
            clear = Said("{clear}; {near} is in there already", clear=clear, near=near[0])
        elif near:
            clear = Said("{clear}; {near} are in there already", clear=clear, near=_listed(near))
        work.append(Work(kind="clear", on=on, what=clear))
    work.append(Work(kind="weld", on=on, what=what))
    if "tack screw" in uses:
        work.append(Work(kind="fill", on=on, what=Said("take the tack screws out and weld their holes shut")))
    work.append(Work(kind="dress", on=on, what=Said("dress the welds")))
    return work


def coats(made: Assembled, welded: Iterable[str], lapped: Sequence[Weld]) -> list[Work]:
    """Return what covers everything that was made, in order: primer, sealer, paint, rivets, inserts, wax."""
    own = [m.name for m in made.assembly.members if m.kind == "part"]
    if not own:
        return []
    work = {k: [w for w in own_work(made, own, COATS) if w.kind == k] for k in COATS}
    families, _ = families_of(made, own)
    joined = tuple(n for n in own if n in set(welded))
    work["epoxy"] = [Work(kind="epoxy", on=tuple(own), what=first_coat(families))]
    sealed = tuple(n for n in own if n in joined or any(n in w.on for w in work["seal"]))
    if sealed:
        work["seal"] = [
            Work(kind="seal", on=sealed, what=Said("seam sealer along laps, hems, closed corners and skipped welds"))
        ]
    work["paint"] = [Work(kind="paint", on=tuple(own), what=Said("paint, threads and earth points masked"))]
    over = {n for w in lapped for n in (w.a, w.b)}
    hidden = tuple(n for n in own if n in over or any(n in w.on for w in work["wax"]))
    if hidden:
        work["wax"] = [Work(kind="wax", on=hidden, what=Said("cavity wax into laps, hems and whatever is closed"))]
    return [w for k in COATS for w in work[k]]


def families_of(made: Assembled, names: Iterable[str]) -> tuple[list[str], bool]:
    """Return the families of material of members, each once, and whether a sheet among them is zinc coated."""
    parts = [made.made_of(n) for n in names if isinstance(made.assembly.member(n).thing, Part)]
    return list(dict.fromkeys(m.sheet.material.family for m in parts)), any(galvanised(m) for m in parts)


def _listed(names: Sequence[str]) -> str:
    if len(names) <= 6:
        return ", ".join(names)
    return Said("{names} and {n} more", names=", ".join(names[:5]), n=len(names) - 5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A member's way into the assembly.

    Parameters
    ----------
    name : str
        Member.
    direction : (float, float, float)
        Along which it is moved in.
    travel : float
        How far it comes from where it is clear of all that is there, mm; 0 for what stays where it is.
    bent : bool
        Whether it is flexible and bent round what is there; `direction` is then the way with the least in it.
    clipped : bool
        Whether it is a gas strut that is clipped on its studs.
    carried : tuple of str
        Members that are welded to it and come with it.
    there : bool
        Whether it was there before.
    """

    name: str
    direction: Vec
    travel: float
    bent: bool = False
    clipped: bool = False
    carried: tuple[str, ...] = ()
    there: bool = False

    @property
    def said(self) -> Said:
        """The step in words."""
        if self.there:
            return Said("{name}, there already", name=self.name)
        if self.clipped:
            return Said("{name}, clipped on its studs with the lid held open: it is under pressure", name=self.name)
        way = _way(self.direction)
        if self.bent:
            words = "{name}, bent on {way} (it is flexible: try that it bends so far)"
            return Said(words, name=self.name, way=way)
        who = (
            Said("{name} with all that is welded to it", name=self.name)
            if self.carried
            else Said("{name}", name=self.name)
        )
        return Said("{who}, moved {way}", who=who, way=way) if self.travel else who

    def __str__(self) -> str:
        return str(self.said)


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyOrder:
    """The order of assembly, as far as there is one.

    Parameters
    ----------
    steps : tuple of Step
        From the first member to the last; what is welded up on the bench has one step more, which carries it all.
    trapped : tuple of str
        Members that hold each other: none of them is flexible or can be moved along a straight line while the
        others stand. Empty when the order is complete.
    works : tuple of Work
        What is done between the steps; empty where members trap each other.
    """

    steps: tuple[Step, ...]
    trapped: tuple[str, ...] = ()
    works: tuple[Work, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether everything goes together."""
        return not self.trapped

    @property
    def names(self) -> tuple[str, ...]:
        """Members in the order in which they come to their place; what was there before comes first."""
        whole = {s.name: s for s in self.steps if s.carried}
        placed = [n for s in self.steps if s.there for n in (s.name,)]
        for s in self.steps:
            if s.carried or not any(s.name in (w.name, *w.carried) for w in whole.values()):
                placed += [s.name, *s.carried]
        return tuple(dict.fromkeys(placed))

    @property
    def ways(self) -> dict[str, Vec]:
        """Direction in which each member is moved in, of those that are moved."""
        return {s.name: s.direction for s in self.steps if s.travel > 0}

    @property
    def schedule(self) -> tuple[Step | Work, ...]:
        """Steps and what is done between them, in order."""
        found: list[Step | Work] = []
        for i in range(len(self.steps) + 1):
            found += [w for w in self.works if w.after == i]
            found += self.steps[i : i + 1]
        return tuple(found)

    def required(self) -> AssemblyOrder:
        """Return the order, or raise CannotMake with the members that trap each other."""
        if self.trapped:
            raise CannotMake(
                "no order of assembly: these trap each other: "
                + ", ".join(self.trapped)
                + ". Let one of them only touch another instead of standing in its slots, or tack one later."
            )
        return self

    def __str__(self) -> str:
        lines = [f"{i}. {s}" for i, s in enumerate(self.schedule, 1)]
        if self.trapped:
            lines.append("These trap each other: " + ", ".join(self.trapped))
        return "\n".join(lines)


def _way(d: Vec) -> Said:
    k = max(range(3), key=lambda i: abs(d[i]))
    if abs(d[k]) > 0.999999:
        return Said("along {axis}", axis=("+" if d[k] > 0 else "-") + "xyz"[k])
    return Said("along ({x:.3f}, {y:.3f}, {z:.3f})", x=d[0], y=d[1], z=d[2])
