"""Strength of an assembly in one call: mesh, joints, supports, load cases, frequencies, every joint against its rule."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np

from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.making.assembled import Assembled, need_assembled
from tinbook.space import Vec
from tinbook.strength.assemblies.answer import AssemblyStrength, CaseResult
from tinbook.strength.assemblies.connect import FASTENED, GROUND, Connection, bores_of, connections, grounded
from tinbook.strength.assemblies.loads import Case, cases_of, forces
from tinbook.strength.assemblies.system import Held, System, system
from tinbook.strength.assemblies.system import frequencies as modes_of
from tinbook.strength.assemblies.used import used_by
from tinbook.strength.assemblies.whole import Member, Whole, whole_of
from tinbook.strength.joints.rules import Joining
from tinbook.strength.load_rules import Axes
from tinbook.strength.request import HOLES, supports_of
from tinbook.strength.shell import element as el
from tinbook.strength.shell import stress as skins
from tinbook.strength.shell.constraints import rigid_modes
from tinbook.strength.shell.element import Array
from tinbook.strength.supports import on_mesh

if TYPE_CHECKING:
    from tinbook.strength.assemblies.loads import CaseOrWords

Progress: TypeAlias = Callable[[float, str], None]
HALF: Final = 0.5
"""Of the thickness: a member that bends by more is beyond linear theory."""


def strength_of_assembly(
    made: Assembled,
    supports: str | Iterable[str] | None = None,
    load: CaseOrWords = "own weight x 3",
    *,
    on: str | None = None,
    fairlead: str | None = None,
    forward: Vec = (0.0, 1.0, 0.0),
    up: Vec = (0.0, 0.0, 1.0),
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
    if isinstance(frequencies, bool) or not isinstance(frequencies, int) or not 0 <= frequencies <= 20:
        raise BadValue("frequencies", frequencies, "a whole number from 0 to 20")
    how = Joining() if joining is None else joining
    of_kind(how, Joining, "joining", "a Joining")
    tell = progress or (lambda done, word: None)
    cases, cautions = cases_of(load, Axes.of(forward, up), on, fairlead)
    whole = whole_of(made, size, lambda a, w: tell(0.35 * a, w))
    tell(0.35, "joints")
    joints, notes = connections(made, whole)
    more, held, words = _supports(whole, joints, supports)
    joints = (*joints, *more)
    tell(0.45, "stiffness")
    s = system(whole, joints, held)
    tell(0.6, "load cases")
    u = s.solve(forces(whole, cases))
    results = []
    for k, case in enumerate(cases):
        results.append(result(s, joints, case, u[:, k], made, how, joining is None))
        tell(0.6 + 0.2 * (k + 1) / len(cases), case.name)
    found: tuple[Array, Array] = (np.zeros(0), np.zeros((0, len(whole.points), 6)))
    if frequencies:
        tell(0.8, "frequencies")
        found = modes_of(s, frequencies)
    tell(1.0, "done")
    return AssemblyStrength(
        assembly=made.assembly,
        whole=whole,
        results=tuple(results),
        frequencies=tuple(found[0].tolist()),
        shapes=found[1],
        held=words,
        remarks=(*notes, *cautions),
    )


def result(
    s: System, joints: Sequence[Connection], case: Case, u: Array, made: Assembled, how: Joining, by_case: bool
) -> CaseResult:
    """Return an assembly under one case: stress of each member, use of each joint."""
    whole, e = s.whole, s.whole.elements
    moved = u.reshape(-1, 6)
    d = el.to_local(moved[whole.quads].reshape(-1, 8, 3), e.axes)
    top, bottom = skins.equivalent(e, whole.quads, len(whole.points), d)
    worst = np.maximum(top, bottom)
    members = []
    for m in whole.members:
        most = float(worst[m.nodes].max())
        yields = m.made.sheet.material.yield_min
        members.append((m.name, most, most / yields, _bends(whole, m, moved) > HALF * m.made.thickness))
    used = used_by(whole, joints, u, made, how, case.factor if by_case else how.factor)
    return CaseResult(case=case, displacement=moved, stress=worst, members=tuple(members), uses=used)


def _bends(whole: Whole, m: Member, moved: Array) -> float:
    """Return how far a member moves from its best rigid motion, mm."""
    rigid = rigid_modes(whole.points[m.nodes])[:, :3].reshape(-1, 6)
    own = moved[m.nodes, :3].ravel()
    best, *_ = np.linalg.lstsq(rigid, own, rcond=None)
    return float(np.linalg.norm((own - rigid @ best).reshape(-1, 3), axis=1).max())


def _supports(
    whole: Whole, joints: Sequence[Connection], supports: str | Iterable[str] | None
) -> tuple[tuple[Connection, ...], tuple[Held, ...], tuple[str, ...]]:
    """Return joints to the ground and held edges that words stand for, and the words of all that holds."""
    onto = [c for c in joints if c.second == GROUND]
    words = [f"{len(onto)} joints to existing things"] if onto else []
    wanted: tuple[Any, ...] = ()
    if supports is not None:
        wanted = (supports,) if isinstance(supports, str) else tuple(supports)
    if not onto and not wanted:
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
            more += [grounded(whole, m, b, FASTENED.get(use, "plug weld")) for b in free]
        else:
            held.append(_edges(whole, m, how, w))
        words.append(w)
    return tuple(more), tuple(held), tuple(words)


def _edges(whole: Whole, m: Member, how: str, words: str) -> Held:
    stops = on_mesh(m.made, m.mesh, supports_of(m.made, how))
    if stops.one_sided.any():
        raise BadValue("supports", words, "supports that hold both ways")
    turned = np.concatenate((m.at.vectors(stops.rows[:, :3]), m.at.vectors(stops.rows[:, 3:])), axis=1)
    where = 6 * (m.first + stops.at)[:, None] + np.arange(6)
    return Held(title=words, where=where, rows=turned)


def shaken(frequency: float, spectrum: Sequence[tuple[float, float]]) -> float:
    """Return the density of a spectrum at a frequency, g²/Hz, between its points by straight lines on log scales."""
    if len(spectrum) < 2 or any(f <= 0 or a <= 0 for f, a in spectrum):
        raise BadValue("spectrum", spectrum, "two points or more (Hz, g²/Hz), all greater than 0")
    f, a = zip(*spectrum, strict=True)
    if list(f) != sorted(set(f)):
        raise BadValue("spectrum", spectrum, "frequencies that rise")
    if not f[0] <= frequency <= f[-1]:
        raise BadValue("frequency", frequency, f"within the spectrum, {f[0]:g} to {f[-1]:g} Hz")
    return math.exp(float(np.interp(math.log(frequency), np.log(f), np.log(a))))
