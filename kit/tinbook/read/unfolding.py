"""Unfold a solid of others by a given K or by the rules of a shop."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import tinbook.read.step as step
from tinbook.errors import BadValue
from tinbook.making.bends import bend_for

if TYPE_CHECKING:
    from tinbook.read.step.folds import BendRule
    from tinbook.read.step.unfold import Unfolded
    from tinbook.shop.material import Sheet
    from tinbook.shop.shop import Shop

SAME: Final = 0.02
"""Part of the thickness by which a solid's sheet may differ from one of the shop's (own proposal)."""


class ShopRule:
    """K of a bend by a shop's rules: its strips, its typed deductions and K, then what `make` would use.

    Parameters
    ----------
    shop : Shop
        Whose rules.
    sheet : str, optional
        Key of the sheet. Left out, every sheet of the solid's thickness is asked, and they must agree.
    """

    def __init__(self, shop: Shop, sheet: str | None = None) -> None:
        self.shop = shop
        self.sheet = None if sheet is None else shop.sheet_by_key(sheet)
        self.words = f"K by the rules of {shop.name}"

    def __call__(self, angle: float, radius: float, thickness: float) -> float:
        """Return K of a bend: angle turned through in degrees, inside radius and thickness in mm."""
        turned = min(angle, 180.0)
        found: dict[float, str] = {}
        for s in self._sheets(thickness):
            k = bend_for(self.shop, s, angle=turned, radius=radius).k
            if k is not None:
                found.setdefault(round(k, 4), s.key)
        if len(found) != 1:
            told = ", ".join(f"{key} K {k:g}" for k, key in found.items()) or "none has a K"
            raise BadValue("sheet", None, f"one of the shop's sheets of {thickness:g} mm, their rules differ: {told}")
        return next(iter(found))

    def _sheets(self, thickness: float) -> list[Sheet]:
        if self.sheet is not None:
            return [self.sheet]
        alike = [s for s in self.shop.sheets if abs(s.nominal - thickness) <= SAME * thickness]
        if not alike:
            valid = f"a sheet of {self.shop.name}, which has none of this thickness; or give `bend`, the K-factor"
            raise BadValue("sheet", f"{thickness:g} mm", valid)
        return alike


def k_rule(bend: BendRule | None, shop: Shop | None, sheet: str | None = None) -> BendRule | None:
    """Return the K that was given, else the shop's own rule, else None: then a solid with bends is refused."""
    if sheet is not None and shop is None:
        raise BadValue("sheet", sheet, "beside `shop`, whose sheet it is")
    if bend is not None or shop is None:
        return bend
    step.unfold.table_of(shop)  # raises for anything but a shop
    return ShopRule(shop, sheet)


def unfold(
    source: Any,
    bend: BendRule | None = None,
    *,
    shop: Shop | None = None,
    sheet: str | None = None,
    name: str | None = None,
    solid: str | None = None,
    units: str | None = None,
    trusted: bool = False,
    seconds: float | None = None,
) -> Unfolded:
    """Unfold a folded solid of constant thickness.

    Parameters
    ----------
    source : path, CadQuery Workplane, Shape or Assembly
        A STEP file or a solid in memory; never changed.
    bend : float, callable or mapping, optional
        The K-factor of every bend (0 to 1); or a function (angle turned through in degrees, inside radius,
        thickness) -> K; or a table {inside radius / thickness: K} read between its lines. Left out, the rules of
        `shop` serve; without either a solid with bends is refused, for no K is right for every workshop.
    shop : Shop, optional
        Whose rules give K, and whose tables give the holes of press nuts, standoffs and drawn holes.
    sheet : str, optional
        Key of the shop's sheet; needed where its rules differ between sheets of one thickness.
    name, solid, units, trusted, seconds
        As for `read.step.unfold.unfold`.

    Returns
    -------
    Unfolded
        A FlatPattern with fold table, findings and the folded solid.

    Raises
    ------
    BadFile, BadValue
        The source cannot be read, holds several solids and none was named, or has bends and nobody gave a K.
    NotASheet
        The solid is not a sheet of one thickness.
    """
    rule: Any = k_rule(bend, shop, sheet)
    return step.unfold.unfold(
        source, rule, name=name, solid=solid, units=units, trusted=trusted, shop=shop, seconds=seconds
    )
