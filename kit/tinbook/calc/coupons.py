"""What folded test strips say of a bend: inside radius and K by least squares, with honest uncertainty.

A strip of length L folded once to outside legs a and b has the deduction D = a + b - L, and

    D = 2 S(A) (r + t) - A (r + K t),    S = tan(A/2) up to 90 degrees turned, 1 above,

is linear in r and K. Strips at one angle fix only D there: r and K trade against each other
until strips at other angles, a radius gauge or the tool's own radius tell them apart.
Bands are 95 % half widths.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from tinbook.calc.limits import above_zero, in_range
from tinbook.errors import BadValue

Array: TypeAlias = npt.NDArray[np.float64]
RadiusFrom = Literal["strips", "gauge", "tool"]

Z95: Final = 1.959964
"""Standard deviations in the 95 % half width of a normal distribution."""

BOTH95: Final = 2.447747
"""The same for two of them at once."""

TOOL_RADIUS: Final = 0.20
"""95 % half width of the radius that a tool's rule gives, as a part of it (own proposal: rules of thumb miss by so much)."""

OUTLIER: Final = 0.02
"""Chance that a fit without outliers leaves a strip out of radius and K."""

GROSS: Final = (0.2, 0.15)
"""Part of the thickness beyond which a residual is gross, and the chance that serves instead of `OUTLIER` there (own
proposal)."""

BLUNDER: Final = 12.0
"""Scatters of the others from which a strip left out is a wrong reading; nearer, it still shows how bends scatter (own
proposal)."""

TAILS: Final = (1.35, 1.1)
"""What the two parts of a single bend's band are widened by, scatter and mean: bends in a shop scatter with longer tails
than the bell curve (own proposal, from simulated strips)."""

UNSEEN: Final = 0.7
"""Share of the instruments' variance, over the degrees of freedom, that scatter may have without being seen (own
proposal, from simulated strips)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BendFit:
    """Radius and K of one sheet on one tool.

    Parameters
    ----------
    radius, k : float
        mm, part of the thickness.
    radius_band, k_band : float
        95 % half widths, both together.
    one_angle : float
        What the deduction of a single bend needs of these bands beside its scatter, a part of 1.
    correlation : float
        Of the two estimates, -1 to 1.
    scatter : float
        95 % half width of the next bend about the mean bend, mm of deduction, beyond what the caliper explains.
    radius_from : {"strips", "gauge", "tool"}
        What told the radius apart from K.
    used : tuple of int
        Rows that count; the others are outliers.
    residuals : tuple of float
        Of every row, mm of deduction, measured less fitted.
    freedom : int
        Degrees of freedom.
    angle : float
        Mean angle of the strips that count, degrees.
    mean_band : float
        95 % half width of the mean deduction at that angle, mm.
    """

    radius: float
    k: float
    radius_band: float
    k_band: float
    one_angle: float
    correlation: float
    scatter: float
    radius_from: RadiusFrom
    used: tuple[int, ...]
    residuals: tuple[float, ...]
    freedom: int
    angle: float
    mean_band: float


def legs_factor(angle: float) -> float:
    """S of the deduction: tan(A/2) up to 90 degrees turned, 1 above, where legs run to the tangent (source: geometry)."""
    return math.tan(math.radians(angle) / 2.0) if angle <= 90.0 else 1.0


def sensitivities(angle: float, thickness: float) -> tuple[float, float]:
    """Return dD/dr and dD/dK of the deduction, (2 S - A, -A t) (source: geometry)."""
    a = math.radians(angle)
    return 2.0 * legs_factor(angle) - a, -a * thickness


def angle_slope(angle: float, radius: float, k: float, thickness: float) -> float:
    """Return dD/dA of the deduction, mm per radian (source: geometry; at 90 degrees the slope below it)."""
    a = math.radians(angle)
    rise = (radius + thickness) / math.cos(a / 2.0) ** 2 if angle <= 90.0 else 0.0
    return rise - (radius + k * thickness)


def deduction_band(
    angle: float,
    thickness: float,
    *,
    radius_band: float,
    k_band: float,
    correlation: float = 0.0,
    scatter: float = 0.0,
    one_angle: float = 1.0,
) -> float:
    """95 % half width of a deduction from those of radius and K, and of one bend about the mean.

    Parameters
    ----------
    angle : float
        Turned through, more than 0 to 180 degrees.
    thickness : float
        mm.
    radius_band, k_band, correlation, scatter, one_angle
        As in `BendFit`; at least 0.

    Returns
    -------
    float
        mm.

    Notes
    -----
    Source: geometry; first-order propagation.
    """
    in_range("angle turned", angle, 0.0, 180.0, "geometry", "deg")
    by_r, by_k = sensitivities(angle, thickness)
    r, k = by_r * radius_band, by_k * k_band
    return math.sqrt(one_angle**2 * max(0.0, r * r + k * k + 2.0 * correlation * r * k) + scatter**2)


def fit_bend(
    angles: Array,
    deductions: Array,
    thicknesses: Array,
    sigmas: Array,
    *,
    tool_radius: float,
    gauge: Array | None = None,
    gauge_sigma: float = 0.1,
) -> BendFit:
    """Fit inside radius and K to test strips.

    Parameters
    ----------
    angles, deductions, thicknesses, sigmas : ndarray, shape (n,)
        Turned through (degrees), a + b - L (mm), thickness (mm), and the standard deviation that
        caliper and protractor give the deduction (mm); n at least 2.
    tool_radius : float
        Inside radius by the tool's rule, mm; used only where the strips do not tell it better.
    gauge : ndarray, shape (n,), optional
        Measured inside radii, mm, nan where none was.
    gauge_sigma : float
        Standard deviation of a radius gauge, mm.

    Returns
    -------
    BendFit

    Raises
    ------
    BadValue
        Fewer than two strips.

    Notes
    -----
    Weighted least squares; each strip weighs by its instruments and the scatter of bends together, whose variance is
    the one with which the weighted squares of the residuals sum to the degrees of freedom f (Paule and Mandel). The
    band is Student's t of f times the standard deviation, for radius and K together the square root of 2 F(2, f). In
    the band of a single bend the mean takes a smaller t, of f over the scatter's share of the variance: the other share
    is the instruments', which need not be learnt from the strips. Both parts are widened by `TAILS`.
    Outliers are rows whose externally studentised residual is improbable by `OUTLIER` over all rows and that lie
    beyond three standard deviations of the instruments; at most a third of the rows. They tell nothing of radius and
    K, but unless they are blunders they show how bends scatter.
    Source: least squares, on the geometry of a bend.
    """
    n = len(angles)
    if n < 2:
        raise BadValue("strips", n, "two or more for each sheet and tool: one strip shows no scatter; six are usual")
    above_zero("mm", tool_radius=tool_radius)
    by_r, by_k = np.array([sensitivities(float(a), float(t)) for a, t in zip(angles, thicknesses, strict=True)]).T
    setback = np.array([legs_factor(float(a)) for a in angles])
    slopes, aims = np.column_stack((by_r, by_k)), deductions - 2.0 * setback * thicknesses
    gauged = np.full(n, np.nan) if gauge is None else gauge
    variances = sigmas**2

    def solved(keep: npt.NDArray[np.bool_], variance: Array) -> tuple[Array, Array, Array, int, RadiusFrom]:
        weights = 1.0 / np.sqrt(variance[keep])
        rows = slopes[keep] * weights[:, None]
        return (rows, *_solve(rows, aims[keep] * weights, gauged[keep], gauge_sigma, tool_radius))

    keep = np.ones(n, dtype=bool)
    while True:
        rows, beta, normal, freedom, where = solved(keep, variances)
        left = (aims - slopes @ beta) / sigmas
        inverse: Array = np.linalg.inv(normal).astype(np.float64)
        worst = _outlier(slopes / sigmas[:, None], left, keep, inverse, freedom, GROSS[0] * thicknesses / sigmas)
        if worst is None or (~keep).sum() + 1 > n // 3:
            break
        keep[worst] = False
    more = 0.0
    for _ in range(20):
        before = more
        more = _more_variance((aims - slopes @ beta)[keep], variances[keep], freedom)
        rows, beta, normal, freedom, where = solved(keep, variances + more)
        if abs(more - before) <= 1e-6 * (more + float(variances.min())):
            break
    off = aims - slopes @ beta
    # Only the strips show scatter; a radius from gauge or tool is a statement of its own, in its own 95 %.
    own = rows.T @ rows  # what the strips themselves say: the inverse of their covariance
    stated = normal - own
    inverse = np.linalg.inv(normal).astype(np.float64)
    chi = float((off[keep] ** 2 / (variances + more)[keep]).sum())
    birge = max(1.0, math.sqrt(chi / freedom))
    learnt = freedom / max(more / (more + float(variances[keep].mean())), 1e-3)

    def bands(factor: float, of_stated: float) -> Array:
        return np.asarray(inverse @ ((birge * factor) ** 2 * own + of_stated**2 * stated) @ inverse)

    both = bands(math.sqrt(2.0 * _f95(freedom)), Z95 if where == "tool" else BOTH95)
    single = bands(TAILS[1] * student(learnt), Z95)
    wide = np.sqrt(np.diag(both))
    mean = float(angles[keep].mean())
    at = np.array(sensitivities(mean, float(thicknesses[keep].mean())))
    return BendFit(
        radius=float(beta[0]),
        k=float(beta[1]),
        radius_band=float(wide[0]),
        k_band=float(wide[1]),
        one_angle=min(1.0, math.sqrt(float(at @ single @ at) / float(at @ both @ at))),
        correlation=float(np.clip(both[0, 1] / (wide[0] * wide[1]), -1.0, 1.0)),
        scatter=_scatter(off, keep, variances, more, freedom),
        radius_from=where,
        used=tuple(int(i) for i in np.flatnonzero(keep)),
        residuals=tuple(float(v) for v in off),
        freedom=freedom,
        angle=mean,
        mean_band=math.sqrt(float(at @ bands(student(freedom), Z95) @ at)),
    )


def _more_variance(off: Array, variances: Array, freedom: int) -> float:
    """Return the variance beyond the instruments' with which the weighted squares of residuals sum to the freedom."""

    def over(more: float) -> float:
        return float((off**2 / (variances + more)).sum()) - freedom

    if over(0.0) <= 0.0:
        return 0.0
    low, high = 0.0, float(off @ off) / freedom  # there the sum is at most the freedom
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if over(middle) > 0.0 else (low, middle)
    return high


def _scatter(off: Array, keep: npt.NDArray[np.bool_], variances: Array, more: float, freedom: int) -> float:
    """Return the 95 % half width of the next bend about the mean bend, mm."""
    usual = math.sqrt(float(off[keep] @ off[keep]) / freedom)
    shows = keep | (np.abs(off) <= BLUNDER * usual)
    if (shows & ~keep).any():
        more = _more_variance(off[shows], variances[shows], freedom + int((shows & ~keep).sum()))
    told = freedom + int((~keep).sum())  # that a strip is left out tells of the scatter too
    hidden = UNSEEN * float(variances[keep].mean()) / told
    return TAILS[0] * student(told) * math.sqrt(more + hidden)


def _solve(
    rows: Array, aims: Array, gauged: Array, gauge_sigma: float, tool_radius: float
) -> tuple[Array, Array, int, RadiusFrom]:
    """Return (r, K), the normal matrix, the freedom of the strips and what told the radius."""
    n = len(aims)
    normal, right = rows.T @ rows, rows.T @ aims
    seen = gauged[~np.isnan(gauged)]
    where: RadiusFrom = "gauge" if len(seen) else "strips"
    if len(seen):
        # The strips of one gauge share its error, so more readings do not make the radius surer than the gauge.
        normal, right = _observed(normal, right, float(seen.mean()), gauge_sigma)
    wanted = TOOL_RADIUS * tool_radius / Z95
    # How surely the radius is known so far: 1 / its Schur complement.
    known = normal[0, 0] - normal[0, 1] ** 2 / normal[1, 1]
    if known < 1.0 / wanted**2 or (where == "strips" and n < 3):  # two strips show no scatter about two unknowns
        where = "tool"
        normal, right = _observed(normal, right, tool_radius, wanted)
    beta: Array = np.linalg.solve(normal, right).astype(np.float64)
    return beta, normal, n - 2 if where == "strips" else n - 1, where


def _observed(normal: Array, right: Array, radius: float, sigma: float) -> tuple[Array, Array]:
    normal, right = normal.copy(), right.copy()
    normal[0, 0] += 1.0 / sigma**2
    right[0] += radius / sigma**2
    return normal, right


def _outlier(
    rows: Array, left: Array, keep: npt.NDArray[np.bool_], inverse: Array, freedom: int, gross: Array
) -> int | None:
    """Return the row that does not belong, None if all do."""
    if freedom < 2:
        return None
    index = np.flatnonzero(keep)
    lever = np.einsum("ij,jk,ik->i", rows[index], inverse, rows[index])
    free = np.maximum(1.0 - lever, 1e-9)
    e = left[index]
    rest = np.maximum(float(e @ e) - e**2 / free, 1e-12) / (freedom - 1)
    score = np.abs(e) / np.sqrt(rest * free)
    i = int(np.argmax(score))
    chance = GROSS[1] if abs(e[i]) > gross[index[i]] * free[i] else OUTLIER
    if score[i] > _t(1.0 - chance / (2 * len(index)), freedom - 1) and abs(e[i]) > 3.0 * math.sqrt(free[i]):
        return int(index[i])
    return None


def strips_to_halve(strips: int, freedom: int) -> int:
    """How many more strips of the same kind would halve the band of the mean, t(f) / sqrt(n).

    Parameters
    ----------
    strips, freedom : int
        Strips that count and degrees of freedom now, both at least 1 (0 counts as 1).

    Returns
    -------
    int
        At least 1.

    Notes
    -----
    Source: least squares.
    """
    goal = student(max(1, freedom)) / math.sqrt(strips) / 2.0
    more = 1
    while student(max(1, freedom) + more) / math.sqrt(strips + more) > goal:
        more += 1
    return more


@cache
def _t(p: float, freedom: float) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(freedom, p))


def student(freedom: float) -> float:
    """Student's t of a 95 % half width, two-sided (source: least squares); `freedom` is 1 or more."""
    return _t(0.975, freedom)


@cache
def _f95(freedom: int) -> float:
    from scipy.special import fdtri

    return float(fdtri(2, freedom, 0.95))
