"""A kit in the customer's hands: steps with the right fastener in the right hole, own words that stay, parcels that close."""

from __future__ import annotations

import itertools
import math
import random
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdf
import pytest

import tinbook as tb
from tinbook.job import Item, fitting_text, kit_of
from tinbook.job.kits.bundles import nesting, solid_of
from tinbook.job.kits.cartons import Bundle, packed
from tinbook.job.kits.steps import procedures
from tinbook.making.solid import bodies
from tinbook.part.bought import cushion
from tinbook.part.fasteners import hexagon_bolt, hexagon_nut, plain_washer
from tinbook.shop.packing import Packing
from tinbook.space import Frame, frame_at
from tinbook.write.weldpage.pages import CAUTIONS

SHOP = tb.Shop.demo()
PLACES = ((30.0, 20.0), (130.0, 20.0))


def plate(number: str, dia: float = 9.0) -> tb.Part:
    part = tb.Part(number, sheet="DC01 3.0", base=tb.Outline.rectangle(160, 40), title="Platte für die Lasche")
    for k, at in enumerate(PLACES):
        part = part.hole(at, dia, use="bolt", name=f"bolt {k}")
    return part


def bolted(soft: bool = False) -> tb.Assembly:
    """Two plates of 3 mm on each other, held by two bolts M8 x 20, each with a washer and a nut below."""
    whole = tb.Assembly("PAIR", title="two plates", cautions=("Keep fingers out of the gap.",))
    whole = whole.add("lower", plate("LOW")).add("upper", plate("UP"), frame_at((0.0, 0.0, 3.0 + 12.0 * soft)))
    if soft:
        for k, (x, y) in enumerate(PLACES):
            whole = whole.add(f"rubber {k}", cushion(30, 12, 9), frame_at((x, y, 3.0)))
    for k, (x, y) in enumerate(PLACES):
        low = Frame((x, y, 0.0), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0))
        whole = whole.add(f"washer {k}", plain_washer("M8"), low)
        whole = whole.add(f"nut {k}", hexagon_nut("M8"), low.at(0.0, 0.0, 1.6))
        whole = whole.add(f"bolt {k}", hexagon_bolt("M8", 35 if soft else 20), frame_at((x, y, 6.0 + 12.0 * soft)))
    return whole


def tray(welds: int = 3) -> tb.Part:
    part = tb.Part("TRAY", sheet="DC01 1.5", base=tb.Outline.rectangle(160, 90), title="tray").fold("front", leg=25)
    for k in range(welds):
        part = part.hole((20 + 40 * k, 45), use="plug weld", name=f"weld {k}")
    return part


def job(*things: Any, **more: Any) -> tb.Job:
    items = [Item(thing=t, quantity=n) for t, n in zip(things, itertools.cycle((1, 2)), strict=False)]
    return tb.Job(number="Q9", prefix="Q9", title="Laschen", items=items, **more)


def kit(*things: Any, sets: int = 1, **more: Any) -> tb.job.Kit:
    return kit_of(tb.job.nest_job(job(*things, **more), SHOP, effort=0, sets=sets))


@pytest.fixture(scope="module")
def pair() -> tb.job.Kit:
    return kit(bolted(), tray(), sets=3)


@pytest.fixture(scope="module")
def delivery(pair: tb.job.Kit) -> tb.job.Delivery:
    return tb.job.delivery_of(pair)


# --- steps ---------------------------------------------------------------------------------------


def test_fasteners_name_their_holes_and_their_torque(pair: tb.job.Kit) -> None:
    """M8, class 8.8 (ISO 898-1): 580 MPa x 36.6 mm² x 0.75 = 15 921 N; 0.2 x 15 921 N x 8 mm = 25.5 N m (Shigley)."""
    assembly, single = procedures(pair)
    (joint,) = [s for s in assembly.steps if s.needs]
    assert joint.title == "2 × hexagon bolt M8 x 20"
    assert {(t.name, n) for t, n in joint.needs} == {
        ("hexagon bolt M8 x 20", 2),
        ("plain washer M8", 2),
        ("hexagon nut M8", 2),
    }
    text = " ".join(joint.lines)
    assert "Ø 9 mm in Q9-LOW rev A; Ø 9 mm in Q9-UP rev A" in text
    assert re.search(r"Tighten to (25|26) N m", text)
    assert assembly.cautions[0] == "Keep fingers out of the gap."
    titles = [s.title for s in assembly.steps]
    assert titles.index("upper") < titles.index(joint.title)
    said = {s.title: " ".join(s.lines) for s in single.steps}
    assert said["Plug weld"].startswith("3 plug welds in the holes of 8 mm, 40 to 40 mm apart.")
    order = [
        t for t in said if t in ("Prime what will be covered", "Plug weld", "Dress the welds", "Seal", "Paint", "Wax")
    ]
    assert order == ["Prime what will be covered", "Plug weld", "Dress the welds", "Seal", "Paint", "Wax"]


def test_no_torque_is_given_through_rubber() -> None:
    whole = tb.assemble(bolted(soft=True), SHOP)
    from tinbook.job.kits.steps import _of_assembly
    from tinbook.language import ENGLISH

    joints = [s for s in _of_assembly(whole, 1, ENGLISH).steps if any("bolt" in t.name for t, _ in s.needs)]
    assert joints
    for joint in joints:
        assert "No source gives a torque" in " ".join(joint.lines)


# --- text ----------------------------------------------------------------------------------------


def test_own_words_stay_while_generated_steps_follow_the_model(pair: tb.job.Kit) -> None:
    first = fitting_text(pair)
    assert fitting_text(pair, first) == first
    mine = first.replace("# Fitting Q9-TRAY", "# Our Q9-TRAY")  # within a generated block
    weld = mine.index("<!-- end -->", mine.index("Plug weld")) + len("<!-- end -->")
    mine = f"Read all of it first.\n\n{mine[:weld]}\nGas at 8 l/min.\n{mine[weld:]}".replace("\n", "\r\n")
    again = fitting_text(kit(bolted(), tray(4), sets=3), mine)
    assert again.startswith("Read all of it first.\n")
    assert "4 plug welds" in again
    assert "3 plug welds" not in again
    assert (
        again.index("4 plug welds")
        < again.index("Gas at 8 l/min.")
        < again.index("Dress the welds", again.index("4 plug"))
    )
    assert "# Our Q9-TRAY rev A: tray" in again
    assert "# Fitting Q9-TRAY rev A: tray" in again
    gone = fitting_text(kit(bolted()), again)
    assert "Gas at 8 l/min." in gone
    assert "plug welds" not in gone
    assert fitting_text(kit(bolted()), gone) == gone


def test_a_text_on_disk_is_brought_up_to_date_and_a_strangers_stays(pair: tb.job.Kit, tmp_path: Path) -> None:
    file = tb.job.write_fitting_text(pair, tmp_path)
    file.write_text(f"{file.read_text('utf-8')}\nÜbrigens: mit 日本 grüßen.\n", "utf-8-sig")
    tb.job.write_fitting_text(pair, file)
    assert "Übrigens: mit 日本 grüßen." in file.read_text("utf-8")
    for bad in (b"my own notes\n", b"\xff\xfe broken", b"<!-- step a #12345678 -->\nno end\n"):
        file.write_bytes(bad)
        with pytest.raises(tb.errors.TinbookError):
            tb.job.write_fitting_text(pair, file)
        assert file.read_bytes() == bad


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("<!-- step a #12345678 -->\nx", "no '<!-- end -->'"), ("<!-- end -->", "line 1"), ("<!-- step a -->\n", "line 1"),
        ("<!-- step a #12345678 -->\n<!-- step b #12345678 -->\n<!-- end -->", "line 2"),
        (2 * "<!-- step a #12345678 -->\n<!-- end -->\n", "line 3"), ("ok\n<!-- end-->", "line 2"),
        (None, "text"), (3, "text"), (["a"], "text"), (float("nan"), "text"), ("x" * 1_000_001, "1000001"),
    ],
)  # fmt: skip
def test_broken_marks_are_named_by_their_line(pair: tb.job.Kit, text: Any, line: str) -> None:
    with pytest.raises(tb.errors.TinbookError, match=re.escape(line)):
        fitting_text(pair, text)


# --- parcels -------------------------------------------------------------------------------------


def test_an_angle_lies_in_the_next_one_by_little_more_than_its_thickness() -> None:
    """Equal angles of 1.5 mm lie in each other when moved 1.5 mm along both legs; the kernel finds no common metal."""
    angle = tb.make(tb.Part("L", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 40)).fold("front", leg=40), SHOP)
    one = solid_of(angle)
    how = nesting(one, 5)
    assert 1.5 <= min(abs(v) for v in how.step if v) <= max(map(abs, how.step)) < 6.0
    assert how.box(5) == pytest.approx([s + 4 * abs(d) for s, d in zip(one.box, how.step, strict=True)])


@pytest.mark.parametrize("part", [tray(), tb.families.gusset()], ids=lambda p: p.number)
def test_no_two_parts_of_a_bundle_share_metal(part: tb.Part) -> None:
    """The CAD kernel's common volume of two parts one step apart, in the coordinates of the part itself."""
    made = tb.make(part, SHOP)
    turned, own = solid_of(made), made.preview.positions.reshape(-1, 3)
    # The turn about the base's normal, from where two points went.
    far = max(range(len(own)), key=lambda k: math.dist(own[k], own[0]))
    a, b = own[far] - own[0], turned.points[far] - turned.points[0]
    turn = math.atan2(b[1], b[0]) - math.atan2(a[1], a[0])
    x, y, z = nesting(turned, 3).step
    step = (x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn), z)
    other = bodies.placed(made.shape, frame_at(step).values)
    assert math.hypot(*step) > 0
    assert bodies.common_volume(made.shape, other) == pytest.approx(0.0, abs=1e-6)


def test_parcels_close_and_nothing_is_left_behind() -> None:
    """Boxes drawn at random: every one packed once, none in another or in the wall, every limit of the carrier kept."""
    limits = Packing(length=600, girth=1500, mass=20, guard=0, board=5, board_mass=1)
    for seed in range(6):
        rng = random.Random(seed)
        bundles = [
            Bundle(name=f"b{k}", count=1, box=(rng.uniform(20, 300), rng.uniform(20, 200), rng.uniform(5, 120)), mass=rng.uniform(0.1, 6))
            for k in range(18)
        ]  # fmt: skip
        parcels = packed(bundles, limits)
        assert sorted(p.bundle.name for q in parcels for p in q.contents) == sorted(b.name for b in bundles)
        for q in parcels:
            a, b, c = q.size
            assert a >= b >= c
            assert not q.over
            assert (a <= 600, a + 2 * (b + c) <= 1500, q.mass <= 20) == (True, True, True)
            wall = 2 * (a * b + b * c + a * c) * 1e-6
            assert q.mass == pytest.approx(sum(p.bundle.mass for p in q.contents) + wall)
            inner = [max(p.at[k] + p.box[k] for p in q.contents) for k in range(3)]
            assert sorted(v + 10 for v in inner) == pytest.approx(sorted(q.size))
            for p, r in itertools.combinations(q.contents, 2):
                apart = (max(p.at[k], r.at[k]) - min(p.at[k] + p.box[k], r.at[k] + r.box[k]) for k in range(3))
                assert max(apart) >= -1e-6
            for p in q.contents:
                assert sorted(p.box) == sorted(p.bundle.box)


def test_eight_cubes_make_one_cube() -> None:
    """Eight cubes of 100 mm and 1 kg: a carton of 200 mm inside, 214 outside; its wall of 6 x 0.214² m² at 0.9 kg/m²."""
    (one,) = packed([Bundle(name="c", count=1, box=(100, 100, 100), mass=1)] * 8, Packing())
    assert one.size == pytest.approx((214, 214, 214))
    assert one.mass == pytest.approx(8 + 6 * 0.214**2 * 0.9)
    assert one.counts == {"c": 8}


def test_what_no_carrier_takes_says_so() -> None:
    long, heavy = packed(
        [
            Bundle(name="rail", count=1, box=(1500, 50, 50), mass=4),
            Bundle(name="block", count=1, box=(90, 90, 90), mass=45),
        ],
        Packing(),
    )
    assert "length 1514 mm against 1200" in long.over
    assert "mass" in heavy.over


def test_the_packing_list_holds_everything_once(delivery: tb.job.Delivery) -> None:
    """Three sets of one pair and two trays: 3 + 3 plates, 6 trays, three bags of two bolts, washers and nuts."""
    rows = tb.job.packing_list(delivery).rows
    counts: dict[str, int] = {}
    for r in rows:
        counts[str(r[2])] = counts.get(str(r[2]), 0) + int(r[6])
    assert counts == {
        "Q9-LOW": 3, "Q9-UP": 3, "Q9-TRAY": 6, "bag 1": 3, "hexagon bolt M8 x 20": 6, "plain washer M8": 6, "hexagon nut M8": 6,
    }  # fmt: skip
    assert {r[4] for r in rows if r[2] == "Q9-TRAY"} == {"A"}
    labels = {it.number: it for it in tb.job.kit_labels(delivery)}
    assert {n: it.count for n, it in labels.items()} == {"Q9-LOW": 3, "Q9-UP": 3, "Q9-TRAY": 6, "bag 1": 3}
    assert labels["Q9-TRAY"].mark == "rev A"
    other = kit_of(
        tb.job.nest_job(replace(job(tray()), items=(Item(thing=tray(), hand="other hand"),)), SHOP, effort=0)
    )
    (mark,) = tb.job.kit_labels(tb.job.delivery_of(other))
    assert (mark.number, mark.mark) == ("Q9-TRAY-OH", "rev A, other hand")
    assert delivery.mass == pytest.approx(sum(p.mass for p in delivery.parcels))


# --- paper ---------------------------------------------------------------------------------------


def read(file: Path) -> str:
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pypdf.PdfReader(file).pages))


def test_the_paper_has_every_step_with_its_picture_and_the_users_words(pair: tb.job.Kit, tmp_path: Path) -> None:
    text = fitting_text(pair).replace("<!-- end -->", "<!-- end -->\nÜbrigens: <b>fest</b> & gerade.\n", 1)
    file = tb.job.write_fitting(pair, tmp_path, text=text, rev="C")
    said = read(file)
    for it in procedures(pair):
        for n, step in enumerate(it.steps, 1):
            assert f"{n}. {step.title}" in said
            assert all(re.sub(r"\s+", " ", line) in said for line in step.lines)
    assert "Übrigens: <b>fest</b> & gerade." in said
    assert "rev C" in said
    pictures = sum(bool(s.brought) for it in procedures(pair) for s in it.steps)
    assert sum(len(page.images) for page in pypdf.PdfReader(file).pages) == pictures
    again = tb.job.write_fitting(pair, tmp_path / "again.pdf", text=text, rev="C")
    assert again.read_bytes() == file.read_bytes()


def test_the_note_names_parcels_address_and_contents(delivery: tb.job.Delivery, tmp_path: Path) -> None:
    german = replace(
        delivery, kit=replace(delivery.kit, nest=replace(delivery.kit.nest, job=job(bolted(), tray(), language="de")))
    )
    said = read(
        tb.job.write_delivery_note(german, tmp_path, to=("Frau Ö. Müller", "Mühlweg 3"), rev="C", date="2027-03-31")
    )
    for wanted in (
        "Lieferschein Q9",
        "Frau Ö. Müller",
        "Mühlweg 3",
        "31.03.2027",
        "Beutel 1",
        "Q9-TRAY",
        "hexagon bolt M8 x 20",
    ):
        assert wanted in said
    for parcel in delivery.parcels:
        assert " × ".join(f"{v:.0f}" for v in parcel.size) in said
        assert f"{parcel.mass:.1f}".replace(".", ",") in said


@pytest.mark.parametrize(
    "wrong",
    [
        lambda k, d, f: kit_of(None), lambda k, d, f: kit_of("Q9"), lambda k, d, f: tb.job.delivery_of(None), lambda k, d, f: fitting_text({}),
        lambda k, d, f: tb.job.packing_list(k), lambda k, d, f: tb.job.kit_labels(None), lambda k, d, f: tb.job.write_fitting(k, f / "x.txt"),
        lambda k, d, f: tb.job.write_fitting(k, f, rev=None), lambda k, d, f: tb.job.write_fitting(d, f),
        lambda k, d, f: tb.job.write_fitting(k, f / "none" / "x.pdf"), lambda k, d, f: tb.job.write_fitting(k, f, text="<!-- end -->"),
        lambda k, d, f: tb.job.write_delivery_note(d, f, to="A. Miller"), lambda k, d, f: tb.job.write_delivery_note(d, f, to=["a\nb"]),
        lambda k, d, f: tb.job.write_delivery_note(d, f, to=["a"] * 9), lambda k, d, f: tb.job.write_delivery_note(k, f),
        lambda k, d, f: tb.job.write_delivery_note(d, f, date=3), lambda k, d, f: tb.job.write_fitting_text(None, f),
        lambda k, d, f: Packing(length=0), lambda k, d, f: Packing(mass=float("nan")), lambda k, d, f: Packing(guard=-1),
    ],
)  # fmt: skip
def test_wrong_input_is_refused_and_writes_nothing(
    pair: tb.job.Kit, delivery: tb.job.Delivery, tmp_path: Path, wrong: Any
) -> None:
    with pytest.raises(tb.errors.TinbookError):
        wrong(pair, delivery, tmp_path)
    assert not list(tmp_path.iterdir())


def test_length_and_girth_by_hand() -> None:
    """Contents of 600 x 400 x 300, wall 7: 614 x 414 x 314 outside, length and girth 614 + 2 (414 + 314) = 2070 (common practice)."""
    box = [Bundle(name="box", count=1, box=(400, 600, 300), mass=12)]
    (one,) = packed(box, Packing(girth=2070))
    assert (one.size, one.girth, one.over) == ((614, 414, 314), 2070, "")
    (over,) = packed(box, Packing(girth=2069))
    assert over.over == "length and girth 2070 mm against 2069"
    wall = 2 * (0.614 * 0.414 + 0.414 * 0.314 + 0.614 * 0.314) * 0.9
    assert one.mass == pytest.approx(12 + wall)


def test_what_is_welded_brings_the_cautions_of_welding(pair: tb.job.Kit) -> None:
    """Battery, tank, fire watch, stands, fume, eyes: with the tray, which is plug-welded, not with the bolted pair."""
    assembly, single = procedures(pair)
    assert [c in single.cautions for c in CAUTIONS] == [True] * 6
    assert not any(c in assembly.cautions for c in CAUTIONS)


def test_spaces_at_the_end_of_a_line_are_no_change_by_hand(pair: tb.job.Kit) -> None:
    text = fitting_text(pair)
    assert fitting_text(pair, "\ufeff" + text.replace("\n", "  \r\n")) == text
