"""The page for the customer: one HTML file with the kit in 3-D, its parts, what was checked, and the cautions."""

from __future__ import annotations

import base64
import json
import os
import re
import string
from collections.abc import Mapping, Sequence
from html import escape
from pathlib import Path
from typing import Any, Final, TypeAlias

from tinbook.errors import BadValue, MissingTool, of_kind
from tinbook.finding import Findings
from tinbook.htmltable import html_table
from tinbook.language import ENGLISH, Language, Spoken
from tinbook.making.assembled import MADE_OR_ASSEMBLED, Assembled
from tinbook.making.made import Made
from tinbook.making.shape import shape_of
from tinbook.rules.check import check
from tinbook.rules.verdict import Verdict
from tinbook.shown import picture_html
from tinbook.write.assembly import HEADS, PartsRow, assembled_svg, parts_list
from tinbook.write.drafts import Draft
from tinbook.write.facts import facts as facts_of
from tinbook.write.facts import stated
from tinbook.write.files import target
from tinbook.write.folded import folded_svg
from tinbook.write.names import plain_name
from tinbook.write.page_style import CSS, LEGEND, SCRIPT, VIEWER_WORDS
from tinbook.write.scene import meetings_of, scene_of
from tinbook.write.stamp import Despite, stamp_of, stamp_of_drawing

Thing: TypeAlias = Made | Assembled

VIEWER: Final = Path(__file__).parents[1] / "bench" / "static"
"""Where the build puts the viewer."""
MOST: Final = 40
"""Parts and assemblies on one page."""


NOT_APPROVED: Final = (
    "This page describes a shape; it certifies nothing. Tanks, tow and recovery points, seats, belts and body mounts "
    "carry loads that can kill: a licensed engineer must sign them, and local vehicle rules come first."
)


def write_client_page(
    what: Thing | Sequence[Thing],
    path: str | os.PathLike[str] = ".",
    *,
    title: str = "",
    flats: bool = False,
    prices: Mapping[str, str] | None = None,
    language: Language | str = ENGLISH,
    despite: Despite = None,
    replace: bool = False,
) -> Path:
    """Write the page that a customer opens: one file that asks nothing of a network.

    It shows each part or assembly in 3-D (turned, cut, drawn apart, named where one points), each part's folds step by
    step, the list of parts, what was checked, the cautions, and from which inputs it was made. Machines, tools and costs
    of the workshop stay out.

    Parameters
    ----------
    what : Made, Assembled, or a sequence of them
        The kit, 1 to 40.
    path : path
        A file that ends in .html, or an existing folder.
    title : str, optional
        Heading; else the title of the first thing, or its number.
    flats : bool
        Whether the flat patterns are on the page: only for a customer who buys them.
    prices : mapping of str to str, optional
        What to print of the price, as {"one set": "412.00 EUR"}.
    language : Language or {"en", "de"}
        Of the fixed words, with its decimal sign.
    despite : str or sequence of str, optional
        As for `write_dxf`: why it is written in spite of what stops a part.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same page gives way.

    Returns
    -------
    Path

    Raises
    ------
    BadValue, CannotMake, CannotWrite, MissingTool
        Something else than made things; a thing that a finding stops; a file that is not this page's; the viewer was
        not built into this installation.
    """
    things = _things(what)
    of_kind(flats, bool, "flats", "True or False")
    say = Spoken().read(language, "language")
    stamps = [stamp_of(t, despite=despite) for t in things]
    names = [s.name for s in stamps]
    stamp = stamp_of_drawing(f"page of {', '.join(names)}", [s.inputs for s in stamps])
    file = target(path, ".html", f"{plain_name(names[0].replace(' rev ', '_'))}_page")
    heading = _heading(title, things[0])
    rows = _prices(prices)
    if len(set(names)) < len(names):
        raise BadValue("client page", names, "each part or assembly once, under a number of its own")
    articles = [_article(t, n, check(t), flats, say) for t, n in zip(things, names, strict=True)]
    states = "".join(
        f"<p><strong>{escape(s.name)}: {escape(say.retold(s.words))}</strong></p>" for s in stamps if s.words
    )
    data = json.dumps(
        [{"name": n, **_data(t, flats, say), **_folds(t, say)} for t, n in zip(things, names, strict=True)],
        separators=(",", ":"),
    )
    price = f"<section><h2>{escape(say('Price'))}</h2>{html_table((), rows)}</section>\n" if rows else ""
    text = _page(
        heading=heading,
        mark=stamp.mark,
        body=f"{states}{''.join(articles)}{price}",
        foot=say("{names}. Inputs {hash}.", names=", ".join(names), hash=stamp.inputs),
        choices=names,
        data=data.replace("<", "\\u003c"),
        say=say,
    )
    return Draft(file=file, stamp=stamp, replace=replace).write(text)


def view_page(thing: Thing) -> str:
    """Return a page with nothing but a part or an assembly in 3-D, for a frame in another page."""
    own = thing.part if isinstance(thing, Made) else thing.assembly
    name = f"{own.number} rev {own.rev}"
    data = json.dumps([{"name": name, **_data(thing, flats=True)}], separators=(",", ":")).replace("<", "\\u003c")
    return _page(heading=name, mark="", body="", foot="", choices=[name], data=data, bare=True)


def _things(what: Any) -> tuple[Thing, ...]:
    listed = (what,) if isinstance(what, Made | Assembled) else what
    if not isinstance(listed, list | tuple) or not 1 <= len(listed) <= MOST:
        raise BadValue("client page", what, f"{MADE_OR_ASSEMBLED}, or a list of 1 to {MOST} of them")
    for thing in listed:
        of_kind(thing, (Made, Assembled), "client page", MADE_OR_ASSEMBLED)
    return tuple(listed)


def _heading(title: Any, first: Thing) -> str:
    own = first.part if isinstance(first, Made) else first.assembly
    if not isinstance(title, str) or len(title) > 120 or not title.isprintable():
        raise BadValue("title", title, "at most 120 printable characters")
    return title.strip() or own.title or own.number


def _prices(prices: Any) -> list[tuple[str, str]]:
    if prices is None:
        return []
    good = isinstance(prices, Mapping) and all(isinstance(v, str) for pair in prices.items() for v in pair)
    if not good:
        raise BadValue("prices", prices, 'words and amounts as text, as {"one set": "412.00 EUR"}')
    return list(prices.items())


def _article(thing: Thing, name: str, found: Verdict, flats: bool, say: Language) -> str:
    """Return what stands below the 3-D view for one thing; it is what is printed, too."""
    picture = assembled_svg(thing) if isinstance(thing, Assembled) else folded_svg(thing)
    parts = _parts(thing, say)
    flat = ""
    if flats and isinstance(thing, Made) and thing.flat is not None:
        flat = f'<h3>{escape(say("Flat pattern"))}</h3><div class="flat">{thing.flat._repr_svg_()}</div>'
    return (
        f'<section class="thing" tabindex="0" aria-label="{escape(name)}"><h2>{escape(name)}</h2>\n<div class="still">{picture_html(picture)}</div>\n'
        f"{parts}\n<h3>{escape(say('Checks'))}</h3><p>{escape(_checked(found, say))}</p>\n{_cautions(found, say)}{flat}</section>\n"
    )


def _parts(thing: Thing, say: Language) -> str:
    if isinstance(thing, Assembled):
        return html_table(tuple(map(say, HEADS)), [_cells(r, say) for r in parts_list(thing)], caption=say("Parts"))
    assert thing.flat is not None
    kept_back = say("Cut by"), say("Blank")
    told = [(a, b) for a, b in facts_of(thing, thing.flat, thing.part.quantity, say) if a not in kept_back]
    low, high = (p.tolist() for p in (thing.preview.positions.min(axis=0), thing.preview.positions.max(axis=0)))
    sides = [b - a for a, b in zip(low, high, strict=True)]
    size = " × ".join(say.number(s, ".0f" if s >= 20 else ".3g") for s in sides)  # 1.47 mm is not 1 mm
    return html_table((), [*told, (say("Size over all"), f"{size} mm")], caption=say("Part"))


def _cells(row: PartsRow, say: Language) -> tuple[str, ...]:
    """Return a row of the list of parts; what has no thickness is bought, or there already."""
    cells = [say.retold(c) for c in row.cells]
    cells[5] = say(cells[5]) if row.thickness is None else row.material
    return tuple(cells)


def _checked(found: Verdict, say: Language) -> str:
    ordered = found.plan is not None and found.plan.steps
    words = {
        "proved": "Every rule of the kit was kept, and an order of folds was found."
        if ordered
        else "Every rule of the kit was kept.",
        "not proved": "No rule is broken; what the workshop could not prove in advance it tries on a first part.",
        "stopped": "A rule is broken: see the note at the top before this part is used.",
    }
    return f"{say(words[found.state])} {say('This is a check of manufacture and no approval of strength or safety.')}"


def _cautions(found: Findings, say: Language) -> str:
    """Return what whoever fits and uses the kit must read; what concerns the workshop's tools stays there."""
    told = dict.fromkeys(stated(f, say).strip(". ") + "." for f in found.of("assembly").open)
    rows = "".join(f"<li>{escape(t)}</li>" for t in told)
    return f'<h3>{escape(say("Cautions"))}</h3><ul class="warn">{rows}</ul>\n' if told else ""


def _data(thing: Thing, flats: bool, say: Language = ENGLISH) -> dict[str, Any]:
    """Return what the viewer shows of a thing, its arrays in base64."""
    if isinstance(thing, Assembled):
        scene, meetings = scene_of(thing), meetings_of(thing)
        members: list[dict[str, Any]] = [dict(m) for m in scene.members]
        for m in members:
            m["label"] = _lines(m["label"], say)
            m["away"] = meetings.ways[m["name"]]
            if meetings.turns:
                m["turn"] = meetings.turns[m["name"]]
        bodies = {key: _coded(body) for key, body in scene.bodies.items()}
        return {
            "bodies": bodies,
            "members": members,
            "rows": _rows(thing, scene.rows, say),
            "movements": scene.movements,
        }
    s = shape_of(thing)
    names = ("positions", "triangles", "group_of", "edges")
    flat = thing.flat._repr_svg_() if flats and thing.flat is not None else ""
    return {
        **_coded({n: getattr(s, n) for n in names}),
        "groups": s.groups,
        "labels": _labels(s.labels, say),
        "svg": flat,
    }


def _lines(label: str, say: Language) -> str:
    return "\n".join(map(say.retold, label.split("\n")))


def _labels(labels: Any, say: Language) -> Any:
    return [label if label is None else _lines(label, say) for label in labels]


def _rows(thing: Assembled, rows: list[dict[str, Any]], say: Language) -> list[dict[str, Any]]:
    """Return the list of parts of the 3-D view in a language: names of bought items, revisions, masses."""
    told = {}
    for r in parts_list(thing):
        rev = say("rev {rev}", rev=r.rev) if r.rev else ""
        names = (r.number, rev, r.title) if r.rev else (say.retold(r.number), say.retold(r.title))
        told[r.item] = " ".join(filter(None, names))
    return [{**row, "text": told[row["item"]], "mass": say.retold(row["mass"])} for row in rows]


def _words(say: Language) -> str:
    """Return what the 3-D view says of itself and how a language says it, as patterns of a script and their replacements."""
    pairs = []
    for text in (*VIEWER_WORDS, *LEGEND) if say.words else ():
        own = [name for _, name, _, _ in string.Formatter().parse(text) if name]
        shape = "(.+)".join(re.sub(r"([.*+?^${}()|[\]\\])", r"\\\1", part) for part in re.split(r"\{\w+\}", text))
        pairs.append(
            (f"^{shape}$", say(LEGEND.get(text, text)).format(**{name: f"${k}" for k, name in enumerate(own, 1)}))
        )
    return json.dumps(pairs, ensure_ascii=False).replace("<", "\\u003c")


def _folds(thing: Thing, say: Language) -> dict[str, Any]:
    """Return the steps in which a part is folded; nothing for an assembly, or where no order was found."""
    from tinbook.write.fold_steps import fold_steps

    found = fold_steps(thing, say) if isinstance(thing, Made) else None
    if found is None:
        return {}
    bodies = {key: _coded(body) for key, body in found["bodies"].items()}
    steps = [{**step, "members": [_coded(m) for m in step["members"]]} for step in found["steps"]]
    return {"folds": {"bodies": bodies, "steps": steps, "frames": found["frames"]}}


def _coded(body: Mapping[str, Any]) -> dict[str, Any]:
    return {k: base64.b64encode(v).decode() if isinstance(v, bytes) else v for k, v in body.items()}


def _page(
    *,
    heading: str,
    mark: str,
    body: str,
    foot: str,
    choices: Sequence[str],
    data: str,
    say: Language = ENGLISH,
    bare: bool = False,
) -> str:
    try:
        viewer = (VIEWER / "page.js").read_text(encoding="utf-8")
        licence = (VIEWER / "three-licence.txt").read_text(encoding="utf-8")
    except FileNotFoundError:
        raise MissingTool(
            "the 3-D view was not built into this installation; install the package again without TINBOOK_NO_VIEWER=1"
        ) from None
    options = "".join(f'<option value="{k}">{escape(n)}</option>' for k, n in enumerate(choices))
    choose = f'<label>{escape(say("Show"))} <select id="choice">{options}</select></label>' if len(choices) > 1 else ""
    if bare:
        around = '<style>body{padding:0;max-width:none}#view{--tb-height:94vh}@media (max-width:660px){#view{--tb-height:47vh}}</style><main><section id="live" aria-label="the part in three dimensions" hidden><div id="view"></div></section></main>\n'
    else:
        around = (
            f"<header><h1>{escape(heading)}</h1></header>\n<main>\n"
            f'<section id="live" aria-label="{escape(say("the kit in three dimensions"))}" hidden>{choose}<div id="view"></div>'
            '<p id="folding" hidden><button type="button" id="fold" aria-expanded="false" aria-controls="film">'
            f'{escape(say("Show how it is folded"))}</button></p><div id="film" hidden></div></section>\n'
            f'{body}<section class="warn"><h2>{escape(say("Before you fit it"))}</h2><p>{escape(say(NOT_APPROVED))}</p></section></main>\n'
            f"<footer>{escape(foot)}</footer>\n"
        )
    return (
        f'<!doctype html>\n<html lang="{say.name}"><head><meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        # The page may fetch nothing, whatever text a name holds.
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
        "script-src 'unsafe-inline'; img-src data:\">\n"
        f'<meta name="tinbook" content="{mark}">\n<title>{escape(heading)}</title>\n<style>{CSS}</style></head>\n<body>\n'
        f"{around}<!-- The 3-D view contains three.js:\n{licence.replace('--', '- -')}-->\n"
        f'<script type="application/json" id="data">{data}</script>\n'
        f'<script type="application/json" id="words">{_words(say)}</script>\n'
        f"<script>{viewer}</script>\n<script>{SCRIPT}</script>\n</body></html>\n"
    )
