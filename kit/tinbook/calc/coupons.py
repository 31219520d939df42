"""What folded test strips say of a bend: inside radius and K by least squares, with honest uncertainty.

A strip of length L folded once to outside legs a and b has the deduction D = a + b - L, and

    D = 2 S(A) (r + t) - A (r + K t),    S = tan(A/2) up to 90 degrees turned, 1 above,

is linear in r and K. Strips at one angle fix only D there: r and K trade against each other
until strips at other angles, a radius gauge or the tool's own radius tell them apart.
Bands are 95 % half widths.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from typing import Final, Literal, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from tinbook.calc.limits import above_zero, in_range
from tinbook.errors import BadValue
from tinbook.values import dataclass

Array: TypeAlias = npt.NDArray[np.float64]
Kept: TypeAlias = npt.NDArray[np.bool_]
Stated: TypeAlias = tuple[tuple[float, float], ...]
RadiusFrom = Literal["strips", "gauge", "tool"]

Z95: Final = 1.959964
"""Standard deviations in the 95 % half width of a normal distribution."""

BOTH95: Final = 2.447747
"""The same for two of them at once."""

TOOL_RADIUS: Final = 0.20
"""95 % half width of the radius that a tool's rule gives, as a part of it (own proposal: rules of thumb miss by so much)."""

WRONG: Final = (0.02, 1.0)
"""Chance that a reading is wrong, and by how much of the thickness, either way (own proposal)."""

SCATTER: Final = (0.02, 0.1, 1.5)
"""What is known of the scatter of bends before a strip is folded: every size is as likely as its double, from this part
of the instruments' standard deviation to this part of the thickness; beyond, this factor is one standard deviation
(own proposal)."""

TAILS: Final = 0.9825
"""Probability of the mixture that serves for 95 %: bends in a shop scatter with longer tails than the bell curve (own
proposal, from simulated strips)."""

STEP: Final = 0.2
"""Between sizes of scatter that are tried, in its logarithm."""


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
    Weighted least squares for each of many sizes of scatter, which weigh by the probability of the strips (Bayes, with
    `SCATTER` beforehand); bands are those of the mixture. Where the instruments are exact and the thickness large they
    are Student's t, for radius and K together the square root of 2 F(2, f). The band of a single bend is widened by
    `TAILS`. A strip is left out where one wrong reading (`WRONG`) explains the strips better than scatter does; at most
    a third of the rows.
    Source: least squares, on the geometry of a bend.
    """
    n = len(angles)
    if n < 2:
        raise BadValue("strips", n, "two or more for each sheet and tool: one strip shows no scatter; six are usual")
    above_zero("mm", tool_radius=tool_radius)
    slopes = np.array([sensitivities(float(a), float(t)) for a, t in zip(angles, thicknesses, strict=True)])
    aims = deductions - 2.0 * np.array([legs_factor(float(a)) for a in angles]) * thicknesses
    readings = _Readings(slopes, aims, sigmas**2, _sizes(sigmas, thicknesses))
    gauged = np.full(n, np.nan) if gauge is None else gauge
    keep = _without_wrong(readings, tool_radius, float(thicknesses.mean()))
    where, stated = _radius_from(readings, keep, gauged[keep], gauge_sigma, tool_radius)
    post = _posterior(readings, keep, stated)
    freedom = int(keep.sum()) - (2 if where == "strips" else 1)

    told = np.zeros((2, 2))
    told[0, 0] = sum(1.0 / sigma**2 for _, sigma in stated)
    strips = post.mixed(post.spread @ (np.linalg.inv(post.spread) - told) @ post.spread)
    rest = post.mixed(post.spread @ told @ post.spread)  # a statement of its own, in its own 95 %
    both = _joint(post, strips + rest) ** 2 * strips + (Z95 if where == "tool" else BOTH95) ** 2 * rest
    wide = np.sqrt(np.diag(both))
    mean = float(angles[keep].mean())
    at = np.array(sensitivities(mean, float(thicknesses[keep].mean())))
    mean_variance = np.asarray(at @ post.spread @ at)
    scatter = _half_width(post.weights, post.sizes**2, TAILS)
    single = _half_width(post.weights, post.sizes**2 + mean_variance, TAILS)
    beta = post.mixed(post.beta)
    return BendFit(
        radius=float(beta[0]),
        k=float(beta[1]),
        radius_band=float(wide[0]),
        k_band=float(wide[1]),
        one_angle=min(1.0, math.sqrt((single**2 - scatter**2) / float(at @ both @ at))),
        correlation=float(np.clip(both[0, 1] / (wide[0] * wide[1]), -1.0, 1.0)),
        scatter=scatter,
        radius_from=where,
        used=tuple(int(i) for i in np.flatnonzero(keep)),
        residuals=tuple(float(v) for v in aims - slopes @ beta),
        freedom=freedom,
        angle=mean,
        mean_band=_half_width(post.weights, mean_variance, TAILS),
    )


class _Readings(NamedTuple):
    """What the strips say: dD/d(r, K), the deduction less 2 S t, the instruments' variance; and sizes of scatter to try."""

    slopes: Array
    aims: Array
    variances: Array
    sizes: tuple[Array, Array]


class _Posterior(NamedTuple):
    """For each size of scatter: its weight, radius and K, and their covariance; the logarithm of the evidence."""

    sizes: Array
    weights: Array
    beta: Array
    spread: Array
    evidence: float

    def mixed(self, values: Array) -> Array:
        return np.tensordot(self.weights, values, axes=1)


def _sizes(sigmas: Array, thicknesses: Array) -> tuple[Array, Array]:
    """Return the sizes of scatter, mm, and the logarithm of what is known of them beforehand."""
    seen, usual = math.sqrt(float((sigmas**2).mean())), float(thicknesses.mean())
    low, high = math.log(SCATTER[0] * seen), math.log(max(usual, seen))
    logs = np.arange(low, high + STEP, STEP)
    beyond = np.maximum(0.0, logs - math.log(SCATTER[1] * usual)) / math.log(SCATTER[2])
    return np.exp(logs), -0.5 * beyond**2


def _posterior(readings: _Readings, keep: Kept, stated: Stated) -> _Posterior:
    """Weigh each size of scatter by the strips: a bell curve about r and K, of which nothing else is known beforehand."""
    slopes, aims, variances, (sizes, log) = readings
    weights = keep / (variances + sizes[:, None] ** 2)
    normal = np.einsum("sn,ni,nj->sij", weights, slopes, slopes)
    right = weights @ (slopes * aims[:, None])
    for radius, sigma in stated:
        normal[:, 0, 0] += 1.0 / sigma**2
        right[:, 0] += radius / sigma**2
    beta = np.linalg.solve(normal, right[..., None])[..., 0]
    off = aims - beta @ slopes.T
    log = log + 0.5 * (np.log(weights[:, keep] / math.tau).sum(axis=1) - np.linalg.slogdet(normal)[1])
    log -= 0.5 * (weights * off**2).sum(axis=1)
    for radius, sigma in stated:
        log -= 0.5 * ((beta[:, 0] - radius) / sigma) ** 2
    share = np.exp(log - log.max())
    return _Posterior(sizes, share / share.sum(), beta, np.linalg.inv(normal), float(log.max() + math.log(share.sum())))


def _without_wrong(readings: _Readings, tool_radius: float, thickness: float) -> Kept:
    """Return the strips that count: one is left out where a wrong reading explains the others better than scatter does."""
    n = len(readings.aims)
    keep = np.ones(n, dtype=bool)
    hardly = ((tool_radius, tool_radius),)  # strips at one angle need something said of the radius
    wrong = math.log(WRONG[0] / (2.0 * WRONG[1] * thickness))
    while (~keep).sum() < n // 3:
        without = [_posterior(readings, keep & (np.arange(n) != i), hardly).evidence for i in np.flatnonzero(keep)]
        best = int(np.argmax(without))
        if without[best] + wrong <= _posterior(readings, keep, hardly).evidence:
            break
        keep[np.flatnonzero(keep)[best]] = False
    return keep


def _radius_from(
    readings: _Readings, keep: Kept, gauged: Array, gauge_sigma: float, tool_radius: float
) -> tuple[RadiusFrom, Stated]:
    """Return what told the radius apart from K, and what it states: (radius, standard deviation)."""
    where: RadiusFrom = "strips"
    stated: Stated = ()
    seen = gauged[~np.isnan(gauged)]
    if len(seen):
        # The strips of one gauge share its error, so more readings do not make the radius surer than the gauge.
        where, stated = "gauge", ((float(seen.mean()), gauge_sigma),)
    wanted = TOOL_RADIUS * tool_radius / Z95
    post = _posterior(readings, keep, (*stated, (tool_radius, tool_radius)))
    known = 1.0 / float(post.mixed(post.spread)[0, 0]) - 1.0 / tool_radius**2
    if known < 1.0 / wanted**2 or (
        where == "strips" and keep.sum() < 3
    ):  # two strips show no scatter about two unknowns
        return "tool", (*stated, (tool_radius, wanted))
    return where, stated


def _half_width(weights: Array, variances: Array, inside: float) -> float:
    """Return what a mixture of bell curves about one mean lies within, with the probability `inside`."""
    from scipy.special import ndtr

    deviations = np.sqrt(variances)
    return _solved(lambda h: float(weights @ (2.0 * ndtr(h / deviations) - 1.0)) - inside, float(deviations.max()))


def _joint(post: _Posterior, whole: Array) -> float:
    """Return the standard deviations of `whole` within which radius and K lie together."""
    scale = np.trace(np.linalg.solve(whole, post.spread), axis1=1, axis2=2) / 2.0
    return _solved(lambda q: float(post.weights @ -np.expm1(-q * q / (2.0 * scale))) - TAILS, math.sqrt(scale.max()))


def _solved(short: Callable[[float], float], unit: float) -> float:
    low, high = 0.0, 8.0 * unit
    for _ in range(48):
        middle = (low + high) / 2.0
        low, high = (low, middle) if short(middle) > 0.0 else (middle, high)
    return high


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
