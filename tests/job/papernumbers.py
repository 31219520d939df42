"""Numbers of the papers of a kit and of an offer, counted again from the model and from outside formulas."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import tinbook as tb
from printed import Piece, rows
from tinbook.job.kits.stacks import round_item
from tinbook.making.made import Made
from tinbook.part.bought import Bought

PITCH = {5: 0.8, 6: 1.0, 8: 1.25, 10: 1.5, 12: 1.75, 16: 2.0, 20: 2.5}
"""Coarse threads, ISO 261."""
US = tb.job.Party(name="Quillback Workshop", address="Mill Lane 4\nOtterford", tax_number="T 00 11")


def figures(text: str) -> set[str]:
    """Numbers that stand in a text."""
    return set(re.findall(r"\d+(?:[.,]\d+)?", text))


def wrong_in_fitting(every: list[Piece], kit: Any, say: tb.Language) -> Iterator[str]:
    """Counts of fasteners, holes, torques, welds and plug welds of the fitting instructions."""
    text = " ".join(p.text.strip() for p in every)
    lines = [line.strip() for line in text.split("•")]
    fitted: Counter[str] = Counter()
    expected = Counter(m.thing.name for a, _ in kit.assembled for m in a.assembly.members if round_item(m))
    names = sorted(expected, key=lambda n: -len(say.retold(n)))
    for line in lines:
        begun = re.match(r"(\d+)(?: times, each|-mal, jeweils): ", line)
        if begun or line.startswith("Fit ") or re.match(r"\d+ × .*einsetzen\.", line):
            for name in names:  # the longest first: some names begin others
                shape = rf"(\d+) × {re.escape(say.retold(name))}(?!\w)"
                found = sum(map(int, re.findall(shape, line)))
                fitted[name] += found * int(begun[1] if begun else 1)
                line = re.sub(shape, "", line)
    if fitted != expected:
        yield f"fasteners {dict(fitted)} instead of {dict(expected)}"
    dias = {f"{d:.4g}".replace(".", say.decimal) for d in _dias(kit)}
    yield from (f"no hole of Ø {d}" for d in set(re.findall(r"Ø (\d+(?:[.,]\d+)?) mm", text)) - dias)
    for torque, size, strength in re.findall(r"(\d+) N ?m \([^)]*?M(\d+)[^)]*?(\d+[.,]\d)", text):
        if abs(int(torque) - _torque(int(size), strength.replace(",", "."))) > 0.51:
            yield f"torque {torque} of M{size} {strength}"
    for a, _ in kit.assembled:
        for w in a.assembly.welds:
            want = {f"{v:.4g}".replace(".", say.decimal) for v in (w.throat, w.length) if v is not None}
            if not any(want <= figures(line) and w.a in line and w.b in line for line in lines):
                yield f"weld {w.a} to {w.b}: {want}"
    for it in kit.nest.parts:
        if isinstance(it.made, Made):
            for dia, n in Counter(
                h.dia for p in it.made.panels for h in p.holes if h.use == "plug weld" and h.dia
            ).items():
                want = {str(n), f"{dia:.4g}".replace(".", say.decimal)}
                if not any(want <= figures(line) for line in lines):
                    yield f"plug welds of {it.part.number}: {want}"


def _torque(size: int, strength: str) -> float:
    """0.2 d F with F = 0.75 of proof load (Shigley; ISO 898-1, proof stress from memory), stress area of ISO 898-1."""
    area = math.pi / 4 * (size - 0.9382 * PITCH[size]) ** 2
    proof = {"8.8": 580.0 if size <= 16 else 600.0, "10.9": 830.0, "12.9": 970.0, "4.6": 225.0, "5.8": 380.0}[strength]
    return 0.2 * size * 0.75 * proof * area / 1000.0


def _dias(kit: Any) -> Iterator[float]:
    made = [it.made for it in kit.nest.parts if isinstance(it.made, Made)]
    bodies = [b for a, _ in kit.assembled for m in a.assembly.members for b in a.bodies_of(m.thing)]
    for body in (*made, *bodies):
        for p in body.panels:
            for h in p.holes:
                x0, _, x1, _ = h.loop.box
                yield h.dia or x1 - x0


def bought(kit: Any) -> Counter[str]:
    """How many of each bought item all sets take."""
    found: Counter[str] = Counter()
    for a, n in kit.assembled:
        for m in a.assembly.members:
            if isinstance(m.thing, Bought) and not m.thing.existing:
                found[m.thing.name] += n * kit.nest.sets
    return found


def wrong_in_delivery(every: list[Piece], kit: Any, say: tb.Language) -> Iterator[str]:
    """Quantities and masses of the packing list: parts and bought items, each over all parcels."""
    listed = [r for r in rows(every) if len(r) >= 4 and re.fullmatch(r"\d+[.,]\d{3}", r[-1]) and r[-2].isdigit()]
    for it in kit.nest.parts:
        own = [r for r in listed if it.part.number in r]
        if sum(int(r[-2]) for r in own) != it.part.quantity * kit.nest.sets:
            yield f"{it.part.number}: {own}"
        yield from (f"mass {r}" for r in own if r[-1] != say.number(it.made.mass, ".3f"))
    for name, count in bought(kit).items():
        own = [r for r in listed if say.retold(name) in r]
        if own and sum(int(r[-2]) for r in own) != count:
            yield f"{name}: {own} instead of {count}"


def wrong_on_labels(every: list[Piece], delivery: Any, say: tb.Language) -> Iterator[str]:
    """A label for each part and each bag, and on those of bags as many items as the kit takes."""
    kit = delivery.kit
    said = Counter(p.text.strip() for p in every)
    for it in kit.nest.parts:
        if said[it.part.number] != it.part.quantity * kit.nest.sets:
            yield f"{said[it.part.number]} labels of {it.part.number}"
    for bag in delivery.bags:
        if said[say("bag {n}", n=bag.number)] != bag.count:
            yield f"labels of bag {bag.number}"
    count = bought(kit)
    for name in {t.name for bag in delivery.bags for t, _ in bag.items}:
        found, whole = 0, say.retold(name)
        for text, n in said.items():
            begun = re.match(r"(\d+) × (.+)", text)
            if begun and (begun[2] == whole or whole.startswith(f"{begun[2]} ")):  # a long name goes on below
                found += int(begun[1]) * n
        if found != count[name]:
            yield f"{found} {name} on labels of bags instead of {count[name]}"


def offer_of(nested: Any) -> Any:
    """An offer at demo rates, a bought item at 2.50."""
    each = tuple((name, 2.5) for name in dict.fromkeys(t.name for t, _ in nested.job.bought))
    shop = nested.shop
    from dataclasses import replace

    priced = replace(nested, shop=replace(shop, rates=replace(shop.rates, bought=each, weld_per_m=14.0)))
    price = tb.job.price_nest(priced)
    return tb.job.quotation([price], number="O-8", day="2027-03-20", sender=US, customer=US, excluded=["-"])


def wrong_on_offer(every: list[Piece], offer: Any, nested: Any) -> Iterator[str]:
    """Quantities of one set; tax, sum and deposit worked out again in hundredths."""
    said, cent = rows(every), Decimal("0.01")
    cells = {cell.replace(",", ".") for row in said for cell in row}
    for number, _, quantity, _ in offer.items:
        if not any(number in row and str(quantity) in row for row in said):
            yield f"{number}: {quantity}"
    if {n: q for n, _, q, _ in offer.items} != {i.number: i.quantity for i in nested.job.items}:
        yield "other items than the job's"
    for _, _, net, *_ in offer.prices:
        tax = (net * offer.tax_percent / 100).quantize(cent, ROUND_HALF_UP)
        deposit = ((net + tax) * offer.deposit_percent / 100).quantize(cent, ROUND_HALF_UP)
        for what in (net, tax, net + tax, deposit):
            if f"{what:.2f}" not in cells:
                yield f"{what:.2f} is not on the offer"
