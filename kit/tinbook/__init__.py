"""tinbook: a notebook kit for people who design and make sheet-metal parts for vehicles.

Every public name is fetched from its home module on first use, so `import tinbook` stays quick and
loads neither the geometry kernel nor any widget.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

# Public name -> the module that holds it under the same name.
_HOMES = {
    "Range": "tinbook.fields",
    "Shop": "tinbook.shop.shop",
    "Part": "tinbook.part.part",
    "Outline": "tinbook.part.outline",
    "make": "tinbook.making.resolve",
    "read_outline": "tinbook.read.points",
    "read_dxf": "tinbook.read.dxf.flat",
    "unfold": "tinbook.read.unfolding",
    "sort_solids": "tinbook.read.sorting",
    "adopt": "tinbook.read.adopt.part",
    "check": "tinbook.rules.verdict",
    "folded_svg": "tinbook.write.folded",
    "stiffness_of": "tinbook.strength.panel",
    "panel_stiffness": "tinbook.strength.panel",
    "bead_layouts": "tinbook.strength.bead_search.search",
    "sweep": "tinbook.executors",
    "strength_of": "tinbook.strength.request",
    "strength_choices": "tinbook.strength.request",
    "Foot": "tinbook.strength.loads",
    "heel": "tinbook.strength.loads",
    "Pressure": "tinbook.strength.loads",
    "Acceleration": "tinbook.strength.loads",
    "Pull": "tinbook.strength.loads",
    "Contents": "tinbook.strength.loads",
    "finished_sizes": "tinbook.making.accuracy",
    "plus_minus_between": "tinbook.making.accuracy",
    "fold_sequence": "tinbook.route.brake",
    "step_svg": "tinbook.route.picture",
    "clash_svg": "tinbook.route.picture",
    "order_of_work": "tinbook.route.order",
    "coupons": "tinbook.read.coupons",
    "coupon_blanks": "tinbook.families.coupon",
    "write_coupons": "tinbook.write.shopfile",
    "scribe_card": "tinbook.fit.setting_out",
    "outline_from_tape": "tinbook.read.tape",
    "folded_channel": "tinbook.families.channel",
    "hemmed_dash_edge": "tinbook.families.dash",
    "bead_rolled_panel": "tinbook.families.panel",
    "floor_pan": "tinbook.families.pan",
    "folded_strip": "tinbook.families.strip",
    "folded_box": "tinbook.families.box",
    "flanged_disc": "tinbook.families.box",
    "Bolting": "tinbook.families.bolting",
    "bolting": "tinbook.families.bolting",
    "screwed": "tinbook.families.bolting",
    "gasket": "tinbook.families.gasket",
    "fitted_gasket": "tinbook.families.gasket",
    "gasket_findings": "tinbook.families.gasket",
    "gasket_push": "tinbook.families.gasket",
    "tunnel": "tinbook.families.tunnel",
    "tunnel_lid": "tinbook.families.tunnel",
    "lid_opening": "tinbook.families.tunnel",
    "drive_clearance": "tinbook.families.tunnel",
    "Instrument": "tinbook.families.dash_panels",
    "dash_bay": "tinbook.families.dash_panels",
    "dash_frame": "tinbook.families.dash_panels",
    "bay_places": "tinbook.families.dash_panels",
    "fascia": "tinbook.families.dash_panels",
    "keep_out": "tinbook.families.dash_panels",
    "eye": "tinbook.families.strap",
    "tank_strap": "tinbook.families.strap",
    "tightening": "tinbook.families.strap",
    "tank_cradle": "tinbook.families.tank_cradle",
    "pin_places": "tinbook.families.tank_cradle",
    "cradle_liner": "tinbook.families.tank_cradle",
    "liner_ring": "tinbook.families.tank_cradle",
    "tank": "tinbook.families.tank_cradle",
    "set_out": "tinbook.families.tank_cradle",
    "strap_fork": "tinbook.families.strapped_tank",
    "strapped_tank": "tinbook.families.strapped_tank",
    "floor_pan_pair": "tinbook.families.pan_pair",
    "reinforcement_plate": "tinbook.families.pan_pair",
    "floor_brace": "tinbook.families.floor_brace",
    "flats_of": "tinbook.families.floor_brace",
    "notches_of": "tinbook.families.floor_brace",
    "brace_findings": "tinbook.families.floor_brace",
    "hinged_lid": "tinbook.families.hinged_lid",
    "strut_bracket": "tinbook.families.hinged_lid",
    "centred_lid": "tinbook.families.hinged_lid",
    "strut_for": "tinbook.families.hinged_lid",
    "effort_plot": "tinbook.families.hinged_lid",
    "lid_findings": "tinbook.families.hinged_lid",
    "latch_needed": "tinbook.families.hinged_lid",
    "lid_geometry": "tinbook.families.lid_struts",
    "lid_on_struts": "tinbook.families.lid_struts",
    "clashes_through": "tinbook.fit.motion",
    "write_dxf": "tinbook.write.dxf",
    "read_folds": "tinbook.write.foldfile",
    "write_folds": "tinbook.write.foldfile",
    "write_fold_page": "tinbook.write.foldpage",
    "write_glb": "tinbook.write.glb",
    "read_part": "tinbook.part.partfile",
    "write_part": "tinbook.write.partfile",
    "write_sheet": "tinbook.write.sheet.pages",
    "write_step": "tinbook.write.step",
    "write_svg": "tinbook.write.svg",
    "write_template": "tinbook.write.template",
    "Assembly": "tinbook.part.assembly",
    "assemble": "tinbook.making.assembled",
    "assembly_order": "tinbook.route.assembly.order",
    "check_assembly": "tinbook.rules.assembly",
    "jig_plate": "tinbook.fit.jig",
    "cut_on": "tinbook.shop.prefer",
    "assembled_svg": "tinbook.write.assembly",
    "exploded_svg": "tinbook.write.assembly",
    "parts_list": "tinbook.write.assembly",
    "write_assembly_glb": "tinbook.write.assembly",
    "write_assembly_step": "tinbook.write.assembly",
    "write_parts_list": "tinbook.write.assembly",
    "body_mount": "tinbook.families.body_mount",
    "front_joiner": "tinbook.families.joiner",
    "gusset": "tinbook.families.gusset",
    "recovery_plate": "tinbook.families.recovery_plate",
    "rail_slot_template": "tinbook.families.recovery_plate",
    "temporary_brace": "tinbook.families.joiner",
    "winch_cradle": "tinbook.families.winch_cradle",
    "workbench": "tinbook.bench.workbench",
    "folding": "tinbook.bench.folding",
}

if TYPE_CHECKING:
    from tinbook.bench.folding import folding as folding
    from tinbook.bench.workbench import workbench as workbench
    from tinbook.executors import sweep as sweep
    from tinbook.families.body_mount import body_mount as body_mount
    from tinbook.families.bolting import Bolting as Bolting
    from tinbook.families.bolting import bolting as bolting
    from tinbook.families.bolting import screwed as screwed
    from tinbook.families.box import flanged_disc as flanged_disc
    from tinbook.families.box import folded_box as folded_box
    from tinbook.families.channel import folded_channel as folded_channel
    from tinbook.families.coupon import coupon_blanks as coupon_blanks
    from tinbook.families.dash import hemmed_dash_edge as hemmed_dash_edge
    from tinbook.families.dash_panels import Instrument as Instrument
    from tinbook.families.dash_panels import bay_places as bay_places
    from tinbook.families.dash_panels import dash_bay as dash_bay
    from tinbook.families.dash_panels import dash_frame as dash_frame
    from tinbook.families.dash_panels import fascia as fascia
    from tinbook.families.dash_panels import keep_out as keep_out
    from tinbook.families.floor_brace import brace_findings as brace_findings
    from tinbook.families.floor_brace import flats_of as flats_of
    from tinbook.families.floor_brace import floor_brace as floor_brace
    from tinbook.families.floor_brace import notches_of as notches_of
    from tinbook.families.gasket import fitted_gasket as fitted_gasket
    from tinbook.families.gasket import gasket as gasket
    from tinbook.families.gasket import gasket_findings as gasket_findings
    from tinbook.families.gasket import gasket_push as gasket_push
    from tinbook.families.gusset import gusset as gusset
    from tinbook.families.hinged_lid import centred_lid as centred_lid
    from tinbook.families.hinged_lid import effort_plot as effort_plot
    from tinbook.families.hinged_lid import hinged_lid as hinged_lid
    from tinbook.families.hinged_lid import latch_needed as latch_needed
    from tinbook.families.hinged_lid import lid_findings as lid_findings
    from tinbook.families.hinged_lid import strut_bracket as strut_bracket
    from tinbook.families.hinged_lid import strut_for as strut_for
    from tinbook.families.joiner import front_joiner as front_joiner
    from tinbook.families.joiner import temporary_brace as temporary_brace
    from tinbook.families.lid_struts import lid_geometry as lid_geometry
    from tinbook.families.lid_struts import lid_on_struts as lid_on_struts
    from tinbook.families.pan import floor_pan as floor_pan
    from tinbook.families.pan_pair import floor_pan_pair as floor_pan_pair
    from tinbook.families.pan_pair import reinforcement_plate as reinforcement_plate
    from tinbook.families.panel import bead_rolled_panel as bead_rolled_panel
    from tinbook.families.recovery_plate import rail_slot_template as rail_slot_template
    from tinbook.families.recovery_plate import recovery_plate as recovery_plate
    from tinbook.families.strap import eye as eye
    from tinbook.families.strap import tank_strap as tank_strap
    from tinbook.families.strap import tightening as tightening
    from tinbook.families.strapped_tank import strap_fork as strap_fork
    from tinbook.families.strapped_tank import strapped_tank as strapped_tank
    from tinbook.families.strip import folded_strip as folded_strip
    from tinbook.families.tank_cradle import cradle_liner as cradle_liner
    from tinbook.families.tank_cradle import liner_ring as liner_ring
    from tinbook.families.tank_cradle import pin_places as pin_places
    from tinbook.families.tank_cradle import set_out as set_out
    from tinbook.families.tank_cradle import tank as tank
    from tinbook.families.tank_cradle import tank_cradle as tank_cradle
    from tinbook.families.tunnel import drive_clearance as drive_clearance
    from tinbook.families.tunnel import lid_opening as lid_opening
    from tinbook.families.tunnel import tunnel as tunnel
    from tinbook.families.tunnel import tunnel_lid as tunnel_lid
    from tinbook.families.winch_cradle import winch_cradle as winch_cradle
    from tinbook.fields import Range as Range
    from tinbook.fit.jig import jig_plate as jig_plate
    from tinbook.fit.motion import clashes_through as clashes_through
    from tinbook.fit.setting_out import scribe_card as scribe_card
    from tinbook.making.accuracy import finished_sizes as finished_sizes
    from tinbook.making.accuracy import plus_minus_between as plus_minus_between
    from tinbook.making.assembled import assemble as assemble
    from tinbook.making.resolve import make as make
    from tinbook.part.assembly import Assembly as Assembly
    from tinbook.part.outline import Outline as Outline
    from tinbook.part.part import Part as Part
    from tinbook.part.partfile import read_part as read_part
    from tinbook.read.adopt.part import adopt as adopt
    from tinbook.read.coupons import coupons as coupons
    from tinbook.read.dxf.flat import read_dxf as read_dxf
    from tinbook.read.points import read_outline as read_outline
    from tinbook.read.sorting import sort_solids as sort_solids
    from tinbook.read.tape import outline_from_tape as outline_from_tape
    from tinbook.read.unfolding import unfold as unfold
    from tinbook.route.assembly.order import assembly_order as assembly_order
    from tinbook.route.brake import fold_sequence as fold_sequence
    from tinbook.route.order import order_of_work as order_of_work
    from tinbook.route.picture import clash_svg as clash_svg
    from tinbook.route.picture import step_svg as step_svg
    from tinbook.rules.assembly import check_assembly as check_assembly
    from tinbook.rules.verdict import check as check
    from tinbook.shop.prefer import cut_on as cut_on
    from tinbook.shop.shop import Shop as Shop
    from tinbook.strength.bead_search.search import bead_layouts as bead_layouts
    from tinbook.strength.loads import Acceleration as Acceleration
    from tinbook.strength.loads import Contents as Contents
    from tinbook.strength.loads import Foot as Foot
    from tinbook.strength.loads import Pressure as Pressure
    from tinbook.strength.loads import Pull as Pull
    from tinbook.strength.loads import heel as heel
    from tinbook.strength.panel import panel_stiffness as panel_stiffness
    from tinbook.strength.panel import stiffness_of as stiffness_of
    from tinbook.strength.request import strength_choices as strength_choices
    from tinbook.strength.request import strength_of as strength_of
    from tinbook.write.assembly import assembled_svg as assembled_svg
    from tinbook.write.assembly import exploded_svg as exploded_svg
    from tinbook.write.assembly import parts_list as parts_list
    from tinbook.write.assembly import write_assembly_glb as write_assembly_glb
    from tinbook.write.assembly import write_assembly_step as write_assembly_step
    from tinbook.write.assembly import write_parts_list as write_parts_list
    from tinbook.write.dxf import write_dxf as write_dxf
    from tinbook.write.folded import folded_svg as folded_svg
    from tinbook.write.foldfile import read_folds as read_folds
    from tinbook.write.foldfile import write_folds as write_folds
    from tinbook.write.foldpage import write_fold_page as write_fold_page
    from tinbook.write.glb import write_glb as write_glb
    from tinbook.write.partfile import write_part as write_part
    from tinbook.write.sheet.pages import write_sheet as write_sheet
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
