# The modules of this room that others use; see tinbook/doors.py.

from tinbook.read.step import load as load
from tinbook.read.step import unfold as unfold
