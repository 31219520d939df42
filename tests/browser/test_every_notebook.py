"""Each notebook in JupyterLab: as a fresh clone that nobody trusts, and run up to its first picture."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from book_pages import NAMES, OPEN, RUN, START, close, lab_in

pytestmark = pytest.mark.browser

STORED = """async () => {
    const pictures = [];
    for (const w of window.panel.content.widgets) {
        const e = w.node;
        const outputs = w.model.type === "code" ? w.model.outputs.toJSON() : [];
        const kept = outputs.filter((o) => Object.keys(o.data ?? {}).some((k) => k.startsWith("image/")));
        if (outputs.length && w.model.trusted) pictures.push("trusted");
        const shown = [...e.querySelectorAll("img")];
        for (const image of shown) {
            for (let k = 0; k < 500 && !image.complete; k++) await new Promise((go) => setTimeout(go, 20));
            pictures.push(image.naturalWidth > 0 && image.getBoundingClientRect().width > 0 ? "shown" : "broken");
        }
        for (let k = shown.length; k < kept.length; k++) pictures.push("missing");
    }
    return pictures;
}"""
"""What became of every picture of an open notebook; an output that the page trusts is named."""

DRAWN = """async () => {
    const e = window.panel.content.node.querySelector(".jp-OutputArea-output img, .jp-OutputArea-output svg, canvas.tb-canvas");
    for (let k = 0; k < 500 && e.tagName === "IMG" && !e.complete; k++) await new Promise((go) => setTimeout(go, 20));
    const r = e.getBoundingClientRect();
    return [e.tagName.toLowerCase(), e.tagName === "IMG" ? e.naturalWidth : r.width, r.width, r.height];
}"""


def test_each_notebook_shows_its_pictures_untrusted_and_its_first_one_run(
    books: str, fresh_page: Callable[..., Any]
) -> None:
    """One page and one kernel, so that what takes long, their start, is paid once. The server's signatures are empty."""
    page = lab_in(fresh_page(viewport={"width": 1500, "height": 1000}), books)
    assert len(NAMES) >= 18
    kernel, stored = "", 0
    for name in (START, *NAMES):
        kernel = page.evaluate(OPEN, [name, kernel])
        pictures = page.evaluate(STORED)
        assert set(pictures) == {"shown"}, (name, pictures)
        stored += len(pictures)
        if name == START:
            close(page)
            continue
        done = page.evaluate(RUN, False)
        assert done["errors"] == [], name
        assert done["first"] is not None, name
        kind, own, wide, high = page.evaluate(DRAWN)
        assert own > 0, (name, kind)
        assert min(wide, high) > 40, (name, kind)
        print(f"{name}: {done['first']:.0f} ms to its {kind}")
        close(page)
    print(f"{stored} stored pictures shown untrusted")
