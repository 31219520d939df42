"""The customer's page as text: what it holds, what stays in the workshop, what is refused."""

from __future__ import annotations

import base64
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

import tinbook as tb
from tinbook.making.made import Made

SHOP = tb.Shop.demo()


@pytest.fixture(scope="module")
def tray() -> Made:
    part = tb.Part("HN-P1", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 120), title="<b>tray</b> & lid")
    return tb.make(part.fold("front", leg=30).hole((100, 60), 8), SHOP)


@pytest.fixture(autouse=True)
def viewer(static: Path) -> Path:
    return static


def data_of(text: str) -> list[dict[str, object]]:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', text, re.S)
    assert found
    return json.loads(found[1])  # type: ignore[no-any-return]


def test_the_file_is_whole_asks_for_nothing_and_shows_the_part(tray: Made, tmp_path: Path) -> None:
    file = tb.write_client_page(tray, tmp_path)
    assert file.name == "HN-P1_A_page.html"
    text = file.read_text(encoding="utf-8")
    assert set(re.findall(r"https?://[^\s\"'`)]+", text)) <= {
        "http://www.w3.org/2000/svg",
        "http://www.w3.org/1999/xhtml",
    }
    assert "default-src 'none'" in text
    assert "<b>tray" not in text
    assert "&lt;b&gt;tray&lt;/b&gt; &amp; lid" in text
    (thing,) = data_of(text)
    points = np.frombuffer(base64.b64decode(thing["positions"]), "<f4").reshape(-1, 3)  # type: ignore[arg-type]
    size = points.max(axis=0) - points.min(axis=0)
    assert size == pytest.approx([200, 120, 30], abs=1e-3)  # as drawn: outside sizes, the leg 30 mm to the outside
    assert thing["svg"] == ""
    assert "certifies nothing" in text


def test_flats_prices_and_the_workshop_s_tools_only_as_wanted(tray: Made, tmp_path: Path) -> None:
    plain = tb.write_client_page(tray, tmp_path).read_text(encoding="utf-8")
    for word in (tray.strips[0].bend.tool, tray.strips[0].bend.who, "Flat pattern", "Price", "Cut by"):
        assert word
        assert word not in re.sub(r"<script.*?</script>|data:image[^\"]*", "", plain, flags=re.S)
    sold = tb.write_client_page(tray, tmp_path, flats=True, prices={"one set": "412.00 EUR <x>"}).read_text(
        encoding="utf-8"
    )
    assert "Flat pattern" in sold
    assert "412.00 EUR &lt;x&gt;" in sold


class Texts(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.images: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "img":
            self.images.append(dict(attrs).get("alt") or "")


def test_an_assembly_with_its_parts_and_cautions(tmp_path: Path) -> None:
    made = tb.assemble(tb.families.strapped_tank(), SHOP)
    text = tb.write_client_page(made, tmp_path, title="Tank").read_text(encoding="utf-8")
    reader = Texts()
    reader.feed(text)
    assert reader.images
    assert all(reader.images)
    (thing,) = data_of(text)
    assert [m["name"] for m in thing["members"]] == list(made.assembly.names)  # type: ignore[union-attr,index]
    for sentence in made.assembly.cautions:
        assert sentence.rstrip(".") in text
    assert "Tarnbeck" not in text  # a supplier of the workshop


def test_what_is_stopped_is_not_written_and_a_stranger_s_file_stays(tray: Made, tmp_path: Path) -> None:
    bad = tb.make(tray.part.renamed(rev="I", number="HN-P2"), SHOP)
    with pytest.raises(tb.errors.CannotMake, match="revision"):
        tb.write_client_page(bad, tmp_path)
    assert list(tmp_path.iterdir()) == []
    told = tb.write_client_page(bad, tmp_path, despite="old drawing").read_text(encoding="utf-8")
    assert "STOPPED by part.revision" in told
    other = tmp_path / "HN-P1_A_page.html"
    other.write_text("mine")
    with pytest.raises(tb.errors.CannotWrite):
        tb.write_client_page(tray, tmp_path)
    assert other.read_text() == "mine"


@pytest.mark.parametrize("what", [None, 3, "HN-P1", [], {}, [None], tb.floor_pan, float("nan")])
def test_anything_else_is_refused_in_words(what: object, tmp_path: Path) -> None:
    with pytest.raises(tb.errors.BadValue, match="client page"):
        tb.write_client_page(what, tmp_path)  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"title": 3}, "title"), ({"title": "x" * 121}, "title"), ({"title": "a\nb"}, "title"), ({"flats": 1}, "flats"),
        ({"prices": "412"}, "prices"), ({"prices": {"one": 412}}, "prices"), ({"prices": [("a", "b")]}, "prices"),
    ],
)  # fmt: skip
def test_wrong_options_are_named(tray: Made, tmp_path: Path, options: dict[str, object], says: str) -> None:
    with pytest.raises(tb.errors.BadValue, match=says):
        tb.write_client_page(tray, tmp_path, **options)  # type: ignore[arg-type]


def test_one_thing_twice_is_refused(tray: Made, tmp_path: Path) -> None:
    with pytest.raises(tb.errors.BadValue, match="each part or assembly once"):
        tb.write_client_page([tray, tray], tmp_path)


def test_a_flat_part_has_no_order_of_folds_and_keeps_its_thickness(tray: Made, tmp_path: Path) -> None:
    flat = tb.make(tb.Part("HN-P3", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 12)), SHOP)
    for made, order, size in ((flat, False, "200 × 12 × 1.5 mm"), (tray, True, "200 × 120 × 30 mm")):
        text = tb.write_client_page(made, tmp_path).read_text(encoding="utf-8")
        assert ("an order of folds was found" in text) == order
        assert "Every rule of the kit was kept" in text
        assert size in text
