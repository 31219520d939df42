# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.fit.bracing import brace_card as brace_card
from tinbook.fit.card import fit_card as fit_card
from tinbook.fit.clearance import clearance_of as clearance_of
from tinbook.fit.clearance import rocking as rocking
from tinbook.fit.clearance import way_out as way_out
from tinbook.fit.gaps import fit_map as fit_map
from tinbook.fit.gaps import limits_of as limits_of
from tinbook.fit.hostcut import host_cut as host_cut
from tinbook.fit.jig import jig_plate as jig_plate
from tinbook.fit.levelling import level_mounts as level_mounts
from tinbook.fit.motion import clashes_through as clashes_through
from tinbook.fit.moving import moving_clearance as moving_clearance
from tinbook.fit.setting_out import scribe_card as scribe_card
from tinbook.fit.shrinkage import weld_shrinkage as weld_shrinkage
from tinbook.fit.table import table_card as table_card
