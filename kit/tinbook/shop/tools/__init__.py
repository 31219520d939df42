"""Folding tools and machines: one module for each kind of tool, which answers every question about folding on it.

A kind is a frozen value read from its table of the shop file (`base.FoldTool` lists what it answers). Another kind is
one more module and one more row in `KINDS`.
"""

from __future__ import annotations

from typing import Final, TypeAlias

from tinbook.shop.tools.air_die import AirDie
from tinbook.shop.tools.base import FoldTool
from tinbook.shop.tools.hand_folder import HandFolder
from tinbook.shop.tools.v_block import VBlock
from tinbook.shop.tools.wiping_bender import WipingBender

KINDS: Final[tuple[type[FoldTool], ...]] = (HandFolder, WipingBender, VBlock, AirDie)
"""Every kind of tool, in the order in which a shop tries them unless its file says otherwise."""
PROCESSES: Final = tuple(kind.stroke.name for kind in KINDS)
"""How bends are made, each kind's own name for it."""
Tool: TypeAlias = FoldTool
