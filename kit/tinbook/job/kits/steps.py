"""Steps of fitting a kit: what comes in when, which fastener goes through which hole, and the work between."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence, Set
from dataclasses import replace
from itertools import count, groupby
from typing import Final, TypeAlias

from tinbook.dims import centre_of
from tinbook.job.kits.kit import Kit
from tinbook.job.kits.stacks import LARGEST, Stack, extents, on_one_axis, round_item, stack_of, torque_of
from tinbook.language import Language
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.memo import remembered
from tinbook.part.assembly import Placed
from tinbook.part.bought import Bought
from tinbook.part.links import Weld
from tinbook.route.assembly.work import AssemblyOrder, Step, Work
from tinbook.route.finishing import finishing
from tinbook.route.order import order_of_work
from tinbook.values import dataclass
from tinbook.write.facts import APPROVAL
from tinbook.write.weldpage.pages import CAUTIONS
from tinbook.write.weldpage.welds import SIDES

TITLES: Final = {
    "clear": "Make safe",
    "weld corners": "Weld the closed corners",
    "prime": "Prime what will be covered",
    "weld": "Weld",
    "weld tails": "Weld the tails",
    "plug weld": "Plug weld",
    "fill": "Close the tack-screw holes",
    "dress": "Dress the welds",
    "epoxy": "First coat",
    "seal": "Seal",
    "paint": "Paint",
    "rivet": "Rivet",
    "insert": "Set the nut inserts",
    "wax": "Wax",
}
"""Headings of the kinds of work."""
HOT: Final = frozenset(("weld corners", "weld", "weld tails", "plug weld"))
"""Kinds of work that need the cautions of welding."""
SMALL: Final = 1.0
"""kg: a bought item up to this, and up to `LARGEST` long, goes into a bag."""
Needed: TypeAlias = tuple[tuple[Bought, int], ...]
"""The items in a bag, and how many of each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingStep:
    """One step.

    Parameters
    ----------
    key : str
        Stays the same in the next revision, while the step is the same one.
    title : str
        Heading.
    lines : tuple of str
        Sentences.
    brought, standing : tuple of str
        Members that come in, and those that are there already; none for work without a picture.
    needs : tuple of (Bought, int)
        The small items that it takes, and how many of each.
    bag : int
        Number of the bag in which they are, 0 for none.
    """

    key: str
    title: str
    lines: tuple[str, ...] = ()
    brought: tuple[str, ...] = ()
    standing: tuple[str, ...] = ()
    needs: Needed = ()
    bag: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Procedure:
    """How one assembly or single part of a kit is fitted.

    Parameters
    ----------
    thing : Assembled or Made
        What is fitted.
    order : AssemblyOrder or None
        Of an assembly.
    quantity : int
        How many of it are in a set.
    cautions : tuple of str
        To be read first.
    steps : tuple of FittingStep
        In order.
    """

    thing: Assembled | Made
    order: AssemblyOrder | None
    quantity: int
    cautions: tuple[str, ...]
    steps: tuple[FittingStep, ...]

    @property
    def label(self) -> str:
        """Number and revision."""
        own = self.thing.assembly if isinstance(self.thing, Assembled) else self.thing.part
        return f"{own.number} rev {own.rev}"

    @property
    def title(self) -> str:
        """What it is, in the user's words."""
        return self.thing.assembly.title if isinstance(self.thing, Assembled) else self.thing.part.title


@remembered
def procedures(kit: Kit) -> tuple[Procedure, ...]:
    """Return how each assembly and each single part of a kit is fitted, in the language of the job.

    Raises
    ------
    CannotMake
        Members of an assembly trap each other: there is no order.
    """
    say: Language = kit.nest.job.language
    found = [_of_assembly(a, n, say) for a, n in kit.assembled]
    found += [_of_part(c.made, n, say) for c, n in kit.alone if isinstance(c.made, Made)]
    bags = count(1)
    return tuple(
        replace(it, steps=tuple(replace(s, bag=next(bags)) if s.needs else s for s in it.steps)) for it in found
    )


# --- assemblies ----------------------------------------------------------------------------------


def _of_assembly(made: Assembled, quantity: int, say: Language) -> Procedure:
    order = order_of_work(made).required()
    steps = list(_unique(_Steps(made, order, say).all()))
    kinds = {w.kind for w in order.schedule if isinstance(w, Work)}
    cautions = _cautions(made.assembly.every_caution, kinds, say)
    return Procedure(thing=made, order=order, quantity=quantity, cautions=cautions, steps=tuple(steps))


def _cautions(own: Sequence[str], kinds: Set[str], say: Language) -> tuple[str, ...]:
    """Return what is to be read first: the thing's own cautions, those of welding where something is welded."""
    return (*map(say.retold, own), *map(say, CAUTIONS if kinds & HOT else ()), say(APPROVAL))


def _unique(steps: Iterator[FittingStep]) -> Iterator[FittingStep]:
    seen: Counter[str] = Counter()
    for step in steps:
        seen[step.key] += 1
        yield step if seen[step.key] == 1 else replace(step, key=f"{step.key} {seen[step.key]}")


class _Steps:
    """Walks the schedule of an assembly and puts what is the same joint again into one step."""

    def __init__(self, made: Assembled, order: AssemblyOrder, say: Language) -> None:
        self.made, self.order, self.say = made, order, say
        self.units = {n: s for s in order.steps if s.carried for n in (s.name, *s.carried)}
        self.bench: list[str] = []
        """Members that stand on the bench, waiting to be welded together."""
        self.there: list[str] = []
        """Members in their last place."""

    def all(self) -> Iterator[FittingStep]:
        """Yield the steps in order."""
        for works, run in groupby(self.order.schedule, lambda s: isinstance(s, Work)):
            listed = list(run)
            if works:
                yield from (self.work(w) for w in listed if isinstance(w, Work))
            else:
                yield from self.run([s for s in listed if isinstance(s, Step)])

    def run(self, steps: Sequence[Step]) -> Iterator[FittingStep]:
        """Yield the steps of members that come in one after the other."""
        for _, lots in groupby(self.lots(steps), lambda lot: lot.like if isinstance(lot, Stack) else lot.name):
            alike = list(lots)
            stacks = [s for s in alike if isinstance(s, Stack)]
            yield self.joint(stacks) if stacks else self.place(next(s for s in alike if isinstance(s, Step)))

    def lots(self, steps: Sequence[Step]) -> Iterator[Step | Stack]:
        """Yield stacks of fasteners on one axis, and every other step by itself."""
        member, names = self.made.assembly.member, list[str]()
        for step in steps:
            fastener = round_item(member(step.name))
            if names and not (fastener and on_one_axis(member(names[-1]), member(step.name))):
                yield stack_of(self.made, names)
                names = []
            if fastener:
                names.append(step.name)
            else:
                yield step
        if names:
            yield stack_of(self.made, names)

    def place(self, step: Step) -> FittingStep:
        """Return the step of one member, or of a welded unit, that comes in."""
        mine, unit = self.made.assembly.member(step.name), self.units.get(step.name)
        brought = (step.name, *step.carried)
        benched = unit is not None and unit is not step
        among = self.bench if benched else self.there
        own = unit if benched else None
        standing = tuple(n for n in among if self.units.get(n) is own) if benched else tuple(among)
        among += brought
        small = isinstance(mine.thing, Bought) and is_small(mine.thing)
        return FittingStep(
            key=self.key(f"{step.name} with all" if step.carried else step.name),
            title=self.say("{what}: is there already", what=step.name) if step.there else step.name,
            lines=() if step.there else (self.words(step, mine),),
            brought=brought,
            standing=standing,
            needs=needed([mine.thing]) if small and isinstance(mine.thing, Bought) else (),
        )

    def words(self, step: Step, mine: Placed) -> str:
        """Return how a member comes in."""
        say, what = self.say, self.say.retold(mine.label)
        if step.clipped:
            return say("Clip {what} on its studs with the lid held open: it is under pressure.", what=what)
        if step.carried:
            what = say("{what} with all that is welded to it", what=what)
        if not step.travel:
            return say("Put {what} in its place.", what=what)
        way = self.way(step.direction)
        if step.bent:
            return say("Bend {what} on {way}; it is flexible: try that it bends so far.", what=what, way=way)
        return say("Bring {what} to its place {way}.", what=what, way=way)

    def way(self, d: Sequence[float]) -> str:
        """Return a direction in words; z is up as the assembly is drawn."""
        k = max(range(3), key=lambda i: abs(d[i]))
        if abs(d[k]) < 0.999:
            return self.say("as the picture shows")
        sign = 1 if d[k] > 0 else -1
        if k == 2:
            return self.say("from below" if sign > 0 else "from above")
        return self.say("along {axis}", axis=f"{'+' if sign > 0 else '-'}{'xyz'[k]}")

    def joint(self, stacks: Sequence[Stack]) -> FittingStep:
        """Return the step of fasteners: one joint, or the same joint several times."""
        say, first = self.say, stacks[0]
        names = tuple(n for s in stacks for n in s.names)
        standing = tuple(self.there)
        self.there += names
        lines = []
        if first.holes:
            where = "; ".join(
                say("Ø {dia} mm in {what}", dia=_mm(h.dia, say), what=say.retold(h.label)) for h in first.holes
            )
            lines.append(say("Through {holes}.", holes=where))
        each = ", ".join(f"{n} × {say.retold(thing.name)}" for thing, n in Counter(first.things).items())
        many = say("{n} times, each: {items}.", n=len(stacks), items=each)
        lines.insert(0, many if len(stacks) > 1 else say("Fit {items}.", items=each))
        if any(t.name.startswith(("hexagon bolt", "hexagon nut")) for t in first.things):
            lines.append(self.tightened(first))
        title = first.things[0].name if len(first.things) == 1 else _main(first).name
        return FittingStep(
            key=self.key(names[0]),
            title=f"{len(stacks)} × {say.retold(title)}" if len(stacks) > 1 else say.retold(title),
            lines=tuple(lines),
            brought=names,
            standing=standing,
            needs=needed([t for s in stacks for t in s.things]),
        )

    def tightened(self, stack: Stack) -> str:
        """Return the sentence on the torque."""
        found = torque_of(stack, self.made.shop.fixings)
        if found is None:
            return self.say("No source gives a torque for this joint: tighten by the maker's data, and mark the nut.")
        return self.say(
            "Tighten to {torque:.0f} N m (dry thread {size}, class {strength}, 75 % of proof load, nut factor 0.2: "
            "Shigley, ISO 898-1; a quarter either way). The maker's data go first.",
            torque=found.value,
            size=found.size,
            strength=found.strength,
        )

    def work(self, work: Work) -> FittingStep:
        """Return the step of work between."""
        say = self.say
        if work.kind == "clear":
            lines = [say("Disconnect the battery. Take out or cover what burns or bursts: tank, lines, rubber, gas struts, glass. "
                         "Weld under extraction, with somebody to watch for fire for an hour afterwards.")]  # fmt: skip
            near = work.what.partition("; ")[2].partition("; ")[2]
            lines += [f"{near[:1].upper()}{near[1:]}."] if near else []
        elif work.kind == "weld":
            lines = [say("Tack all of it, measure, then weld from the middle out and let it cool.")]
            lines += [self.seam(w) for w in self.made.assembly.welds if w.a in work.on and w.b in work.on]
        elif work.kind == "plug weld":
            lines = [*_plugs(self.made.made_of(work.on[0]), say), say("To what it lies on, before it goes in here.")]
        else:
            lines = [spoken(work.what, say)]
        title = say(TITLES[work.kind])
        lines = [line for line in lines if line != f"{title}."]
        lines.append(say("On: {what}.", what=", ".join(work.on)))
        return FittingStep(key=self.key(f"{work.kind}: {work.on[0]}"), title=title, lines=tuple(lines))

    def seam(self, weld: Weld) -> str:
        """Return one weld in words."""
        say = self.say
        said = say("{a} to {b}: fillet, throat {throat} mm", a=weld.a, b=weld.b, throat=_mm(weld.throat, say))
        long = say("{length} mm", length=_mm(weld.length, say)) if weld.length else say("length as drawn")
        return ", ".join(filter(None, (said, f"{long} {say(SIDES[weld.sides])}", say.retold(weld.note)))) + "."

    def key(self, name: str) -> str:
        """Return the key of a step."""
        return f"{self.made.assembly.number}/{name}"


# --- single parts --------------------------------------------------------------------------------


def _of_part(made: Made, quantity: int, say: Language) -> Procedure:
    number = made.part.number
    steps = [FittingStep(
        key=f"{number}/place", title=say("Offer it up"), brought=("",),
        lines=(say("Lay {what} in its place. See that it lies on all round before anything is drilled or welded.", what=number),),
    )]  # fmt: skip
    for work in finishing(made):
        title = say(TITLES[work.kind])
        lines = tuple(_plugs(made, say)) if work.kind == "plug weld" else (spoken(work.what, say),)
        lines = tuple(line for line in lines if line != f"{title}.")
        steps.append(FittingStep(key=f"{number}/{work.kind}", title=title, lines=lines))
    tacked = _held(made, "tack screw", say)
    steps[1:1] = [FittingStep(key=f"{number}/tack", title=say("Draw it down"), lines=tacked)] if tacked else []
    for use, key, title in (
        ("nut insert", "insert", TITLES["insert"]),
        ("rivet", "rivets", "Rivet"),
        ("bolt", "bolt", "Bolt it on"),
    ):
        lines = _held(made, use, say)
        steps += [FittingStep(key=f"{number}/{key}", title=say(title), lines=lines)] if lines else []
    told = _cautions(made.part.cautions, {w.kind for w in finishing(made)}, say)
    return Procedure(thing=made, order=None, quantity=quantity, cautions=told, steps=tuple(steps))


def _holes(made: Made, use: str) -> dict[float, list[tuple[float, float]]]:
    """Return the centres of the holes of a use on the blank, by diameter."""
    found: dict[float, list[tuple[float, float]]] = {}
    assert made.flat is not None
    for cut in (*made.flat.cuts, *made.flat.drills):
        if cut.use == use and cut.dia:
            found.setdefault(round(cut.dia, 3), []).append(centre_of(cut))
    return found


def _held(made: Made, use: str, say: Language) -> tuple[str, ...]:
    """Return what goes into the holes of a use."""
    texts = {
        "tack screw": "{n} tack screws through the holes of {dia} mm, from the middle out; pilot holes by the sheet below.",
        "nut insert": "{n} nut inserts in the holes of {dia} mm; try one in a scrap of the same sheet first.",
        "rivet": "{n} blind rivets in the holes of {dia} mm, their length by all sheets together; drill the sheet below through them.",
        "bolt": "{n} bolts through the holes of {dia} mm; no source gives a torque: the sheet that they clamp decides.",
    }
    return tuple(say(texts[use], n=len(at), dia=_mm(dia, say)) for dia, at in sorted(_holes(made, use).items()))


def _plugs(made: Made, say: Language) -> Iterator[str]:
    for dia, at in sorted(_holes(made, "plug weld").items()):
        near = [min(math.dist(p, q) for q in at if q is not p) for p in at] if len(at) > 1 else []
        pitch = say(", {low:.0f} to {high:.0f} mm apart", low=min(near), high=max(near)) if near else ""
        yield say("{n} plug welds in the holes of {dia} mm{pitch}.", n=len(at), dia=_mm(dia, say), pitch=pitch)
    yield say(
        "Corners and mid-sides first, then halve the gaps; let it cool between. Test one on scraps of the same sheets."
    )


# --- words and counts ----------------------------------------------------------------------------


def spoken(what: str, say: Language) -> str:
    """Return work in words, clause by clause: each stands in the table of words."""
    said = "; ".join(say(clause) for clause in what.split("; "))
    return f"{said[:1].upper()}{said[1:]}."


def is_small(thing: Bought) -> bool:
    """Whether a bought item goes into a bag."""
    return not thing.existing and thing.mass <= SMALL and max(extents(thing)) <= LARGEST


def needed(things: Sequence[Bought]) -> Needed:
    """Return what goes into a bag for some items."""
    return tuple(Counter(things).items())


def _main(stack: Stack) -> Bought:
    return next((t for t in stack.things if t.name.startswith("hexagon bolt")), stack.things[0])


def _mm(value: float, say: Language) -> str:
    return say.number(value, ".4g")
