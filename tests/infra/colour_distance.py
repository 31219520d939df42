"""How far two colours are apart for an eye, with all cones or with one kind missing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Machado, Oliveira, Fernandes, IEEE TVCG 15 (2009) 1291-1298, severity 1.0, on linear sRGB.
EYES: Mapping[str, Floats] = {
    "all cones": np.eye(3),
    "no red cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no green cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no blue cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# IEC 61966-2-1: linear sRGB to CIE XYZ, white D65.
TO_XYZ: Floats = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE: Floats = TO_XYZ @ np.ones(3)


def lab(colour: str, eye: str = "all cones") -> Floats:
    """Return CIE L*a*b* of "#rrggbb" as an eye sees it (CIE 15)."""
    rgb = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    seen = np.clip(EYES[eye] @ linear, 0.0, 1.0)
    t = TO_XYZ @ seen / WHITE
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t * (29 / 6) ** 2 / 3 + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def ciede2000(one: Floats, two: Floats) -> float:
    """Return CIEDE2000 (CIE 142-2001; steps as in Sharma, Wu, Dalal, Color Res. Appl. 30 (2005) 21-30)."""
    (l1, a1, b1), (l2, a2, b2) = one, two
    mean = (math.hypot(a1, b1) + math.hypot(a2, b2)) / 2
    g = 0.5 * (1 - math.sqrt(mean**7 / (mean**7 + 25.0**7)))
    a1, a2 = (1 + g) * a1, (1 + g) * a2
    c1, c2 = math.hypot(a1, b1), math.hypot(a2, b2)
    h1, h2 = (math.degrees(math.atan2(b, a)) % 360 if a or b else 0.0 for a, b in ((a1, b1), (a2, b2)))
    turn = 0.0 if c1 * c2 == 0 else (h2 - h1 + 180) % 360 - 180
    dh = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn) / 2)
    lm, cm = (l1 + l2) / 2, (c1 + c2) / 2
    if c1 * c2 == 0:
        hm = h1 + h2
    elif abs(h1 - h2) <= 180:
        hm = (h1 + h2) / 2
    else:
        hm = (h1 + h2 + (360 if h1 + h2 < 360 else -360)) / 2
    cos = [math.cos(math.radians(k * hm + s)) for k, s in ((1, -30), (2, 0), (3, 6), (4, -63))]
    t = 1 - 0.17 * cos[0] + 0.24 * cos[1] + 0.32 * cos[2] - 0.20 * cos[3]
    s_l = 1 + 0.015 * (lm - 50) ** 2 / math.sqrt(20 + (lm - 50) ** 2)
    s_c, s_h = 1 + 0.045 * cm, 1 + 0.015 * cm * t
    r_t = -2 * math.sqrt(cm**7 / (cm**7 + 25.0**7)) * math.sin(math.radians(60 * math.exp(-(((hm - 275) / 25) ** 2))))
    dl, dc = l2 - l1, c2 - c1
    return math.sqrt((dl / s_l) ** 2 + (dc / s_c) ** 2 + (dh / s_h) ** 2 + r_t * dc / s_c * dh / s_h)


def nearest_pair(colours: Mapping[str, str], eye: str) -> tuple[float, str, str]:
    """Return the smallest distance between two of several colours for an eye, and which two."""
    seen = {name: lab(colour, eye) for name, colour in colours.items()}
    return min((ciede2000(seen[a], seen[b]), a, b) for a, b in combinations(seen, 2))
