"""What a stored notebook keeps of a workbench: a picture, so that a clone that nobody trusts shows it."""

from __future__ import annotations

import base64

import pytest
from bench_hands import Bench
from bench_samples import tray
from test_assembly_bench import pair

from tinbook.bench.folding import folding
from tinbook.route.steps import FoldPlan


@pytest.mark.parametrize("design", [tray, pair])
def test_a_workbench_stores_the_picture_of_its_part(bench: Bench, design: object) -> None:
    shown = bench(design)
    bundle, about = shown._repr_mimebundle_()
    assert about["image/png"]["alt"] == about["image/svg+xml"]["alt"] != ""
    png = base64.b64decode(bundle["image/png"])
    assert png.startswith(b"\x89PNG")
    assert len(png) <= 100_000
    assert bundle["image/svg+xml"].startswith("<svg")
    assert "application/vnd.jupyter.widget-view+json" in bundle


def test_a_workbench_without_a_part_stores_no_picture(bench: Bench) -> None:
    def broken() -> None:
        return None

    assert "image/png" not in bench(broken)._repr_mimebundle_()


def test_an_order_of_folds_stores_its_first_step(box: FoldPlan) -> None:
    bundle, _ = folding(box)._repr_mimebundle_()
    assert base64.b64decode(bundle["image/png"]).startswith(b"\x89PNG")
