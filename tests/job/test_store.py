"""The store: what is booked is there, what is not is not, whoever pulls the plug and whatever lies there instead."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.errors import BadFile, BadValue, CannotWrite, UnknownName
from tinbook.job.stock import schema

Store, Booking, Take, Offcut, StockSheet = (
    tb.job.Store,
    tb.job.Booking,
    tb.job.Take,
    tb.job.Offcut,
    tb.job.StockSheet,
)
ROOT = Path(__file__).parents[2]


def offcut(length: float = 700, width: float = 300, **more: Any) -> Any:
    return Offcut(sheet="DC01 1.5", outline=tb.Outline.rectangle(length, width).loop, **more)


def sheets(quantity: int = 3, **more: Any) -> Any:
    return StockSheet(sheet="DC01 1.5", length=2000, width=1000, quantity=quantity, price="41.20", **more)


def booking(number: str = "Q1", *keys: str) -> Any:
    takes = tuple(Take(key=k, parts=(("PL", 2),), leaves=(offcut(300, 200),)) for k in keys or ("S1",))
    return Booking(number=number, takes=takes)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Return a store with three sheets and two offcuts."""
    path = tmp_path / "stock.db"
    with Store(path) as store:
        store.receive(sheets(heat="H1", certificate="3.1 no. 5"))
        store.add_offcut(offcut())
        store.add_offcut(offcut(500, 400))
    return path


def held(path: Path) -> tuple[int, list[str], list[str]]:
    """Return sheets, offcuts and jobs by plain SQL, after SQLite's own checks."""
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        count = db.execute("SELECT sum(quantity) FROM sheets").fetchone()[0]
        free = [f"O{r[0]}" for r in db.execute("SELECT id FROM offcuts WHERE state = 'free' ORDER BY id")]
        return count, free, [r[0] for r in db.execute("SELECT number FROM jobs WHERE state = 'booked' ORDER BY id")]


# --- what is remembered ------------------------------------------------------------------------


def test_the_stock_comes_back_as_it_was_entered(file: Path) -> None:
    odd = Offcut(
        sheet="S355 5.0",
        outline=tb.Outline.polygon([(0, 0), (400, 0), (400, 200), (150, 300), (0, 300)]).loop,
        grain=90,
        place="A3",
    )
    with Store(file) as store:
        key = store.add_offcut(odd).key
    with Store(file) as store:
        stock = store.snapshot()
    back = stock.of(key)
    assert key == "O3"
    assert back.outline.points == odd.outline.points
    assert (back.grain, back.place, back.sheet) == (90, "A3", "S355 5.0")
    assert (stock.of("S1").price, stock.of("S1").heat) == (sheets().price, "H1")
    assert str(stock.of("S1").price) == "41.20"


def test_a_job_takes_and_leaves(file: Path) -> None:
    with Store(file) as store:
        back = store.book(booking("Q1", "S1", "O2"), day="2027-03-01")
        assert [o.key for o in back] == ["O3", "O4"]
        assert store.job("Q1").day == "2027-03-01"
        assert [(t.plate, t.count) for t in store.trace("PL")] == [("S1", 2), ("O2", 2)]
    assert held(file) == (2, ["O1", "O3", "O4"], ["Q1"])


def test_a_whole_job_from_its_nest_to_the_rack_with_its_heat(file: Path) -> None:
    """Two plates of 180 x 90 on the offcut of 500 x 400 (the cheaper one): one rectangle is left, its heat is unknown."""
    shop = tb.shop.cut_on(tb.Shop.demo(), "laser")
    part = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(1500, 900))
    job = tb.Job(number="Q9", items=[tb.job.Item(thing=part, traced=True)])
    with Store(file) as store:
        nest = tb.job.nest_job(job, shop, store.snapshot(["DC01 1.5"]), effort=0)
        back = store.book(tb.job.booking_of(nest, place="B2"))
        traced = store.trace("PL")
    assert nest.used() == {"S1": 1}
    assert [(t.plate, t.heat, t.certificate) for t in traced] == [("S1", "H1", "3.1 no. 5")]
    assert [(o.heat, o.certificate, o.place, o.origin) for o in back] == [("H1", "3.1 no. 5", "B2", "Q9, sheet 1")]
    assert held(file) == (2, ["O1", "O2", "O3"], ["Q9"])


def test_traced_parts_on_new_sheet_need_its_heat() -> None:
    shop = tb.shop.cut_on(tb.Shop.demo(), "laser")
    part = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(300, 200))
    nest = tb.job.nest_job(tb.Job(number="Q9", items=[tb.job.Item(thing=part, traced=True)]), shop, effort=0)
    with pytest.raises(BadValue, match="heat number and certificate"):
        tb.job.booking_of(nest)
    (name,) = nest.used()
    assert tb.job.booking_of(nest, metal={name: ("H5", "3.1")}).takes[0].heat == "H5"
    with pytest.raises(UnknownName, match="S77"):
        tb.job.booking_of(nest, metal={"S77": ("H5", "3.1")})


def test_a_cancelled_job_gives_back_what_it_took(file: Path) -> None:
    before = held(file)
    with Store(file) as store:
        store.book(booking("Q1", "S1", "O1"))
        store.cancel("Q1")
        assert held(file) == before
        store.book(booking("Q1", "S1"))  # the number is free again
        store.book(booking("Q2", store.snapshot().offcuts[-1].key))
        with pytest.raises(tb.job.StockChanged, match="cut up"):
            store.cancel("Q1")


def test_new_sheets_of_a_cancelled_job_come_into_the_stock(file: Path) -> None:
    new = Take(key="new S355 5.0 2500 x 1250", parts=(("PL", 2),), heat="H 9", certificate="3.1 no. 9")
    with Store(file) as store:
        store.book(Booking(number="Q1", takes=(new, new, Take(key="new by hand"))))
        store.cancel("Q1")
        back = [s for s in store.snapshot().sheets if s.sheet == "S355 5.0"]
        assert [(s.length, s.width, s.quantity, s.heat, s.certificate) for s in back] == [
            (2500, 1250, 1, "H 9", "3.1 no. 9")
        ] * 2
        assert not store.check()


def test_two_jobs_of_one_number_are_refused_and_nothing_is_half_booked(file: Path) -> None:
    with Store(file) as store:
        store.book(booking("Q1", "O1"))
        before = held(file)
        with pytest.raises(BadValue, match="Q1"):
            store.book(booking("Q1", "S1", "O2"))
    assert held(file) == before


@pytest.mark.parametrize("keys", [("S1", "O9"), ("O1", "O1"), ("S1", "S1", "S1", "S1"), ("S1", "S7")])
def test_what_is_not_there_is_not_booked(file: Path, keys: tuple[str, ...]) -> None:
    before = held(file)
    with Store(file) as store, pytest.raises(tb.job.StockChanged):
        store.book(booking("Q1", *keys))
    assert held(file) == before


def test_a_plate_that_was_changed_since_the_snapshot_is_refused(file: Path) -> None:
    with Store(file) as store:
        seen = (replace(store.snapshot().of("O1"), heat="H99"),)
        with pytest.raises(tb.job.StockChanged, match="O1"):
            store.book(replace(booking("Q1", "O1"), seen=seen))
        store.move("O1", "C9")
        store.book(replace(booking("Q1", "O1"), seen=(replace(seen[0], heat=""),)))  # where it lies does not matter


def test_offcuts_are_found_by_size_the_smallest_first(file: Path) -> None:
    with Store(file) as store:
        assert [o.key for o in store.offcuts("DC01 1.5")] == ["O2", "O1"]  # 0.20 and 0.21 m2
        assert [o.key for o in store.offcuts("DC01 1.5", 350, 600)] == []
        assert [o.key for o in store.offcuts("DC01 1.5", 250, 600)] == ["O1"]
        store.scrap("O1")
        assert [o.key for o in store.offcuts("DC01 1.5")] == ["O2"]


def test_rates_minutes_and_releases(file: Path) -> None:
    with Store(file) as store:
        store.correct_rate("fold", "2.10")
        store.correct_rate("pierce.laser", 0.06)
        assert [(n, str(a)) for n, a in store.snapshot().rates] == [("fold", "2.10"), ("pierce.laser", "0.06")]
        store.correct_rate("fold", None)
        assert len(store.snapshot().rates) == 1
        store.note_minutes("Q1", "fold", 12, "9.5")
        store.note_minutes("Q1", "fold", 12, "10")
        assert [(j, str(q), str(m)) for j, q, m in store.minutes("fold")] == [("Q1", "12", "10")]
        store.release("HN-FP-L", "B", {"a.dxf": "0" * 64}, day="2027-01-01")
        assert store.released("HN-FP-L", "B") == {"a.dxf": "0" * 64}
        with pytest.raises(BadValue, match="not released yet"):
            store.release("HN-FP-L", "B", {"a.dxf": "1" * 64})
        assert store.released("HN-FP-L", "B") == {"a.dxf": "0" * 64}


# --- as text -----------------------------------------------------------------------------------


def test_a_dump_gives_the_store_back(file: Path, tmp_path: Path) -> None:
    with Store(file) as store:
        store.book(booking("Q1", "S1", "O2"), day="2027-03-01")
        store.release("N", "A", {"a.dxf": "0" * 64}, day="2027-01-01")
        dump = tb.job.dump_store(store, tmp_path)
    other = tb.job.restore_store(dump, tmp_path / "other.db")
    with Store(other) as store:
        assert tb.job.dump_store(store, tmp_path / "again.jsonl").read_bytes() == dump.read_bytes()
        assert [o.key for o in store.book(booking("Q2", "O1"))] == ["O5"]  # numbers go on, none is given twice
    assert held(other)[0] == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "line 1"),
        ("hello", "line 1"),
        ('{"tinbook store": 99}', "version 99"),
        ('{"tinbook store": true}', "version True"),
        ('{"tinbook store": 2}\nx', "line 2"),
        ('{"tinbook store": 2}\n{"table": "people"}', "line 2"),
        ('{"tinbook store": 2}\n{"table": "rates", "name": "fold"}', "amount"),
        ('{"tinbook store": 2}\n{"table": "cut_parts", "take": 5, "number": "P", "count": 1}', "line 2"),
    ],
)
def test_a_bad_dump_makes_no_store(tmp_path: Path, text: str, said: str) -> None:
    dump = tmp_path / "d.jsonl"
    dump.write_text(text)
    with pytest.raises(BadFile, match=said):
        tb.job.restore_store(dump, tmp_path / "new.db")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["d.jsonl"]


def test_nothing_is_written_over_by_a_dump_or_a_restore(file: Path, tmp_path: Path) -> None:
    (tmp_path / "x.jsonl").write_text("somebody's")
    with Store(file) as store, pytest.raises(CannotWrite):
        tb.job.dump_store(store, tmp_path / "x.jsonl")
    with pytest.raises(CannotWrite):
        tb.job.restore_store(tmp_path / "x.jsonl", file)


# --- files that are no stores --------------------------------------------------------------------


@pytest.mark.parametrize("data", [b"a text file\n", b"\x00" * 100, b"SQLite format 3\x00 and then nonsense" * 40])
def test_what_is_no_store_is_refused_and_not_touched(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "x.db"
    path.write_bytes(data)
    with pytest.raises((BadFile, CannotWrite), match=r"no store|damaged"):
        Store(path)
    assert path.read_bytes() == data


def test_another_programs_database_and_a_newer_store_are_refused_and_not_touched(tmp_path: Path) -> None:
    for name, sql in (("other", "CREATE TABLE t (a)"), ("newer", f"PRAGMA application_id = {schema.APPLICATION}")):
        path = tmp_path / f"{name}.db"
        with closing(sqlite3.connect(path)) as db:
            db.execute(sql)
            db.execute("PRAGMA user_version = 99")
            db.execute("CREATE TABLE u (a)")
            db.commit()
        before = path.read_bytes()
        with pytest.raises(BadFile, match="other program" if name == "other" else "version 99"):
            Store(path)
        assert path.read_bytes() == before


@pytest.mark.parametrize("path", [None, 3, "", "/no/such/folder/x.db", "."])
def test_a_path_that_cannot_be_a_store_is_named(path: Any) -> None:
    with pytest.raises(BadValue, match="store"):
        Store(path)


def test_a_store_on_a_network_share_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(f"/dev/sda1 / ext4 rw 0 0\nserver:/disk {tmp_path} nfs4 rw 0 0\n")
    assert schema.network_share(tmp_path / "s.db", str(mounts)) == "nfs4"
    assert schema.network_share(Path("/etc/s.db"), str(mounts)) == ""
    monkeypatch.setattr(schema, "network_share", lambda _: "cifs")
    with pytest.raises(CannotWrite, match="network share"):
        Store(tmp_path / "s.db")
    assert not (tmp_path / "s.db").exists()


def test_a_store_of_the_first_version_is_kept_beside_and_brought_up_to_date(tmp_path: Path) -> None:
    path = tmp_path / "old.db"
    with closing(schema.store_of_version(path, 1)) as db:
        db.execute("INSERT INTO sheets VALUES (1, 'DC01 1.5', 2000, 1000, 3, 'length', NULL, '', '', '', '')")
    with Store(path) as store:
        assert store.snapshot().of("S1").quantity == 3
        store.correct_rate("fold", 2)
    with closing(sqlite3.connect(tmp_path / "old.db.version1")) as kept:
        assert kept.execute("PRAGMA user_version").fetchone() == (1,)
        assert kept.execute("SELECT quantity FROM sheets").fetchall() == [(3,)]


def test_a_migration_that_fails_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "old.db"
    schema.store_of_version(path, 1).close()
    monkeypatch.setattr(schema, "MIGRATIONS", (schema.MIGRATIONS[0], "CREATE TABLE more (a); NONSENSE"))
    with pytest.raises(CannotWrite):
        Store(path)
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (1,)
        assert not db.execute("SELECT 1 FROM sqlite_master WHERE name = 'more'").fetchall()


def test_a_locked_store_says_so_and_changes_nothing(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(schema, "WAIT", 0.05)
    with Store(file) as store, closing(sqlite3.connect(file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        before = held(file)
        with pytest.raises(CannotWrite, match="another program"):
            store.book(booking("Q1", "O1"))
        assert len(store.snapshot().offcuts) == 2  # reading goes on
        other.execute("ROLLBACK")
        assert held(file) == before
        store.book(booking("Q1", "O1"))


def test_a_full_disk_changes_nothing(file: Path) -> None:
    before = held(file)
    with Store(file) as store:
        pages = store._db.execute("PRAGMA page_count").fetchone()[0]
        store._db.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(CannotWrite, match="disk is full"):
            store.book(replace(booking("Q1", "O1"), text="x" * 200_000))
    assert held(file) == before


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda s: s.receive(None), "receive"),
        (lambda s: s.receive(sheets(0)), "quantity"),
        (lambda s: s.add_offcut(sheets()), "offcut"),
        (lambda s: s.scrap("O99"), "O99"),
        (lambda s: s.scrap("O1; DROP TABLE jobs"), "DROP"),
        (lambda s: s.scrap(None), "stock key"),
        (lambda s: s.move("O1", 3), "place"),
        (lambda s: s.move("X1", "A"), "X1"),
        (lambda s: s.book(None), "booking"),
        (lambda s: s.book(booking("Q1"), day="soon"), "day"),
        (lambda s: s.book(booking("Q1", "nothing")), "stock key"),
        (lambda s: s.cancel("Q77"), "Q77"),
        (lambda s: s.job("Q77"), "Q77"),
        (lambda s: s.correct_rate("folds", 3), "folds"),
        (lambda s: s.correct_rate("fold", -1), "fold"),
        (lambda s: s.correct_rate("fold", float("nan")), "fold"),
        (lambda s: s.note_minutes("Q1", "fold", 0, 5), "quantity"),
        (lambda s: s.note_minutes("Q1", "fold", 5, "long"), "minutes"),
        (lambda s: s.release("N", "A", {}), "files"),
        (lambda s: s.release("N", "A", {"a": "short"}), "hash"),
    ],
)
def test_bad_values_change_nothing(file: Path, wrong: Any, said: str) -> None:
    before = held(file)
    with Store(file) as store, pytest.raises(BadValue, match=said):
        wrong(store)
    assert held(file) == before


def test_many_threads_with_stores_of_their_own(tmp_path: Path) -> None:
    path = tmp_path / "s.db"
    with Store(path) as store:
        for n in range(8):
            store.add_offcut(offcut(300 + n, 200))

    def take(n: int) -> None:
        with Store(path) as store:
            store.book(booking(f"T{n}", f"O{n + 1}"))

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(take, range(8)))
    assert len(held(path)[2]) == 8


def test_the_register_says_who_was_sent_which_release(tmp_path: Path) -> None:
    with tb.job.Store(tmp_path / "stock.db") as store:
        store.release("Q7", "A", {"Q7_A.zip": "a" * 64}, day="2027-03-01")
        store.send("Q7", "A", "Frau Ö. Müller", how="post, parcel 4711", day="2027-03-02")
        store.send("Q7", "A", "A. Miller", day="2027-03-03")
        first, second = store.sent("Q7")
        assert (first.to, first.how, first.day, first.sha256) == (
            "Frau Ö. Müller",
            "post, parcel 4711",
            "2027-03-02",
            "a" * 64,
        )
        assert second.to == "A. Miller"
        assert store.sent("Q8") == ()
        for words in (("Q7", "B", "x"), ("Q9", "A", "x"), ("Q7", "A", ""), ("Q7", "A", None), ("Q7", "A", "x" * 201)):
            with pytest.raises(tb.errors.BadValue):
                store.send(*words)  # type: ignore[arg-type]
        with pytest.raises(tb.errors.BadValue):
            store.send("Q7", "A", "x", day="yesterday")
        assert len(store.sent()) == 2
        assert not store.check()
        dump = tb.job.dump_store(store, tmp_path)
    tb.job.restore_store(dump, tmp_path / "again.db")
    with tb.job.Store(tmp_path / "again.db") as again:
        assert [s.to for s in again.sent()] == ["Frau Ö. Müller", "A. Miller"]
