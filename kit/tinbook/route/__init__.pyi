# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.route import fold_order as fold_order
from tinbook.route.picture import clash_svg as clash_svg
from tinbook.route.picture import step_svg as step_svg
