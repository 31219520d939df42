"""The fold sequence as a series of pages, and as one HTML file for the shop that needs no network and prints every step."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from html import escape
from pathlib import Path
from typing import Final

from tinbook.errors import BadValue
from tinbook.finding import Findings
from tinbook.flatpattern import both_ways
from tinbook.htmltable import html_table
from tinbook.language import ENGLISH, Language, Spoken
from tinbook.making.made import Made
from tinbook.route.fold_order import fold_sequence
from tinbook.route.foldstep import HEAD, FoldStep, row_of, told
from tinbook.route.picture import clash_svg, step_svg
from tinbook.route.steps import Blocked, FoldPlan
from tinbook.rules.verdict import Verdict
from tinbook.values import dataclass
from tinbook.write.drafts import Draft
from tinbook.write.facts import sentence
from tinbook.write.files import target
from tinbook.write.names import file_stem, refuse
from tinbook.write.stamp import Stamp, stamp_of

SHARES: Final = (0.0, 0.25, 0.5, 0.75, 1.0)
"""How far a fold is formed in the pictures of a step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPage:
    """One page of a fold sequence: a step, or a blocked fold where there is no order.

    Parameters
    ----------
    title : str
        In words.
    rows : tuple of (str, str)
        What to set and what to look at.
    pictures : tuple of (str, str)
        Words and SVG, from laid in to formed; one for a clash.
    clash : bool
        Whether it shows why a fold is blocked.
    """

    title: str
    rows: tuple[tuple[str, str], ...]
    pictures: tuple[tuple[str, str], ...]
    clash: bool = False

    @property
    def line(self) -> str:
        """The page as one line of text."""
        return "; ".join([self.title, *(f"{what}: {text}" for what, text in self.rows)])


def sequence_of(
    what: Made | Verdict | FoldPlan,
    machine: str | None = None,
    seconds: float | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> FoldPlan:
    """Return a fold sequence: the one given, that of a check, or one searched for a part; `seconds` and `progress` as for `fold_sequence`.

    Raises
    ------
    BadValue
        Neither, a part that cannot be made, or one without folds.
    """
    if isinstance(what, Verdict):
        if what.plan is None:
            raise BadValue(
                "what", "a check without a fold plan", "a check of a part with folds that no rule stops, or the part"
            )
        what = what.plan
    if isinstance(what, FoldPlan):
        if machine is not None:
            raise BadValue("machine", machine, "none: the sequence has its machines already")
        found = what
    elif isinstance(what, Made):
        refuse(what.findings, what.part.number)
        if not what.strips:
            raise BadValue("part", what.part.number, "a part with folds; this one has none")
        found = fold_sequence(what, machine, seconds=seconds, progress=progress)
    else:
        raise BadValue(
            "part", type(what).__name__, "a made part, as tb.make(part, shop) gives one, or its fold sequence"
        )
    if not found.made.strips:
        raise BadValue("part", found.made.part.number, "a part with folds; this one has none")
    return found


def page_count(sequence: FoldPlan) -> int:
    """Return the number of pages of a sequence."""
    return len(sequence.steps) or len(sequence.blocked)


def step_page(sequence: FoldPlan, index: int, shares: Sequence[float] = SHARES, say: Language = ENGLISH) -> StepPage:
    """Return one page in a language: step `index` from 0, or blocked fold `index` where there is no order.

    Raises
    ------
    BadValue
        There is no such page.
    """
    count = page_count(sequence)
    if not 0 <= index < count:
        raise BadValue("step", index + 1, f"1 to {count}" if count else "the sequence has no steps")
    if sequence.steps:
        step = sequence.steps[index]
        pictures = tuple((_far(share, say), str(step_svg(sequence, index, share, say))) for share in shares)
        return StepPage(title=step_title(sequence, index, say), rows=_step_rows(step, say), pictures=pictures)
    rows = _blocked_rows(sequence.blocked[index], say)
    picture = (say("where it overlaps most"), str(clash_svg(sequence, index, say)))
    return StepPage(title=step_title(sequence, index, say), rows=rows, pictures=(picture,), clash=True)


def summary(sequence: FoldPlan, say: Language = ENGLISH) -> str:
    """Return the sequence in one line."""
    text = say.retold(repr(sequence).strip("<>"))
    return text + (say(", the search was cut short by a clock") if sequence.cancelled else "")


def step_title(sequence: FoldPlan, index: int, say: Language = ENGLISH) -> str:
    """Return what step `index`, from 0, does; where there is no order, which fold is blocked."""
    if sequence.steps:
        s = sequence.steps[index]
        does = f"{told(say(s.action), s.fold)} {say(s.direction)}"
        return say("Step {n} of {all}: {does}", n=s.number, all=len(sequence.steps), does=does)
    return say("fold {name} is blocked", name=sequence.blocked[index].fold)


def _far(share: float, say: Language) -> str:
    if 0 < share < 1:
        return say("{n}% of the way", n=f"{100 * share:.0f}")
    return say("laid in") if share <= 0 else say("formed")


def _step_rows(s: FoldStep, say: Language) -> tuple[tuple[str, str], ...]:
    it = s.setup
    punch = (
        (
            say(", punch {name} reversed", name=say.retold(it.punch))
            if it.reversed
            else say(", punch {name}", name=say.retold(it.punch))
        )
        if it.punch
        else ""
    )
    pieces = (
        say(", put together from {pieces} mm", pieces=" + ".join(say.number(p, "g") for p in it.pieces))
        if it.pieces
        else ""
    )
    set_by, _, _ = s.set_by_in(say)
    if s.gauged:
        gauge = say("{edge} against the gauge", edge=set_by)
    else:
        gauge = say("none: it is pressed flat") if s.sight is None else set_by
    force = []
    if s.force is not None:
        own, most = f"{s.force / 1e3:.0f}", "" if s.rating is None else f"{s.rating / 1e3:.0f}"
        force.append(("force", say("{own} kN of the machine's {most}", own=own, most=most) if most else f"{own} kN"))
    elif not it.stroke.by_hand:
        force.append(("force", say("no chart covers it")))
    ways = both_ways(s.angle_formed, "°", ".1f", say)
    rows = [
        ("before", ", ".join(map(say, s.befores)) or say("as it lies")),
        ("on", f"{say.retold(s.machine)} ({s.who}), {say.retold(s.tool)}{punch}{pieces}"),
        ("way up", say("the up face upward") if s.face_up == "up" else say("the down face upward")),
        ("gauge", gauge),
        *(("line", text) for text in _line(s, say)),
        ("set", say("{ways}, it springs back to {angle:g}° turned", ways=ways, angle=round(s.angle, 1))),
        *_overbend(s, say),
        *force,
        ("check", say(s.check)),
        *(("caution", say.retold(note)) for note in s.notes),
    ]
    return tuple((say(what), text) for what, text in rows)


def _overbend(s: FoldStep, say: Language) -> Iterator[tuple[str, str]]:
    if s.over is not None:
        told = "{low:.1f}° to {high:.1f}° by the sheet's strength, a screen: trust the first strip you fold"
        yield "overbend", say(told, low=s.over[0], high=s.over[1])


def _line(s: FoldStep, say: Language) -> Iterator[str]:
    if s.line_now is not None:
        yield say("{now:.1f} mm from there now, {blank:.1f} mm in the blank", now=s.line_now, blank=s.line_blank)
    elif s.sight is not None and s.sight.edge:
        line = say.retold(s.setup.stroke.line)
        yield say("{line} {at:.1f} mm from {edge} in the blank", line=line, at=s.sight.at, edge=s.sight.edge)


def _blocked_rows(b: Blocked, say: Language) -> tuple[tuple[str, str], ...]:
    rows = [
        ("hits", f"{b.body} hits the {b.against} by {b.depth:.1f} mm, first at {b.angle:.0f}° turned"),
        ("on", b.tool),
        ("formed before", ", ".join(b.formed) or "nothing"),
        *(("cure", cure) for cure in b.remedies),
    ]
    return tuple((say(what), say.retold(text)) for what, text in rows)


# -- the page -------------------------------------------------------------------------------------


def write_fold_page(
    what: Made | Verdict | FoldPlan,
    path: str | os.PathLike[str] = ".",
    *,
    machine: str | None = None,
    language: Language | str = ENGLISH,
    replace: bool = False,
) -> Path:
    """Write the order of folds as one page that needs no network.

    On a screen one step at a time, by slider, buttons or arrow keys; on paper every step. A part that cannot be
    folded gives a page that says which fold is blocked, by what, and what would cure it.

    Parameters
    ----------
    what : Made, Verdict or FoldPlan
        The part, what `check` answered (it carries its fold plan), or the order that `fold_sequence` found.
    path : path
        A file that ends in .html, or an existing folder.
    machine : str, optional
        As for `fold_sequence`.
    language : Language or {"en", "de"}
        Of the fixed words, with its decimal sign.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file. What stops the part is no reason not to write it: the page shows where it hits, and says so.

    Raises
    ------
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    """
    say = Spoken().read(language, "language")
    sequence = sequence_of(what, machine)
    file = target(path, ".html", f"{file_stem(sequence.made)}_folds")
    stamp = _stamp(sequence)
    return Draft(file=file, stamp=stamp, replace=replace).write(fold_page(sequence, say))


def _stamp(sequence: FoldPlan) -> Stamp:
    return stamp_of(sequence.made, despite="a page that shows what hits", plan=sequence)


def fold_page(sequence: FoldPlan, say: Language = ENGLISH) -> str:
    """Return the HTML file of a sequence in a language; equal sequences give equal text."""
    made, stamp = sequence.made, _stamp(sequence)
    name = f"{made.part.number} {say('rev {rev}', rev=made.part.rev)}"
    pages = [step_page(sequence, k, say=say) for k in range(page_count(sequence))]
    found = [f for f in Findings(sequence.findings) if f.severity != "fine"]
    notes = "".join(
        f'<li class="{f.severity}">{escape(say(f.severity))}: {escape(sentence(f, f.where, say))}</li>' for f in found
    )
    head = say("Order of folds") if sequence.steps else say("No order of folds")
    sheet = say("Sheet {key}, {t} mm.", key=made.sheet.key, t=say.number(made.thickness, "g"))
    foot = say("Worked out from the shop file's tools by swept sections; check the first part by hand.")
    steps = "".join(_article(x) for x in pages)
    return (
        f'<!doctype html>\n<html lang="{say.name}"><head><meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        # The page may fetch nothing, whatever text a name holds.
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
        "script-src 'unsafe-inline'\">\n"
        f'<meta name="tinbook" content="{stamp.mark}">\n'
        f"<title>{escape(name)}: {head}</title>\n<style>{CSS}</style></head>\n<body>\n"
        f"<header><h1>{escape(name)}: {head}</h1>\n"
        f"<p>{escape(made.part.title)}</p>\n"
        f"<p>{escape(summary(sequence, say))}. {escape(sheet)}</p>\n"
        f"{_open(stamp, say)}</header>\n"
        f"{_bar(pages, say)}<main>\n{steps}</main>\n"
        f"{_table(sequence, say)}{f'<ul>{notes}</ul>' if notes else ''}\n"
        f"<footer>{escape(foot)}</footer>\n"
        f"<script>{SCRIPT}</script>\n</body></html>\n"
    )


def _open(stamp: Stamp, say: Language) -> str:
    if stamp.state == "stopped":
        stops = ", ".join(dict.fromkeys(f.code for f in stamp.stopped))
        said = say("STOPPED by {codes}: do not make it like this.", codes=stops)
        return f'<p class="clash"><strong>{escape(said)}</strong></p>\n'
    said = say.retold(stamp.words) if stamp.words else say("Proved: every rule kept, an order of folds found.")
    return f"<p><strong>{escape(said)}</strong></p>\n"


def _bar(pages: list[StepPage], say: Language) -> str:
    if not pages:
        return ""
    what = escape(say("fold") if pages[0].clash else say("step"))
    far = len(pages[0].pictures) - 1
    second = (
        f'<label>{escape(say("how far"))} <input id="far" type="range" min="0" max="{far}" value="{far}" step="1"></label>'
        if far
        else ""
    )
    return (
        f'<nav aria-label="{escape(say("Steps"))}" hidden><button id="back" type="button">{escape(say("previous"))}</button>'
        f'<label>{what} <input id="step" type="range" min="1" max="{len(pages)}" value="1" step="1"></label>'
        f'<button id="on" type="button">{escape(say("next"))}</button>{second}<output id="said" aria-live="polite"></output></nav>\n'
    )


def _article(x: StepPage) -> str:
    last = len(x.pictures) - 1
    pictures = "".join(
        f'<figure data-far="{k}"{" class=last" if k == last else ""}>{svg}<figcaption>{escape(words)}</figcaption></figure>'
        for k, (words, svg) in enumerate(x.pictures)
    )
    rows = "".join(f"<dt>{escape(a)}</dt><dd>{escape(b)}</dd>" for a, b in x.rows)
    kind = ' class="clash"' if x.clash else ""
    return f"<article{kind}><h2>{escape(x.title)}</h2>\n{pictures}\n<dl>{rows}</dl></article>\n"


def _table(sequence: FoldPlan, say: Language) -> str:
    if not sequence.steps:
        return ""
    rows = [row_of(s, say=say) for s in sequence.steps]
    return (
        f'<section class="all"><h2>{escape(say("All steps"))}</h2>{html_table(tuple(map(say, HEAD)), rows)}</section>\n'
    )


CSS: Final = """
:root{--ground:#fbfbf9;--ink:#23292e;--soft:#5b656d;--rule:#d5d9d6;--bar:#f0f1ee;--stop:#b3261e;--caution:#8a4b00;color-scheme:light}
@media screen and (prefers-color-scheme:dark){:root{--ground:#16191c;--ink:#e4e8ea;--soft:#9aa4ac;--rule:#343a40;
--bar:#202529;--stop:#ff8a80;--caution:#ffb26b;color-scheme:dark}}
body{margin:0 auto;padding:12px 16px;max-width:1100px;background:var(--ground);color:var(--ink);font:15px/1.45 system-ui,sans-serif}
h1{font-size:1.3em;margin:.2em 0}h2{font-size:1.1em;margin:.3em 0}p{margin:.2em 0}
nav{position:sticky;top:0;display:flex;flex-wrap:wrap;gap:6px 14px;align-items:center;padding:6px 8px;margin:8px 0;
border:1px solid var(--rule);border-radius:4px;background:var(--bar)}nav[hidden]{display:none}
nav label{display:flex;gap:6px;align-items:center}button{font:inherit;color:inherit;background:var(--ground);
border:1px solid var(--rule);border-radius:3px;padding:4px 14px;min-height:36px}button:disabled{opacity:.4}
article{border:1px solid var(--rule);border-radius:4px;padding:8px 12px;margin:8px 0}.clash{border-color:var(--stop)}
figure{margin:0}figure svg{display:block;max-height:60vh!important}figcaption{color:var(--soft)}
dl{display:grid;grid-template-columns:max-content 1fr;gap:2px 14px;margin:.6em 0 0}dt{color:var(--soft)}dd{margin:0}
.clash dt:first-of-type+dd{color:var(--stop);font-weight:bold}
.all{overflow-x:auto}table{border-collapse:collapse;font-size:.87em}th,td{text-align:left;vertical-align:top;
border-bottom:1px solid var(--rule);padding:2px 8px 2px 0}th{color:var(--soft);font-weight:normal}
li.stop{color:var(--stop)}li.caution{color:var(--caution)}footer{color:var(--soft);margin-top:1em;font-size:.87em}
figure:not(.last){display:none}
.live article:not(.now),.live .now figure:not(.now){display:none}.live .now figure.now{display:block}
@media print{nav{display:none}.live article:not(.now),article{display:block;break-inside:avoid}
.live .now figure:not(.now),figure{display:none}.live .now figure.now:not(.last){display:none}
article figure.last,.live .now figure.last{display:block}figure svg{max-height:62mm!important}body{font-size:11px;max-width:none}}
"""
"""On paper every step stands with its last picture; without a script the screen shows the same."""

SCRIPT: Final = """
(()=>{const q=(s)=>[...document.querySelectorAll(s)],id=(n)=>document.getElementById(n);
const pages=q("article"),step=id("step"),far=id("far");if(!step)return;
document.body.classList.add("live");q("nav")[0].hidden=false;
const show=()=>{const k=step.value-1;pages.forEach((a,i)=>a.classList.toggle("now",i===k));
const f=far?Number(far.value):0;pages[k].querySelectorAll("figure").forEach((e,i)=>e.classList.toggle("now",i===f));
id("back").disabled=k===0;id("on").disabled=k===pages.length-1;
id("said").textContent=pages[k].querySelector("h2").textContent+", "+pages[k].querySelector("figure.now figcaption").textContent};
const turn=(e,by)=>{if(!e)return;e.value=Number(e.value)+by;show()};
step.oninput=show;if(far)far.oninput=show;
id("back").onclick=()=>turn(step,-1);id("on").onclick=()=>turn(step,1);
addEventListener("keydown",(e)=>{if(e.target.tagName==="INPUT"||e.altKey||e.ctrlKey||e.metaKey)return;
const act={ArrowLeft:[step,-1],ArrowRight:[step,1],ArrowDown:[far,-1],ArrowUp:[far,1]}[e.key];
if(act&&act[0]){e.preventDefault();turn(...act)}});show()})();
"""
