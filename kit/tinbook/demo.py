"""The main job: from measured points to a floor pan's DXF, STEP, fold sheet and paper template."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tinbook.exits import CODES, GOOD, STOPPED, UNPROVED, guarded
from tinbook.families.pan import floor_pan
from tinbook.finding import Findings
from tinbook.making.resolve import make
from tinbook.read.points import read_outline
from tinbook.rules.check import check
from tinbook.shop.shop import Shop
from tinbook.write.drafts import together
from tinbook.write.dxf import write_dxf
from tinbook.write.files import ready_folder
from tinbook.write.glb import write_glb
from tinbook.write.sheet.pages import write_sheet
from tinbook.write.step import write_step
from tinbook.write.svg import write_svg
from tinbook.write.template import write_template

ROOT = Path(__file__).resolve().parents[2]
POINTS = ROOT / "notebooks" / "data" / "heron_left_floor_opening.csv"


def main(words: list[str] | None = None) -> int:
    """Make the Heron's left floor pan and say what was checked and where the files are.

    Parameters
    ----------
    words : list of str, optional
        Command line, else the process's own.

    Returns
    -------
    int
        0 good, 1 a finding that stops, 2 bad input, 3 not proved, 70 a mistake of the kit, 130 ended by Ctrl-C.
    """
    parser = argparse.ArgumentParser(prog="tinbook", description="Make a floor pan from measured points.", epilog=CODES)
    parser.add_argument("points", nargs="?", type=Path, default=POINTS, help="CSV of measured points")
    parser.add_argument("--shop", type=Path, help="shop file (TOML); else the demo workshop")
    parser.add_argument("--fold", default="tunnel", help="edge with the upturned leg")
    parser.add_argument("--out", type=Path, default=Path("out"), help="folder for the files")
    parser.add_argument("--replace", action="store_true", help="write over files that are no drafts of this pan")

    def job() -> int:
        asked = parser.parse_args(words)
        return run(asked.points, asked.shop, asked.fold, asked.out, replace=asked.replace)

    return guarded(job)


def run(points: Path, shop_file: Path | None, fold: str, out: Path, *, replace: bool = False) -> int:
    """Do the job; see `main`."""
    shop = Shop.demo() if shop_file is None else Shop.load(shop_file)
    print(f"1  points    {points.name}")
    opening = read_outline(points, tol="0.5 mm")
    x0, y0, x1, y1 = opening.box
    fit = opening.fit
    print(f"   opening   {x1 - x0:.1f} x {y1 - y0:.1f} mm, {len(opening.names)} edges: {', '.join(opening.names)}")
    for e in fit.edges:
        print(f"             {e.name:8} {e.kind:5} {e.count:3} points, worst {abs(e.worst):.2f} mm at {e.worst_at}")
    print(f"             out of flat {fit.out_of_flat:.2f} mm")
    part = floor_pan(opening, sheet="DC01 1.5", fold=fold, number="HN-FP-L", rev="B")
    print(f"2  part      {part.number} revision {part.rev}, {part.sheet}, on the tools of {shop.name}")
    made = make(part, shop)
    found = check(made, shop, opening=opening)
    print("3  checks    " + _count(found))
    for f in found:
        if f.severity != "fine":
            print(f"             {f}")
    if not found.ok or made.flat is None:
        print("Nothing was written: mend what stops it first.")
        return STOPPED
    w, h = made.flat.size
    print(f"   blank     {w:.2f} x {h:.2f} mm, {made.mass:.2f} kg, {made.flat.cut_length / 1000:.2f} m to cut")
    for f in found.of("route.order"):
        print(f"   folds     {f.what}")
    ready_folder(out)
    print("4  files")
    with together():
        written = [
            ("cut file", write_dxf(made, out, marks=True, replace=replace)),
            ("fold lines to look at", write_dxf(made, out, folds=True, replace=replace)),
            ("for old controllers", write_dxf(made, out, "R12", marks=True, replace=replace)),
            ("solid", write_step(made, out, replace=replace)),
            ("solid for a screen", write_glb(made, out, replace=replace)),
            ("flat, picture", write_svg(made, out, dims=True, replace=replace)),
            ("fold sheet", write_sheet(made, out, order=found.plan, replace=replace)),
            ("paper template", write_template(made, out, replace=replace)),
        ]
    for what, path in written:
        print(f"   {what:22} {path}")
    solid = made.solid
    print(f"5  read back {'valid' if solid.isValid() else 'INVALID'} solid, {solid.Volume():.0f} mm3")
    print("Check the thickness of your sheet and fold a test strip before you cut. See the cautions on the sheet.")
    return GOOD if found.state == "proved" else UNPROVED


def _count(found: Findings) -> str:
    number = {s: sum(f.severity == s for f in found) for s in ("stop", "caution", "fine")}
    return f"{number['stop']} stop, {number['caution']} caution, {number['fine']} fine"


if __name__ == "__main__":
    sys.exit(main())
