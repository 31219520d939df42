"""Parts and assemblies in every front, light and dark, on a wide, a middle and a narrow page."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench_pages import Hand
from notebook_server import Front, open_notebook, run_all, run_command, serve

pytestmark = [pytest.mark.browser, pytest.mark.full]
BOOKS = Path(__file__).resolve().parents[2] / "notebooks"
NAMES = (
    "02_folded_channel.ipynb",
    "03_hemmed_dash_edge.ipynb",
    "08_recovery_plate.ipynb",
    "10_tunnel.ipynb",
    "13_strap.ipynb",
)


@pytest.mark.parametrize("front", ["lab", "notebook", "voila"])
@pytest.mark.parametrize("name", NAMES)
def test_it_is_fitted_and_nothing_is_cut_off(
    name: str, front: Front, tmp_path: Path, fresh_page: Callable[..., Any], static: Path, axe: str, artefacts: Path
) -> None:
    folder, home = tmp_path / "notebooks", tmp_path / "home"
    shutil.copytree(BOOKS, folder, ignore=shutil.ignore_patterns("out", "pictures", ".ipynb_checkpoints"))
    home.mkdir()
    with serve(folder, home, front, name) as address:
        for theme in ("light", "dark"):
            page = fresh_page(own_errors=True, viewport={"width": 1500, "height": 1000})
            if front == "voila":
                page.goto(f"{address}/?theme={theme}", timeout=300_000)
            else:
                open_notebook(page, address, name, front, dark=theme == "dark")
                if front == "lab":
                    run_command(page, "application:toggle-left-area")
                run_all(page)
                at = "(w) => w.model.type === 'code' && w.model.sharedModel.source.includes('workbench(')"
                page.evaluate(
                    f"""() => {{
                        const book = window.jupyterapp.shell.currentWidget.content;
                        return book.scrollToItem(book.widgets.findIndex({at}), "start");
                    }}"""
                )
            hand = Hand(page)
            hand.fits(theme, f"{front}_{name[:2]}", artefacts)
            assert hand.serious(axe) == []
            page.context.close()
