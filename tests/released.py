"""A small job to release, as code that other processes run too."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import tinbook as tb

KIT: Final = Path(tb.__file__).parents[1]

MAKE: Final = """
import json, sys, time
from pathlib import Path
import tinbook as tb
from tinbook.job import Item
tray = tb.Part("TRAY", sheet="DC01 1.5", base=tb.Outline.rectangle(160, 90), title="tray for the cab")
tray = tray.fold("front", leg=25).hole((80, 45), 10)
job = tb.Job(number="Q7", prefix="Q7", title="Ablage für die Kabine", items=[
    Item(thing=tray, quantity=2), Item(thing=tb.families.gusset(), quantity=3)])
own = "Frage: passt die Ablage? Erst anhalten.\\n"
dated = {"date": "2027-03-01", "revisions": {"Q7-TRAY": [("-", "2027-01-31", "Muster"), ("A", "2027-03-01", "hole 2: added")]}}
def notebook(folder):
    cell = {"cell_type": "code", "execution_count": 1, "id": "a", "source": ["1 + 1"], "outputs": []}
    cell["metadata"] = {"execution": {"iopub.status.busy": str(time.time())}}
    file = Path(folder) / "kit.ipynb"
    file.write_text(json.dumps({"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": [cell]}))
    return file
def nest():
    found = tb.job.nest_job(job, tb.Shop.demo(), effort=0.1)
    return tb.job.move_in_job(found, 1, "Q7-TRAY rev A", x=1500, y=500, angle=0)  # by hand
if __name__ == "__main__":
    more = {"fitting": own, "notebook": notebook("."), **dated, "nest": nest()}
    print(tb.release(job, "A", tb.Shop.demo(), sys.argv[1], effort=0.1, flats=True, **more))
"""


PAIR: Final = """
import tinbook as tb
from tinbook.job import Item
plate = tb.Part("Q9-PLATE", sheet="DC01 1.5", base=tb.Outline.rectangle(120, 60)).hole((20, 20), 6.6, use="bolt")
lap = plate.renamed(number="Q9-LAP").hole((60, 30), 8, use="plug weld")
above = tb.part.frame_at((0.0, 0.0, 1.5))
whole = tb.Assembly("Q9-PAIR").add("plate", plate).add("lap", lap, above).weld("plate", "lap", throat=1.0)
job = tb.Job(number="Q9", items=[Item(thing=whole)])
"""
"""A job that is complete and small: an assembly of two parts; 3 to 4 CPU s in a fresh process."""


def made_job() -> dict[str, Any]:
    """Return the names that the code defines: `job`, `own` words, `notebook(folder)`, `nest()`."""
    made: dict[str, Any] = {"__name__": "job"}
    exec(MAKE, made)
    return made
