"""The strip of numbers, the findings and messages as HTML; every text is escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import TYPE_CHECKING

from tinbook.bench.usercode import Failure
from tinbook.errors import OutOfRange
from tinbook.finding import Finding, Findings, gathered, places
from tinbook.htmltable import Cell, html_table
from tinbook.strength.panel import stiffness_of

if TYPE_CHECKING:
    from tinbook.making.assembled import Assembled
    from tinbook.making.made import Made

INK = {
    "stop": "var(--jp-error-color1, #c62828)",
    "caution": "var(--jp-warn-color0, #b35c00)",
    "fine": "var(--jp-success-color0, #2e7d32)",
}
PAGE = "color:var(--jp-ui-font-color1, inherit);line-height:1.4"


def strip(numbers: Iterable[tuple[str, str]]) -> str:
    """Return a row of named numbers."""
    cells = "".join(
        f'<div style="margin-right:1.8em"><div style="opacity:.7;font-size:85%">{escape(name)}</div>'
        f'<div style="font-variant-numeric:tabular-nums"><b>{escape(value)}</b></div></div>'
        for name, value in numbers
    )
    return f'<div class="tinbook-numbers" style="display:flex;flex-wrap:wrap;{PAGE}">{cells}</div>'


def numbers(made: Made) -> list[tuple[str, str]]:
    """Return names and values of the strip: size, mass, cut length and so on."""
    flat = made.flat
    if flat is None:
        return []
    w, h = flat.size
    return [
        ("part", f"{made.part.number} rev {made.part.rev}"),
        ("blank", f"{w:.1f} × {h:.1f} mm"),
        ("sheet", f"{made.sheet.key}, {made.thickness:g} mm"),
        ("mass", f"{made.mass:.3f} kg"),
        ("folds", f"{len(flat.folds)}"),
        ("cut length", f"{flat.cut_length / 1000:.3f} m"),
        ("pierces", f"{flat.pierces}"),
        _frequency(made),
    ]


def assembly_numbers(made: Assembled) -> list[tuple[str, str]]:
    """Return names and values of an assembly's strip."""
    a = made.assembly
    kinds = [m.kind for m in a.members]
    counts = ((f"{kind} items" if kind != "part" else "made members", kind) for kind in ("part", "bought", "existing"))
    return [
        ("assembly", f"{a.number} rev {a.rev}"),
        ("different parts", f"{len(a.parts)}"),
        *((name, f"{kinds.count(kind)}") for name, kind in counts if kind in kinds),
        ("mass", f"{made.mass:.3g} kg"),
    ]


def _frequency(made: Made) -> tuple[str, str]:
    """Return the live estimate of the base panel's first frequency, named with its support and its error band."""
    try:
        found = stiffness_of(made)
    except OutOfRange:
        return "first frequency of the base", "outside the live estimate's range"
    name = f"first frequency of the base, edges {found.supports}"
    f = found.frequency
    value = f"{f:.0f} Hz" if f >= 100 else f"{f:.3g} Hz"
    low, high = (100 * part for part in found.frequency_band)
    # A flat sheet has an exact solution, so only beads need an error band.
    return name, f"{value} ({low:+.0f}..{high:+.0f} % of shell FE)" if (low, high) != (0, 0) else value


def findings_table(findings: Sequence[Finding]) -> str:
    """Return the findings as a table, worst first; fine ones are only counted."""
    shown = [f for f in Findings(findings) if f.severity != "fine"]
    fine = len(findings) - len(shown)
    # The order of folds is shown although it is fine.
    order = "".join(f"; {f.where}: {f.what}" for f in findings if f.code == "route.order" and f.severity == "fine")
    tail = f'<p style="opacity:.75;margin:2px 0">{fine} checked and fine{escape(order)}</p>' if fine else ""
    if not shown:
        text = tail or '<p style="opacity:.75;margin:2px 0">nothing found</p>'
        return f'<div class="tinbook-findings" style="{PAGE}">{text}</div>'
    table = html_table(HEADS, (_row(group) for group in gathered(shown)))
    return f'<div class="tinbook-findings" style="{PAGE}">{table}{tail}</div>'


HEADS = ("", "where", "what", "found", "limit", "remedy", "source")


def _row(group: Sequence[Finding]) -> tuple[Cell, ...]:
    f = group[0]
    one_line = "white-space:nowrap"  # a number keeps its unit beside it
    value, limit = ((_number(v, f.unit), one_line) for v in (f.value, f.limit))
    severity = f.severity, f"font-weight:bold;color:{INK[f.severity]}"
    return severity, places(group), f.what, value, limit, f.remedy, f.source


def _number(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:.4g} {unit}".strip()


def failure_note(f: Failure) -> str:
    """Return a failure of the user's function, with the line in which it happened."""
    place = f" in {escape(f.function)}, line {f.line}" if f.line else ""
    source = f'<pre style="margin:2px 0;color:inherit">{escape(f.source)}</pre>' if f.source else ""
    return note(f"<b>Error{place}: </b>{_lines(f.what)}{source}", "stop")


def note(html: str, severity: str = "fine") -> str:
    """Return a message; `html` must be escaped already."""
    return (
        f'<div class="tinbook-note" role="status" style="{PAGE};border-left:3px solid {INK[severity]};'
        f'padding:2px 8px;margin:2px 0">{html}</div>'
    )


def plain(text: str, severity: str = "fine") -> str:
    """Return a message from plain text."""
    return note(_lines(text), severity)


def _lines(text: str) -> str:
    return "<br>".join(escape(line) for line in text.splitlines())
