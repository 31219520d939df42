"""Findings: severities, and what older files call them."""

from __future__ import annotations

import pytest

from tinbook.errors import BadValue
from tinbook.finding import Finding, Findings, caution, fine, stop
from tinbook.rules.rule import Rule, family_rule


def test_severities_are_stop_caution_and_fine() -> None:
    with pytest.raises(BadValue, match="valid: stop, caution, fine"):
        Finding(code="a.b", severity="warning", where="here", what="it is so")  # type: ignore[arg-type]


def test_the_word_of_older_files_is_read_as_a_caution() -> None:
    old = Finding(code="a.b", severity="mind", where="here", what="it is so")  # type: ignore[arg-type]
    assert old == Finding(code="a.b", severity="caution", where="here", what="it is so")
    assert str(old) == "caution: here: it is so."


def test_findings_stand_worst_first_whatever_order_they_came_in() -> None:
    a, b, c = (
        fine("a.x", "here", "good", 2.0),
        stop("a.y", "here", "bad", "cure it"),
        caution("b.z", "here", "so so", "look"),
    )
    found = Findings((a, b, c))
    assert list(found) == [b, c, a]
    assert (found.stops, found.cautions, found.of("a"), found.ok) == ((b,), (c,), (b, a), False)
    assert (a.unit, b.unit, b.source) == ("mm", "", "common practice")
    assert (found.open, found.of("a.x", "b"), found.of("a.x.y", "c")) == ((b, c), (c, a), ())


def test_a_rule_that_crashes_is_a_stop_that_names_rule_and_error() -> None:
    def broken(_made: object) -> list[Finding]:
        raise ZeroDivisionError("odd")

    (f,) = Rule(broken)(None)
    assert (f.code, f.severity, f.where) == ("check.failed", "stop", "test_finding.broken")
    assert "ZeroDivisionError: odd" in f.what
    assert [f.code for f in family_rule(broken)(None)] == ["check.failed"]


def test_a_bad_argument_of_a_family_s_check_is_an_error_not_a_finding() -> None:
    def asked(value: float) -> list[Finding]:
        raise BadValue("value", value, "more")

    with pytest.raises(BadValue):
        family_rule(asked)(1.0)
    assert Rule(asked)(1.0).stops, "inside a check nothing is raised"
