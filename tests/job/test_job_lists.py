"""Lists of a job: counted by hand, read back by other readers, texts that stay texts."""

from __future__ import annotations

import csv
import io
import math
import xml.etree.ElementTree as ET
import zipfile
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.errors import BadValue, CannotWrite
from tinbook.part.bought import Bought, box
from tinbook.space import frame_at

SHOP = tb.shop.cut_on(tb.Shop.demo(), "laser")
SPACE = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


@pytest.fixture(scope="module")
def nest() -> Any:
    plate = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100), title="=1+1")
    plate = plate.hole((50, 50), 9, use="nut insert").hole((150, 50), 9, use="nut insert")
    job = tb.Job(
        number="Q1",
        items=[tb.job.Item(thing=plate, quantity=3, finish="primer"), tb.job.Item(thing=tb.families.recovery_plate())],
    )
    return tb.job.nest_job(job, SHOP, sets=2, effort=0)


def test_the_cut_list_counts_every_part_once(nest: Any) -> None:
    rows = tb.job.cut_list(nest).rows
    counts: dict[str, int] = {}
    for row in rows:
        counts[row[0]] = counts.get(row[0], 0) + row[3]
    assert counts == {"PL": 6, "RECOVERY-PLATE-1": 2, "RECOVERY-PLATE-2": 2}
    assert {row[7] for row in rows if row[0] == "PL"} == {"primer"}


def test_masses_by_hand(nest: Any) -> None:
    """(200 x 100 - 2 x pi/4 x 9^2) x 1.5 mm x 7.85 g/cm3 = 0.2340 kg, six of them 1.404 kg."""
    (row,) = (r for r in tb.job.mass_list(nest).rows if r[0] == "PL")
    assert row[5:] == (6, 0.234, 1.404)


def test_what_has_to_be_bought_is_added_up_with_packs_and_spares(nest: Any) -> None:
    """Two inserts in each of six plates: 12; 10 % more are 14 (13.2 rounded up), in packs of 5 three."""
    listed = tb.job.purchase_list(nest, {"nut insert, hole 9": 5}, spare_percent=10)
    (row,) = (r for r in listed.rows if r[1] == "nut insert, hole 9")
    assert row[3:7] == (12, "each", 5, 3)
    bolts = {r[1]: r[3] for r in listed.rows if r[0] == "item"}
    assert bolts == {t.name: 2 * n for t, n in nest.job.bought}
    assert any("EN 10204" in r[7] for r in listed.rows if r[0] == "sheet")


def test_rubber_strap_coats_and_sealer_by_hand() -> None:
    """Everything twice, for two sets.

    Gasket: a piece of 300 x 200 mm, 0.06 m2 each. Liner: 1.25 m each. Strap: 800 x 40 mm, 0.8 m. Primer: both faces of
    800 x 40 mm and of 200 x 150 mm, whose holes are plug welds of 8 mm (3 x pi/4 x 64 = 150.8 mm2), at 8 m2 a litre. Sealer:
    three plug welds 50 mm apart are a row of 0.1 m.
    """
    rubber: Any = {"pieces": (box((0, 0, 0), (100, 10, 3)),), "mass": 0.1, "stuff": "rubber"}
    seal = Bought(name="gasket G", unit="m2", raw="closed-cell EPDM, 4 mm", amount=0.06, **rubber)
    liner = Bought(name="liner L", unit="m", raw="solid EPDM strip, 5 x 36 mm", amount=1.25, **rubber)
    lap = tb.Part("LAP", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 150))
    for x in (50, 100, 150):
        lap = lap.hole((x, 12), 8, use="plug weld")
    strap = tb.Part("STRAP", sheet="DC01 1.5", base=tb.Outline.rectangle(800, 40))
    frame = tb.Assembly("AS").add("lap", lap).add("g", seal, frame_at((0, 0, 90))).add("l", liner, frame_at((0, 0, 99)))
    items = [tb.job.Item(thing=frame, finish="primer"), tb.job.Item(thing=strap, finish="primer")]
    found = tb.job.nest_job(tb.Job(number="Q2", items=items), SHOP, sets=2, effort=0)
    listed = tb.job.purchase_list(found, {"solid EPDM strip, 5 x 36 mm": 10, "closed-cell EPDM, 4 mm": 0.05})
    rows = {r[1]: r[3:7] for r in listed.rows}
    assert rows["closed-cell EPDM, 4 mm"] == (0.12, "m2", 0.05, 3)
    assert rows["solid EPDM strip, 5 x 36 mm"] == (2.5, "m", 10, 1)
    assert rows["strap, DC01 1.5, 40 mm wide"] == (1.6, "m", "", "")
    litres = 2 * 2 * (800 * 40 + 200 * 150 - 3 * math.pi / 4 * 64) * 1e-6 / 8
    assert rows["primer"] == (round(litres, 3), "l", 1, 1)
    assert rows["seam sealer"] == (0.2, "m", 12, 1)


def cells(data: bytes) -> list[list[str]]:
    """Return the texts and numbers of a workbook's first sheet, read as plain XML; fail on any formula."""
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        shared = [
            "".join(t.text or "" for t in si.iter(f"{SPACE}t"))
            for si in ET.fromstring(book.read("xl/sharedStrings.xml"))
        ]
        page = ET.fromstring(book.read("xl/worksheets/sheet1.xml"))
        assert {i.date_time for i in book.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert not list(page.iter(f"{SPACE}f"))
    rows = []
    for row in page.iter(f"{SPACE}row"):
        values = [(c.get("t"), c.findtext(f"{SPACE}v") or "") for c in row]
        rows.append([shared[int(v)] if t == "s" else v for t, v in values])
    return rows


def test_a_workbook_reads_back_and_formulas_stay_text(nest: Any, tmp_path: Path) -> None:
    listed = tb.job.mass_list(nest)
    file = tb.job.write_list(listed, tmp_path / "masses.xlsx")
    rows = cells(file.read_bytes())
    assert tuple(rows[0]) == listed.heads
    assert rows[1][:3] == ["PL", "A", "=1+1"]
    assert [float(r[6]) for r in rows[1:]] == [r[6] for r in listed.rows]
    first = file.read_bytes()
    assert tb.job.write_list(listed, file).read_bytes() == first


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_csv_texts_that_a_spreadsheet_would_run_are_kept_from_it(start: str) -> None:
    listed = tb.job.JobList(name="x", heads=("a", "b"), rows=((f"{start}cmd", -3),))
    rows = list(csv.reader(io.StringIO(listed.text)))
    assert rows[1] == [f"'{start}cmd", "-3"]


def test_another_file_is_not_written_over(nest: Any, tmp_path: Path) -> None:
    for ending in ("csv", "xlsx"):
        file = tmp_path / f"x.{ending}"
        file.write_bytes(b"PK somebody's")
        with pytest.raises(CannotWrite):
            tb.job.write_list(tb.job.cut_list(nest), file)
        assert file.read_bytes() == b"PK somebody's"


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda n: tb.job.cut_list(None), "nest"),
        (lambda n: tb.job.mass_list("Q1"), "nest"),
        (lambda n: tb.job.purchase_list(n, spare_percent=-1), "spare_percent"),
        (lambda n: tb.job.purchase_list(n, spare_percent=float("nan")), "spare_percent"),
        (lambda n: tb.job.purchase_list(n, {"bolt": 0}), "bolt"),
        (lambda n: tb.job.write_list(None, "x.csv"), "list"),
        (lambda n: tb.job.write_list(tb.job.cut_list(n), "x.doc"), "file name"),
    ],
)
def test_bad_values_are_named(nest: Any, wrong: Any, said: str) -> None:
    with pytest.raises(BadValue, match=said):
        wrong(nest)


def test_rivets_are_bought_and_set() -> None:
    """Two rivets of 4.8 mm in each of three plates, holes of 4.9 mm, two sets: 12."""
    plate = tb.Part("RV", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100))
    for x in (50, 150):
        plate = plate.hole((x, 50), use="rivet", size="4.8", name=f"rivet {x}")
    nest = tb.job.nest_job(tb.Job(number="Q2", items=[tb.job.Item(thing=plate, quantity=3)]), SHOP, sets=2, effort=0)
    (row,) = (r for r in tb.job.purchase_list(nest).rows if r[0] == "fixing")
    assert row[1:4] == ("rivet, hole 4.9", "", 12)
    assert "ISO 15981" in row[7]
    lines = tb.job.price_nest(nest).lines
    assert [(x.quantity, x.unit) for x in lines if x.what.startswith("fixings")] == [(12, "each")]
