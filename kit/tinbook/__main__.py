"""A few verbs for people outside a notebook: make, check, unfold, clean."""

from __future__ import annotations

import argparse
import json
import math
import os
import sys
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tinbook.errors import TinbookError
from tinbook.finding import Finding, stops

GOOD, STOPPED, BAD = 0, 1, 2


def main(words: list[str] | None = None) -> int:
    """Run one verb.

    Parameters
    ----------
    words : list of str, optional
        Command line, else the process's own.

    Returns
    -------
    int
        0 good, 1 findings that stop, 2 bad input.
    """
    parser = _parser()
    asked = parser.parse_args(words)
    try:
        told: dict[str, Any] = asked.run(asked)
    except TinbookError as wrong:
        return _refused(str(wrong), type(wrong).__name__, asked.json)
    except OSError as wrong:
        return _refused(f"{wrong.filename or ''}: {wrong.strerror or wrong}", "OSError", asked.json)
    code = STOPPED if stops(told["findings"]) else GOOD
    try:
        if asked.json:
            told["findings"] = [asdict(f) for f in told["findings"]]
            print(json.dumps({**told, "exit": code}, indent=2, ensure_ascii=False), flush=True)
        else:
            _print(told)
            sys.stdout.flush()
    except BrokenPipeError:  # whoever read it (head, less) has gone; nothing may be written at the end either
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tinbook", description="Sheet-metal parts from the command line.")
    verbs = parser.add_subparsers(required=True, metavar="verb")
    both = argparse.ArgumentParser(add_help=False)
    both.add_argument("--shop", type=Path, help="shop file (TOML); else the demo workshop")
    both.add_argument("--out", type=Path, help="folder for the files, made if it does not exist")
    both.add_argument("--json", action="store_true", help="say everything as JSON")
    for name, run, what in (
        ("make", _make, "write DXF, STEP and fold sheet of a part file"),
        ("check", _check, "check a part file against the shop, write nothing"),
        ("unfold", _unfold, "unfold a folded STEP solid to a DXF"),
        ("clean", _clean, "clean somebody else's DXF into one that a cutter takes"),
    ):
        verb = verbs.add_parser(name, help=what, description=what, parents=[both])
        verb.add_argument("file", type=Path)
        verb.set_defaults(run=run)
        if name == "unfold":
            verb.add_argument("-k", type=float, default=0.44, help="K-factor of the bends, 0 to 1")
            verb.add_argument("--solid", help="name of the solid, where the file holds several")
            verb.add_argument("--unit", help="unit of a file that states none: mm, cm, m, in, ft")
        if name == "clean":
            verb.add_argument("--tol", default="0.05 mm", help="how far joined ends and fitted curves may move")
    return parser


def _shop(asked: argparse.Namespace) -> Any:
    from tinbook.shop.shop import Shop

    return Shop.demo() if asked.shop is None else Shop.load(asked.shop)


def _folder(asked: argparse.Namespace) -> Path:
    from tinbook.write.files import ready_folder

    return ready_folder(asked.out or Path("out"))


def _made(asked: argparse.Namespace) -> tuple[Any, tuple[Finding, ...], Any]:
    """Return the made part, what is found about it and its folds, and the order of folds where one was searched."""
    from tinbook.check.verdict import check
    from tinbook.make.resolve import make
    from tinbook.part.partfile import read_part

    made = make(read_part(asked.file), _shop(asked))
    found = check(made)
    return made, found, found.plan


def _check(asked: argparse.Namespace) -> dict[str, Any]:
    return _told(*_made(asked), [])


def _make(asked: argparse.Namespace) -> dict[str, Any]:
    from tinbook.write.dxf import write_dxf
    from tinbook.write.sheet import write_sheet
    from tinbook.write.step import write_step

    made, found, order = _made(asked)
    files: list[str] = []
    if not stops(found):
        out = _folder(asked)
        written = (
            write_dxf(made, out, marks=True),
            write_dxf(made, out, folds=True),
            write_step(made, out),
            write_sheet(made, out, order=order),
        )
        files = [str(f) for f in written]
    return _told(made, found, order, files)


def _told(made: Any, found: tuple[Finding, ...], order: Any, files: list[str]) -> dict[str, Any]:
    facts = _facts(made.flat)
    if order is not None and order.steps:
        facts["order_of_folds"] = [{"name": s.fold, "tool": s.tool, "turn_over": s.turn_over} for s in order.steps]
    return {"part": f"{made.part.number} {made.part.rev}", "facts": facts, "findings": found, "files": files}


def _unfold(asked: argparse.Namespace) -> dict[str, Any]:
    from tinbook.read.step import unfold
    from tinbook.write.dxf import write_dxf

    flat = unfold(asked.file, bend=asked.k, solid=asked.solid, units=asked.unit)
    files: list[str] = []
    if not stops(flat.findings):
        out = _folder(asked)
        files = [str(write_dxf(flat, out)), str(write_dxf(flat, out, folds=True))]
    return {"part": flat.name, "facts": _facts(flat), "findings": flat.findings, "files": files}


def _clean(asked: argparse.Namespace) -> dict[str, Any]:
    from tinbook.read.dxf import read_dxf
    from tinbook.write.dxf import write_dxf

    flat = read_dxf(asked.file, tol=asked.tol)
    files: list[str] = []
    if not stops(flat.findings):
        files = [str(write_dxf(flat, _folder(asked)))]
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


def _print(told: dict[str, Any]) -> None:
    print(told["part"])
    for key, value in told["facts"].items():
        if key == "folds":
            for f in value:
                print(f"  fold {f['name']}: {f['direction']}, turned {f['turned']:g}, inside radius {f['radius']:g} mm")
        elif key == "order_of_folds":
            steps = (f"{'turn over, ' * s['turn_over']}{s['name']} on {s['tool']}" for s in value)
            print(f"  order of folds: {'; '.join(steps)}")
        else:
            print(f"  {key}: {' x '.join(map(str, value)) if isinstance(value, list) else value}")
    for f in _worth_saying(told["findings"]):
        print(f"  {f}")
    for file in told["files"]:
        print(f"  wrote {file}")
    if stops(told["findings"]):
        print("  nothing was written")


def _worth_saying(found: Iterable[Finding]) -> list[Finding]:
    return [f for f in found if f.severity != "fine"]


def _refused(why: str, kind: str, as_json: bool) -> int:
    if as_json:
        print(json.dumps({"error": kind, "what": why, "exit": BAD}, indent=2, ensure_ascii=False))
    else:
        print(why, file=sys.stderr)
    return BAD


if __name__ == "__main__":
    sys.exit(main())
