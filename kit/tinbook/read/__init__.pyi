# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.read.tape import outline_from_tape as outline_from_tape
