"""Forms of a preview: a template for each profile, laid along every path or about every centre."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from tinbook.making.folded import MadePanel
from tinbook.making.preview.builder import MeshBuilder
from tinbook.making.preview.triangles import SAGITTA, grid
from tinbook.part.forms.beadshape import BeadProfile
from tinbook.part.forms.profiles import Lanced, Profile, Swept, Turned
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array, Edge
from tinbook.values import dataclass

TURN = math.radians(15.0)
"""rad: largest turn of a bead from facet to facet; beads are most of a preview's triangles."""


def _stations(path: Sequence[Edge], width: float) -> tuple[Array, Array]:
    """Return points along a path and the directions to their left, each shape (n, 2)."""
    points, lefts = [], []
    for i, e in enumerate(path):
        n = 1
        if not e.is_line:
            out = e.radius + width / 2
            step = min(2 * math.acos(1 - min(SAGITTA / out, 0.9)), TURN)
            n = max(2, math.ceil(abs(e.sweep) / step))
        for k in range(0 if i == 0 else 1, n + 1):
            points.append(e.at(k / n))
            d = e.direction(k / n)
            lefts.append((-d[1], d[0]))
    return np.array(points), np.array(lefts)


@dataclass(frozen=True, slots=True, eq=False)
class _Template:
    """A form's two skins and its outline, each point given from a station of its path: ahead of it, to its left, above."""

    station: Index
    ahead: Array
    left: Array
    height: Array
    triangles: Index
    outline: tuple[Index, Array, Array]
    straight: Array | None
    """With two stations: their shares and the ways ahead, left and up in each point, shape (n, 5)."""
    free: tuple[int, ...] = ()
    """Points along its free edge, from end to end, on the side it stands out."""


@lru_cache(maxsize=64)
def _swept(profile: BeadProfile, up: bool, stations: int) -> _Template:
    """Return the template of swept forms with one section; their length only moves their stations."""
    half_turn = np.linspace(0.0, math.pi, max(8, math.ceil(math.pi / TURN)) + 1)
    c, s = np.cos(half_turn), np.sin(half_turn)
    m, last = len(half_turn), stations - 1
    # The far end turns from right over the front to left, the near end from left over the back to right.
    ends = ((last, s, -c), (0, -s, c))
    parts: list[tuple[Index, Array, Array, Array]] = []
    triangles: list[Index] = []
    count = 0
    for on_top in (False, True):
        half = profile.stations(hollow=on_top != up, step_rad=TURN)
        across = np.concatenate((half, (half * (-1, 1))[-2::-1]))
        base = profile.thickness if on_top else 0.0
        sign = 1.0 if up else -1.0
        n = len(across)
        at = np.repeat(np.arange(stations), n)
        parts.append(
            (at, np.zeros(len(at)), np.tile(across[:, 0], stations), base + sign * np.tile(across[:, 1], stations))
        )
        # Columns run from left to right, rows along the path: anticlockwise seen from the up side.
        tri = grid(stations, n)
        triangles.append((tri if on_top else tri[:, ::-1]) + count)
        count += len(at)
        rows = len(half) - 1
        fan = (rows - 1) * m + np.arange(m - 1)
        tri = np.concatenate((grid(rows, m), np.stack((fan, fan + 1, np.full(m - 1, rows * m)), 1)))
        for at_end, ahead, left in ends:
            out = half[:-1, :1]
            z = base + sign * np.append(np.repeat(half[:-1, 1], m), half[-1, 1])
            parts.append((np.full(len(z), at_end), np.append(out * ahead, 0.0), np.append(out * left, 0.0), z))
            triangles.append((tri if on_top else tri[:, ::-1]) + count)
            count += len(z)
    station, ahead, left, height = (np.concatenate(p) for p in zip(*parts, strict=True))
    reach = profile.width / 2
    forth, back, still = np.arange(last), np.arange(last, 0, -1), np.zeros(last)
    around = np.arange(m - 1, 0, -1)
    far, near = np.full(m - 1, last), np.zeros(m - 1, np.int64)
    outline = (
        np.concatenate((forth, far, back, near)),
        reach * np.concatenate((still, s[around], still, -s[around])),
        reach * np.concatenate((still + 1.0, -c[around], still - 1.0, c[around])),
    )
    straight = np.column_stack((1 - station, station, ahead, left, height)) if stations == 2 else None
    return _Template(station, ahead, left, height, np.concatenate(triangles), outline, straight)


@dataclass(frozen=True, slots=True, eq=False)
class PlacedForm:
    """A form as its panel needs it: its outline, run clockwise, its group and side."""

    panel: int
    outline: Array
    group: int
    up: bool


@lru_cache(maxsize=64)
def _turned(chain: tuple[Edge, ...]) -> _Template:
    """Return the template of turned forms with one profile: rings about the centre, of the area of their circles."""
    steps = [max(1, math.ceil(abs(e.sweep) / TURN)) for e in chain]
    rz = np.array([e.at(k / n) for e, n in zip(chain, steps, strict=True) for k in range(n)] + [chain[-1].end])
    m = max(24, math.ceil(math.tau / (2 * math.acos(1 - min(SAGITTA / rz[:, 0].max(), 0.9)))))
    a = np.arange(m) * (math.tau / m)
    wide = math.sqrt((math.tau / m) / math.sin(math.tau / m))
    r, z = wide * rz[:, 0], rz[:, 1]
    ahead, left = (r[:, None] * np.cos(a)).ravel(), (r[:, None] * np.sin(a)).ravel()
    row, ring = np.arange(len(r) - 1)[:, None] * m, np.arange(m)
    after = np.roll(ring, -1)
    p, q, s, u = row + ring, row + after, row + m + after, row + m + ring
    triangles = np.concatenate((np.stack((p, q, s), -1).reshape(-1, 3), np.stack((p, s, u), -1).reshape(-1, 3)))
    still = np.zeros(len(ahead), np.int64)
    back = ring[::-1]
    outline = still[:m], ahead[back], left[back]
    return _Template(still, ahead, left, np.repeat(z, m), triangles, outline, None)


@lru_cache(maxsize=64)
def _lanced(profile: BeadProfile, up: bool, gap: float) -> _Template:
    """Return the template of lanced forms with one section: a hood between two stations, a quarter turn about each."""
    quarter = np.linspace(math.pi, math.pi / 2, max(3, math.ceil(math.pi / 2 / TURN)) + 1)
    turn, at = np.concatenate((quarter, quarter - math.pi / 2)), np.repeat((0, 1), len(quarter))
    halves = [profile.stations(hollow=on_top != up, step_rad=TURN) for on_top in (False, True)]
    rows, columns, reach, t = len(halves[0]), len(at), profile.width / 2, profile.thickness
    count, out = rows * columns, np.concatenate(halves)[:, :1]
    rise = np.concatenate([z + math.copysign(1.0, up - 0.5) * h[:, 1] for z, h in zip((0.0, t), halves, strict=True)])
    # Rows run in from the foot, columns from end to end; at the crown the columns of an end meet.
    skin = grid(rows, columns)
    crown = skin >= count - columns
    skin = skin[(crown.sum(axis=1) < 2) | (np.ptp(at[skin % columns], axis=1) > 0)]
    lanced = np.concatenate((np.arange(0, count, columns), np.arange(count, 0, -columns) - 1))
    # Round the slit: the free edge of the hood, then the edge of the sheet, whose two corners follow the skins' points.
    low = np.append(lanced, (2 * count + 1, 2 * count, 0))
    high = np.append(lanced + count, (2 * count + 3, 2 * count + 2, count))
    walls = np.stack((low[:-1], low[1:], high[1:], low[:-1], high[1:], high[:-1]), 1).reshape(-1, 3)
    corners = np.array((-reach, reach, -reach, reach)), np.full(4, -gap), np.array((0.0, 0.0, t, t))
    ahead, left, height = (
        np.append(skins.ravel(), own)
        for skins, own in zip((out * np.cos(turn), out * np.sin(turn), np.repeat(rise, columns)), corners, strict=True)
    )
    station = np.append(np.tile(at, 2 * rows), (0, 1, 0, 1))
    rim = np.append(np.arange(columns), (2 * count + 1, 2 * count))
    straight = np.column_stack((1 - station, station, ahead, left, height))
    triangles = np.concatenate((skin, skin[:, ::-1] + count, walls))
    free = tuple((lanced + count * up).tolist())
    return _Template(station, ahead, left, height, triangles, (station[rim], ahead[rim], left[rim]), straight, free)


def _template(profile: Profile | None) -> tuple[tuple[Array, Array], _Template]:
    """Return the stations of a form and its template."""
    if isinstance(profile, Swept):
        laid = _stations(profile.path, profile.section.width)
        return laid, _swept(profile.section, profile.up, len(laid[0]))
    if isinstance(profile, Lanced):
        section = profile.whole.section
        return _stations(profile.whole.path, section.width), _lanced(section, profile.whole.up, profile.gap)
    assert isinstance(profile, Turned)
    return (np.array([profile.centre]), np.array([(0.0, 1.0)])), _turned(profile.chain)


def add_forms(builder: MeshBuilder, panels: Sequence[MadePanel], t: float) -> list[PlacedForm]:
    """Add the skins of all forms; returns their outlines."""
    placed = []
    for k, panel in enumerate(panels):
        risen = panel.risen
        if not risen:
            continue
        axes, origin = panel.frame.axes, np.array(panel.frame.origin)
        both = [_template(f.profile(t)) for f in risen]
        laid, forms = [b[0] for b in both], [b[1] for b in both]
        # Forms of one template that follow each other are laid all at once.
        for form, run in itertools.groupby(range(len(forms)), key=forms.__getitem__):
            own = list(run)
            at, left = np.array([laid[i][0] for i in own]), np.array([laid[i][1] for i in own])
            front = np.stack((left[..., 1], -left[..., 0]), axis=-1)
            if form.straight is not None:
                upward = np.broadcast_to(axes[2], (len(own), 1, 3))
                ways = (at @ axes[:2] + origin, front[:, :1] @ axes[:2], left[:, :1] @ axes[:2], upward)
                points = form.straight @ np.concatenate(ways, axis=1)
            else:
                flat = _laid(at, front, left, form.station, form.ahead, form.left)
                points = flat @ axes[:2] + form.height[:, None] * axes[2] + origin
            groups = [builder.open_group(risen[i].KIND, risen[i].name) for i in own]
            first = builder.add_points(points.reshape(-1, 3)) + points.shape[1] * np.arange(len(own))
            builder.add_triangles(
                (form.triangles + first[:, None, None]).reshape(-1, 3), np.repeat(groups, len(form.triangles))
            )
            if form.free:
                ends = first[:, None] + np.array(form.free)
                builder.add_lines(ends[:, :-1], ends[:, 1:], np.repeat(groups, len(form.free) - 1))
            up = risen[own[0]].direction == "up"
            outlines = _laid(at, front, left, *form.outline)
            placed += [PlacedForm(k, outline, group, up) for outline, group in zip(outlines, groups, strict=True)]
    return placed


def _laid(at: Array, front: Array, left: Array, station: Index, ahead: Array, aside: Array) -> Array:
    """Return points beside stations of several beads, shape (beads, points, 2)."""
    placed: Array = at[:, station] + ahead[:, None] * front[:, station] + aside[:, None] * left[:, station]
    return placed
