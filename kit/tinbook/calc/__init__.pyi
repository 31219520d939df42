# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.calc import beads as beads
from tinbook.calc import beams as beams
from tinbook.calc import bending as bending
from tinbook.calc import bolts as bolts
from tinbook.calc import buckling as buckling
from tinbook.calc import collars as collars
from tinbook.calc import coupons as coupons
from tinbook.calc import fatigue as fatigue
from tinbook.calc import force as force
from tinbook.calc import joints as joints
from tinbook.calc import limits as limits
from tinbook.calc import loads as loads
from tinbook.calc import lugs as lugs
from tinbook.calc import orthotropic as orthotropic
from tinbook.calc import plates as plates
from tinbook.calc import profiles as profiles
from tinbook.calc import radii as radii
from tinbook.calc import screws as screws
from tinbook.calc import sections as sections
from tinbook.calc import spotwelds as spotwelds
from tinbook.calc import springback as springback
from tinbook.calc import straps as straps
from tinbook.calc import struts as struts
from tinbook.calc import tolerance_classes as tolerance_classes
from tinbook.calc import towing as towing
from tinbook.calc import welds as welds
