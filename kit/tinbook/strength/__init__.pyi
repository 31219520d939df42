# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.strength.assemblies.loads import Case as Case
from tinbook.strength.assemblies.loads import shaken as shaken
from tinbook.strength.assemblies.request import strength_of_assembly as strength_of_assembly
from tinbook.strength.bead_search.search import bead_layouts as bead_layouts
from tinbook.strength.beam import beam_estimate as beam_estimate
from tinbook.strength.bracket import bracket_weld as bracket_weld
from tinbook.strength.carried import Carried as Carried
from tinbook.strength.frequencies import frequencies_of as frequencies_of
from tinbook.strength.joints.result import joints_of as joints_of
from tinbook.strength.joints.rules import Joining as Joining
from tinbook.strength.load_rules import LoadRule as LoadRule
from tinbook.strength.load_rules import Mount as Mount
from tinbook.strength.load_rules import load_rule as load_rule
from tinbook.strength.loads import Acceleration as Acceleration
from tinbook.strength.loads import Contents as Contents
from tinbook.strength.loads import Foot as Foot
from tinbook.strength.loads import Pressure as Pressure
from tinbook.strength.loads import Pull as Pull
from tinbook.strength.loads import heel as heel
from tinbook.strength.panel import panel_stiffness as panel_stiffness
from tinbook.strength.panel import stiffness_of as stiffness_of
from tinbook.strength.request import strength_choices as strength_choices
from tinbook.strength.ruled import under_rule as under_rule
from tinbook.strength.smeared import Bead as Bead
from tinbook.strength.worst import worst_place as worst_place
