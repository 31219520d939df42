"""An assembly as bytes for the viewer: each different body once, a frame for every place, its list of parts."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any

import numpy as np

import tinbook.write as write
from tinbook.making.assembled import CLASH
from tinbook.making.preview.build import preview
from tinbook.making.shape import shape_of
from tinbook.part.bought import strut_body_end
from tinbook.values import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tinbook.making.assembled import Assembled
    from tinbook.making.folded import Folded
    from tinbook.part.assembly import Thing
    from tinbook.part.movement import Movement
    from tinbook.space import Frame

SPREAD = 0.6
"""Share of its distance from the middle by which a member is drawn out while its own way out is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """An assembly, ready to be sent.

    Parameters
    ----------
    bodies : dict of str to dict
        Each different body once, by a key of its bytes: "positions", "triangles", "group_of" and "edges" as in
        `Shape`, "groups" as (name, kind).
    members : list of dict
        In order: "name", "label", "kind", "body" (a key), "at" (origin and three axes, 12 numbers, mm) and "away"
        (its shift when the members are drawn apart, mm).
    rows : list of dict
        The list of parts: "item", "quantity", "text", "mass" and "members" (names).
    movements : list of dict
        What moves: "name", "kind" ("turn" or "slide"), "members", "at", "axis", "low", "high", "unit", and "struts"
        with their "member", "length" and how far along the "body" ends, mm.
    """

    bodies: dict[str, dict[str, Any]]
    members: list[dict[str, Any]]
    rows: list[dict[str, Any]]
    movements: list[dict[str, Any]]


def scene_of(made: Assembled) -> Scene:
    """Return an assembly as bytes: instances of one thing share a body."""
    # The search for orders takes long to load, and a workbench on a part needs none.
    bodies: dict[str, dict[str, Any]] = {}
    keys: dict[Thing, str] = {}
    for thing, folded in made.bodies:
        body = _body(made, thing, folded)
        digest = hashlib.blake2b(digest_size=12)
        for part in ("positions", "triangles", "group_of", "edges"):
            digest.update(body[part])
        keys[thing] = digest.hexdigest()
        bodies[keys[thing]] = body
    ways = ways_apart(made)
    members = [
        {
            "name": m.name,
            "label": f"{m.name}\n{m.label}",
            "kind": m.kind,
            "body": keys[m.thing],
            "at": numbers_of(m.at),
            "away": ways[m.name],
        }
        for m in made.assembly.members
    ]
    rows = [
        {
            "item": r.item,
            "quantity": r.quantity,
            "text": " ".join(filter(None, (r.number, f"rev {r.rev}" if r.rev else "", r.title))),
            "mass": "" if r.material == "existing" else f"{r.mass:.3g} kg each",
            "members": list(r.members),
        }
        for r in write.assembly.parts_list(made)
    ]
    return Scene(bodies=bodies, members=members, rows=rows, movements=[_movement(m) for m in made.assembly.movements])


def _movement(m: Movement) -> dict[str, Any]:
    return {
        "name": m.name,
        "kind": m.kind,
        "members": list(m.members),
        "at": list(m.at),
        "axis": list(m.axis),
        "low": m.low,
        "high": m.high,
        "unit": m.unit,
        "struts": [
            {
                "member": s.member,
                "length": s.length,
                "body": strut_body_end(s.strut.stroke, s.strut.extended),
            }
            for s in m.struts
        ],
    }


def ways_apart(made: Assembled) -> dict[str, list[float]]:
    """Return how far each member is drawn out of its place while its own way out is not known, mm: away from the middle."""
    middles = {m.name: made.mesh(m.name)[0].mean(axis=0) for m in made.assembly.members}
    centre = np.mean(list(middles.values()), axis=0)
    return {name: [round(float(v), 2) for v in SPREAD * (at - centre)] for name, at in middles.items()}


def numbers_of(f: Frame) -> list[float]:
    """Return a place as the page takes it: origin and three axes, 12 numbers."""
    return [round(v, 7) for part in (f.origin, f.x, f.y, f.z) for v in part]


def _body(made: Assembled, thing: Thing, pieces: Sequence[Folded]) -> dict[str, Any]:
    """Return a body's arrays: a part in the colours of its features, anything else as one group."""
    own = next((m for part, m in made.made if part == thing), None)
    if own is not None:
        shape = shape_of(own)
        return {
            "positions": shape.positions,
            "triangles": shape.triangles,
            "group_of": shape.group_of,
            "edges": shape.edges,
            "groups": shape.groups,
        }
    return bytes_of(pieces, "bought")


def bytes_of(pieces: Sequence[Folded], kind: str = "") -> dict[str, Any]:
    """Return bodies as one, in a single group of a kind, or for "" in the groups of what they are made of."""
    seen = [preview(piece) for piece in pieces]
    first = np.cumsum([0, *(len(p.positions) for p in seen)])
    groups = [[n, k] for p in seen for n, k in zip(p.names, p.kinds, strict=True)]
    above = np.cumsum([0, *(len(p.names) for p in seen)])
    group = np.concatenate([p.group + np.uint32(k) for p, k in zip(seen, above, strict=False)])
    triangles = np.concatenate([p.triangles + np.uint32(k) for p, k in zip(seen, first, strict=False)])
    return {
        "positions": np.concatenate([p.positions for p in seen]).astype("<f4").tobytes(),
        "triangles": triangles.astype("<u4").tobytes(),
        "group_of": bytes(4 * len(triangles)) if kind else group.astype("<u4").tobytes(),
        "edges": np.concatenate([p.lines for p in seen]).astype("<f4").tobytes(),
        "groups": [["item", kind]] if kind else groups,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Meetings:
    """What the members of an assembly meet, and their ways out.

    Parameters
    ----------
    links : list of dict
        "a", "b" (names), "kind" ("clash", "weld" or "mate") and "text".
    ways : dict of str to list of float
        As `ways_apart`, from the order of assembly where there is one.
    turns : dict of str to int
        Which of the members comes to its place when, from 0; empty where they trap each other.
    """

    links: list[dict[str, str]]
    ways: dict[str, list[float]]
    turns: dict[str, int]


def meetings_of(made: Assembled) -> Meetings:
    """Return common volumes, welds and holes that share an axis, and the way out of each member; takes the kernel."""
    from tinbook.route.order import order_of_work

    links = []
    for p in made.pairs:
        if p.common > CLASH:
            links.append({"a": p.a, "b": p.b, "kind": "clash", "text": f"{p.common:.3g} mm³ in common"})
        elif p.welded:
            links.append({"a": p.a, "b": p.b, "kind": "weld", "text": f"gap {p.gap or 0.0:.2f} mm"})
    bolted: dict[tuple[str, str], int] = {}
    for hole in made.matings:
        bolted[hole.a, hole.b] = bolted.get((hole.a, hole.b), 0) + 1
    links += [
        {"a": a, "b": b, "kind": "mate", "text": f"{n} hole{'s' if n > 1 else ''} in line"}
        for (a, b), n in bolted.items()
    ]
    order = order_of_work(made)
    turns = {name: k for k, name in enumerate(order.names)} if order.ok else {}
    shifts = write.assembly.exploded_shifts(made, order)
    ways = {name: [round(v, 2) for v in shift] for name, shift in shifts.items()}
    return Meetings(links=links, ways=ways, turns=turns)
