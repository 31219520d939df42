"""Every paper of every family, in both languages: no text on another, numbers as the model has them, German throughout."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from papernumbers import offer_of, wrong_in_delivery, wrong_in_fitting, wrong_on_labels, wrong_on_offer

import tinbook as tb
from familylists import FIRST, FITTED, LIGHT, PLATES, WELDED
from printed import faults, pieces, printed_as, rows
from tinbook.dims import hole_rows
from tinbook.job.papers.card import planned_minutes
from tinbook.making.made import Made
from tinbook.part.fasteners import hexagon_bolt
from tinbook.space import frame_at
from tinbook.write.assembly import parts_list
from tinbook.write.weldpage.welds import seams

SHOP = tb.Shop.demo()
GERMAN = tb.Language.of("de")
DESPITE = "nur das Papier wird angesehen"


def bracket_on_plate() -> tuple[tb.Assembly, tb.Part]:
    """A plate with a rib welded on and a bolt through it, and a folded bracket beside."""
    plate = tb.Part("PL", sheet="S235 4.0", base=tb.Outline.rectangle(200, 120)).hole((40, 60), use="bolt", size="M8")
    rib = tb.Part("RIB", sheet="S235 4.0", base=tb.Outline.rectangle(100, 30))
    upright = frame_at((60, 62, 4), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    whole = tb.Assembly("BP").add("plate", plate).add("rib", rib, upright).weld("plate", "rib", throat=3, length=80)
    whole = whole.add("bolt", hexagon_bolt("M8", 20), frame_at((40, 60, 4)))
    return whole, tb.families.strut_bracket()


SAMPLE = (bracket_on_plate,)
FAMILIES = [*(pytest.param(f, id=f.__name__) for f in SAMPLE)] + [
    pytest.param(f, id=f.__name__, marks=pytest.mark.full)
    for f in (*FIRST, *LIGHT, *PLATES, *WELDED, *FITTED)
    if f not in SAMPLE
]
FUNCTION_WORDS = "the of and with for from its this that than be are by not which where has have to at on no it is or"


@cache
def english() -> frozenset[str]:
    """Words that stand on the English side of the table only, and the small words of every English sentence."""
    sides = [set(words(re.sub(r"\{[^}]*\}", " ", " ".join(side)))) for side in zip(*GERMAN.words, strict=True)]
    return frozenset((sides[0] | set(FUNCTION_WORDS.split())) - sides[1])


def words(text: str) -> list[str]:
    return re.findall(r"[a-zäöüß]{2,}", re.sub(r"\b[a-z]+\.[a-z_]+\b", "", text.lower()))  # codes of findings stay


def own_words(nested: Any, whole: Iterable[Any]) -> set[str]:
    """Words that the user, the workshop and the family chose: names, titles, tools."""
    found = [DESPITE, nested.shop.name, nested.job.title]
    for it in nested.parts:
        m, part = it.made, it.made.part
        found += [part.number, part.title, *(p.name for p in m.panels), *(s.name for s in m.strips), m.sheet.key]
        found += [f.name for f in (*part.folds, *part.holes, *part.forms)] + [e.name for e in m.flat.outer.edges]
        found += [e.name for p in m.panels for e in p.boundary.edges]
        found += [h.name for p in m.panels for h in p.holes] + [c.name for c in m.flat.cuts]
    for a in whole:
        found += [a.assembly.title, *(m.name for m in a.assembly.members)]
    for t in (*nested.shop.tools, *nested.shop.cutters):
        found += [t.key, t.who, getattr(t, "machine", ""), getattr(t, "title", "")]
    found += [m.key for m in nested.shop.machines]
    return set(words(" ".join(found)))


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("language", ["de", pytest.param("en", marks=pytest.mark.full)])
def test_every_paper_of_a_family(family: Any, language: str, tmp_path: Path) -> None:
    found = family()
    things = found if isinstance(found, tuple) else (found,)
    job = tb.Job(number="Q8", items=[tb.job.Item(thing=t, quantity=2) for t in things], language=language)
    nested = tb.job.nest_job(job, SHOP, effort=0, despite=DESPITE)
    kit = tb.job.kit_of(nested)
    delivery = tb.job.delivery_of(kit)
    files = [*tb.job.write_papers(nested, tmp_path, despite=DESPITE)]
    files.append(tb.job.write_fitting(kit, tmp_path))
    files.append(tb.job.write_delivery_note(delivery, tmp_path))
    files.append(tb.job.write_labels(tb.job.kit_labels(delivery), tmp_path, name="Q8_labels"))
    offer = offer_of(nested)
    files.append(tb.job.write_quotation(offer, tmp_path))
    own = own_words(nested, [a for a, _ in kit.assembled])
    for file in files:
        every = pieces(file.read_bytes())
        assert faults(every) == [], file.name
        if language == "de":
            assert in_english((p.text for p in every), own) == {}, file.name
        said = rows(every)
        for wanted in numbers_of(file.stem, nested, kit, delivery, job.language):
            assert any(all(any(t in row for t in printed_in(v, job.language)) for v in wanted) for row in said), (
                file.name,
                wanted,
            )
        assert list(wrong_numbers(file.stem, every, nested, delivery, offer)) == [], file.name
    if language == "de":
        for made in (it.made for it in nested.parts if it.made.strips):
            page = tb.write_fold_page(made, tmp_path, language="de").read_text(encoding="utf-8")
            shown = re.sub(r"<(style|script)>.*?</\1>", "", page, flags=re.S)
            assert in_english(map(unescape, re.findall(r">([^<>]+)<", shown)), own) == {}


def wrong_numbers(name: str, every: Any, nested: Any, delivery: Any, offer: Any) -> Iterator[str]:
    """Yield numbers of the kit's papers and the offer that the model does not have, or that are missing."""
    say = nested.job.language
    if name.endswith("fitting"):
        yield from wrong_in_fitting(every, delivery.kit, say)
    elif name.endswith("delivery"):
        yield from wrong_in_delivery(every, delivery.kit, say)
    elif name.endswith("labels"):
        yield from wrong_on_labels(every, delivery, say)
    elif name.endswith("quotation"):
        yield from wrong_on_offer(every, offer, nested)


def in_english(texts: Iterable[str], own: set[str]) -> dict[str, list[str]]:
    """Return texts with the English words in them."""
    every = {text: [w for w in words(text) if w in english() and w not in own] for text in texts}
    return {text: found for text, found in every.items() if found}


def printed_in(value: Any, say: tb.Language) -> tuple[str, ...]:
    """A number with the decimals that it is printed with, either way where it lies between two; a text as it is."""
    if isinstance(value, float):
        return tuple(t.replace(".", say.decimal) for t in printed_as(value))
    return (str(value),)


def numbers_of(name: str, nested: Any, kit: Any, delivery: Any, say: tb.Language) -> Iterator[tuple[Any, ...]]:
    """Yield what must stand in one row of a paper: lengths as numbers, to a tenth, all else as it is printed."""
    parts = {it.part.number: it for it in nested.parts}
    if name.endswith("job_card"):
        for it in nested.parts:
            yield it.part.number, str(it.part.quantity * nested.sets)
            yield from ((size.nominal,) for size in tb.finished_sizes(it.made))
        yield from ((f"{minutes:.0f}",) for minutes in planned_minutes(nested).values())
    elif name.endswith("cut_sheets"):
        for plan in nested.plans():
            yield from ((c.length, c.pierce[0], c.pierce[1]) for c in plan.contours)
    elif name.endswith("assembly_page"):
        whole = next(a for a, _ in kit.assembled if name.startswith(a.assembly.number))
        for row in parts_list(whole):
            mass = () if row.material == "existing" else (say.number(row.mass, ".3f" if row.mass >= 0.01 else ".4f"),)
            yield str(row.item), str(row.quantity), *mass
        yield from ((s.weld.throat, s.weld.length) for s in seams(whole) if s.weld.length is not None)
    elif name.endswith("delivery"):
        for p in delivery.parcels:
            yield " × ".join(say.number(v, ".0f") for v in p.size), f"{p.girth:.0f}", p.mass
        for it in nested.parts:
            yield (say.number(it.made.mass, ".3f"),)
    elif name in {f"{n}_{it.made.part.rev}_{it.made.sheet.key}" for n, it in parts.items()} or "_x" in name:
        it = next((it for n, it in parts.items() if name.startswith(f"{n}_")), None)
        if it is not None:
            yield from _of_sheet(it.made, say)


def _of_sheet(made: Made, say: tb.Language) -> Iterator[tuple[Any, ...]]:
    assert made.flat is not None
    yield from ((size.nominal,) for size in tb.finished_sizes(made))
    yield from ((f"Ø{say.number(row.dia)}",) for row in hole_rows(made.flat) if row.dia and not (10 * row.dia) % 1)


def test_an_english_word_is_found_on_a_german_paper() -> None:
    """The measure itself: a sentence of each language, and a name that the user chose."""
    assert in_english(["Das Blech ist verzinkt.", "The sheet is coated.", "front"], {"front"}) == {
        "The sheet is coated.": ["the", "sheet", "is", "coated"]
    }
