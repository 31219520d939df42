# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.making.accuracy import plus_minus_between as plus_minus_between
