"""The rigid move that lays measured points best on drawn ones, tested as a surveyor tests it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from tinbook import units
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.finding import Findings, caution, fine
from tinbook.htmltable import html_table
from tinbook.plane.loops import Array
from tinbook.read.outliers import tested
from tinbook.read.scans.border import picked
from tinbook.space import Frame, rigid
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RigidFit:
    """Measured points laid on drawn ones.

    Parameters
    ----------
    frame : Frame
        Carries what was measured to where it was drawn: `frame(x, y, z)`.
    names : tuple of str
        Of the points.
    residuals : array, shape (n, 3)
        Measured, carried, less drawn, mm.
    hidden : array, shape (n,)
        Smallest error of each point that would be found, mm; infinite where nothing checks it.
    findings : Findings
        The point that disagrees, if one does.
    """

    frame: Frame
    names: tuple[str, ...]
    residuals: Array
    hidden: Array
    findings: Findings

    @property
    def rms(self) -> float:
        """Root mean square distance of the points from where they were drawn, mm."""
        return float(np.sqrt((self.residuals**2).sum(axis=1).mean()))

    def __repr__(self) -> str:
        return f"<fit of {len(self.names)} points: {self.rms:.2f} mm>"

    def _repr_html_(self) -> str:
        rows = [
            (n, *(f"{v:+.2f}" for v in r), f"{h:.1f}" if np.isfinite(h) else "nothing checks it")
            for n, r, h in zip(self.names, self.residuals, self.hidden, strict=True)
        ]
        heads = ("point", "off in x, mm", "y", "z", "an error that would be found, mm")
        return html_table(heads, rows, notes=map(str, self.findings))


def rigid_move(measured: Array, drawn: Array) -> Frame:
    """Return the rigid move with the least squares from measured to drawn points, each shape (n, 3), three or more.

    By the singular values of their covariance (Kabsch, Acta Cryst. A32, 1976; from memory); never a mirror image.
    """
    a, b = measured.mean(axis=0), drawn.mean(axis=0)
    u, _, vt = np.linalg.svd((measured - a).T @ (drawn - b))
    flip = np.diag((1.0, 1.0, np.sign(np.linalg.det(u @ vt))))
    turn = vt.T @ flip @ u.T
    return rigid(turn, b - turn @ a).rounded()


def fit_targets(measured: Mapping[str, Any], drawn: Mapping[str, Any], *, accuracy: Any = "1 mm") -> RigidFit:
    """Return how named points that were measured lie best on where they were drawn.

    Parameters
    ----------
    measured : mapping of str to (float, float, float)
        Picked in a scan, or taken by tape and plumb line, mm; three points or more, not on one line.
    drawn : mapping of str to (float, float, float)
        Where each belongs in the vehicle, mm.
    accuracy : length
        Standard deviation of one coordinate.

    Returns
    -------
    RigidFit
        With four points or more each checks the others.

    Raises
    ------
    BadValue
        Fewer than three points, points on one line, or names that do not match.
    """
    of_kind(measured, Mapping, "measured", "{name: (x, y, z)}")
    of_kind(drawn, Mapping, "drawn", "{name: (x, y, z)}")
    sigma = units.positive(accuracy, "accuracy")
    for name in measured:
        if name not in drawn:
            raise UnknownName("measured point", name, map(str, drawn))
    names = tuple(measured)
    if len(names) < 3:
        raise BadValue("measured", names, "three points or more, not on one line")
    a = np.array([picked(measured[n], f"measured point '{n}'") for n in names])
    b = np.array([picked(drawn[n], f"drawn point '{n}'") for n in names])
    for p, what in ((a, "measured"), (b, "drawn")):
        spread = np.linalg.svd(p - p.mean(axis=0), compute_uv=False)
        if spread[1] < max(3 * sigma, 1e-3 * spread[0]):
            raise BadValue(
                f"{what} points", names, "points that do not lie on one line: it leaves a turn about it free"
            )
    frame = rigid_move(a, b)
    carried = frame.points(a)
    residuals = carried - b
    arms = carried - carried.mean(axis=0)
    size = float(np.abs(arms).max())
    rows = [np.hstack((np.eye(3), np.array(((0, z, -y), (-z, 0, x), (y, -x, 0))) / size)) for x, y, z in arms]
    test = tested(residuals.ravel(), np.vstack(rows), sigma)
    suspects = tuple(dict.fromkeys(names[k // 3] for k in test.group))
    hidden = test.hidden.reshape(-1, 3).max(axis=1)
    if suspects:
        k = names.index(suspects[0])
        off = float(np.linalg.norm(residuals[k]))
        what = f"it disagrees with the others by {off:.1f} mm"
        if suspects[1:]:
            what += f"; so may {', '.join(suspects[1:])} in its stead"
        found = caution(
            "table.suspect", f"point '{suspects[0]}'", what, "measure it again", off, 3 * sigma, source="least squares"
        )
    elif len(names) == 3:
        found = caution(
            "table.unchecked",
            "three points",
            "they fit any slip of one of them",
            "measure a fourth",
            3,
            4,
            "",
            "geometry",
        )
    else:
        found = fine(
            "table.agree",
            f"{len(names)} points",
            "they agree within their accuracy",
            float(np.sqrt((residuals**2).mean())),
            sigma,
            source="least squares",
        )
    return RigidFit(frame=frame, names=names, residuals=residuals, hidden=hidden, findings=Findings([found]))
