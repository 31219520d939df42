"""A single-stroke alphabet of our own, so that a laser or a scriber draws letters as lines and arcs.

Capitals stand 6 units high and are about 4 wide, small letters 4 high, tails
reach 2 below the line. A glyph is a text of strokes parted by ";", a stroke is
a chain of points "x,y"; what follows a point shapes the edge that leaves it:
")" a quarter turn anticlockwise, "(" clockwise, "))" and "((" half turns,
"~b" an arc of bulge b, nothing a line.
"""

from __future__ import annotations

import math
import re
from functools import cache
from itertools import pairwise
from typing import Final

from tinbook.errors import BadValue
from tinbook.plane.loops import Edge, Move, Point

CAPITAL: Final = 6.0
"""Units of the grid that make the height of a capital."""

_GAP: Final = 1.6
_BLANK: Final = 3.0
_LINE: Final = 10.0
_QUARTER: Final = math.tan(math.pi / 8)
_TURNS: Final = {"": 0.0, ")": _QUARTER, "(": -_QUARTER, "))": 1.0, "((": -1.0}
_TOKEN: Final = re.compile(r"(-?[\d.]+),(-?[\d.]+)(?:~(-?[\d.]+)|([()]{0,2}))$")

# Shapes shared by several letters.
_BOWL_LEFT: Final = "3.4,2.3) 1.7,4) 0,2.3 0,1.7) 1.7,0) 3.4,1.7"
_BOWL_RIGHT: Final = "0,1.7) 1.7,0) 3.4,1.7 3.4,2.3) 1.7,4) 0,2.3"
_ROUND: Final = "4,4) 2,6) 0,4 0,2) 2,0) 4,2 4,4"
_SIX: Final = "3.2,6~.3205 .2,1.8) 2,0) 3.8,1.8) 2,3.6) .2,1.8"
_NINE: Final = ".8,0~.3205 3.8,4.2) 2,6) .2,4.2) 2,2.4) 3.8,4.2"

GLYPHS: Final[dict[str, str]] = {
    "A": "0,0 2,6 4,0; .667,2 3.333,2",
    "B": "0,0 0,6 2.4,6(( 2.4,3.2 0,3.2; 2.4,3.2(( 2.4,0 0,0",
    "C": "3.73,5~.268 2,6) 0,4 0,2) 2,0~.268 3.73,1",
    "D": "0,0 0,6 2,6( 4,4 4,2( 2,0 0,0",
    "E": "3.6,6 0,6 0,0 3.6,0; 0,3.1 2.8,3.1",
    "F": "3.6,6 0,6 0,0; 0,3.1 2.8,3.1",
    "G": "3.73,5~.268 2,6) 0,4 0,2) 2,0) 4,2 4,2.8 2.3,2.8",
    "H": "0,0 0,6; 4,0 4,6; 0,3.1 4,3.1",
    "I": "0,6 2,6; 1,6 1,0; 0,0 2,0",
    "J": "3.2,6 3.2,1.6( 1.6,0( 0,1.6",
    "K": "0,0 0,6; 3.8,6 0,2.4; 1.4,3.726 4,0",
    "L": "0,6 0,0 3.4,0",
    "M": "0,0 0,6 2.3,2.4 4.6,6 4.6,0",
    "N": "0,0 0,6 4,0 4,6",
    "O": _ROUND,
    "P": "0,0 0,6 2.4,6(( 2.4,2.8 0,2.8",
    "Q": f"{_ROUND}; 2.5,1.5 4.2,-.3",
    "R": "0,0 0,6 2.4,6(( 2.4,2.8 0,2.8; 2.2,2.8 4,0",
    "S": "3.8,4.7~.35 2.4,6 1.5,6)) 1.5,3.1 2.35,3.1(( 2.35,0 1.5,0~-.35 0,1.3",
    "T": "0,6 4,6; 2,6 2,0",
    "U": "0,6 0,2) 2,0) 4,2 4,6",
    "V": "0,6 2,0 4,6",
    "W": "0,6 1.4,0 2.8,5 4.2,0 5.6,6",
    "X": "0,0 4,6; 0,6 4,0",
    "Y": "0,6 2,3 4,6; 2,3 2,0",
    "Z": "0,6 4,6 0,0 4,0",
    "a": f"{_BOWL_LEFT}; 3.4,4 3.4,0",
    "b": f"0,6 0,0; {_BOWL_RIGHT}",
    "c": "3.17,3.15~.268 1.7,4) 0,2.3 0,1.7) 1.7,0~.268 3.17,.85",
    "d": f"3.4,6 3.4,0; {_BOWL_LEFT}",
    "e": "0,2.1 3.4,2.1 3.4,2.3) 1.7,4) 0,2.3; 0,2.1 0,1.7) 1.7,0~.268 3.17,.85",
    "f": "2.4,6) 1,4.6 1,0; 0,4 2.2,4",
    "g": f"{_BOWL_LEFT}; 3.4,4 3.4,-.4( 1.8,-2 .5,-2",
    "h": "0,6 0,0; 0,2.3( 1.7,4( 3.4,2.3 3.4,0",
    "i": "0,4 0,0; 0,5.4 0,5.9",
    "j": "1.2,4 1.2,-.8( 0,-2; 1.2,5.4 1.2,5.9",
    "k": "0,6 0,0; 3,4 0,1.4; 1.1,2.353 3.2,0",
    "l": "0,6 0,1.1) 1.1,0",
    "m": "0,4 0,0; 0,2.6( 1.4,4( 2.8,2.6 2.8,0; 2.8,2.6( 4.2,4( 5.6,2.6 5.6,0",
    "n": "0,4 0,0; 0,2.3( 1.7,4( 3.4,2.3 3.4,0",
    "o": f"{_BOWL_LEFT} 3.4,2.3",
    "p": f"0,4 0,-2; {_BOWL_RIGHT}",
    "q": f"3.4,4 3.4,-2; {_BOWL_LEFT}",
    "r": "0,4 0,0; 0,2.3( 1.7,4 2.3,4",
    "s": "2.9,4 1,4)) 1,2.05 1.975,2.05(( 1.975,0 0,0",
    "t": "1,5.6 1,1.2) 2.2,0 2.7,0; 0,4 2.4,4",
    "u": "0,4 0,1.7) 1.7,0) 3.4,1.7; 3.4,4 3.4,0",
    "v": "0,4 1.7,0 3.4,4",
    "w": "0,4 1.2,0 2.4,3.4 3.6,0 4.8,4",
    "x": "0,0 3.2,4; 0,4 3.2,0",
    "y": "0,4 1.7,0; 3.4,4 .85,-2",
    "z": "0,4 3.2,4 0,0 3.2,0",
    # The zero has a short dash: with a slash it would read as a diameter sign, without any as the letter O.
    "0": "3.6,4.2) 1.8,6) 0,4.2 0,1.8) 1.8,0) 3.6,1.8 3.6,4.2; 1.8,2.6 1.8,3.4",
    "1": ".4,4.6 1.8,6 1.8,0; .4,0 3.2,0",
    "2": ".2,4.4( 1.8,6( 3.4,4.4~-.199 2.931,3.269 0,0 3.6,0",
    "3": ".1,6 3.6,6 1.5,3.6 1.9,3.6(( 1.9,0 1.5,0~-.35 0,1.3",
    "4": "2.8,0 2.8,6 0,1.7 4,1.7",
    "5": "3.4,6 .4,6 .3,3.5 1.95,3.5(( 1.95,0 1.5,0~-.35 0,1.3",
    "6": _SIX,
    "7": "0,6 3.6,6 1.2,0",
    "8": "2,6)) 2,3.2)) 2,6; 2,3.2)) 2,0)) 2,3.2",
    "9": _NINE,
    " ": "",
    "!": "0,6 0,1.7; 0,0 0,.5",
    '"': "0,6 0,4.4; 1.2,6 1.2,4.4",
    "#": "1,0 1.8,6; 2.8,0 3.6,6; 0,2 4.2,2; .4,4 4.6,4",
    "$": "3.8,4.6~.35 2.4,5.6 1.5,5.6)) 1.5,3 2.3,3(( 2.3,.4 1.5,.4~-.35 0,1.4; 1.9,6.4 1.9,-.4",
    "%": "0,0 4,6; 1.8,5.1)) 0,5.1)) 1.8,5.1; 4,.9)) 2.2,.9)) 4,.9",
    "&": "4,0 .75,4.1~-2.4 2.3,4.15 .55,2.65~.5 1.5,0~.25 3.9,2.4",
    "'": "0,6 0,4.4",
    "(": "1.2,6.6~.268 1.2,-.6",
    ")": "0,6.6~-.268 0,-.6",
    "*": "1.5,5.8 1.5,2.8; .2,5.05 2.8,3.55; .2,3.55 2.8,5.05",
    "+": "0,3 3.4,3; 1.7,1.3 1.7,4.7",
    ",": ".6,.5 .6,0 0,-1.1",
    "-": "0,2.8 2.2,2.8",
    ".": "0,0 0,.5",
    "/": "0,-.3 2.8,6.3",
    ":": "0,.4 0,.9; 0,3.1 0,3.6",
    ";": ".6,3.1 .6,3.6; .6,.5 .6,0 0,-1.1",
    "<": "3.2,5 0,3 3.2,1",
    "=": "0,3.8 3.2,3.8; 0,2 3.2,2",
    ">": "0,5 3.2,3 0,1",
    "?": "0,4.4( 1.6,6( 3.2,4.4~-.268 2.4,3.014~.268 1.6,1.7; 1.6,0 1.6,.5",
    "@": "3.6,3)) 1.6,3)) 3.6,3 3.6,2.6) 4.3,1.9) 5,2.6 5,3.4) 2.4,6) 0,3.4 0,2) 2,0 3.6,0",
    "[": "1.2,6.6 0,6.6 0,-.6 1.2,-.6",
    "\\": "0,6.3 2.8,-.3",
    "]": "0,6.6 1.2,6.6 1.2,-.6 0,-.6",
    "^": "0,4.2 1.4,6 2.8,4.2",
    "_": "0,-.8 3.6,-.8",
    "`": "0,6 .9,4.8",
    "{": "1.7,6.6) .9,5.8 .9,3.8( .1,3( .9,2.2 .9,.2) 1.7,-.6",
    "|": "0,6.6 0,-.6",
    "}": "0,6.6( .8,5.8 .8,3.8) 1.6,3) .8,2.2 .8,.2( 0,-.6",
    "~": "0,2.6~-.414 1.7,3~.414 3.4,3.4",
    "Ø": f"{_ROUND}; -.1,-.4 4.1,6.4",
    "°": "1.8,5.1)) 0,5.1)) 1.8,5.1",
    "±": "0,3.6 3.4,3.6; 1.7,1.9 1.7,5.3; 0,.4 3.4,.4",
    "×": "0,1.4 2.8,4.2; 0,4.2 2.8,1.4",
}


@cache
def _glyph(character: str) -> tuple[tuple[Edge, ...], float]:
    """Return the edges of a character on the grid, moved to start at x = 0, and its width."""
    edges: list[Edge] = []
    for stroke in filter(None, (s.strip() for s in GLYPHS[character].split(";"))):
        points: list[tuple[Point, float]] = []
        for token in stroke.split():
            x, y, bulge, turn = _TOKEN.match(token).groups()  # type: ignore[union-attr]
            points.append(((float(x), float(y)), float(bulge) if bulge else _TURNS[turn or ""]))
        edges += [Edge(a, b, bulge) for (a, bulge), (b, _) in pairwise(points)]
    if not edges:
        return (), _BLANK - _GAP
    xs = [e.at(s)[0] for e in edges for s in (0.0, 0.25, 0.5, 0.75, 1.0)]
    move = Move(u=-min(xs))
    return tuple(move.edge(e) for e in edges), max(xs) - min(xs)


def _line_width(line: str) -> float:
    return max(sum(_glyph(c)[1] + _GAP for c in line) - _GAP, 0.0)


def _check(text: str, height: float) -> None:
    for c in text:
        if c != "\n" and c not in GLYPHS:
            raise BadValue("text to be drawn", text, f"letters that the stroke font has; it has no {c!r}")
    if not (math.isfinite(height) and height > 0):
        raise BadValue("height of letters", height, "a height greater than 0 mm")


def text_width(text: str, height: float) -> float:
    """Return the width of a text (its longest line) in mm at a height of capitals in mm."""
    _check(text, height)
    return max((_line_width(line) for line in text.split("\n")), default=0.0) * height / CAPITAL


def strokes(
    text: str, height: float, at: Point = (0.0, 0.0), turn: float = 0.0, mirror: bool = False
) -> tuple[Edge, ...]:
    """Return a text as open lines and arcs.

    Parameters
    ----------
    text : str
        Printable ASCII and Ø ° ± ×; a line feed starts a new line below.
    height : float
        Height of a capital, mm, greater than 0.
    at : (float, float)
        Left end of the first base line, mm.
    turn : float
        Anticlockwise turn about `at`, degrees.
    mirror : bool
        Mirror left and right about `at`, for a text read from the other face.

    Returns
    -------
    tuple of Edge

    Raises
    ------
    BadValue
        A character that the font lacks, or a height that is not positive.
    """
    _check(text, height)
    k = height / CAPITAL
    place = Move(u=at[0], v=at[1]).after(Move.turn(turn))
    if mirror:
        place = place.after(Move(a=-1.0))
    result: list[Edge] = []
    for row, line in enumerate(text.split("\n")):
        x = 0.0
        for c in line:
            edges, width = _glyph(c)
            for e in edges:
                (x0, y0), (x1, y1) = e.start, e.end
                y = -row * _LINE
                scaled = Edge((k * (x + x0), k * (y + y0)), (k * (x + x1), k * (y + y1)), e.bulge)
                result.append(place.edge(scaled))
            x += width + _GAP
    return tuple(result)
