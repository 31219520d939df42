"""A few verbs for people outside a notebook: make, check, unfold, sort, clean; nest, price, stock; enquiry, quotation, order; release, verify, compare, sent, share."""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Iterator
from dataclasses import asdict, replace
from functools import partial
from pathlib import Path
from typing import Any

import tinbook as tb
from tinbook.errors import BadValue
from tinbook.exits import CODES, GOOD, STOPPED, UNPROVED, guarded, show
from tinbook.finding import Findings
from tinbook.job.arguments import nesting_options, offer_verbs, path
from tinbook.write.files import ready_folder


def main(words: list[str] | None = None) -> int:
    """Run one verb.

    Parameters
    ----------
    words : list of str, optional
        Command line, else the process's own.

    Returns
    -------
    int
        0 good, 1 findings that stop, 2 bad input, 3 not proved, 70 a mistake of the kit, 130 ended by Ctrl-C.
    """
    given = sys.argv[1:] if words is None else words
    return guarded(lambda: _run(given), as_json="--json" in given)


def _run(words: list[str]) -> int:
    asked = _parser().parse_args(words)
    told: dict[str, Any] = asked.run(asked)
    code = STOPPED if told["findings"].stops else UNPROVED if told.get("state") == "not proved" else GOOD
    if asked.json:
        told.pop("lines", None)
        told["findings"] = [asdict(f) for f in told["findings"]]
        show(json.dumps({**told, "exit": code}, indent=2, ensure_ascii=False))
    else:
        show("\n".join(_lines(told)))
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m tinbook", description="Sheet-metal parts from the command line.", epilog=CODES
    )
    verbs = parser.add_subparsers(required=True, metavar="verb")
    both = argparse.ArgumentParser(add_help=False)
    both.add_argument("--shop", type=path, help="shop file (TOML); else the demo workshop")
    both.add_argument("--out", type=path, help="folder for the files, made if it does not exist")
    both.add_argument("--replace", action="store_true", help="write over files that are no drafts of this design")
    both.add_argument("--json", action="store_true", help="say everything as JSON")
    for name, run, what in (
        ("make", _make, "write DXF, STEP and fold sheet of a part file"),
        ("check", _check, "check a part file against the shop, write nothing"),
        ("unfold", _unfold, "unfold a folded STEP solid to a DXF"),
        ("sort", _sort, "sort an assembly's STEP solids into sheet parts with counts and the rest with reasons"),
        ("clean", _clean, "clean somebody else's DXF into one that a cutter takes"),
    ):
        verb = verbs.add_parser(name, help=what, description=what, parents=[both], epilog=CODES)
        verb.add_argument("file", type=path)
        verb.set_defaults(run=run)
        if name == "make":
            verb.add_argument("--despite", help="a reason for writing files although something stops the part")
        if name in ("unfold", "sort"):
            verb.add_argument(
                "-k",
                type=float,
                help="K-factor of the bends, 0 to 1; left out, the rules of the --shop that is named serve",
            )
            verb.add_argument("--unit", help="unit of a file that states none: mm, cm, m, in, ft")
            verb.add_argument("--seconds", type=float, help="seconds of computing that reading may take, 1 to 86400")
        if name == "unfold":
            verb.add_argument("--solid", help="name of the solid, where the file holds several")
        if name == "clean":
            verb.add_argument("--tol", default="0.05 mm", help="how far joined ends and fitted curves may move")
    _job_verbs(verbs, both)
    offer_verbs(verbs, both, CODES)
    _leaving_verbs(verbs, both)
    return parser


def _job_verbs(verbs: Any, both: argparse.ArgumentParser) -> None:
    """Add the verbs of a job; what they need is loaded when one of them runs."""
    for name, what in (
        ("nest", "put a job file's parts on sheets; with --out write cut files, cutting sheet and lists"),
        ("price", "price a job file"),
        ("stock", "show a store of sheets and offcuts, or change it"),
    ):
        verb = verbs.add_parser(name, help=what, description=what, parents=[both], epilog=CODES)
        verb.add_argument("file", type=path, help="the store" if name == "stock" else "the job file (TOML)")
        verb.set_defaults(run=partial(_of_job, name))
        if name != "stock":
            nesting_options(verb, "1" if name == "nest" else "1,5,20")
        if name == "nest":
            verb.add_argument("--layouts", type=path, help="layouts as nest wrote them, corrected by hand")
            verb.add_argument("--book", action="store_true", help="book it in the store of --stock")
        if name == "stock":
            size = ("SHEET", "LENGTH", "WIDTH", "QUANTITY")
            verb.add_argument("--receive", nargs=4, metavar=size, help='a delivery, as in "DC01 1.5" 2000 1000 5')
            for option in ("price", "supplier", "heat", "certificate", "place"):
                verb.add_argument(f"--{option}", help="of the delivery")
            verb.add_argument("--scrap", metavar="OFFCUT", help="take an offcut out of the rack")
            verb.add_argument("--cancel", metavar="JOB", help="undo a booking")
            verb.add_argument("--trace", metavar="PART", help="from which metal a part was cut")
            noted = ("JOB", "OPERATION", "QUANTITY", "MINUTES")
            verb.add_argument("--minutes", nargs=4, metavar=noted, help='minutes as measured, as in Q41 fold 24 "38.5"')
            verb.add_argument(
                "--propose", action="store_true", help="rates by the minutes of the last five jobs; --shop"
            )
            verb.add_argument("--accept", metavar="RATE", help="take a proposed rate, as in fold or minutes.fold")
            verb.add_argument("--dump", type=path, metavar="FILE", help="write all of it as text (.jsonl)")


def _leaving_verbs(verbs: Any, both: argparse.ArgumentParser) -> None:
    """Add the verbs for what leaves the workshop."""
    for name, what in (
        ("release", "release a job file as one archive that proves itself; --out names its folder"),
        ("verify", "say what was altered in a pack"),
        ("compare", "compare two part files or two packs"),
        ("sent", "show who was sent which release, or note it: the store of --stock in a release"),
        ("share", "run a notebook and write it as one page without a network"),
    ):
        verb = verbs.add_parser(name, help=what, description=what, parents=[both], epilog=CODES)
        verb.add_argument("file", type=path)
        verb.set_defaults(run=partial(_leaving, name))
        if name == "release":
            verb.add_argument("rev", help="revision of the release")
            nesting_options(verb, "1", "store that gives sheets and records the release")
            verb.add_argument("--layouts", type=path, help="layouts as nest wrote them, corrected by hand")
            verb.add_argument("--flats", action="store_true", help="flat patterns on the customer's page")
            verb.add_argument("--despite", help="a reason for releasing although something stops a part")
            verb.add_argument("--fitting", type=path, help="text of fitting instructions with your own words")
            verb.add_argument("--notebook", type=path, help="executed notebook that goes into the pack")
            verb.add_argument("--before", type=path, help="pack of the release before, for the tables of revisions")
            verb.add_argument("--date", default="", help="printed on the papers, as 2027-03-31")
        if name == "sent":
            verb.add_argument("--release", nargs=2, metavar=("NUMBER", "REV"), help="the release that was sent")
            verb.add_argument("--to", help="to whom")
            verb.add_argument("--how", help="by which way")
            verb.add_argument("--day", help="when, as 2027-03-31; else today")
        if name == "verify":
            verb.add_argument("--stock", type=path, help="store that recorded the release")
        if name == "compare":
            verb.add_argument("new", type=path)


def _leaving(name: str, asked: argparse.Namespace) -> dict[str, Any]:
    if name == "share":
        page = tb.share(asked.file, asked.out or Path(), replace=asked.replace)
        return {"part": asked.file.name, "facts": {}, "findings": Findings(), "files": [str(page)]}
    from tinbook.job.releasing import verbs
    from tinbook.job.verbs import count

    if name == "release":
        asked.sets = count(asked.sets)
    run = {
        "release": verbs.release_verb,
        "verify": verbs.verify_verb,
        "compare": verbs.compare_verb,
        "sent": verbs.sent_verb,
    }
    return run[name](asked)


def _of_job(name: str, asked: argparse.Namespace) -> dict[str, Any]:
    from tinbook.job import verbs

    if name != "stock":
        asked.sets = verbs.counts(asked.sets) if name == "price" else verbs.count(asked.sets)
    told: dict[str, Any] = {"nest": verbs.nest_verb, "price": verbs.price_verb, "stock": verbs.stock_verb}[name](asked)
    return told


def _shop(asked: argparse.Namespace) -> Any:

    return tb.Shop.demo() if asked.shop is None else tb.Shop.load(asked.shop)


def _k(asked: argparse.Namespace) -> Any:
    """Return the K that was given; without one a shop file must state it, because the demo shop is not the user's."""

    def unknown(angle: float, radius: float, thickness: float) -> float:
        raise BadValue("-k", None, "the K-factor of the bends, 0 to 1; or --shop, a shop file whose rules serve")

    return unknown if asked.k is None and asked.shop is None else asked.k


def _folder(asked: argparse.Namespace) -> Path:

    return ready_folder(asked.out or Path("out"))


def _made(asked: argparse.Namespace) -> Any:

    return tb.make(tb.read_part(asked.file), _shop(asked))


def _check(asked: argparse.Namespace) -> dict[str, Any]:
    return _told(_made(asked), [])


def _make(asked: argparse.Namespace) -> dict[str, Any]:
    from tinbook.write.drafts import together

    made = _made(asked)
    files: list[str] = []
    if made.ok and (tb.check(made).ok or asked.despite is not None):
        out = _folder(asked)
        how = {"despite": asked.despite, "replace": asked.replace}
        with together():
            written = (
                tb.write_dxf(made, out, marks=True, **how),
                tb.write_dxf(made, out, folds=True, **how),
                tb.write_step(made, out, **how),
                tb.write_sheet(made, out, **how),
            )
        files = [str(f) for f in written]
    return _told(made, files)


def _told(made: Any, files: list[str]) -> dict[str, Any]:

    found = tb.check(made)
    facts = _facts(made.flat)
    if found.plan is not None and found.plan.steps:
        facts["order_of_folds"] = [{"name": s.fold, "tool": s.tool, "turn_over": s.turn_over} for s in found.plan.steps]
    name = f"{made.part.number} {made.part.rev}"
    return {"part": name, "state": found.state, "facts": facts, "findings": found, "files": files}


def _unfold(asked: argparse.Namespace) -> dict[str, Any]:
    from tinbook.write.drafts import together

    flat = tb.unfold(
        asked.file, bend=_k(asked), solid=asked.solid, units=asked.unit, shop=_shop(asked), seconds=asked.seconds
    )
    files: list[str] = []
    if not flat.findings.stops:
        out = _folder(asked)
        with together():
            files = [str(tb.write_dxf(flat, out, folds=folds, replace=asked.replace)) for folds in (False, True)]
    return {"part": flat.name, "facts": _facts(flat), "findings": flat.findings, "files": files}


def _sort(asked: argparse.Namespace) -> dict[str, Any]:
    """Sort an assembly; with a folder, write the flats of all sheet parts that no finding stops."""
    found = tb.sort_solids(asked.file, bend=_k(asked), units=asked.unit, shop=_shop(asked), seconds=asked.seconds)
    files: list[str] = []
    if asked.out is not None:
        good = [s for s in found.sheets if not s.flat.findings.stops]
        files = [
            str(tb.write_dxf(s.flat, _folder(asked), folds=True, quantity=s.count, replace=asked.replace)) for s in good
        ]
    kinds = {
        "sheets": [
            {"name": s.name, "count": s.count, "names": list(s.names), "mirror_of": s.mirror_of, **_facts(s.flat)}
            for s in found.sheets
        ],
        "rest": [{"name": r.name, "count": r.count, "names": list(r.names), "why": r.why} for r in found.rest],
    }
    told = tuple(replace(f, where=f"{s.name}: {f.where}") for s in found.sheets for f in s.flat.findings)
    return {"part": asked.file.name, "facts": kinds, "findings": Findings(told), "files": files}


def _clean(asked: argparse.Namespace) -> dict[str, Any]:

    flat = tb.read_dxf(asked.file, tol=asked.tol)
    files: list[str] = []
    if not flat.findings.stops:
        files = [str(tb.write_dxf(flat, _folder(asked), replace=asked.replace))]
    return {"part": flat.name, "facts": _facts(flat), "findings": flat.findings, "files": files}


def _facts(flat: Any) -> dict[str, Any]:
    if flat is None:
        return {}
    w, h = flat.size
    folds = [
        {"name": f.name, "direction": f.direction, "turned": round(f.angle, 4), "radius": round(f.radius, 4)}
        for f in flat.folds
    ]
    return {
        "thickness_mm": None if math.isnan(flat.thickness) else flat.thickness,
        "blank_mm": [round(w, 3), round(h, 3)],
        "area_mm2": round(flat.area, 2),
        "cut_mm": round(flat.cut_length, 2),
        "openings": len(flat.cuts),
        "folds": folds,
    }


def _lines(told: dict[str, Any]) -> Iterator[str]:
    yield told["part"] + (f": {told['state'].upper()}" if told.get("state") in ("stopped", "not proved") else "")
    yield from told.get("lines", ())
    for key, value in () if "lines" in told else told["facts"].items():
        if key == "folds":
            for f in value:
                name = f["name"] if f["name"].startswith("fold") else f"fold {f['name']}"
                yield f"  {name}: {f['direction']}, turned {f['turned']:g}, inside radius {f['radius']:g} mm"
        elif key == "sheets":
            yield from (f"  {_sheet(s)}" for s in value)
        elif key == "rest":
            yield from (f"  {r['count']} x {r['name']}: no sheet: {r['why']}" for r in value)
        elif key == "order_of_folds":
            steps = (f"{'turn over, ' * s['turn_over']}{s['name']} on {s['tool']}" for s in value)
            yield f"  order of folds: {'; '.join(steps)}"
        else:
            yield f"  {key}: {' x '.join(map(str, value)) if isinstance(value, list) else value}"
    yield from (f"  {f}" for f in told["findings"] if f.severity != "fine")
    yield from (f"  wrote {file}" for file in told["files"])
    if told["findings"].stops and not told["files"]:
        yield "  nothing was written"


def _sheet(s: dict[str, Any]) -> str:
    """Return one kind of sheet part in a line."""
    hand = f", other hand of {s['mirror_of']}" if s["mirror_of"] else ""
    size = " x ".join(map(str, s["blank_mm"]))
    return f"{s['count']} x {s['name']}: {s['thickness_mm']:g} mm, blank {size} mm, {len(s['folds'])} folds{hand}"


if __name__ == "__main__":
    sys.exit(main())
