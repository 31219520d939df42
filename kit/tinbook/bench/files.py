"""What the write buttons of a workbench do."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from tinbook.errors import BadValue

if TYPE_CHECKING:
    from tinbook.finding import Findings
    from tinbook.making.made import Made


def write_checked(
    made: Made, folder: Path, kind: Literal["dxf", "step"], show: Callable[[Findings], None]
) -> tuple[Path, str]:
    """Check a part by every rule, the searched ones included, and write its file into a folder.

    Parameters
    ----------
    made : Made
        The part.
    folder : Path
        Made if it is not there.
    kind : {"dxf", "step"}
        Which file.
    show : callable
        Gets the findings before anything is written.

    Returns
    -------
    (Path, str)
        The file, and the state of the part: "proved" or "not proved".

    Raises
    ------
    BadValue
        A finding stops the part.
    """
    from tinbook.rules.check import check
    from tinbook.write.drafts import new_run
    from tinbook.write.dxf import write_dxf
    from tinbook.write.names import file_stem
    from tinbook.write.step import write_step

    new_run()
    found = check(made)
    show(found)
    if not found.ok:
        # A fold that collides says more than the finding that there is no order.
        first = next((f for f in found.stops if f.code != "route.order"), found.stops[0])
        more = f"; {len(found.stops) - 1} more in the table" if len(found.stops) > 1 else ""
        raise BadValue("part", made.part.number, f"no stop finding; here: {first}{more}")
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{file_stem(made)}.{kind}"
    file = write_dxf(made, path) if kind == "dxf" else write_step(made, path)
    return Path(file), found.state
