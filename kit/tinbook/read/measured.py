"""A measured outline: the fit of each edge, and where the outline lies in the body."""

from __future__ import annotations

from typing import Literal

from tinbook.finding import NOTHING, Findings
from tinbook.htmltable import html_table
from tinbook.part.outline import Outline
from tinbook.part.picture import outline_svg
from tinbook.plane.loops import Point
from tinbook.shown import picture_html
from tinbook.space import Frame
from tinbook.svg import num
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeFit:
    """Residuals of the measured points of one edge.

    Parameters
    ----------
    name : str
        The edge.
    kind : {"line", "arc"}
        What was fitted.
    count : int
        Number of points.
    rms : float
        Root mean square of the distances, mm.
    worst : float
        Largest distance, mm, positive outward of the outline.
    worst_at : str
        Where that point stands ("line 17").
    radius : float or None
        Radius of an arc, mm.
    """

    name: str
    kind: Literal["line", "arc"]
    count: int
    rms: float
    worst: float
    worst_at: str
    radius: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerFit:
    """A corner where two fitted edges meet.

    Parameters
    ----------
    name : str
        "front/sill".
    angle : float
        Angle inside the outline, degrees; 180 where the edges run smoothly on.
    reach : float
        Distance to the nearest measured point of the two edges, mm.
    """

    name: str
    angle: float
    reach: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """The record of a measurement.

    Parameters
    ----------
    source : str
        File name.
    tol : float
        Tolerance within which lines and arcs had to hold, mm.
    edges : tuple of EdgeFit
        In the order of the outline.
    corners : tuple of CornerFit
        The corner at the end of each edge.
    highest, lowest : float
        Largest distances above and below the fitted plane, mm, both positive upward.
    highest_at, lowest_at : str
        Where these points stand.
    tilt : float
        Angle between the plane's normal and `up`, degrees.
    frame : Frame
        Where the outline's x, y, z lie in the coordinates of the points: `frame(x, y)`.
    findings : Findings
        What should be looked at.
    sample : tuple of ((float, float), float)
        Points in the outline's plane and their heights, thinned to a few hundred, for pictures.
    """

    source: str
    tol: float
    edges: tuple[EdgeFit, ...]
    corners: tuple[CornerFit, ...]
    highest: float
    highest_at: str
    lowest: float
    lowest_at: str
    tilt: float
    frame: Frame
    findings: Findings = NOTHING
    sample: tuple[tuple[Point, float], ...] = ()

    def __repr__(self) -> str:
        worst = f"worst {abs(self.worst.worst):.2f} mm on {self.worst.name}, out of flat {self.out_of_flat:.2f} mm"
        return f"<survey {self.source}: {len(self.edges)} edges, {worst}>"

    @property
    def out_of_flat(self) -> float:
        """Height between the highest and the lowest point over the fitted plane, mm."""
        return self.highest - self.lowest

    @property
    def worst(self) -> EdgeFit:
        """The edge with the largest distance."""
        return max(self.edges, key=lambda e: abs(e.worst))


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredOutline(Outline):
    """An outline fitted to measured points; offsets and moves of it are plain outlines.

    Parameters
    ----------
    fit : Survey
        How the points lie about it.
    """

    fit: Survey

    def __repr__(self) -> str:
        worst = self.fit.worst
        return f"{Outline.__repr__(self)[:-1]}; measured, worst {abs(worst.worst):.2f} mm on {worst.name}>"

    def _repr_svg_(self) -> str:
        x0, y0, x1, y1 = self.box
        r = num(max(x1 - x0, y1 - y0) / 250)
        dots = "".join(f'<circle cx="{num(x)}" cy="{num(-y)}" r="{r}"/>\n' for (x, y), _ in self.fit.sample)
        inner = f'<g class="tb-measured" fill="none" stroke="#c2571a" stroke-width="{r}">\n{dots}</g>\n'
        return outline_svg(self.loop, title=f"{self.fit.source}, as measured", inner=inner)

    def _repr_html_(self) -> str:
        f = self.fit
        rows = [
            (
                e.name,
                e.kind if e.radius is None else f"{e.kind}, R {e.radius:.0f}",
                str(e.count),
                f"{self.edge(e.name).length:.1f}",
                f"{e.rms:.2f}",
                f"{e.worst:+.2f}",
                e.worst_at,
            )
            for e in f.edges
        ]
        heads = ("edge", "fitted as", "points", "length, mm", "rms, mm", "worst, mm (+ outward)", "worst at")
        corners = [(c.name, f"{c.angle:.2f}", f"{c.reach:.0f}") for c in f.corners]
        flat = (
            f"Out of flat by {f.out_of_flat:.2f} mm: highest {f.highest:+.2f} mm at {f.highest_at}, "
            f"lowest {f.lowest:+.2f} mm at {f.lowest_at}. The plane is tilted by {f.tilt:.2f} degrees. "
            f"Lines and arcs hold within {f.tol:g} mm."
        )
        notes = [flat, *(str(x) for x in f.findings)]
        by_corner = html_table(("corner", "angle inside, deg", "mm to the nearest point"), corners, notes=notes)
        return f"{picture_html(self._repr_svg_())}{html_table(heads, rows)}{by_corner}"
