"""Which of a shop's cutters is asked first."""

from __future__ import annotations

from dataclasses import replace

from tinbook.errors import of_kind
from tinbook.shop.shop import Shop


def cut_on(shop: Shop, cutter: str) -> Shop:
    """Return the shop with one cutter put first, so that it gets every sheet that it takes.

    Parameters
    ----------
    shop : Shop
        The shop.
    cutter : str
        Key of one of its cutters.

    Returns
    -------
    Shop

    Raises
    ------
    UnknownName
        No such cutter.
    """
    of_kind(shop, Shop, "cut_on", "a Shop")
    first = shop.cutter(cutter)
    return replace(shop, cutters=(first, *(c for c in shop.cutters if c is not first)))
