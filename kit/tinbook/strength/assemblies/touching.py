"""Which rubber presses and which slides, which straps pull: one small problem on the stiffness seen from them.

With every spring acting the assembly is factorised once. What would pull (rubber) or push (a strap) opens by the
least-squares problem of `contact.linear`; rubber that is sheared by more than its grip slips until it is not.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from tinbook.strength.assemblies.contact import Pushes
from tinbook.strength.assemblies.linked import LinkForce
from tinbook.strength.assemblies.system import System
from tinbook.strength.assemblies.ties import stiffness_of_springs
from tinbook.strength.contact.linear import BLOCK, lifts
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.solve import NotSolved
from tinbook.values import dataclass

STEPS: Final = 12
"""Most steps until the straps have their stated tension at rest."""
EXACT: Final = 1e-3
"""Part of the tension that may be missing."""
ROUNDS: Final = 60
"""Most rounds between opening and slipping."""
SLIPS: Final = 2000
"""Most steps of one search for slips."""
LOST: Final = 1e-3
"""Part of all contact forces that may be missing in a balance; it is a millionth where one is found, half where none is."""
SAME: Final = 1e-3
"""Change of a force over the largest of all that counts as none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settled:
    """One-sided springs in balance.

    Parameters
    ----------
    u : array (unknowns,)
        Displacements.
    press : array (k,)
        Force of each spring along its axis, N, none below nought.
    shear : array (k, 2)
        Force across it on its first side, N, own axes.
    held : bool
        Whether slipping comes to an end; if not, nothing holds the item.
    lifts : bool
        Whether no contact balances the load: the item lifts off or tips over.
    """

    u: Array
    press: Array
    shear: Array
    held: bool
    lifts: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """One-sided springs of a factorised assembly, with the compliance seen from them.

    The r rows are those of the k springs along their axes, then two across each of those that grip.

    Parameters
    ----------
    pushes : Pushes
    system : System
    stiffness : array (r,)
    rows : tuple of r
        Unknowns and how far the spring is pressed (stretched, for a strap) for each of them.
    moved : array (unknowns, r)
        Displacements under a unit force of each.
    compliance : array (r, r)
    across : array (g,)
        Springs that grip.
    """

    pushes: Pushes
    system: System
    stiffness: Array
    rows: tuple[tuple[Index, Array], ...]
    moved: Array
    compliance: Array
    across: Index

    @classmethod
    def of(cls, s: System, pushes: Pushes) -> Seen:
        """Return them; one solve for every row."""
        across = np.array([j for j, p in enumerate(pushes.springs) if p.stiffness[1] > 0], dtype=np.int64)
        rows: list[tuple[Index, Array]] = []
        stiffness: list[float] = []
        for spring, sign in zip(pushes.springs, pushes.sign.tolist(), strict=True):
            where, matrix = spring.rows
            rows.append((where, sign * matrix[0]))
            stiffness.append(spring.stiffness[0])
        for j in across.tolist():
            where, matrix = pushes.springs[j].rows
            rows += [(where, matrix[1]), (where, matrix[2])]
            stiffness += pushes.springs[j].stiffness[1:3].tolist()
        moved = np.zeros((s.whole.unknowns, len(rows)))
        for j, (where, row) in enumerate(rows):
            np.add.at(moved[:, j], where, row)
        for a in range(0, len(rows), BLOCK):
            moved[:, a : a + BLOCK] = s.solve(moved[:, a : a + BLOCK], refine=False)
        compliance = np.array([row @ moved[where] for where, row in rows])
        return cls(
            pushes=pushes,
            system=s,
            stiffness=np.array(stiffness),
            rows=tuple(rows),
            moved=moved,
            compliance=(compliance + compliance.T) / 2,
            across=across,
        )

    def settle(self, force: Array, start: Array) -> Settled:
        """Return the balance under forces.

        Parameters
        ----------
        force : array (unknowns,)
        start : array (k,)
            Force of each spring before anything moves, N.
        """
        k, n = self.stiffness, len(start)
        # A spring that acts from the start pulls its sides together.
        u = self.system.solve(force[:, None])[:, 0] - self.moved[:, :n] @ start
        acting = k * np.array([row @ u[where] for where, row in self.rows])
        acting[:n] += start
        seen = np.diag(k) - k[:, None] * self.compliance * k[None, :]
        grip = np.array([self.pushes.grip.get(name, 0.0) for name in self.pushes.names])[self.across]
        gives, held = _opened_and_slipped(seen, acting, n, self.across, grip)
        u = u - self.moved @ (k * gives)
        found = acting + seen @ gives
        if not np.isfinite(u).all():
            raise NotSolved("nothing presses any more: the item comes loose; no number is shown")
        shear = np.zeros((n, 2))
        shear[self.across] = -found[n:].reshape(-1, 2)
        press = np.where(gives[:n] > 0, 0.0, np.maximum(found[:n], 0.0))
        # Where no contact balances the load, forces remain that nothing can give: pulls on rubber, pushes on straps.
        lifts = float(np.abs(found[:n] - press).sum()) > LOST * max(float(np.abs(found[:n]).sum()), 1e-9)
        return Settled(u=u, press=press, shear=shear, held=held, lifts=lifts)

    def opened(self, s: Settled) -> Any:
        """Return what the contacts that have opened add to the system's stiffness, None where all act."""
        out = [spring for spring, force in zip(self.pushes.springs, s.press.tolist(), strict=True) if force <= 0]
        return stiffness_of_springs(out, len(s.u)) if out else None

    def forces(self, s: Settled) -> tuple[LinkForce, ...]:
        """Return what each strap pulls and each rubber presses and is sheared by."""
        along: dict[str, Array] = {}
        press: dict[str, float] = {}
        for spring, name, f, (a, b) in zip(
            self.pushes.springs, self.pushes.names, s.press.tolist(), s.shear.tolist(), strict=True
        ):
            along[name] = along.get(name, np.zeros(3)) + a * spring.axes[1] + b * spring.axes[2]
            press[name] = press.get(name, 0.0) + f
        out = []
        for name, total in press.items():
            across = float(np.linalg.norm(along[name]))
            if name not in self.pushes.grip:
                rated = self.pushes.rated[name]
                out.append(LinkForce(name=name, kind="strap", along=total, across=across, rated=rated))
            else:
                grip = self.pushes.grip[name] * total or None
                slides = not s.held and grip is not None and across > 0.9 * grip
                given: dict[str, Any] = {"grip": grip, "slides": slides, "lifts": s.lifts}
                out.append(LinkForce(name=name, kind="rubber", along=-total, across=across, **given))
        return tuple(out)

    def at_rest(self, weight: Array) -> tuple[Array, Settled]:
        """Return the start forces with which straps have their stated tension under a weight, and that state."""
        wanted = self.pushes.start
        start = wanted.copy()
        straps = np.flatnonzero(wanted > 0)
        now = self.settle(weight, start)
        for _ in range(STEPS):
            if now.lifts:
                raise NotSolved("at rest an item lifts off or tips over, and nothing holds it; no number is shown")
            missing = (wanted - now.press)[straps]
            if len(straps) == 0 or (np.abs(missing) <= EXACT * wanted[straps]).all():
                return start, now
            # How a strap's force answers to its tightening, while what presses keeps pressing and what is open stays so.
            acts = now.press > 0
            acts[straps] = True
            at = np.flatnonzero(acts)
            k = self.stiffness
            whole = np.eye(len(k))[np.ix_(at, at)] - k[at, None] * self._closed(at)
            place = np.searchsorted(at, straps)
            start[straps] += np.linalg.solve(whole[np.ix_(place, place)], missing)
            now = self.settle(weight, start)
        raise NotSolved(
            "the straps cannot be tightened to their tension: what they pull at gives way; no number is shown"
        )

    def _closed(self, at: Index) -> Array:
        """Return the compliance seen from springs that act while all others are open and nothing slips."""
        out = np.setdiff1d(np.arange(len(self.pushes)), at)
        c = self.compliance
        if len(out) == 0:
            return c[np.ix_(at, at)]
        k = self.stiffness[out]
        inner = np.eye(len(out)) - c[np.ix_(out, out)] * k[None, :]
        return np.asarray(
            c[np.ix_(at, at)] + (c[np.ix_(at, out)] * k[None, :]) @ np.linalg.solve(inner, c[np.ix_(out, at)])
        )


def _opened_and_slipped(seen: Array, acting: Array, n: int, across: Index, grip: Array) -> tuple[Array, bool]:
    """Return how far springs open (n,) and slip (2 for each that grips), mm, and whether that comes to an end.

    Forces are acting + seen @ gives: along their axes at least nought, across them at most grip times that.
    """
    gives = np.zeros(len(acting))
    size = max(float(np.abs(acting).max(initial=0.0)), 1e-12)
    before = np.full(len(acting), np.inf)
    for _ in range(ROUNDS):
        gives[:n] = lifts(seen[:n, :n], acting[:n] + seen[:n, n:] @ gives[n:])
        press = np.maximum((acting + seen @ gives)[:n], 0.0) * (gives[:n] <= 0)
        if len(across) == 0:
            return gives, True
        limit = grip * press[across]
        gives[n:], ends = _slipped(seen[n:, n:], acting[n:] + seen[n:, :n] @ gives[:n], limit, gives[n:], size)
        now = acting + seen @ gives
        if np.abs(now - before).max() < SAME * size:
            return gives, ends
        before = now
    return gives, False


def _slipped(seen: Array, acting: Array, limit: Array, slips: Array, size: float) -> tuple[Array, bool]:
    """Return slips (2 g,) with which no force across is larger than its limit, and whether they come to an end.

    They are the least of s' seen s / 2 + acting' s + sum of limit |s|, a convex problem; accelerated proximal gradient
    (Beck and Teboulle 2009).
    """
    steep = float(np.linalg.eigvalsh(seen)[-1])
    s = y = slips
    t = 1.0
    for _ in range(SLIPS):
        z = (y - (seen @ y + acting) / steep).reshape(-1, 2)
        far = np.linalg.norm(z, axis=1)
        new: Any = (z * np.maximum(1.0 - limit / steep / np.maximum(far, 1e-30), 0.0)[:, None]).ravel()
        if float(np.abs(new - s).max()) * steep < 1e-2 * SAME * size:
            return new, True
        later = (1 + np.sqrt(1 + 4 * t * t)) / 2
        y = new + (t - 1) / later * (new - s)
        s, t = new, later
    return s, False
