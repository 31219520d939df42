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
        finding("mind", "second", value=3.0, limit=4.5, unit="mm", remedy="lengthen it"),
        finding("stop", "first"),
    ]
    text = Reader(findings_table(shown)).text
    assert text.index("first") < text.index("second")
    for part in ("3 mm", "4.5 mm", "lengthen it", "1 checked and fine", "common practice"):
        assert part in text


def test_nothing_found_is_said() -> None:
    assert "nothing found" in findings_table([])
    assert "2 checked and fine" in Reader(findings_table([finding("fine"), finding("fine")])).text
