"""The job as a value and a file, and on its sheets."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.errors import BadFile, BadValue, CannotMake, CannotWrite
from tinbook.job.jobfile import job_from_toml, job_to_toml

SHOP = tb.shop.cut_on(tb.Shop.demo(), "laser")
Item, Stock, Offcut = tb.job.Item, tb.job.Stock, tb.job.Offcut


def plate(number: str, length: float = 200, width: float = 100, sheet: str = "DC01 1.5") -> tb.Part:
    return tb.Part(number, sheet=sheet, base=tb.Outline.rectangle(length, width)).hole((20, 20), 8)


def flat() -> Any:
    return tb.make(plate("FLAT", sheet="DC01 2.0").fold("front", leg=20), SHOP).flat


def small(**more: Any) -> tb.Job:
    return tb.Job(number="Q41", prefix="Q41", items=[Item(thing=plate("PL"), quantity=3)], **more)


def offcut(key: str, length: float = 700, width: float = 300, **more: Any) -> Any:
    return Offcut(key=key, sheet="DC01 1.5", outline=tb.Outline.rectangle(length, width).loop, **more)


# --- the value ---------------------------------------------------------------------------------


def test_parts_are_counted_over_items_and_assemblies_and_take_the_prefix() -> None:
    """A recovery plate has two parts, each once; three of them and the small plate four times."""
    whole = tb.families.recovery_plate()
    job = tb.Job(number="Q41", prefix="Q41", items=[Item(thing=whole, quantity=3), Item(thing=plate("PL"), quantity=4)])
    assert [(p.number, p.quantity) for p in job.parts] == [
        *((f"Q41-{p.number}", 3 * whole.quantity(p)) for p in whole.parts),
        ("Q41-PL", 4),
    ]
    assert all(p.thing.number == p.number for p in job.parts)
    assert sum(n for _, n in job.bought) == 3 * sum(m.kind == "bought" for m in whole.members)


def test_the_other_hand_has_a_number_of_its_own() -> None:
    job = tb.Job(number="J", items=[Item(thing=plate("PL")), Item(thing=plate("PL"), hand="other hand", quantity=2)])
    assert [(p.number, p.quantity, p.thing.other_hand) for p in job.parts] == [("PL", 1, False), ("PL-OH", 2, True)]


def test_the_same_part_in_two_items_is_one_kind() -> None:
    job = tb.Job(number="J", items=[Item(thing=plate("PL"), priority=2), Item(thing=plate("PL"), quantity=2)])
    assert [(p.quantity, p.priority, p.items) for p in job.parts] == [(3, 2, ("PL",))]


@pytest.mark.parametrize("name", ["recovery_plate", "winch_cradle", "body_mount"])
def test_parts_that_hold_lives_are_traced(name: str) -> None:
    assert Item(thing=getattr(tb.families, name)()).traced
    assert not Item(thing=tb.families.gusset()).traced


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: tb.Job(number="J", items=[]), "items"),
        (lambda: tb.Job(number="J", items=None), "items"),
        (lambda: tb.Job(number="J", items="PL"), "items"),
        (lambda: tb.Job(number="J", items=[plate("PL")]), "items"),
        (lambda: tb.Job(number="", items=[Item(thing=plate("PL"))]), "number"),
        (lambda: tb.Job(number="../x", items=[Item(thing=plate("PL"))]), "number"),
        (lambda: small(due="31.3.2027"), "due"),
        (lambda: small(due="2027-02-30"), "due"),
        (lambda: small(due=3), "due"),
        (lambda: small(discount=101), "discount"),
        (lambda: small(discount=float("nan")), "discount"),
        (lambda: small(hours={"measuring": -1}), "measuring"),
        (lambda: small(hours={"measuring": "long"}), "measuring"),
        (lambda: small(delivery="yes"), "delivery"),
        (lambda: tb.Job(number="J", prefix="a b", items=[Item(thing=plate("PL"))]), "prefix"),
        (lambda: tb.Job(number="J", items=[Item(thing=plate("PL")), Item(thing=plate("PL", 300))]), "PL"),
        (lambda: Item(thing=None), "thing"),
        (lambda: Item(thing=plate("PL"), quantity=0), "quantity"),
        (lambda: Item(thing=plate("PL"), quantity=10**7), "quantity"),
        (lambda: Item(thing=plate("PL"), quantity=1.5), "quantity"),
        (lambda: Item(thing=plate("PL"), hand="left"), "hand"),
        (lambda: Item(thing=plate("PL"), sheet="DC01 1.5"), "sheet"),
        (lambda: Item(thing=flat()), "sheet"),
        (lambda: Item(thing=tb.families.recovery_plate(), hand="other hand"), "hand"),
        (lambda: Item(thing=plate("PL"), priority=11), "priority"),
        (lambda: Item(thing=plate("PL"), grain="along"), "grain"),
    ],
)
def test_a_bad_value_is_named(wrong: Any, said: str) -> None:
    with pytest.raises(BadValue, match=said):
        wrong()


# --- the file ----------------------------------------------------------------------------------


def full_job() -> tb.Job:
    items = [
        Item(thing=tb.families.winch_cradle(), quantity=2),
        Item(thing=tb.folded_channel(length=333), quantity=4, hand="other hand", finish="primer"),
        Item(thing=plate("PL").fold("front", leg=20), grain=90),
        Item(thing=tb.families.recovery_plate().add("more", plate("MORE")), priority=3),
        Item(thing=flat(), sheet="DC01 2.0", traced=True),
    ]
    return tb.Job(
        number="Q41", prefix="Q41", title="Heron", due="2027-03-31", items=items, hours={"measuring": 2}, discount=5
    )


def test_a_job_comes_back_equal_and_as_the_same_text(tmp_path: Path) -> None:
    job = full_job()
    file = tb.job.write_job(job, tmp_path)
    assert file.name == "Q41_job.toml"
    back = tb.job.read_job(file)
    assert back == job
    assert job_to_toml(back) == job_to_toml(job)
    assert 'family = "winch_cradle"' in file.read_text()
    assert [i.traced for i in back.items] == [True, False, False, False, True]


def test_a_family_in_a_file_may_have_units() -> None:
    text = 'number = "J"\n[[item]]\nfamily = "folded_channel"\nvalues = { length = "0.4 m" }\nquantity = 2\n'
    assert job_from_toml(text).items[0].thing == tb.folded_channel(length=400)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "number is missing"),
        ('number = "J"', "items"),
        ('number = "J"\n[[item]]\n', "one of the four"),
        ('number = "J"\n[[item]]\npart = "X"\nfamily = "gusset"\n', "one of the four"),
        ('number = "J"\n[[item]]\npart = "X"\n', "'X' is not in the file"),
        ('number = "J"\n[[item]]\nfamily = "os"\n', "family"),
        ('number = "J"\n[[item]]\nfamily = "__import__"\n', "family"),
        ('number = "J"\n[[item]]\nfamily = "gusset"\nvalues = { colour = 3 }\n', "parameters of gusset"),
        ('number = "J"\n[[item]]\nfamily = "gusset"\nvalues = 3\n', "values"),
        ('number = "J"\n[[item]]\nfamily = "gusset"\nquantity = 0\n', "quantity"),
        ('number = "J"\n[[item]]\nfamily = "gusset"\nhands = 2\n', "unknown key"),
        ('number = "J"\n[[item]]\nfamily = "gusset"\npick = 1\n', "pick"),
        ('number = "J"\ndue = "soon"\n[[item]]\nfamily = "gusset"\n', "due"),
        ('number = "J"\nitem = 3\n', "item"),
        ('number = "J"\n[[part]]\nnumber = "P"\n[[item]]\npart = "P"\n', "part"),
        ('number = "J"\n[[flat]]\nname = "P"\n[[item]]\nflat = "P"\nsheet = "DC01 1.5"\n', "outer"),
        ("\x00", "UTF-8"),
    ],
)
def test_a_mistake_in_a_file_is_named(text: str, said: str) -> None:
    with pytest.raises(BadFile) as caught:
        job_from_toml(text)
    assert said in str(caught.value)


def test_another_job_is_not_written_over(tmp_path: Path) -> None:
    file = tb.job.write_job(small(), tmp_path / "job.toml")
    before = file.read_bytes()
    with pytest.raises(CannotWrite, match="another design"):
        tb.job.write_job(replace(small(), number="Q42"), file)
    assert file.read_bytes() == before
    with pytest.raises(BadValue):
        tb.job.write_job(None, tmp_path)  # type: ignore[arg-type]


# --- on its sheets -----------------------------------------------------------------------------


def test_each_part_lies_once_on_metal_of_its_own() -> None:
    job = tb.Job(
        number="J",
        items=[Item(thing=plate("A"), quantity=3), Item(thing=plate("B", sheet="S355 5.0"), quantity=2)],
    )
    found = tb.job.nest_job(job, SHOP, sets=2, effort=0)
    placed = [(g.sheet, p.blank) for g in found.groups for k in g.nest.layouts for p in k.placements]
    assert sorted(placed) == sorted([("DC01 1.5", "A rev A")] * 6 + [("S355 5.0", "B rev A")] * 4)
    assert [p.number for p in found.plans()] == [1, 2]


def test_an_offcut_is_used_where_it_is_cheaper_and_new_sheet_where_it_ends() -> None:
    job = small()
    stock = Stock(offcuts=[offcut("O1")])
    assert set(tb.job.nest_job(job, SHOP, stock, effort=0).used()) == {"O1"}
    assert all(name.startswith("new") for name in tb.job.nest_job(job, SHOP, effort=0).used())
    with pytest.raises(BadValue, match="nothing"):
        tb.job.nest_job(job, SHOP, new_sheets=False, effort=0)
    with pytest.raises(BadValue, match="plates"):
        tb.job.nest_job(
            replace(job, items=[Item(thing=plate("PL"), quantity=30)]), SHOP, stock, new_sheets=False, effort=0
        )


def test_sheets_of_the_rack_come_before_new_ones_of_the_same_size() -> None:
    stock = Stock(sheets=[tb.job.StockSheet(key="S1", sheet="DC01 1.5", length=2500, width=1250)])
    job = replace(small(), items=[Item(thing=plate("PL", 1200, 600), quantity=6)])
    sizes = tuple(replace(s, sizes=((2500, 1250),)) for s in SHOP.sheets)
    used = tb.job.nest_job(job, replace(SHOP, sheets=sizes), stock, effort=0).used()
    assert used == {"S1": 1, "new DC01 1.5 2500 x 1250": 1}


def test_an_untraced_offcut_is_refused_for_a_recovery_plate() -> None:
    item = Item(thing=plate("REC", sheet="DC01 1.5"), traced=True)
    job = tb.Job(number="J", items=[item, Item(thing=plate("ANY"))])
    stock = Stock(offcuts=[offcut("O1"), offcut("O2", heat="H77", certificate="EN 10204 3.1, no. 8")])
    found = tb.job.nest_job(job, SHOP, stock, effort=0)
    where = {p.blank: k.plate.name for g in found.groups for k in g.nest.layouts for p in k.placements}
    assert where == {"REC rev A": "O2", "ANY rev A": "O1"}
    with pytest.raises(BadValue, match="heat and certificate"):
        tb.job.nest_job(job, SHOP, Stock(offcuts=[offcut("O1")]), effort=0, new_sheets=False)


def test_no_offcut_is_used_twice_by_two_groups_of_one_metal() -> None:
    job = tb.Job(number="J", items=[Item(thing=plate("REC"), traced=True), Item(thing=plate("ANY"))])
    stock = Stock(offcuts=[offcut("O2", heat="H77", certificate="3.1")])
    assert tb.job.nest_job(job, SHOP, stock, effort=0).used()["O2"] == 1


def test_a_blank_moved_in_a_job_stays_and_the_rest_is_nested_around_it() -> None:
    job = tb.Job(
        number="J", items=[Item(thing=plate("A", 300, 200), quantity=3), Item(thing=plate("B", 200, 100, "S355 5.0"))]
    )
    rack = Stock(sheets=[tb.job.StockSheet(key="S1", sheet="DC01 1.5", length=2000, width=1000, quantity=2)])
    first = tb.job.nest_job(job, SHOP, rack, effort=0)
    assert first.sheet(2) == (1, 1)
    other = next(p for p in first.groups[0].nest.layouts[0].placements if p.copy == 1)
    with pytest.raises(BadValue, match="overlap"):
        tb.job.move_in_job(first, 1, "A rev A", 2, x=other.x + 5, y=other.y, angle=other.angle)
    with pytest.raises(BadValue, match="a sheet of 'DC01"):
        tb.job.move_in_job(first, 1, "A rev A", 2, to=2)
    by_hand = tb.job.move_in_job(first, 1, "A rev A", 2, x=1500.5, y=700.25, angle=0)
    again = tb.job.nest_around(by_hand, 1, effort=0.02)
    (kept,) = (p for k in again.groups[0].nest.layouts for p in k.placements if p.locked)
    assert (kept.copy, kept.x, kept.y) == (2, 1500.5, 700.25)
    (layout,) = again.groups[0].nest.layouts
    assert layout.plate.name == "S1"
    assert len(layout.placements) == 3
    nest = again.groups[0].nest
    assert not tb.job.faults(layout, nest.blanks, nest.gap, nest.margins)
    loose = tb.job.move_in_job(again, 1, "A rev A", 2, locked=False)
    assert tb.job.nest_around(loose, 1, effort=0.02).groups[0].nest.layouts[0].reach < layout.reach
    assert again.groups[1] == first.groups[1]
    for number in (0, 3, None, "1", True):
        with pytest.raises(BadValue, match="sheet"):
            tb.job.nest_around(first, number)


def test_a_stopped_part_stops_the_job() -> None:
    bad = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100)).fold("front", leg=3)
    with pytest.raises(CannotMake, match="PL: stop"):
        tb.job.nest_job(tb.Job(number="J", items=[Item(thing=bad)]), SHOP)


def test_a_flat_of_another_thickness_is_refused_and_its_folds_are_mentioned() -> None:
    with pytest.raises(CannotMake, match="drawn for 2 mm"):
        tb.job.nest_job(tb.Job(number="J", items=[Item(thing=flat(), sheet="DC01 1.5")]), SHOP, effort=0)
    found = tb.job.nest_job(tb.Job(number="J", items=[Item(thing=flat(), sheet="DC01 2.0")]), SHOP, effort=0)
    assert found.findings.of("job.flat")


def test_a_part_larger_than_every_sheet_is_named() -> None:
    job = tb.Job(
        number="J", items=[Item(thing=tb.Part("BIG", sheet="DC01 1.5", base=tb.Outline.rectangle(2950, 1490)))]
    )
    with pytest.raises((BadValue, CannotMake), match="BIG"):
        tb.job.nest_job(job, SHOP, effort=0)


def test_any_executor_gives_the_same_layouts() -> None:
    job = tb.Job(
        number="J",
        items=[Item(thing=plate(f"P-{n}", sheet=s), quantity=4) for n, s in enumerate(("DC01 1.5", "S355 5.0"))],
    )
    alone = tb.job.nest_job(job, SHOP, effort=0.05)
    with ThreadPoolExecutor(2) as threads:
        assert tb.job.nest_job(job, SHOP, effort=0.05, executor=threads).groups == alone.groups


@pytest.mark.full
def test_two_processes_give_the_same_layouts() -> None:
    job = tb.Job(
        number="J",
        items=[Item(thing=plate(f"P-{n}", sheet=s), quantity=9) for n, s in enumerate(("DC01 1.5", "S355 5.0"))],
    )
    alone = tb.job.nest_job(job, SHOP, effort=1)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as two:
        assert tb.job.nest_job(job, SHOP, effort=1, executor=two).groups == alone.groups


@pytest.mark.full
def test_a_dask_cluster_gives_the_same_layouts() -> None:
    from distributed import Client, LocalCluster

    job = tb.Job(
        number="J",
        items=[Item(thing=plate(f"P-{n}", sheet=s), quantity=9) for n, s in enumerate(("DC01 1.5", "S355 5.0"))],
    )
    alone = tb.job.nest_job(job, SHOP, effort=1)
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster, Client(cluster) as client:
        assert tb.job.nest_job(job, SHOP, effort=1, executor=client.get_executor()).groups == alone.groups


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: tb.job.nest_job(None, SHOP), "job"),
        (lambda: tb.job.nest_job(small(), None), "shop"),
        (lambda: tb.job.nest_job(small(), SHOP, None), "stock"),
        (lambda: tb.job.nest_job(small(), SHOP, sets=0), "sets"),
        (lambda: tb.job.nest_job(small(), SHOP, sets="5"), "sets"),
        (lambda: tb.job.nest_job(small(), SHOP, sets=9999), "at most"),
        (lambda: tb.job.nest_job(small(), SHOP, effort=float("nan")), "effort"),
        (lambda: tb.job.nest_job(small(), SHOP, executor=3), "executor"),
        (lambda: Stock(offcuts=[offcut("O1"), offcut("O1")]), "O1"),
        (lambda: Stock(sheets=[3]), "sheets"),
        (lambda: offcut("O1", heat=3), "heat"),
        (lambda: Offcut(key="O", sheet="DC01 1.5", outline=None), "outline"),
        (lambda: tb.job.StockSheet(sheet="DC01 1.5", length=2000, width=1000, price=-1), "price"),
        (lambda: tb.job.StockSheet(sheet="DC01 1.5", length=2000, width=1000, price="much"), "price"),
        (lambda: tb.job.StockSheet(sheet="DC01 1.5", length=0, width=1000), "length"),
        (lambda: tb.job.StockSheet(sheet="DC01 1.5", length=1, width=1, quantity=-1), "quantity"),
    ],
)
def test_bad_values_at_the_nest_are_named(wrong: Any, said: str) -> None:
    with pytest.raises(BadValue, match=said):
        wrong()


def test_an_offcut_that_crosses_itself_is_refused() -> None:
    from tinbook.plane.loops import polygon

    with pytest.raises(BadValue, match="cross"):
        Offcut(key="O1", sheet="DC01 1.5", outline=polygon([(0, 0), (100, 100), (100, 0), (0, 100)]))
