"""Natural frequencies alone, where no load is asked about: no large displacements, no mesh that follows stress."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tinbook.fields import Count
from tinbook.progress import telling
from tinbook.strength.analysis import modes
from tinbook.strength.request import default_size, supports_of

if TYPE_CHECKING:
    from tinbook.making.made import Made
    from tinbook.progress import Progress
    from tinbook.strength.request import Held
    from tinbook.strength.result import Modes


def frequencies_of(
    made: Made,
    supports: Held | None = None,
    *,
    count: int = 3,
    size: float | None = None,
    progress: Progress | None = None,
) -> Modes:
    """Compute the natural frequencies of an empty part by shell finite elements, on two meshes.

    The same numbers as `strength_of(...).modes`, without the analysis under a load.

    Parameters
    ----------
    made : Made
    supports : str, Support or several, optional
        As for `strength_of`.
    count : int, optional
        How many, 1 to 20.
    size : float, optional
        Largest side of an element, mm; left out, as for `strength_of`.
    progress : callable, optional
        Called with 0 to 1 and a word; raise `Cancelled` in it to end the run.

    Returns
    -------
    Modes

    Raises
    ------
    BadValue, UnknownName
        Nothing that holds it, a motion left free, too fine a mesh.
    NotSolved
        No frequency could be worked out.
    """
    held = supports_of(made, supports)
    Count(1, 20).read(count, "count")
    size = default_size(made) if size is None else size
    return modes(made, held, count=count, size=size, progress=telling(progress))
