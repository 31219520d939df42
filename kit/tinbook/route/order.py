"""The order of all work on a part: what comes before what, why, and who does it.

Operations and constraints first, then one order that keeps every constraint: at each turn the operation that the
usual order names first among those that nothing holds back. The same part gives the same plan.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Sequence
from graphlib import CycleError, TopologicalSorter
from itertools import combinations, pairwise
from typing import Any, Final, overload

import shapely

from tinbook.errors import BadValue, of_kind
from tinbook.finding import Finding, Findings, caution, stop
from tinbook.making.assembled import Assembled, need_made_or_assembled
from tinbook.making.folded import BendZone, MadeHole, MadePanel
from tinbook.making.made import Made
from tinbook.part.features import PRESSED, Fold
from tinbook.route.access import beads_after_returns_foul, shut_by
from tinbook.route.assembly.order import order_of_assembly
from tinbook.route.assembly.work import AssemblyOrder
from tinbook.route.finishing import COURSE, WHY, finishing
from tinbook.route.foldstep import told
from tinbook.route.plan import USUAL, Constraint, Operation, Plan, PlanStep
from tinbook.route.steps import FoldPlan, of_its_own
from tinbook.shop.tools.flattening import FLATTEN

FLOWS: Final = "the metal beside a bend flows, and would pull the hole out of round"

FIXINGS: Final = ("plug weld", "tack screw", "nut insert", "bolt", "rivet", *PRESSED)


@overload
def order_of_work(made: Made, folds: Any = None) -> Plan: ...
@overload
def order_of_work(made: Assembled, folds: None = None) -> AssemblyOrder: ...
def order_of_work(made: Made | Assembled, folds: Any = None) -> Plan | AssemblyOrder:
    """Put all work on a part into order, or the members of an assembly and the work between them.

    Parameters
    ----------
    made : Made or Assembled
        The part, or an assembly whose parts can all be made.
    folds : fold sequence, verdict or sequence of str, optional
        What `fold_sequence` or `check` answered, or the names of the folds in order; else the part's own order stands.
        An assembly takes none.

    Returns
    -------
    Plan
        Of a part. Without steps when the constraints contradict each other or the part cannot be made; findings say why.
    AssemblyOrder
        Of an assembly: steps along straight lines, and what is done between them. Every weld comes before primer,
        sealer, paint and wax, and these before rubber, tank and gas struts, wherever there is a way.

    Raises
    ------
    BadValue
        Neither a made part nor an assembly, a fold sequence of another part, names of folds that are not those of the part.
    """
    need_made_or_assembled(made, "order_of_work")
    if isinstance(made, Assembled):
        of_kind(folds, type(None), "folds", "left out: the order of an assembly has no folds")
        return order_of_assembly(made)
    if not made.ok:
        return Plan(steps=(), constraints=(), trips=0, findings=Findings(made.findings.stops))
    listed, told, findings = _folds(made, folds)
    work = _Work(made, listed, told)
    work.collect()
    findings += work.findings
    try:
        order = _sorted(work.operations, work.constraints)
    except CycleError as cycle:
        findings.append(_contradiction(cycle.args[1], work.constraints))
        return Plan(steps=(), constraints=tuple(work.constraints), trips=0, findings=Findings(findings))
    steps = tuple(PlanStep(number=i, operation=o, why=work.because[o.key]) for i, o in enumerate(order, 1))
    places = [s.operation.who for s in steps]
    trips = sum(a != b for a, b in pairwise(places))
    return Plan(steps=steps, constraints=tuple(work.constraints), trips=trips, findings=Findings(findings))


def _folds(made: Made, folds: Any) -> tuple[list[tuple[str, str]], str, list[Finding]]:
    """Return (fold, action) in order, whose order it is, and what forbids it."""
    names = [s.name for s in made.strips]
    folds = getattr(folds, "plan", folds)  # a check carries its fold plan
    if folds is None:
        return [(n, "fold") for n in names], "in the part's own order: no fold sequence was given", []
    if isinstance(folds, FoldPlan):
        of_its_own(folds, made)
        if names and not folds.steps:
            what = "no order of folds is free of collisions"
            remedy = "see the fold sequence for what each fold hits and what would cure it"
            lost = stop("order.folds", "folds", what, remedy, source="geometry")
            return [(n, "fold") for n in names], "no order of folds is possible", [lost]
        return [(s.fold, s.action) for s in folds.steps], "by the fold sequence: nothing collides in this order", []
    of_kind(folds, Iterable, "folds", "each fold once: " + ", ".join(names))
    given = list(folds)
    if sorted(map(str, given)) != sorted(names):
        raise BadValue("folds", tuple(given), "each fold once: " + ", ".join(names))
    return [(n, "fold") for n in given], "in the order that was given", []


class _Work:
    """Collects the operations of a part and what must come before what."""

    def __init__(self, made: Made, folds: list[tuple[str, str]], told: str) -> None:
        self.made, self.folds, self.told = made, folds, told
        self.shop = made.shop
        self.operations: list[Operation] = []
        self.constraints: list[Constraint] = []
        self.because: dict[str, str] = {}
        self.findings: list[Finding] = []

    def add(self, kind: str, what: str, who: str, own: bool, because: str, part: str = "") -> str:
        key = f"{kind}: {part}" if part else kind
        self.operations.append(Operation(key=key, kind=kind, what=what, who=who, own=own))
        self.because[key] = because
        return key

    def mine(self, kind: str, what: str, because: str, part: str = "") -> str:
        return self.add(kind, what, self.shop.name, True, because, part)

    def before(self, first: str | Iterable[str], then: str | Iterable[str], why: str) -> None:
        firsts = [first] if isinstance(first, str) else list(first)
        thens = [then] if isinstance(then, str) else list(then)
        have = {o.key for o in self.operations}
        pairs = [(a, b) for a in firsts for b in thens if a in have and b in have and a != b]
        self.constraints += [Constraint(before=a, after=b, why=why) for a, b in pairs]

    def of(self, *kinds: str) -> list[str]:
        return [o.key for o in self.operations if o.kind in kinds]

    def collect(self) -> None:
        self._cutting()
        self._forming()
        self._folding()
        self._fitting()
        self._holes()
        self._always()

    def _cutting(self) -> None:
        made, flat = self.made, self.made.flat
        assert flat is not None
        cutter = self.shop.cutter_for(made.sheet)
        who = (cutter.who, cutter.own)
        if cutter.etches and any(m.kind not in ("nick", "formed") and m.face == "up" for m in flat.marks):
            self.add("etch", "etch fold lines, beads and texts", *who, "the whole sheet still lies where it was zeroed")
        if flat.inner:
            self.add("cut inside", f"cut {len(flat.inner)} inside contours", *who, "the blank still holds in its sheet")
        self.add("cut outside", "cut the outer contour", *who, "the blank comes free with this cut")
        self.mine("deburr", "deburr all edges", "burrs cut hands, lift the gauge and start cracks in a bend")

    def _forming(self) -> None:
        made = self.made
        listed = [w for p in made.panels for f in p.forms if (w := f.work(self.shop)) is not None]
        for w in dict.fromkeys(listed):
            self.add(w.kind, w.what.format(n=listed.count(w)), w.who, w.own, w.why, w.key)
        if made.part.trim and any(f.DRAWS for p in made.panels for f in p.forms):
            self.mine("trim", "trim the edges to size", "beads have drawn the sheet in and made its edges uneven")

    def _folding(self) -> None:
        tools = {m.key: m.own for m in self.shop.machines}
        strips = {s.name: s for s in self.made.strips}
        declared = {f.name: f for f in self.made.part.folds}
        previous = ""
        for i, (name, action) in enumerate(self.folds, 1):
            bend, fold = strips[name].bend, declared[name]
            own = not bend.tool or tools.get(self.shop.tool(bend.tool).machine, False)
            verb = action if action != "fold" else "hem" if fold.hem else "curl" if fold.curl else "fold"
            how = self._on_what(strips[name], fold, verb)
            key = self.add(
                "fold", f"{told(verb, name)} {how}", bend.who or self.shop.name, own, self.told, f"{i} {name}"
            )
            if previous:
                self.before(previous, key, self.told)
            previous = key
        closed = [f.name for f in self.made.part.folds if f.corner.kind == "closed" and f.hem is None]
        if closed:
            self.mine("weld corners", f"weld the closed corners of {', '.join(closed)}", "both returns stand now")

    def _on_what(self, strip: BendZone, fold: Fold, verb: str) -> str:
        """Say on what a hit is made: a tool, a bar on the bench, or what closes a hem."""
        bar = f"a bar of {2 * strip.radius:.4g} mm"
        if not strip.bend.tool:
            return f"by hand over {bar}, on the bench"
        kind = fold.hem.kind if fold.hem else ""
        closed = {"open": f"a strip of {2 * strip.radius:.3g} mm laid in", "teardrop": bar, "": bar}.get(
            kind, "flat bars"
        )
        if verb in dict(FLATTEN.names).values():
            return f"on {closed}, not under the tool"
        if verb == "hem":
            return f"on {strip.bend.tool} as far as it turns, then close it on {closed}"
        return f"on {strip.bend.tool}"

    def _fitting(self) -> None:
        uses = {h.use for _, h in self._all_holes()}
        how = "clamp it in place and hold it by its tack screws" if "tack screw" in uses else "try it in its place"
        self.mine("fit", how, "what does not fit can still be dressed")
        for done in finishing(self.made):
            self.mine(done.kind, done.what, done.why)
        if "bolt" in uses:
            self.mine("bolt", "bolt it in place", WHY["bolt"])

    def _all_holes(self) -> Iterator[tuple[MadePanel, MadeHole]]:
        for p in self.made.panels:
            for h in p.holes:
                yield p, h

    def _holes(self) -> None:
        """Decide when holes that are drilled by hand are drilled, and when inserts are set."""
        made = self.made
        by_time: dict[str, list[str]] = {}
        drilled: dict[str, str] = {}
        for p, h in self._all_holes():
            near = _near_fold(made, p, h)
            if not h.by_hand:
                if near and h.use in FIXINGS:
                    self.findings.append(self._pulled(h, near))
                continue
            last = self._closed_by(p, h) if near else None
            if last is not None:
                drilled[h.name] = self._between_folds(h, near, last)
                continue
            beaded = _near_form(made, p, h) or (made.part.trim and any(f.DRAWS for f in p.forms))
            time = "drill after fold" if near else "drill after bead" if beaded else "drill flat"
            drilled[h.name] = time
            by_time.setdefault(time, []).append(h.name)
        over = [h.name for s in made.strips for h in s.holes if h.by_hand]
        if over:
            by_time.setdefault("drill after fold", []).extend(over)
        reasons = {
            "drill flat": "on the bench it is quick and square",
            "drill after bead": "rolling a bead moves the metal",
            "drill after fold": FLOWS,
        }
        for time, why in reasons.items():
            if time in by_time:
                self.mine(time, f"drill {_listed(by_time[time])}", why)
        for use, verb in (("drawn hole", "draw"), ("press nut", "press in"), ("standoff", "press in")):
            names = [h.name for _, h in self._all_holes() if h.use == use]
            if names:
                self.mine("insert early", f"{verb} {_listed(names)}", "flat, where the press reaches both sides", use)
        late: list[str] = []
        for p, h in self._all_holes():
            if h.use != "nut insert":
                continue
            last = self._closed_by(p, h)
            if last is None:
                late.append(h.name)
                continue
            why = f"access closes with {last.partition(': ')[2].partition(' ')[2]}"
            key = self.mine("insert early", f"set insert {h.name}, mask its thread", why, h.name)
            self.before(key, last, f"no tool reaches insert {h.name} after this fold")
            self.before(drilled.get(h.name, ""), key, "a hole before its insert")
        if late:
            self.mine("insert", f"set {_listed(late)}", WHY["insert"])

    def _between_folds(self, h: MadeHole, near: str, last: str) -> str:
        """Drill a hole after the fold beside it and before the one that shuts it in."""
        beside = next(k for k in reversed(self.of("fold")) if k.split(" ", 2)[2] == near)
        key = self.mine("drill after fold", f"drill {h.name}", FLOWS, h.name)
        self.before(beside, key, FLOWS)
        if beside == last:
            self.findings.append(self._no_way_in(h, near))
        else:
            self.before(key, last, f"no drill reaches hole {h.name} after this fold")
        return key

    def _closed_by(self, p: MadePanel, h: MadeHole) -> str | None:
        """Return the fold operation that shuts the last way to a hole, None if one side stays open."""
        shut = shut_by(self.made, p, h)
        if not all(shut.values()):
            return None
        place = {name: i for i, (name, _) in enumerate(self.folds)}
        # A side closes with its first blocker; a blocker is in place once the last fold between the two is made.
        closes = [
            min(max(place[f] for f in _between(self.made, p.name, other)) for other in shut[side]) for side in shut
        ]
        i = max(closes)
        return f"fold: {i + 1} {self.folds[i][0]}"

    def _pulled(self, h: MadeHole, fold: str) -> Finding:
        what = f"cut before folding, it is pulled out of round by fold {fold!r}"
        remedy = 'give it use="mark and drill", so that it is drilled after folding, or move it away'
        return caution("order.hole_near_fold", f"hole {h.name!r}", what, remedy)

    def _no_way_in(self, h: MadeHole, fold: str) -> Finding:
        what = f"it must be drilled after fold {fold!r}, but that fold closes the last access to it"
        remedy = "move it away from the fold so that it can be drilled flat, fold in another order, or open the part"
        return stop("order.no_way_in", f"hole {h.name!r}", what, remedy, source="geometry")

    def _always(self) -> None:
        """State the constraints that hold for every part, each with its reason."""
        beads, folds = self.of("bead", "form"), self.of("fold")
        say = self.before
        say("etch", ("cut inside", "cut outside"), "a freed blank shifts under the head")
        say("cut inside", "cut outside", "inside first: a freed blank shifts")
        say("cut outside", "deburr", "there is no edge to deburr before")
        handled = [*self.of("drill flat", "insert early"), *beads, *folds]
        say("deburr", handled, "burrs cut hands and mark rolls and dies")
        say("drill flat", [*beads, *folds], "flat it lies on the drill's table")
        for f in beads_after_returns_foul(self.made):
            names = [k for k in folds if f"return {k.partition(' ')[2].partition(' ')[2]!r} " in f.what]
            bead = next(b.roll for p in self.made.panels for b in p.beads if f"bead {b.name!r}" == f.where)
            if names:
                say(f"bead: {bead}", names, f.what)
                self.because[f"bead: {bead}"] = f"before the return is up: {f.what}"
        say(beads, folds, "beads first: a flat sheet runs through the rolls")
        say(beads, ("trim", "drill after bead"), "beads draw the sheet in")
        say(("trim", "drill after bead"), folds, "a flat blank is trimmed and drilled more easily")
        say("trim", "drill after bead", "hole places are measured from trimmed edges")
        shut_in = [k for k in self.of("drill after fold") if k != "drill after fold"]
        say(folds, ("drill after fold", "weld corners", "fit"), "the part has its shape only now")
        say(("drill after fold", "weld corners", *shut_in), "fit", "it is fitted as it will be")
        say([*handled, *self.of("trim", "drill after bead")], "fit", "it is fitted as it will be")
        say("fit", COURSE, "a welded or painted part is no longer dressed")
        for first, then in combinations([k for k in COURSE if k in self.of(*COURSE)], 2):
            if (first, then) != ("insert", "bolt"):
                say(first, then, WHY.get(then, "everything else is settled"))
        say(("insert", *self.of("insert early")), "bolt", "a bolt needs its nut")


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names) if len(names) <= 4 else f"{', '.join(names[:3])} and {len(names) - 3} more"


def _near_fold(made: Made, p: MadePanel, h: MadeHole) -> str:
    """Return the fold whose flowing metal a hole touches, "" if none: 2.5 t + r from the outside, 1.5 t from its line."""
    rim, folds = shapely.LinearRing(h.loop.chords(0.01)), {f"fold:{s.name}" for s in made.strips}
    for e in p.boundary.edges:
        line = shapely.LineString([e.start, e.end])
        if e.name in folds and shapely.distance(rim, line) < 1.5 * made.thickness - 1e-6:
            return e.name[5:]
    return ""


def _near_form(made: Made, p: MadePanel, h: MadeHole) -> bool:
    """Whether a hole lies in the metal that a form pulls."""
    rim = shapely.Polygon(h.loop.chords(0.05))
    forms = [(f.footprint, f.keep_off(made.thickness)) for f in p.forms]
    return any(
        shapely.distance(rim, shapely.Polygon(footprint.chords(0.05))) < keep.hole.least
        for footprint, keep in forms
        if footprint is not None and keep is not None
    )


def _between(made: Made, a: str, b: str) -> list[str]:
    """Return the folds between two panels."""
    parents = {s.child: s for s in made.strips}

    def way(name: str) -> list[str]:
        found = []
        while name in parents:
            found.append(parents[name].name)
            name = parents[name].parent
        return found

    up_a, up_b = way(a), way(b)
    return [f for f in (*up_a, *up_b) if not (f in up_a and f in up_b)]


def _sorted(operations: Sequence[Operation], constraints: Sequence[Constraint]) -> list[Operation]:
    """Return one order that keeps all constraints, the usual one as far as it may.

    Raises graphlib.CycleError where they contradict each other.
    """
    named = {o.key: o for o in operations}
    rank = {o.key: (USUAL.index(o.kind), i) for i, o in enumerate(operations)}
    sorter = TopologicalSorter[str](dict.fromkeys(named, ()))
    for c in constraints:
        sorter.add(c.after, c.before)
    sorter.prepare()
    ready: list[tuple[tuple[int, int], str]] = []
    done: list[Operation] = []
    while sorter.is_active():
        for key in sorter.get_ready():
            heapq.heappush(ready, (rank[key], key))
        _, first = heapq.heappop(ready)
        done.append(named[first])
        sorter.done(first)
    return done


def _contradiction(ring: Sequence[str], constraints: Sequence[Constraint]) -> Finding:
    """Return a finding that names one ring of constraints; each key of the ring must come before the next."""
    why = {(c.before, c.after): c.why for c in constraints}
    said = "; ".join(f"{a} before {b} ({why[a, b]})" for a, b in pairwise(ring))
    what = f"these constraints contradict each other: {said}"
    remedy = "move the hole or bead away from the fold, open the access, or make the part of two pieces"
    return stop("order.contradiction", "order of work", what, remedy, source="geometry")
