"""Whatever finds returns `Findings`: no tuple, list or iterator of them at a public door or in a value's field."""

from __future__ import annotations

import dataclasses
import inspect
from importlib import import_module

import pytest

from tinbook.doors import homes
from tinbook.finding import Findings
from tinbook.rules import assembly, registry
from tinbook.rules.rule import Rule

ROOMS = ("tinbook", *(f"tinbook.{room}" for room in ("families", "fit", "making", "read", "route", "write")))


@pytest.mark.parametrize("package", ROOMS)
def test_doors_and_fields_hold_findings(package: str) -> None:
    module = import_module(package)
    for name in homes(package):
        thing = getattr(module, name)
        if dataclasses.is_dataclass(thing):
            kinds = {f.name: str(f.type) for f in dataclasses.fields(thing)}
            assert kinds.get("findings", "Findings") == "Findings", name
        if inspect.isfunction(thing):
            answer = inspect.signature(thing).return_annotation
            answer = answer if isinstance(answer, str) else getattr(answer, "__name__", str(answer))
            assert "Finding" not in answer or answer == "Findings", name


def test_a_family_s_check_returns_findings_at_once() -> None:
    families = import_module("tinbook.families")
    checks = [n for n in homes("tinbook.families") if "findings" in n or n in ("keep_out", "drive_clearance")]
    assert len(checks) >= 5
    for name in checks:
        assert inspect.signature(getattr(families, name)).return_annotation is Findings, name


def test_every_rule_runs_through_one_class_and_has_a_name_of_its_own() -> None:
    rules = (*registry.RULES, *assembly.RULES)
    assert all(isinstance(r, Rule) for r in rules)
    assert len({r.name for r in rules}) == len(rules)
    assert {r.kind for r in registry.RULES} == {"live", "searched"}
