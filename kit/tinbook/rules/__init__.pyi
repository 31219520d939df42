# The module of this room that a first picture does without; see tinbook/doors.py.

from tinbook.rules import registry as registry
