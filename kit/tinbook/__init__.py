"""tinbook: a notebook kit for people who design and make sheet-metal parts for vehicles.

Every public name is fetched from its home module on first use, so `import tinbook` stays quick and
loads neither the geometry kernel nor any widget.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

# Public name -> the module that holds it under the same name.
_HOMES = {
    "Range": "tinbook.units",
    "Shop": "tinbook.shop.shop",
    "Part": "tinbook.part.part",
    "Outline": "tinbook.part.outline",
    "make": "tinbook.make.resolve",
    "read_outline": "tinbook.read.points",
    "read_dxf": "tinbook.read.dxf",
    "unfold": "tinbook.read.step",
    "adopt": "tinbook.read.adopt",
    "check": "tinbook.check.rules",
    "folded_svg": "tinbook.write.folded",
    "stiffness_of": "tinbook.strength.panel",
    "panel_stiffness": "tinbook.strength.panel",
    "coupons": "tinbook.read.coupons",
    "coupon_blanks": "tinbook.families.coupon",
    "write_coupons": "tinbook.write.shopfile",
    "scribe_card": "tinbook.fit.setting_out",
    "outline_from_tape": "tinbook.read.tape",
    "folded_channel": "tinbook.families.channel",
    "hemmed_dash_edge": "tinbook.families.dash",
    "bead_rolled_panel": "tinbook.families.panel",
    "floor_pan": "tinbook.families.pan",
    "write_dxf": "tinbook.write.dxf",
    "write_glb": "tinbook.write.glb",
    "write_sheet": "tinbook.write.sheet",
    "write_step": "tinbook.write.step",
    "write_svg": "tinbook.write.svg",
    "write_template": "tinbook.write.template",
    "workbench": "tinbook.bench.workbench",
}

if TYPE_CHECKING:
    from tinbook.bench.workbench import workbench as workbench
    from tinbook.check.rules import check as check
    from tinbook.families.channel import folded_channel as folded_channel
    from tinbook.families.coupon import coupon_blanks as coupon_blanks
    from tinbook.families.dash import hemmed_dash_edge as hemmed_dash_edge
    from tinbook.families.pan import floor_pan as floor_pan
    from tinbook.families.panel import bead_rolled_panel as bead_rolled_panel
    from tinbook.fit.setting_out import scribe_card as scribe_card
    from tinbook.make.resolve import make as make
    from tinbook.part.outline import Outline as Outline
    from tinbook.part.part import Part as Part
    from tinbook.read.coupons import coupons as coupons
    from tinbook.read.points import read_outline as read_outline
    from tinbook.read.step import unfold as unfold
    from tinbook.read.tape import outline_from_tape as outline_from_tape
    from tinbook.shop.shop import Shop as Shop
    from tinbook.strength.panel import panel_stiffness as panel_stiffness
    from tinbook.strength.panel import stiffness_of as stiffness_of
    from tinbook.units import Range as Range
    from tinbook.write.dxf import write_dxf as write_dxf
    from tinbook.write.folded import folded_svg as folded_svg
    from tinbook.write.glb import write_glb as write_glb
    from tinbook.write.sheet import write_sheet as write_sheet
    from tinbook.write.shopfile import write_coupons as write_coupons
    from tinbook.write.step import write_step as write_step
    from tinbook.write.svg import write_svg as write_svg
    from tinbook.write.template import write_template as write_template


def __getattr__(name: str) -> Any:
    try:
        home = _HOMES[name]
    except KeyError:
        raise AttributeError(f"module 'tinbook' has no attribute {name!r}; it has: {', '.join(_HOMES)}") from None
    value = globals()[name] = getattr(import_module(home), name)
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})


class _Front(ModuleType):
    """The package itself, on which a public verb wins over the room of the same name.

    `make` and `check` are verbs here and subpackages too. Python binds a subpackage on its parent as
    soon as anything imports it, which would hide the verb; that binding is left out. The rooms stay
    importable: `from tinbook.make import made`. Only `import tinbook.make.made as m` cannot work.
    """

    def __setattr__(self, name: str, value: object) -> None:
        if not (isinstance(value, ModuleType) and name in _HOMES):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Front
