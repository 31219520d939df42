"""Each rule of `check` just beyond its limit and just within it; what findings must carry; nothing is ever raised."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from functools import partial
from html import unescape
from pathlib import Path
from types import SimpleNamespace

import pytest
from check_parts import CASES, REFUSED, SHOP, Case, part
from hypothesis import given, settings

from strategies import parts
from tinbook.finding import ORDER, Finding, Findings
from tinbook.making.resolve import make
from tinbook.part.forms.joggle import Joggle
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.rules import registry as rules
from tinbook.rules.check import check as check_all
from tinbook.rules.registry import RULES
from tinbook.rules.rule import Rule
from tinbook.shop.shop import Shop
from tinbook.sources import sources

check = partial(check_all, kind="live")
KIT = Path(rules.__file__).parents[1]
ROOMS = ("rules", "part", "making", "read", "fit", "strength", "route", "families")


@pytest.mark.parametrize("case", CASES, ids=[f"{i} {c.code} {c.severity}" for i, c in enumerate(CASES)])
def test_limit(case: Case):
    beyond, within = check(case.over()), check(case.kept())
    hits = [f for f in beyond.of(case.code) if f.code == case.code and f.severity == case.severity]
    assert hits, f"{case.because}: not noticed; found\n{beyond}"
    for f in hits:
        assert f.source == case.source
        assert f.unit == case.unit or f.value is None
        if case.limit is not None:
            assert f.limit == pytest.approx(case.limit, rel=1e-4), case.because
    kept = [f for f in within if f.code == case.code]
    if case.kept_as is None:
        assert not kept, case.because
    else:
        assert {f.severity for f in kept} == {case.kept_as}, f"{case.because}\n{within}"


def test_every_code_of_the_room_has_a_case():
    """A new rule without a case here fails."""
    rooms = ("folds", "beads", "forms", "holes", "blank", "papers", "registry")
    mine = [*(KIT / "rules" / f"{name}.py" for name in rooms), *sorted((KIT / "part" / "forms").glob("*.py"))]
    mine.append(KIT / "making" / "demands.py")
    written = {code for path in mine for code in _codes(path)}
    written |= {f"bead.{what}" for what in ("fold", "edge", "hole", "pitch")}  # one rule for every form
    elsewhere = {"check.shop", "check.failed", "blank.out_of_flat"}  # tested below
    assert written - elsewhere - REFUSED == {c.code for c in CASES}


SAID = ("code", "where", "what", "remedy", "value", "limit", "unit", "source")
WRITTEN = {
    "stop": SAID,
    "caution": SAID,
    "Refused": SAID,
    "finding": ("severity", *SAID),
    "fine": tuple(field for field in SAID if field != "remedy"),
    "Finding": (),
}
READ = dict.fromkeys(("finding", "_finding"), ("code", "severity", "where", "what", "remedy"))


def _written(path: Path) -> Iterator[tuple[str, dict[str, ast.expr]]]:
    """Yield each construction of a finding in a module, by its function's name, with its fields; the readers have their own."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    ground = {
        a.name
        for n in ast.walk(tree)
        if isinstance(n, ast.ImportFrom) and n.module == "tinbook.finding"
        for a in n.names
    }
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        either = (node.func.body, node.func.orelse) if isinstance(node.func, ast.IfExp) else (node.func,)
        for name in (getattr(f, "id", getattr(f, "attr", "")) for f in either):
            fields = WRITTEN.get(name) if name in ground else READ.get(name)
            if fields is not None and (node.args or node.keywords):
                yield (
                    name,
                    dict(zip(fields, node.args, strict=False)) | {k.arg: k.value for k in node.keywords if k.arg},
                )


def _codes(path: Path) -> set[str]:
    found = {
        n.value for _, f in _written(path) if "code" in f for n in ast.walk(f["code"]) if isinstance(n, ast.Constant)
    }
    return {c for c in found if isinstance(c, str) and re.fullmatch(r"[a-z]+\.[a-z_]+", c)}


def test_a_code_has_one_meaning():
    """A code is raised in one module only, apart from the unfolder, whose codes are sorted by kind."""
    at = defaultdict(set)
    for room in ROOMS:
        for path in (KIT / room).rglob("*.py"):
            for code in _codes(path):
                at[code].add(f"{room}/{path.name}")
    at["fold.relief"].discard("making/bend_ends.py")  # no room at an end, beside the boundary between the ends
    assert {c: sorted(where) for c, where in at.items() if len(where) > 1 and not c.startswith("unfold.")} == {}


def _complete(f: Finding) -> None:
    assert f.severity in ORDER
    assert f.source in sources(), f"{f.code}: {f.source}"
    assert f.where
    assert f.what
    assert f.severity == "fine" or f.remedy, f"{f.code} has no remedy"


@pytest.mark.parametrize("case", CASES, ids=[f"{i} {c.code}" for i, c in enumerate(CASES)])
def test_findings_are_complete(case: Case):
    for f in (*check(case.over()), *check(case.kept())):
        _complete(f)


@given(parts())
@settings(max_examples=120)
def test_check_answers_for_any_part(part):
    """No part makes `check` raise, and no rule breaks down inside it; what it says is complete."""
    found = check(make(part, SHOP), SHOP)
    for f in found:
        _complete(f)
        assert f.code != "check.failed", str(f)
    assert [ORDER[f.severity] for f in found] == sorted(ORDER[f.severity] for f in found)


def test_findings_written_in_the_code_name_a_source_and_a_remedy():
    """Also those that no test part meets: every literal source exists, every stop or caution has a remedy."""
    count = 0
    for path in (path for room in ROOMS for path in (KIT / room).rglob("*.py")):
        for name, fields in _written(path):
            count += 1
            place = f"{path.name}: {ast.unparse(fields['what']) if 'what' in fields else name}"
            if isinstance(fields.get("source"), ast.Constant):
                assert fields["source"].value in sources(), place
            severity = getattr(fields.get("severity"), "value", name.lower())
            if severity in ("stop", "caution", "refused"):
                assert "remedy" in fields, place
                assert getattr(fields["remedy"], "value", "x") != "", place
    assert count > 120


def test_another_shop_is_noticed():
    made = make(part(), SHOP)
    other = SHOP.with_k("DC01 1.5", 0.4)
    assert [f.code for f in check(made, other).stops] == ["check.shop"]
    assert check(made, Shop.demo()).ok


@pytest.mark.parametrize("wrong", [KeyError("x"), IndexError("x"), RuntimeError("x"), ZeroDivisionError("x")])
def test_a_rule_that_breaks_is_a_finding(monkeypatch, wrong):
    def broken(made):
        raise wrong
        yield

    monkeypatch.setattr(rules, "RULES", (Rule(broken), *RULES))
    found = check(make(part(), SHOP), SHOP)
    (f,) = found.of("check.failed")
    assert f.severity == "stop"
    assert not found.ok
    assert "broken" in f.where
    assert found.of("blank.sheet"), "the other rules still speak"
    _complete(f)


def test_a_part_that_cannot_be_made_answers_with_its_stop():
    made = make(part().fold("front", leg=1), SHOP)
    found = check(made, SHOP)
    assert made.flat is None
    assert not found.ok
    assert found.stops == found[: len(found.stops)]


@pytest.mark.parametrize(("off", "severity"), [(1.49, "fine"), (1.51, "caution")])
def test_opening_out_of_flat(off, severity):
    """Own proposal: a pan is pulled down by about one thickness, here 1.5 mm."""
    opening = SimpleNamespace(fit=SimpleNamespace(out_of_flat=off))
    (f,) = check(make(part(), SHOP), SHOP, opening=opening).of("blank.out_of_flat")
    assert (f.severity, f.limit) == (severity, 1.5)
    _complete(f)


def test_kinds_part_the_rules_in_two():
    made = make(part().fold("front", leg=40), SHOP)
    live, searched = check_all(made, kind="live"), check_all(made, kind="searched")
    assert {f.code for f in searched} == {"route.order"}
    assert set(live) | set(searched) == set(check_all(made))
    assert not set(live) & set(searched)


def test_table_escapes_what_it_shows():
    nasty = Finding(code="x.y", severity="caution", where="<b>'&\"", what="<script>alert(1)</script>", remedy="a & b")
    shown = Findings((nasty,))._repr_html_()
    assert "<script" not in shown
    assert "<b>" not in shown
    assert "&lt;script&gt;" in shown
    assert "a &amp; b" in shown


def at(where, severity="fine", value=1.0):
    return Finding(code="fold.leg", severity=severity, where=where, what="the leg", value=value, limit=3, unit="mm")


def test_table_says_once_what_holds_at_several_places():
    """What is fine keeps its range of values; a stop of another value is another row."""
    found = Findings(
        (
            at("fold 'near'", "stop", 1.0),
            at("fold 'far'", "stop", 2.0),
            at("fold 'a'", value=5.0),
            at("fold 'b's'", value=40.0),
            at("blank", value=9.0),
            *(at(f"hole '{i}'", "caution", 2.5) for i in range(14)),
        )
    )
    rows = [unescape(re.sub("<[^>]+>", "|", row)) for row in found._repr_html_().split("<tr>")[2:]]
    assert len(rows) == 4
    assert "|fold 'near'||the leg||1 / 3 mm|" in rows[0]
    assert "|fold 'far'||the leg||2 / 3 mm|" in rows[1]
    assert "|fold 'a', fold 'b's', blank||the leg||5 to 40 / 3 mm|" in rows[3]
    assert "|holes '0', '1', '2'," in rows[2]
    assert "'11' and 2 more||" in rows[2]
    assert "|folds 'a', 'b's'||" in unescape(re.sub("<[^>]+>", "|", Findings(found[-3:-1])._repr_html_()))
    assert len(repr(found).splitlines()) == len(found)


def test_findings_by_subject():
    found = check(make(part().fold("front", leg=40).hole((150, 100), 8), SHOP), SHOP)
    assert {f.code.split(".")[0] for f in found.of("fold")} == {"fold"}
    assert [f.code for f in found.of("fold.leg")] == ["fold.leg"]
    assert not found.of("fol"), "a subject, not a beginning of one"


def test_a_hole_beside_a_joggle_is_held_against_its_bends() -> None:
    part = Part("HN-J", sheet="DC01 1.5", base=Outline.rectangle(300, 200))
    part = part.formed(Joggle(edge="rear", lap=20, gap=0.2, direction="up")).hole((150, 195), 6, name="near")
    made = make(part, SHOP)
    (found,) = check(made).of("fold.hole")
    # From the hole's rim to the step's tangent line, and on through the bend to its outside.
    step = next(z for z in made.folded.zones if z.name == "joggle step")
    tangent = next(e for e in made.panel("base").boundary.edges if e.name == "fold:joggle step")
    assert (found.severity, found.where) == ("caution", "hole 'near'")
    assert found.value == pytest.approx(tangent.start[1] - 195 - 3 + step.radius + 1.5, abs=1e-6)
