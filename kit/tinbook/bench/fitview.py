"""A fit map in the live view: the part coloured by its gap to the body, to be turned and picked at."""

from __future__ import annotations

from typing import Final

import numpy as np

from tinbook.bench.viewer import View
from tinbook.errors import BadValue, of_kind
from tinbook.fit.gaps import FitMap
from tinbook.making.made import Made
from tinbook.making.shape import shape_of
from tinbook.strength.report import Field

LOW: Final = -1.0
HIGH: Final = 5.0
"""mm: ends of the colours."""


def fit_view(fit: FitMap) -> View:
    """Return the live view of a part's fit map; it holds at most 150 000 triangles.

    Parameters
    ----------
    fit : FitMap
        Of one part.

    Returns
    -------
    View
        A widget. Metal in metal has the colour of the least gap, metal with nothing opposite that of the largest.
    """
    of_kind(fit, FitMap, "fit", "a fit map, as tb.fit.fit_map gives one")
    if not isinstance(fit.made, Made):
        raise BadValue("fit", fit.name, "the map of one part: an assembly is drawn by its picture")
    view = View()
    view.show(shape_of(fit.made), note=repr(fit)[1:-1])
    view.colour(field_of(fit))
    return view


def field_of(fit: FitMap) -> Field:
    """Return the gaps as colours on the part where it was drawn, each triangle with corners of its own."""
    corners = fit.at.inverse().points(fit.surface.points[fit.surface.triangles.ravel()])
    # A triangle with nothing opposite is shown like one that stands off beyond the scale, and the legend says so.
    gaps = np.where(np.isnan(fit.gaps), HIGH + 1.0, np.maximum(fit.gaps, LOW))
    return Field(
        points=corners.astype(np.float32),
        triangles=np.arange(len(corners), dtype=np.uint32).reshape(-1, 3),
        moves=np.zeros((len(corners), 3), np.float32),
        values=np.repeat(gaps, 3).astype(np.float32),
        title="gap to the body",
        unit="mm",
        low=LOW,
        high=HIGH,
        over=f"{HIGH:g} mm or more, or nothing of the scan opposite",
    )
