# The module of this room that the start does without; see tinbook/doors.py.

from tinbook.making.preview import build as build
