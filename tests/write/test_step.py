"""The exchange file of the folded part, read back by readers that know nothing of our writer."""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest
from made_samples import channel, impossible, pan
from write_samples import plain

from tinbook.errors import BadValue, CannotMake
from tinbook.making.made import Made
from tinbook.making.solid.stepfile import StepItem
from tinbook.write.part21 import ordered
from tinbook.write.step import step_text, write_step


def kernel_volumes(file: Path) -> list[float]:
    """Volumes of all solids, by the kernel's plain reader without colours and names."""
    import cadquery as cq
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.STEPControl import STEPControl_Reader

    reader = STEPControl_Reader()
    assert reader.ReadFile(str(file)) == IFSelect_ReturnStatus.IFSelect_RetDone
    reader.TransferRoots()
    return [s.Volume() for s in cq.Shape.cast(reader.OneShape()).Solids()]


@pytest.mark.parametrize("made", [channel, pan], ids=["channel", "pan"])
def test_reads_back_as_one_solid_of_the_same_volume(tmp_path: Path, made: object) -> None:
    it: Made = made()  # type: ignore[operator]
    file = write_step(it, tmp_path)
    assert kernel_volumes(file) == pytest.approx([it.solid.Volume()], rel=1e-9)


GMSH = """
import sys
import gmsh

gmsh.initialize(interruptible=False)
gmsh.option.setNumber("General.Terminal", 0)
gmsh.model.occ.importShapes(sys.argv[1])
gmsh.model.occ.synchronize()
print(*(gmsh.model.occ.getMass(*volume) for volume in gmsh.model.getEntities(3)))
"""


def test_gmsh_reads_one_volume(tmp_path: Path) -> None:
    """In a process of its own: gmsh takes away the handling of signals, and a broken pipe would then end this one."""
    if not find_spec("gmsh"):
        (pytest.fail if os.environ.get("CI") else pytest.skip)("gmsh is not installed")
    file = write_step(channel(), tmp_path)
    done = subprocess.run([sys.executable, "-c", GMSH, str(file)], capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stderr
    assert [float(v) for v in done.stdout.split()] == pytest.approx([channel().solid.Volume()], rel=1e-6)


def test_says_what_it_is_and_nothing_else(tmp_path: Path) -> None:
    text = write_step(channel(), tmp_path).read_text()
    assert "PRODUCT('HN-WC rev A','HN-WC rev A'" in text
    assert "AUTOMOTIVE_DESIGN" in text.split("ENDSEC;")[0]
    assert "SI_UNIT(.MILLI.,.METRE.)" in text
    assert text.count("COLOUR_RGB") == 1
    # No time of day, nobody's name.
    assert "FILE_NAME('HN-WC rev A','',(''),(''),'tinbook','','');" in text
    assert not re.search(r"\d\d:\d\d:\d\d", text)
    assert max(map(len, text.splitlines())) < 200


def test_the_kernels_settings_are_put_back(tmp_path: Path) -> None:
    from OCP.Interface import Interface_Static

    write_step(channel(), tmp_path)
    before = Interface_Static.CVal_s("write.step.schema")
    Interface_Static.SetCVal_s("write.step.schema", "AP203")
    try:
        write_step(channel(), tmp_path)
        assert Interface_Static.CVal_s("write.step.schema") == "AP203"
    finally:
        Interface_Static.SetCVal_s("write.step.schema", before)


def assembly() -> str:
    """Two solids of one colour, two copies of a third in another colour."""
    import cadquery as cq

    def at(z: float) -> tuple[float, ...]:
        return (1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, z)

    plate = cq.Workplane().box(60, 40, 2).faces(">Z").workplane().rarray(20, 15, 3, 2).hole(5).val()
    same = cq.Workplane().box(60, 40, 2).faces(">Z").workplane().rarray(20, 15, 3, 2).hole(5).val()
    rod = cq.Workplane().circle(5).extrude(30).val()
    grey, red, blue = (0.6, 0.6, 0.65), (0.8, 0.1, 0.1), (0.1, 0.2, 0.8)
    items = [
        StepItem(shape=plate, name="HN-TL rev A", colour=grey, matrix=at(0)),
        StepItem(shape=same, name="HN-TN rev A", colour=grey, matrix=at(20)),
        StepItem(shape=rod, name="HN-ST rev C", colour=red, matrix=at(40)),
        StepItem(shape=rod, name="HN-ST rev C", colour=red, matrix=at(80)),
        StepItem(
            shape=cq.Workplane().sphere(7).val().moved(cq.Location((0, 0, 3))),
            name="HN-BM rev A",
            colour=blue,
            matrix=at(120),
        ),
    ]
    return step_text(items, "HN-WC-ASSY rev A")


def test_assembly_reads_back(tmp_path: Path) -> None:
    (tmp_path / "a.step").write_text(assembly())
    found = kernel_volumes(tmp_path / "a.step")
    assert len(found) == 5
    # pi r² h and 4/3 pi r³.
    assert sorted(found)[:3] == pytest.approx([1436.7550, 2356.1945, 2356.1945], rel=1e-7)


def _shuffled(text: str, seed: int) -> str:
    """The same model with other entity numbers, in another order, its sets of colours turned round."""
    rng = random.Random(seed)
    head, data = text.split("DATA;\n")
    data = data.split("ENDSEC;")[0].replace("\n", "")
    entities = re.findall(r"#(\d+)=((?:[^';]|'[^']*')*);", data)
    numbers = [int(n) for n, _ in entities]
    new = dict(zip(map(str, numbers), rng.sample(range(1, 9 * len(numbers)), len(numbers)), strict=True))

    def turned(body: str) -> str:
        if not body.startswith("MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION"):
            return body
        inner = re.search(r"\(([#\d,]+)\)", body)
        assert inner
        items = inner.group(1).split(",")
        rng.shuffle(items)
        return body.replace(inner.group(1), ",".join(items))

    lines = [
        f"#{new[n]} = " + re.sub(r"'[^']*'|#(\d+)", lambda m: f"#{new[m[1]]}" if m[1] else m[0], turned(body)) + ";\n"
        for n, body in entities
    ]
    rng.shuffle(lines)
    return head + "DATA;\n" + "".join(lines) + "ENDSEC;\nEND-ISO-10303-21;\n"


def test_every_product_has_its_own_name() -> None:
    """Also that of a shape which carries a placement of its own."""
    names = re.findall(r"=PRODUCT\('([^']*)'", assembly())
    assert sorted(names) == ["HN-BM rev A", "HN-ST rev C", "HN-TL rev A", "HN-TN rev A", "HN-WC-ASSY rev A"]


def test_order_depends_on_content_alone() -> None:
    """However the kernel numbers and sorts the entities, the same text comes out."""
    text = assembly()
    for seed in range(3):
        other = _shuffled(text, seed)
        assert other != text
        assert ordered(other, "HN-WC-ASSY rev A") == text


def test_another_model_gives_another_text() -> None:
    text = assembly()
    assert ordered(text.replace("0.8", "0.9"), "HN-WC-ASSY rev A") != text


def test_refusals_write_nothing(tmp_path: Path) -> None:
    with pytest.raises(CannotMake, match="bead"):
        write_step(impossible(), tmp_path)
    with pytest.raises(BadValue, match="folder"):
        write_step(channel(), tmp_path / "missing" / "a.step")
    with pytest.raises(BadValue, match="made part"):
        write_step(plain(), tmp_path)  # type: ignore[arg-type]
    assert not list(tmp_path.iterdir())
