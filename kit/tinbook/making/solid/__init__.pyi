# The modules of this room that others use; see tinbook/doors.py.

from tinbook.making.solid import bodies as bodies
from tinbook.making.solid import build as build
from tinbook.making.solid import kernel as kernel
from tinbook.making.solid import mesh as mesh
from tinbook.making.solid import stepfile as stepfile
