"""The folds of a part one after the other, from its blank, as bodies that move: without the machine and its tools."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any, Final

import numpy as np

from tinbook.language import ENGLISH, Language
from tinbook.making.folded import Folded
from tinbook.making.made import Made
from tinbook.making.pose import bent_by, posed
from tinbook.route.fold_order import fold_sequence
from tinbook.space import SPACE, Frame
from tinbook.write.foldpage import step_title
from tinbook.write.scene import bytes_of, numbers_of

FRAMES: Final = 9
"""Pictures of a step, before and after included."""


def fold_steps(made: Made, say: Language = ENGLISH) -> dict[str, Any] | None:
    """Return the folds of a part in the order in which they are made, standing on its base panel.

    Parameters
    ----------
    made : Made
        Its order of folds is searched if it is not known yet.
    say : Language
        Of the words.

    Returns
    -------
    dict or None
        "bodies" as in `Scene`: each panel and each shape of a bend once; "steps": for each its "members" as in a film's
        step (`kit/viewer/film.js`), "angles" turned and "words". None for a part without folds, or without an order.
    """
    plan = fold_sequence(made) if made.strips and made.ok else None
    if plan is None or not plan.steps:
        return None
    blank, whole = plan.planner.blank, plan.planner.blank.folded
    states = [
        {s.name: math.degrees(blank.turns[n][move.before[n]]) for n, s in enumerate(blank.strips)}
        for move in plan.moves
    ]
    states.append({s.name: s.angle for s in blank.strips})
    bodies: dict[str, dict[str, Any]] = {}
    for p in whole.panels:
        alone = Folded(thickness=whole.thickness, panels=(replace(p, frame=SPACE),), zones=())
        bodies[f"panel {p.name}"] = bytes_of([alone])
    steps = []
    for k, (before, after) in enumerate(pairwise(states)):
        name = blank.strips[plan.moves[k].fold].name
        turned = [float(a) for a in np.linspace(before[name], after[name], FRAMES)]
        members = _members(bodies, whole, before, name, turned)
        steps.append({"members": members, "angles": [round(a, 1) for a in turned], "words": step_title(plan, k, say)})
    return {"bodies": bodies, "steps": steps, "frames": FRAMES}


def _members(
    bodies: dict[str, dict[str, Any]], whole: Folded, before: Mapping[str, float], name: str, turned: Sequence[float]
) -> list[Mapping[str, Any]]:
    """Return all panels and bends while one fold is turned; the bend that turns is another body in each picture."""
    views = [posed(whole, {**before, name: angle}) for angle in turned]
    out = [_member(f"panel {p.name}", f"panel {p.name}", [v.panel(p.name).frame for v in views]) for p in whole.panels]
    for s in whole.zones:
        places = [next(z.frame for z in v.zones if z.name == s.name) for v in views]
        if s.name != name:
            out.append(_member(f"fold {s.name}", _bend(bodies, whole, s.name, before.get(s.name, s.angle)), places))
            continue
        for n, angle in enumerate(turned):
            out.append(_member(f"fold {s.name}", _bend(bodies, whole, s.name, angle), places, n, n))
    return out


def _bend(bodies: dict[str, dict[str, Any]], whole: Folded, name: str, angle: float) -> str:
    """Return the key of a bend's body turned by an angle, which is made if it is not there."""
    key = f"fold {name} {angle:.2f}"
    if key not in bodies:
        zone = bent_by(next(z for z in whole.zones if z.name == name), math.radians(angle), SPACE)
        bodies[key] = bytes_of([Folded(thickness=whole.thickness, panels=(), zones=(zone,))])
    return key


def _member(name: str, body: str, places: list[Frame], first: int = 0, last: int = FRAMES - 1) -> Mapping[str, Any]:
    track = np.array([numbers_of(f) for f in places], dtype="<f4")
    return {
        "name": name,
        "label": name,
        "kind": "part",
        "body": body,
        "at": [round(float(v), 6) for v in track[0]],
        "away": [0.0, 0.0, 0.0],
        "track": track.tobytes(),
        "from": first,
        "to": last,
    }
