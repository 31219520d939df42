"""What the write button of a workbench does."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import tinbook as tb
from tinbook.errors import BadValue
from tinbook.making.assembled import Assembled

if TYPE_CHECKING:
    from tinbook.finding import Findings
    from tinbook.making.made import Made
    from tinbook.write.whole_set import AssemblyFiles, PartFiles


def write_checked(
    made: Made | Assembled, folder: Path, show: Callable[[Findings], None]
) -> tuple[PartFiles | AssemblyFiles, str]:
    """Check a part or an assembly by every rule, the searched ones included, and write all its files into a folder.

    Parameters
    ----------
    made : Made or Assembled
        The part or assembly.
    folder : Path
        Made if it is not there.
    show : callable
        Gets the findings before anything is written.

    Returns
    -------
    (PartFiles, str)
        The files, and the state of the part: "proved" or "not proved".

    Raises
    ------
    BadValue
        A finding stops the part.
    """
    from tinbook.write.drafts import new_run

    new_run()
    found = tb.check(made)
    show(found)
    if not found.ok:
        # A fold that collides says more than the finding that there is no order.
        first = next((f for f in found.stops if f.code != "route.order"), found.stops[0])
        more = f"; {len(found.stops) - 1} more in the table" if len(found.stops) > 1 else ""
        number = made.assembly.number if isinstance(made, Assembled) else made.part.number
        raise BadValue("part", number, f"no stop finding; here: {first}{more}")
    return tb.write_files(made, folder), found.state
