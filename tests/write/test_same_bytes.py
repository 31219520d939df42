"""Every writer gives the same bytes in every process, whatever the hash seed and the place in memory."""

from __future__ import annotations

import hashlib
import os
import platform
import subprocess
import sys
from pathlib import Path

import pytest

_WRITE = """
import sys
sys.path[:0] = [{kit!r}, {here!r}]
filler = [object() for _ in range(int(sys.argv[1]))]  # so that addresses differ
from pathlib import Path
from made_samples import channel, curled, measured, pan, taped
from test_step import assembly
from write_samples import plain
from tinbook.write.client_page import write_client_page
from tinbook.write.dxf import write_dxf
from tinbook.write.foldpage import write_fold_page
from tinbook.write.glb import write_glb
from tinbook.write.sheet.pages import write_sheet
from tinbook.write.step import write_step
from tinbook.write.svg import folded_svg, write_svg
from tinbook.write.template import write_template
out = Path(sys.argv[2])
for part in (channel(), pan()):
    write_dxf(part, out, marks=True)
    write_dxf(part, out, folds=True)
    write_dxf(part, out, "R12")
    write_svg(part, out, dims=True)
    write_sheet(part, out)
    write_template(part, out)
    write_client_page(part, out, flats=True)
    (out / (part.part.number + "_folded.svg")).write_text(folded_svg(part), "utf-8")
for part in (measured(), taped(), curled()):
    write_dxf(part, out)
    write_step(part, out)
write_fold_page(measured(), out)
write_dxf(plain(), out, kerf=1.5)
write_step(channel(), out)
write_glb(channel(), out)
(out / "assembly1.step").write_text(assembly(), "utf-8")
(out / "assembly2.step").write_text(assembly(), "utf-8")
"""


ENVIRONMENTS: dict[str, dict[str, str]] = {
    "plain": {},
    "a date for builds": {"SOURCE_DATE_EPOCH": "1700000000"},
    "another place": {
        "TZ": "Pacific/Apia",
        "LC_ALL": "C",
        "PYTHONUTF8": "0",
        "XDG_CONFIG_HOME": "nowhere",
        "HOME": ".",
    },
    "without docstrings": {"PYTHONOPTIMIZE": "2", "SOURCE_DATE_EPOCH": "1"},
    "another processor": {
        # What the libraries of linear algebra and of sines do where a processor has none of the newer instructions.
        "OPENBLAS_CORETYPE": "Prescott",
        "NPY_DISABLE_CPU_FEATURES": "X86_V3 X86_V4 AVX512_ICL AVX512_SPR",
    },
}
if platform.machine() not in ("x86_64", "AMD64"):
    del ENVIRONMENTS["another processor"]  # what another kind of processor rounds is not promised


def bare() -> dict[str, str]:
    """The environment of this run without what the environments above set by themselves."""
    return {k: v for k, v in os.environ.items() if k not in ("SOURCE_DATE_EPOCH", "PYTHONOPTIMIZE")}


def test_same_bytes_in_every_process(tmp_path: Path) -> None:
    here = Path(__file__).parent
    script = _WRITE.format(kit=str(here.parents[1] / "kit"), here=str(here))
    found: list[dict[str, str]] = []
    other = {**ENVIRONMENTS["without docstrings"], **ENVIRONMENTS.get("another processor", {})}
    for seed, filler, more in (("3", "0", ENVIRONMENTS["another place"]), ("4", "100003", other)):
        out = tmp_path / seed
        out.mkdir()
        env = {**bare(), **more, "PYTHONHASHSEED": seed}
        subprocess.run([sys.executable, "-c", script, filler, str(out)], check=True, env=env)
        found.append({p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(out.iterdir())})
    assert found[0] == found[1]
    assert len(found[0]) == 28
    assert found[0]["assembly1.step"] == found[0]["assembly2.step"]


_SMALL = """
import sys, hashlib
sys.path.insert(0, {kit!r})
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop
from tinbook.write.client_page import write_client_page
from tinbook.write.dxf import write_dxf
from tinbook.write.sheet.pages import write_sheet
from tinbook.write.svg import write_svg
from tinbook.write.template import write_template
part = Part("HN-BT", sheet="DC01 1.5", base=Outline.rectangle(200, 100)).fold("front", leg=30).hole((50, 50), dia=9)
made = make(part.hole((90, 50), dia=1), Shop.demo())
files = [write_dxf(made, sys.argv[1], "R12", marks=True), write_dxf(made, sys.argv[1], folds=True)]
files += [write(made, sys.argv[1]) for write in (write_dxf, write_sheet, write_svg, write_template)]
print(*(hashlib.sha256(f.read_bytes()).hexdigest() for f in files))
"""
SEEDS = (0, 1, 2, 3, 4, 5, 6, 7, 42, 123, 9999, 4294967295)
"""The order of two classes in a DXF went one way with 0, 1, 2, 3, 5, 6 and the other with 4, 7, 123."""


def hashes(tmp_path: Path, pairs: list[tuple[int, str]]) -> set[str]:
    script = _SMALL.format(kit=str(Path(__file__).parents[2] / "kit"))
    found = set()
    for seed, name in pairs:
        out = tmp_path / f"{seed} {name}"
        out.mkdir()
        env = {**bare(), **ENVIRONMENTS[name], "PYTHONHASHSEED": str(seed)}
        call = [sys.executable, "-c", script, str(out)]
        found.add(subprocess.run(call, check=True, env=env, capture_output=True, text=True).stdout)
    return found


@pytest.mark.full
def test_twelve_seeds_in_four_environments(tmp_path: Path) -> None:
    assert len(hashes(tmp_path, [(seed, name) for seed in SEEDS for name in ENVIRONMENTS])) == 1


def test_the_time_of_day_does_not_matter(monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    from made_samples import channel, sheet_bytes
    from write_samples import plain

    from tinbook.write.dxf import dxf_bytes

    before = dxf_bytes(plain()), dxf_bytes(plain(), "R12"), sheet_bytes(channel())
    real = time.time
    monkeypatch.setattr(time, "time", lambda: real() + 40_000_000)
    assert (dxf_bytes(plain()), dxf_bytes(plain(), "R12"), sheet_bytes(channel())) == before
