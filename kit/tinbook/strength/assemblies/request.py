"""Strength of an assembly in one call: mesh, joints, supports, load cases, frequencies, every joint against its rule."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from tinbook.calc.struts import REFERENCE
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.fields import Number
from tinbook.making.assembled import Assembled, need_assembled
from tinbook.part.bought import Bought
from tinbook.progress import Progress, telling
from tinbook.shop.fixings import Fixings
from tinbook.space import Vec
from tinbook.strength.assemblies.answer import AssemblyStrength
from tinbook.strength.assemblies.balance import Balanced, balanced, linear_local, shell_of, stable
from tinbook.strength.assemblies.bolted import grounded
from tinbook.strength.assemblies.caseresult import CaseResult
from tinbook.strength.assemblies.connect import connections
from tinbook.strength.assemblies.contact import Pushes, about, pushes_of
from tinbook.strength.assemblies.joint import GROUND, Connection, bores_of
from tinbook.strength.assemblies.linked import LinkForce, Linking, linkings
from tinbook.strength.assemblies.loads import Case, cases_of, forces
from tinbook.strength.assemblies.system import Held, System, system
from tinbook.strength.assemblies.system import frequencies as modes_of
from tinbook.strength.assemblies.ties import Spring
from tinbook.strength.assemblies.touching import Seen
from tinbook.strength.assemblies.used import used_by
from tinbook.strength.assemblies.whole import Member, Whole, whole_of
from tinbook.strength.joints.load import AT_HOLE
from tinbook.strength.joints.rules import Joining
from tinbook.strength.load_rules import Axes, refuse_seated
from tinbook.strength.request import FREQUENCIES, HOLES, several, supports_of
from tinbook.strength.shell import stress as skins
from tinbook.strength.shell.constraints import rigid_modes
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.linear import Shell
from tinbook.strength.shell.threads import one_thread
from tinbook.strength.supports import on_mesh
from tinbook.units import figures, positive

if TYPE_CHECKING:
    from tinbook.strength.assemblies.loads import CaseOrWords

HEAD: Final = 1.0
"""Radius round a bolt or plug weld, in hole diameters, where stress is its rule's matter: under the head (own proposal)."""
CONTACT: Final = 0.1
"""How far the state in balance may depart from the linear one where contacts have settled for that (own proposal)."""
STRUTS: Final = Number(least=-30.0, most=80.0)
"""Degrees Celsius: makers' range of gas struts."""
TURN: Final = 0.05
"""rad: a member that turns by more is not held where it stands, and forces would turn with it (own proposal)."""


@one_thread()
def strength_of_assembly(
    made: Assembled,
    supports: str | Iterable[str] | None = None,
    load: CaseOrWords = "own weight x 3",
    *,
    on: str | None = None,
    fairlead: str | None = None,
    forward: Vec = (0.0, 1.0, 0.0),
    up: Vec = (0.0, 0.0, 1.0),
    temperature: float = REFERENCE,
    size: float | None = None,
    frequencies: int = 3,
    joining: Joining | None = None,
    progress: Progress | None = None,
) -> AssemblyStrength:
    """Compute stress, frequencies and the use of every joint of an assembly by shell finite elements.

    Parameters
    ----------
    made : Assembled
        Its parts are shells, bought items rigid masses; welds, plug welds and bolts join them.
    supports : str or several, optional
        "MEMBER: bolts", "MEMBER: welded front", as for a part. Left out: what is bolted or welded to existing things.
    load : str, Case or several, optional
        "own weight x 3"; "tank", "tank, class M1", "battery", "spare wheel", "cargo", "service": the accelerations of a
        rule on all masses; "winch 40 kN at 15 deg" at the member `on`; or a Case of your own.
    on, fairlead : str, optional
        Members that a rope pulls at.
    forward, up : (float, float, float), optional
        Direction of travel and up, assembly axes.
    temperature : float, optional
        Of gas struts, degrees Celsius: hot ones push hardest.
    size : float, optional
        Largest side of an element, mm; left out, about 5000 elements in all.
    frequencies : int, optional
        How many; 0 for none.
    joining : Joining, optional
        How joints are made.
    progress : callable, optional
        Called with 0 to 1 and a word; raise `Cancelled` in it to end the run.

    Returns
    -------
    AssemblyStrength

    Raises
    ------
    BadValue
        Nothing holds it; a member that can move freely, by name.
    UnknownName
        Words or members that are not known.
    CannotMake
        A part that cannot be made; seats and belts.
    NotSolved
        No balance was found.
    """
    need_assembled(made, "strength of an assembly")
    FREQUENCIES.read(frequencies, "frequencies")
    temperature = STRUTS.read(temperature, "temperature")
    if size is not None:
        size = positive(size, "mesh size")
    for name in (*made.assembly.names, *(m.thing.name for m in made.assembly.members if isinstance(m.thing, Bought))):
        refuse_seated(name)
    how = Joining() if joining is None else joining
    of_kind(how, Joining, "joining", "a Joining")
    tell = telling(progress)
    cases, cautions = cases_of(load, Axes.of(forward, up), on, fairlead)
    whole = whole_of(made, size, lambda a, w: tell(0.35 * a, w))
    tell(0.35, "joints")
    joints, notes = connections(made, whole)
    pushes, both = pushes_of(made, whole), linkings(made, whole, temperature)
    firm = sum(x.spring.second is None for x in both)
    more, held, words = _supports(whole, joints, firm, supports, made.shop.fixings)
    joints = (*joints, *more)
    tell(0.45, "stiffness")
    s = system(whole, joints, held, (*pushes.springs, *(x.spring for x in both)))
    tell(0.6, "load cases")
    u, links, said, acting, opened = _under(s, pushes, both, cases, up)
    alone = beside(whole, joints, [*pushes.springs, *(x.spring for x in both)])
    model = shell_of(s)
    results = []
    for k, case in enumerate(cases):
        say = partial(tell, 0.6 + 0.2 * k / len(cases), case.name)
        say()
        # What slides or turns away is not worth a second look.
        lost = any(x.loose for x in links[k]) or _turned(whole, u[:, k])
        true = None if lost else balanced(s, model, u[:, k], say, opened[k])
        if true is not None and len(pushes) and true.departs > CONTACT:
            true = None
        if true is not None and not len(pushes):
            links[k] = tuple(x.force(true.u) for x in both)
        state = true or Balanced(u=u[:, k], local=linear_local(s, u[:, k]), departs=math.inf)
        mine = replace(how, factor=case.factor if joining is None else how.factor)
        results.append(result(s, joints, case, state, made, mine, links[k], alone))
    results = _without_buckled(s, model, results, opened)
    found: tuple[Array, Array] = (np.zeros(0), np.zeros((0, len(whole.points), 6)))
    if frequencies:
        tell(0.8, "frequencies")
        # Small swings about the state at rest: what bears nothing there does not act.
        swings = s if acting is None else system(whole, joints, held, (*acting, *(x.spring for x in both)))
        found = modes_of(swings, frequencies)
    tell(1.0, "done")
    return AssemblyStrength(
        assembly=made.assembly,
        whole=whole,
        results=tuple(results),
        frequencies=tuple(found[0].tolist()),
        shapes=found[1],
        held=words,
        remarks=(*notes, *said, *cautions),
    )


def _under(
    s: System, pushes: Pushes, both: Sequence[Linking], cases: Sequence[Case], up: Vec
) -> tuple[Array, list[tuple[LinkForce, ...]], tuple[str, ...], tuple[Spring, ...] | None, list[Any]]:
    """Return displacements (unknowns, cases), what links bear in each case, what to say about the state at rest, its springs.

    Those are the one-sided springs that act at rest, None where all of them do. Last, for each case what the contacts that
    have opened add to the stiffness, None where none have.
    """
    force = forces(s.whole, cases)
    struts = sum((x.pushes(s.whole.unknowns) for x in both), start=np.zeros(s.whole.unknowns))
    force += struts[:, None]
    said = [f"At rest {x.name} pushes with {figures(x.push, 4)} N." for x in both if x.push]
    if not len(pushes):
        u = s.solve(force)
        return (
            u,
            [tuple(x.force(u[:, k]) for x in both) for k in range(len(cases))],
            tuple(said),
            None,
            [None] * len(cases),
        )
    seen = Seen.of(s, pushes)
    x, y, z = up
    weight = forces(s.whole, [Case(name="rest", g=(-x, -y, -z))])[:, 0] + struts
    start, rest = seen.at_rest(weight)
    moved, links, opened = [], [], []
    for k in range(force.shape[1]):
        now = seen.settle(force[:, k], start)
        moved.append(now.u)
        opened.append(seen.opened(now))
        links.append((*(x.force(now.u) for x in both), *seen.forces(now)))
    said += [
        f"At rest {f.name} {'pulls' if f.along > 0 else 'presses'} with {figures(abs(f.along), 4)} N."
        for f in seen.forces(rest)
    ]
    acting, part = about(pushes, rest.press, rest.u)
    slack = [n for n, p, sign in zip(pushes.names, rest.press, pushes.sign, strict=True) if sign < 0 and p <= 0]
    all_act = part > 0.999 and not slack
    if not all_act:
        bears = f"rubber bears on {part:.0%} of its area" + (f" and {', '.join(slack)} hang slack" if slack else "")
        said.append(f"At rest {bears}: frequencies are of small swings about that state.")
    return np.stack(moved, axis=1), links, tuple(said), None if all_act else acting, opened


def _without_buckled(s: System, model: Shell, results: Sequence[CaseResult], opened: Sequence[Any]) -> list[CaseResult]:
    """Return the results; the one that uses most is taken back where its state is not stable."""
    worst = max(range(len(results)), key=lambda k: results[k].most if math.isfinite(results[k].departs) else 0.0)
    r = results[worst]
    out = list(results)
    if math.isfinite(r.departs) and not stable(s, model, r.displacement, opened[worst]):
        out[worst] = replace(r, departs=math.inf)
    return out


def result(
    s: System,
    joints: Sequence[Connection],
    case: Case,
    at: Balanced,
    made: Assembled,
    how: Joining,
    links: tuple[LinkForce, ...],
    alone: Any,
) -> CaseResult:
    """Return an assembly under one case: stress of each member but where `alone` says, use of each joint."""
    whole, e = s.whole, s.whole.elements
    moved = at.u.reshape(-1, 6)
    top, bottom = skins.equivalent(e, whole.quads, len(whole.points), at.local)
    worst = np.where(alone, 0.0, np.maximum(top, bottom))
    members = []
    for m in whole.members:
        most = float(worst[m.nodes].max())
        members.append((m.name, most, most / m.made.sheet.material.yield_min))
    return CaseResult(
        case=case,
        displacement=moved,
        stress=worst,
        members=tuple(members),
        uses=used_by(whole, joints, at.u, made, how),
        links=links,
        factor=how.factor,
        turned=_turned(whole, at.u),
        departs=at.departs,
    )


def beside(whole: Whole, joints: Sequence[Connection], links: Sequence[Spring]) -> Any:
    """Return which nodes lie at a weld, a link or under a bolt's head (n,): a point's pull has no stress there."""
    shells = 6 * (len(whole.points) - len(whole.bodies))
    springs = [s for c in joints for s in c.springs] + list(links)
    ties = [t for s in springs for t in (s.first, s.second) if t is not None]
    out = np.zeros(len(whole.points), dtype=bool)
    for t in ties:
        out[t.where[t.where < shells] // 6] = True
    for c in joints:
        if c.kind != "seam":
            out |= np.linalg.norm(whole.points - c.springs[0].at, axis=1) < HEAD * c.hole
    return out


def _turned(whole: Whole, u: Array) -> tuple[str, ...]:
    """Return the members whose best rigid motion turns them too far, in words."""
    moved, out = u.reshape(-1, 6), []
    for m in whole.members:
        rigid = rigid_modes(whole.points[m.nodes])[:, :3].reshape(-1, 6)
        best, *_ = np.linalg.lstsq(rigid, moved[m.nodes, :3].ravel(), rcond=None)
        turns = float(np.linalg.norm(best[3:]))
        if turns > TURN:
            out.append(f"{m.name}: turns by {math.degrees(turns):.2g} degrees, not in balance where it stands")
    return tuple(out)


def _supports(
    whole: Whole, joints: Sequence[Connection], firm: int, supports: str | Iterable[str] | None, fixings: Fixings
) -> tuple[tuple[Connection, ...], tuple[Held, ...], tuple[str, ...]]:
    """Return joints to the ground and held edges that words stand for, and the words of all that holds."""
    onto = [c for c in joints if c.second == GROUND]
    given = ((len(onto), "joints to existing things"), (firm, "hinges, latches and struts on what stands still"))
    words = [f"{count} {what}" for count, what in given if count]
    wanted = () if supports is None else several(supports)
    if not words and not wanted:
        raise BadValue(
            "supports", "none", 'at least one, as in "cradle: bolts": an assembly in the air has no deflection'
        )
    taken = {int(c.nodes[0]) for c in joints if len(c.nodes)}
    more: list[Connection] = []
    held: list[Held] = []
    for w in wanted:
        if not isinstance(w, str) or ":" not in w:
            raise BadValue("supports", w, 'a member and how it is held, as in "cradle: bolts"')
        name, _, how = (part.strip() for part in w.partition(":"))
        names = [m.name for m in whole.members]
        if name not in names:
            raise UnknownName("supports: member", name, names)
        m = whole.member(name)
        use = HOLES.get(how)
        if use is not None:
            free = [b for b in bores_of(m, whole) if b.use == use and int(b.nodes[0]) not in taken]
            if not free:
                raise BadValue("supports", w, f"a member with {how} that nothing of the assembly is fixed to")
            more += [grounded(whole, m, b, AT_HOLE[use], fixings) for b in free]
        else:
            held.append(_edges(whole, m, how, w))
        words.append(w)
    return tuple(more), tuple(held), tuple(words)


def _edges(whole: Whole, m: Member, how: str, words: str) -> Held:
    # What keeps a lone part from drifting is no support of an assembly: its joints do that.
    stops = on_mesh(m.made, m.mesh, [x for x in supports_of(m.made, how) if x.at != "drift"])
    if stops.one_sided.any():
        raise BadValue("supports", words, "supports that hold both ways")
    turned = np.concatenate((m.at.vectors(stops.rows[:, :3]), m.at.vectors(stops.rows[:, 3:])), axis=1)
    where = 6 * (m.first + stops.at)[:, None] + np.arange(6)
    return Held(where=where, rows=turned)
