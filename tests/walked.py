"""A strip folded in its own plane by hand, for what folded parts must agree with."""

from __future__ import annotations

import math


def profile(folds, ends, changed=None):
    """Fold a strip in its own plane, by hand: return the place and direction of points on it.

    `folds` are (flat place of the line, angle turned with sign, radius, K, thickness); `ends` flat places; `changed`
    maps (fold, what) to a change of "deduction", "position" or "angle". The walker runs on the neutral line's skin:
    along a straight, round an arc, and so on; the arc's flat length is A (r + K t), set middle on the line.
    """
    changed = changed or {}
    bends = []
    for i, (line, angle, r, k, t) in enumerate(folds):
        turned = abs(angle) + changed.get((i, "angle"), 0.0)
        arc = turned * (r + k * t) - changed.get((i, "deduction"), 0.0)
        bends.append((line + changed.get((i, "position"), 0.0), math.copysign(turned, angle), arc, r, t))
    places = []
    for end in ends:
        x, y, heading, at = 0.0, 0.0, 0.0, 0.0
        for line, angle, arc, r, t in bends:
            if line > end:
                break
            run = line - arc / 2 - at
            x, y = x + run * math.cos(heading), y + run * math.sin(heading)
            # Down face: outside of an upward bend, inside of a downward one.
            rad = r + t if angle > 0 else -r
            cx, cy = x - rad * math.sin(heading), y + rad * math.cos(heading)
            heading += angle
            x, y = cx + rad * math.sin(heading), cy - rad * math.cos(heading)
            at = line + arc / 2
        x, y = x + (end - at) * math.cos(heading), y + (end - at) * math.sin(heading)
        places.append((x, y))
    return places
