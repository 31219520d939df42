# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.read.scans.align import align_by_plane as align_by_plane
from tinbook.read.scans.align import align_by_targets as align_by_targets
from tinbook.read.scans.align import best_fit as best_fit
from tinbook.read.scans.practice import practice_scan as practice_scan
from tinbook.read.scans.rim import outline_from_scan as outline_from_scan
from tinbook.read.scans.section import outline_from_section as outline_from_section
from tinbook.read.tape import outline_from_tape as outline_from_tape
