# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.shop import load as load
from tinbook.shop import tomlfile as tomlfile
from tinbook.shop.shop import cut_on as cut_on
