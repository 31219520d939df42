# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.part.adding import folded_on as folded_on
from tinbook.part.assemblyfile import read_assembly as read_assembly
from tinbook.part.bought import cushion as cushion
from tinbook.part.bought import gas_strut as gas_strut
from tinbook.part.bought import shackle as shackle
from tinbook.part.bought import shim as shim
from tinbook.part.bought import sleeve as sleeve
from tinbook.part.fasteners import ball_stud as ball_stud
from tinbook.part.fasteners import butt_hinge as butt_hinge
from tinbook.part.fasteners import clevis_pin as clevis_pin
from tinbook.part.fasteners import hexagon_bolt as hexagon_bolt
from tinbook.part.fasteners import hexagon_nut as hexagon_nut
from tinbook.part.fasteners import nut_insert as nut_insert
from tinbook.part.fasteners import plain_washer as plain_washer
from tinbook.part.fasteners import t_bolt as t_bolt
from tinbook.part.forms.drawn_hole import DrawnHole as DrawnHole
from tinbook.part.forms.joggle import Joggle as Joggle
from tinbook.part.joints import largest_thickness as largest_thickness
from tinbook.part.joints import notched as notched
from tinbook.part.joints import tab_and_slot as tab_and_slot
from tinbook.space import Frame as Frame
from tinbook.space import frame_at as frame_at
