"""Numbers and findings as HTML."""

from __future__ import annotations

from html.parser import HTMLParser

from tinbook.bench.tables import findings_table, plain, strip
from tinbook.finding import Finding

EVIL = "<script>alert('x')</script>\"><b onclick='y'>&amp;"


class Reader(HTMLParser):
    """Collects tags and text as a browser would."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[str] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data: str) -> None:
        self.text += data


def finding(severity: str, what: str = "short leg", **values: object) -> Finding:
    return Finding(code="fold.leg", severity=severity, where="fold 'a'", what=what, **values)  # type: ignore[arg-type]


def test_every_text_is_escaped() -> None:
    f = Finding(code="x", severity="stop", where=EVIL, what=EVIL, value=1, limit=2, unit=EVIL, source=EVIL, remedy=EVIL)
    for html in (findings_table([f]), strip([(EVIL, EVIL)]), plain(EVIL)):
        got = Reader(html)
        assert not {"script", "b"} & set(got.tags) or "onclick" not in got.attributes
        assert "script" not in got.tags
        assert EVIL in got.text


def test_findings_come_worst_first_with_value_limit_and_remedy() -> None:
    shown = [
        finding("fine"),
        finding("caution", "second", value=3.0, limit=4.5, unit="mm", remedy="lengthen it"),
        finding("stop", "first"),
    ]
    text = Reader(findings_table(shown)).text
    assert text.index("first") < text.index("second")
    for part in ("3 mm", "4.5 mm", "lengthen it", "1 checked and fine", "common practice"):
        assert part in text


def test_nothing_found_is_said() -> None:
    assert "nothing found" in findings_table([])
    assert "2 checked and fine" in Reader(findings_table([finding("fine"), finding("fine")])).text


def test_the_first_frequency_stands_beside_its_support_and_its_band() -> None:
    import math

    from tinbook.bench.tables import numbers
    from tinbook.families.plain import bead_rolled_panel
    from tinbook.making.resolve import make
    from tinbook.part.outline import Outline
    from tinbook.part.part import Part
    from tinbook.shop.shop import Shop

    shop = Shop.demo()
    flat = dict(numbers(make(Part("HN-P", sheet="DC01 1.6", base=Outline.rectangle(600, 400)), shop)))
    (name,) = (n for n in flat if n.startswith("first frequency"))
    assert "simply supported" in name
    # First mode of a simply supported plate: pi/2 (1/a² + 1/b²) sqrt(D/m); Leissa, Vibration of Plates, 1969,
    # from memory, and the Navier solution gives it in one line.
    material, t = shop.sheet_by_key("DC01 1.6").material, 1.6e-3
    d = material.youngs * 1e6 * t**3 / (12 * (1 - material.poisson**2))
    f = math.pi / 2 * (1 / 0.6**2 + 1 / 0.4**2) * math.sqrt(d / (material.density * t))
    assert flat[name] == f"{f:.3g} Hz"

    ribbed = dict(numbers(make(bead_rolled_panel(length=800, width=400, beads=6), shop)))
    assert "% of shell FE" in ribbed[name]
    odd = Part("HN-P", sheet="DC01 1.6", base=Outline.polygon([(0, 0), (600, 0), (0, 400)]))
    assert "outside" in dict(numbers(make(odd, shop)))["first frequency of the base"]
