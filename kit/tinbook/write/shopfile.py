"""Write test strips into a shop file: rows are replaced or added, everything else and all comments stay."""

from __future__ import annotations

import os
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from tinbook.errors import BadValue
from tinbook.shop.coupons import BendCoupon, DrawCoupon, Fitted
from tinbook.shop.shop import shop_from
from tinbook.shop.tomlfile import parse_toml, read_toml
from tinbook.write.files import target, write_whole

NEW: Final = 'base = "demo" # what is not stated here comes from the demo shop\n\n'


def write_coupons(fitted: Fitted, path: str | os.PathLike[str]) -> Path:
    """Write fitted test strips into a shop file.

    Parameters
    ----------
    fitted : Coupons
        From `tb.coupons`.
    path : str or path-like
        A shop file (.toml); if there is none yet, one that stands on the demo shop is begun.

    Returns
    -------
    Path
        The file, whole or as it was. Rows of the same sheet and tool are replaced; comments stay.

    Raises
    ------
    BadFile
        The shop file has mistakes, before or with the new rows (a sheet or tool that it does not have).
    BadValue
        Nothing to write, or a name that is no .toml file.
    """
    if not hasattr(fitted, "bends"):
        raise BadValue("coupons", type(fitted).__name__, "what tb.coupons(file, shop) answers")
    if not fitted.bends and not fitted.draws:
        raise BadValue("coupons", "none", "at least one sheet and tool with test strips")
    import tomlkit

    file = target(path, ".toml", "shop")
    if file.exists():
        doc = read_toml(file)
        shop_from(doc)  # a file with mistakes is not touched
        raw = file.read_bytes().decode("utf-8-sig")
    else:
        raw = NEW
    text = tomlkit.parse(raw)
    if fitted.bends:
        _bends(text, fitted.bends)
    for d in fitted.draws:
        _draw(text, d)
    new = tomlkit.dumps(text)
    shop_from(parse_toml(str(file), new.encode("utf-8")))
    write_whole({file: new})
    return file


def _bends(text: Any, rows: tuple[BendCoupon, ...]) -> None:
    import tomlkit

    listed = text.get("coupons")
    if listed is None:
        listed = tomlkit.aot()
        text.append("coupons", listed)
    for row in rows:
        values = {f.name: getattr(row, f.name) for f in fields(row)}
        old = next((r for r in listed if (r.get("sheet"), r.get("tool")) == (row.sheet, row.tool)), None)
        if old is not None:
            for name, value in values.items():
                old[name] = value
            continue
        table = tomlkit.table()
        for name, value in values.items():
            table.add(name, value)
        listed.append(table)


def _draw(text: Any, row: DrawCoupon) -> None:
    import tomlkit

    if "rolls" not in text:
        text.append("rolls", tomlkit.table(is_super_table=True))
    rolls = text["rolls"]
    if row.roll not in rolls:
        rolls.append(row.roll, tomlkit.table())
    note = f"±{row.band:.2f}, {row.strips} strips of {row.sheet}"
    rolls[row.roll]["draw_factor"] = tomlkit.item(row.draw_factor).comment(note)
    rolls[row.roll]["source"] = row.source
