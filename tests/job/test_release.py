"""A released job: whole or not there, the same bytes again, and every alteration found."""

from __future__ import annotations

import io
import json
import os
import pickle
import random
import re
import stat
import subprocess
import sys
import zipfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from pypdf import PdfReader

import tinbook as tb
from released import KIT, MAKE, made_job
from tinbook.errors import BadValue
from tinbook.job.releasing import release as releasing
from tinbook.job.releasing.archive import pack_bytes, unpack
from tinbook.job.releasing.values import from_json, to_json

SHOP = tb.Shop.demo()


@pytest.fixture(scope="module")
def made() -> dict[str, Any]:
    return made_job()


@pytest.fixture(scope="module")
def job(made: dict[str, Any]) -> tb.Job:
    found: tb.Job = made["job"]
    return found


@pytest.fixture(scope="module")
def pack(made: dict[str, Any], static: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    more = {"fitting": made["own"], "notebook": made["notebook"](tmp_path_factory.mktemp("notebook")), **made["dated"]}
    more["nest"] = made["nest"]()
    return tb.release(made["job"], "A", SHOP, tmp_path_factory.mktemp("first"), effort=0.1, flats=True, **more)


def test_it_holds_every_file_and_its_proofs(pack: Path) -> None:
    _, files = unpack(pack)
    manifest = json.loads(files["manifest.json"])
    assert set(manifest["files"]) == set(files) - {"manifest.json"}
    kinds = {name.rpartition(".")[2] for name in files}
    assert kinds == {"json", "toml", "dxf", "step", "pdf", "html", "csv", "md", "ipynb"}
    assert {p["number"]: p["quantity"] for p in manifest["parts"]} == {"Q7-TRAY": 2, "Q7-GUSSET": 3}
    proofs = {"file.blank", "file.solid", "proof.unfolded", "proof.layout", "proof.paper"}
    assert proofs == {p["code"] for p in manifest["proofs"]}
    papers = {n.rpartition("/")[2] for n in files if n.endswith(".pdf") and "template" not in n}
    assert papers == {p["where"] for p in manifest["proofs"] if p["code"] == "proof.paper"}
    assert {f"Q7_{n}.pdf" for n in ("job_card", "cut_sheets", "fitting", "labels", "delivery")} < papers
    assert files["papers/Q7_fitting.md"].decode().startswith("Frage: passt die Ablage?")
    assert b"iopub" not in files["inputs/notebook.ipynb"]
    assert "1 + 1" in json.loads(files["inputs/notebook.ipynb"])["cells"][0]["source"]
    with zipfile.ZipFile(pack) as archive:
        assert {e.date_time for e in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert {e.compress_type for e in archive.infolist()} == {zipfile.ZIP_STORED}
        assert archive.testzip() is None


def test_the_customers_page_says_how_many_are_delivered(pack: Path) -> None:
    """Two trays and three gussets, in German as the rest of the job; the part itself says one."""
    _, files = unpack(pack)
    told = re.findall(r"(?:Quantity|Anzahl|Stückzahl)</t[hd]><td[^>]*>(\d+)<", files["page.html"].decode())
    assert told == ["2", "3"]


def test_a_layout_corrected_by_hand_is_cut(pack: Path, job: tb.Job) -> None:
    """One tray lies at (1500, 500) of the sheet, in the file for the cutter too; a nest of another job is refused."""
    _, files = unpack(pack)
    (name,) = (n for n in files if n.startswith("sheets/") and n.endswith(".dxf") and "DC01_1.5" in n)
    edges = ezdxf.read(io.StringIO(files[name].decode())).modelspace().query("LWPOLYLINE[layer=='BLANK_EDGE']")
    assert any(min(x for x, *_ in e) == pytest.approx(1500) and min(y for _, y, *_ in e) > 400 for e in edges)
    nest = tb.open_release(pack).nest
    assert [(p.x, p.y) for g in nest.groups for k in g.nest.layouts for p in k.placements if p.locked] == [(1500, 500)]
    with pytest.raises(BadValue, match="nest"):
        tb.release(replace(job, title="another"), "B", SHOP, "nowhere", nest=nest)


class Travelling(ThreadPoolExecutor):
    """Hands over copies, as a pool of processes does."""

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Any:
        """Take a copy of the work."""
        return super().submit(*pickle.loads(pickle.dumps((fn, *args))), **kwargs)


def test_it_is_made_again_to_the_byte_elsewhere(pack: Path, tmp_path: Path) -> None:
    """From the same call in another process, and twice from what the pack itself holds."""
    env = {**os.environ, "PYTHONPATH": str(KIT), "PYTHONHASHSEED": "77", "TZ": "Pacific/Apia", "LC_ALL": "C"}
    env |= {"SOURCE_DATE_EPOCH": "1", "HOME": str(tmp_path)}
    where = tmp_path / "second place"
    subprocess.run([sys.executable, "-c", MAKE, str(where)], env=env, check=True, cwd=tmp_path, capture_output=True)
    assert (where / pack.name).read_bytes() == pack.read_bytes()
    opened = tb.open_release(where / pack.name)
    third = opened.again(tmp_path / "third")
    assert third.read_bytes() == pack.read_bytes()
    with Travelling(1) as executor:  # whose workers make each part again, as those of other processes do
        fourth = tb.open_release(third).again(tmp_path / "fourth", executor)
    assert fourth.read_bytes() == pack.read_bytes()
    assert opened.shop == SHOP


def test_a_release_is_never_written_over(pack: Path, job: tb.Job) -> None:
    before = pack.read_bytes()
    with pytest.raises(tb.errors.CannotWrite, match="already"):
        tb.release(job, "A", SHOP, pack.parent, effort=0.1)
    assert pack.read_bytes() == before
    assert [p.name for p in pack.parent.iterdir()] == [pack.name]


def test_two_packs_are_compared_part_by_part_and_file_by_file(pack: Path, job: tb.Job, tmp_path: Path) -> None:
    """The tray 20 mm longer, one gusset more: three gussets become four, the blank grows by 20 mm."""
    tray, gusset = job.items
    assert isinstance(tray.thing, tb.Part)
    longer = replace(tray, thing=tray.thing.stretched(40, 20).renamed(rev="B"))
    told: list[tuple[float, str]] = []
    how: dict[str, Any] = {
        "effort": 0.1,
        "before": pack,
        "date": "2027-04-01",
        "progress": lambda share, word: told.append((share, word)),
    }
    second = tb.release(replace(job, items=(longer, replace(gusset, quantity=4))), "B", SHOP, tmp_path, **how)
    assert told == sorted(told, key=lambda t: t[0])
    assert (told[0][0], told[-1][0]) == (0.0, 1.0)
    assert {"Q7-TRAY", "papers", "page"} <= {word for _, word in told}
    found = {(r[0], r[1]): r[2:] for r in tb.compare(pack, second).rows()}
    assert found["release", "revision"] == ("A", "B", "")
    assert found["Q7-GUSSET: part", "quantity in a set"] == ("3", "4", "+1")
    assert found["Q7-TRAY: blank", "length along x"] == ("160.00 mm", "180.00 mm", "+20.00 mm")
    assert not any(of == "Q7-GUSSET: blank" for of, _ in found)
    assert any(of.startswith("file ") and "/Q7-TRAY/" in of for of, _ in found)
    again = tb.compare(str(pack), tb.open_release(pack))
    assert again.same
    # The pack before carries two revisions of the tray; the third says what a tape finds: the front edge and where the hole went.
    rows = tb.open_release(second).revisions
    assert [r[0] for r in rows["Q7-TRAY"]] == ["-", "A", "B"]
    assert "edge front: length 160.00 mm to 180.00 mm" in rows["Q7-TRAY"][2][2]
    assert rows["Q7-GUSSET"] == [("A", "", "first release")]
    _, files = unpack(second)
    sheet = next(data for name, data in files.items() if name.startswith("parts/Q7-TRAY/") and name.endswith("x2.pdf"))
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(sheet)).pages)
    assert all(words in text for words in ("2027-01-31", "Muster", "2027-04-01", "180.00 mm"))


def test_a_part_that_changed_needs_its_next_revision(pack: Path, job: tb.Job, tmp_path: Path) -> None:
    tray, gusset = job.items
    assert isinstance(tray.thing, tb.Part)
    changed = replace(job, items=(replace(tray, thing=tray.thing.hole((40, 20), 6)), gusset))
    with pytest.raises(tb.errors.BadValue, match=r"revision of Q7-TRAY.*the next one, B.*hole.*added"):
        tb.release(changed, "B", SHOP, tmp_path, before=pack)
    other = replace(job, number="Q8")
    for wrong, said in (
        ({"before": pack, "revisions": {}}, "left out"), ({"before": 3}, "path of an earlier"), ({"before": "no.zip"}, "no.zip"),
        ({"revisions": [1]}, "rows of letter"), ({"revisions": {"Q7-TRAY": [("A", 1, "")]}}, "rows of letter"), ({"date": 3}, "date"),
    ):  # fmt: skip
        with pytest.raises(tb.errors.TinbookError, match=said):
            tb.release(job, "B", SHOP, tmp_path, **wrong)  # type: ignore[arg-type]
    with pytest.raises(tb.errors.BadValue, match="an earlier pack of job Q8"):
        tb.release(other, "B", SHOP, tmp_path, before=pack)
    with tb.job.Store(tmp_path / "s.db") as store:
        store.release("Q7", "A", {pack.name: "0" * 64})
        with pytest.raises(tb.errors.BadValue, match="the pack of revision A, which the store knows"):
            tb.release(job, "B", SHOP, tmp_path / "none", store=store)
    assert list(tmp_path.glob("**/*.zip")) == []


# -- alterations ----------------------------------------------------------------------------------


def rezipped(files: dict[str, bytes], change: Callable[[zipfile.ZipFile], None] | None = None) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in files.items():
            info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            info.external_attr = (stat.S_IFREG | 0o644) << 16
            archive.writestr(info, data)
        if change:
            change(archive)
    return out.getvalue()


def bomb(archive: zipfile.ZipFile) -> None:
    archive.writestr(zipfile.ZipInfo("parts/bomb.dxf"), b"\0" * 30_000_000, compress_type=zipfile.ZIP_DEFLATED)


def linked(archive: zipfile.ZipFile) -> None:
    info = zipfile.ZipInfo("parts/link.dxf")
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    archive.writestr(info, "/etc/passwd")


def doubled(archive: zipfile.ZipFile) -> None:
    with pytest.warns(UserWarning, match="Duplicate"):
        archive.writestr("page.html", b"other")


TRICKS: dict[str, Callable[[zipfile.ZipFile], None]] = {
    "upward": lambda a: a.writestr("../outside.dxf", b"x"), "root": lambda a: a.writestr("/outside.dxf", b"x"),
    "drive": lambda a: a.writestr("C:/outside.dxf", b"x"), "back": lambda a: a.writestr("parts\\..\\x.dxf", b"x"),
    "folder": lambda a: a.writestr("parts/new/", b""), "bomb": bomb, "link": linked, "doubled": doubled,
    "added": lambda a: a.writestr("parts/more.dxf", b"x"), "hidden": lambda a: a.writestr("parts/.x", b"x"),
    "comment": lambda a: setattr(a, "comment", b"hello"), "empty": lambda a: a.writestr("sheets/none.dxf", b""),
}  # fmt: skip


@pytest.mark.parametrize("trick", TRICKS)
def test_tricks_with_archives_are_found(pack: Path, tmp_path: Path, trick: str) -> None:
    bad = tmp_path / pack.name
    bad.write_bytes(rezipped(dict(sorted(unpack(pack)[1].items())), TRICKS[trick]))
    assert not tb.verify(bad).ok
    with pytest.raises(tb.errors.BadFile):
        tb.open_release(bad)
    assert list(tmp_path.iterdir()) == [bad]


@pytest.mark.parametrize("seed", range(60))
def test_random_alterations_are_found(pack: Path, tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    raw, files = unpack(pack)
    name = rng.choice(sorted(files))
    bad = tmp_path / pack.name
    kind = seed % 6
    if kind == 0:  # one byte anywhere
        at = rng.randrange(len(raw))
        bad.write_bytes(raw[:at] + bytes([raw[at] ^ (1 << rng.randrange(8))]) + raw[at + 1 :])
    elif kind == 1:  # one byte of a file, the archive whole
        at = rng.randrange(len(files[name]))
        files[name] = files[name][:at] + bytes([files[name][at] ^ 1]) + files[name][at + 1 :]
        bad.write_bytes(pack_bytes(files))
    elif kind == 2:
        bad.write_bytes(pack_bytes({n: d for n, d in files.items() if n != name}))
    elif kind == 3:
        files[f"{name}x"] = files.pop(name)
        bad.write_bytes(pack_bytes(files))
    elif kind == 4:  # cut off, or lengthened
        bad.write_bytes(raw[: rng.randrange(1, len(raw))] if rng.random() < 0.5 else raw + rng.randbytes(9))
    else:  # the same files in another order
        names = sorted(files)
        rng.shuffle(names)
        bad.write_bytes(rezipped({n: files[n] for n in names}))
    found = tb.verify(bad)
    assert not found.ok
    assert "altered" in repr(found)


def test_a_clean_copy_is_clean_whatever_its_name(pack: Path, tmp_path: Path) -> None:
    copy = tmp_path / "sent to the customer äöü.zip"
    copy.write_bytes(pack.read_bytes())
    assert tb.verify(copy).ok
    assert tb.verify(str(copy)).sha256 == tb.verify(pack).sha256


def test_a_pack_of_a_newer_version_says_so(pack: Path, tmp_path: Path) -> None:
    _, files = unpack(pack)
    manifest = json.loads(files["manifest.json"]) | {"format": releasing.FORMAT + 1}
    manifest["manifest"] = releasing.own_digest(manifest)
    files["manifest.json"] = json.dumps(manifest).encode()
    newer = tmp_path / "newer.zip"
    newer.write_bytes(pack_bytes(files))
    with pytest.raises(tb.errors.BadFile, match="newer than this kit"):
        tb.verify(newer)


# -- bad input ------------------------------------------------------------------------------------


@pytest.mark.parametrize("rev", ["I", "", None, 3, "AAA", "a", float("nan"), "A/../B"])
def test_a_revision_outside_the_scheme_is_refused(job: tb.Job, tmp_path: Path, rev: object) -> None:
    with pytest.raises(tb.errors.BadValue, match="rev"):
        tb.release(job, rev, SHOP, tmp_path)  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


def test_a_job_with_a_part_that_stops_is_not_released(tmp_path: Path) -> None:
    bad = tb.Part("TRAY", rev="I", sheet="DC01 1.5", base=tb.Outline.rectangle(160, 90))
    job = tb.Job(number="Q8", items=[tb.job.Item(thing=bad)])
    with pytest.raises(tb.errors.CannotMake, match="revision"):
        tb.release(job, "A", SHOP, tmp_path)
    assert list(tmp_path.iterdir()) == []


NOTEBOOKS = {
    "no notebook": "{}", "no JSON": "{", "older": '{"nbformat": 3, "cells": []}', "cells": '{"nbformat": 4, "cells": [3]}',
    "not run": '{"nbformat": 4, "cells": [{"cell_type": "code", "source": "1", "outputs": []}]}', "list": "[]",
    "error": '{"nbformat": 4, "cells": [{"cell_type": "code", "source": ["1"], "execution_count": 1, "outputs": [{"output_type": "error"}]}]}',
}  # fmt: skip


@pytest.mark.parametrize("text", NOTEBOOKS.values(), ids=NOTEBOOKS)
def test_a_notebook_that_was_not_run_to_its_end_is_refused(job: tb.Job, tmp_path: Path, text: str) -> None:
    file = tmp_path / "kit.ipynb"
    file.write_text(text)
    for notebook in (file, tmp_path / "gone.ipynb", 3, b"x"):
        with pytest.raises(tb.errors.TinbookError):
            tb.release(job, "A", SHOP, tmp_path / "out", notebook=notebook)  # type: ignore[arg-type]
    for fitting in (None, 3, "<!-- end -->"):
        with pytest.raises(tb.errors.TinbookError):
            tb.release(job, "A", SHOP, tmp_path / "out", fitting=fitting)  # type: ignore[arg-type]
    assert not (tmp_path / "out").exists()


def test_numbers_that_differ_in_capitals_only_are_refused(tmp_path: Path) -> None:
    """On systems that do not tell them apart, one part's folder would be the other's."""
    plate = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(120, 60))
    items = [tb.job.Item(thing=t) for t in (plate, plate.renamed(number="pl").hole((30, 30), 9))]
    with pytest.raises(tb.errors.BadValue, match="capital letters"):
        tb.release(tb.Job(number="Q1", items=items), "A", SHOP, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_an_assembly_is_released_beside_a_part_of_its_own(static: Path, tmp_path: Path) -> None:
    """The assembly's page names its own parts only; each paper is held against what stands on it."""
    plate = tb.Part("Q8-PLATE", sheet="DC01 1.5", base=tb.Outline.rectangle(120, 60)).hole((20, 20), 6.6, use="bolt")
    lap = plate.renamed(number="Q8-LAP").hole((60, 30), 8, use="plug weld")
    above = tb.part.frame_at((0.0, 0.0, 1.5))
    whole = tb.Assembly("Q8-PAIR").add("plate", plate).add("lap", lap, above).weld("plate", "lap", throat=1.0)
    other = tb.Part("Q8-OTHER", sheet="DC01 1.5", base=tb.Outline.rectangle(90, 40))
    items = [tb.job.Item(thing=t) for t in (whole, other)]
    _, files = unpack(tb.release(tb.Job(number="Q8", items=items), "A", SHOP, tmp_path, effort=0.1))
    manifest = json.loads(files["manifest.json"])
    assert {p["number"] for p in manifest["parts"]} == {"Q8-PLATE", "Q8-LAP", "Q8-OTHER"}
    assert "Q8-PAIR_A_assembly_page.pdf" in {p["where"] for p in manifest["proofs"] if p["code"] == "proof.paper"}


@pytest.mark.parametrize(
    "wrong", [{"folder": None}, {"folder": 3}, {"prices": ["a"]}, {"store": "x.db"}, {"progress": 3}, {"executor": 2}]
)
def test_wrong_values_are_named(job: tb.Job, tmp_path: Path, wrong: dict[str, Any]) -> None:
    with pytest.raises(tb.errors.BadValue, match=next(iter(wrong))):
        tb.release(job, "A", SHOP, **{"folder": tmp_path, "effort": 0, **wrong})
    assert list(tmp_path.iterdir()) == []


def test_the_longest_number_stands_whole_on_its_sheet(tmp_path: Path) -> None:
    from tinbook.job.releasing.paper_proofs import paper_holds

    made = tb.make(tb.Part("W" * 40, sheet="DC01 1.5", base=tb.Outline.rectangle(60, 120)), SHOP)
    assert paper_holds(tb.write_sheet(made, tmp_path), ["W" * 40]).severity == "fine"


def test_a_paper_of_another_part_is_found(job: tb.Job, tmp_path: Path) -> None:
    """The sheet of a tray 2 mm shorter, with another hole, says other numbers than the model."""
    from tinbook.job.releasing.paper_proofs import paper_holds, sheet_words
    from tinbook.language import ENGLISH

    tray = job.items[0].thing
    assert isinstance(tray, tb.Part)
    made, other = (tb.make(t, SHOP) for t in (tray, tray.stretched(40, -2).hole((30, 60), 7)))
    sheet = tb.write_sheet(made, tmp_path)
    assert paper_holds(sheet, sheet_words(made, ENGLISH)).severity == "fine"
    found = paper_holds(sheet, sheet_words(other, ENGLISH))
    assert found.severity == "stop"
    assert "158.0" in found.what


@pytest.mark.parametrize("what", [None, "Q7", 3, [], {}])
def test_anything_but_a_job_and_a_shop_is_refused(job: tb.Job, tmp_path: Path, what: object) -> None:
    with pytest.raises(tb.errors.BadValue, match="job"):
        tb.release(what, "A", SHOP, tmp_path)  # type: ignore[arg-type]
    with pytest.raises(tb.errors.BadValue, match="shop"):
        tb.release(job, "A", what, tmp_path)  # type: ignore[arg-type]
    with pytest.raises(tb.errors.BadValue):
        tb.release(job, "A", SHOP, tmp_path, sets=0 if what == 3 else what)  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("path", [None, 3, "nowhere.zip", "."])
def test_no_pack_is_said(path: object) -> None:
    with pytest.raises((tb.errors.BadValue, tb.errors.BadFile)):
        tb.verify(path)  # type: ignore[arg-type]
    with pytest.raises((tb.errors.BadValue, tb.errors.BadFile)):
        tb.open_release(path)  # type: ignore[arg-type]


def test_shop_and_stock_come_back_and_strangers_values_do_not() -> None:
    stock = tb.job.Stock(sheets=[tb.job.StockSheet(key="S1", sheet="DC01 1.5", length=2000, width=1000, price="48.50")])
    assert from_json(to_json(stock), tb.job.Stock, "stock") == stock
    assert from_json(to_json(SHOP), tb.Shop, "shop") == SHOP
    for text in ("", "3", "{}", '{"is": "Path"}', '{"is": "Stock", "sheets": 3}', "[" * 99, '{"is": "Shop", "x": 1}'):
        with pytest.raises(tb.errors.BadFile):
            from_json(text, tb.job.Stock, "stock")
