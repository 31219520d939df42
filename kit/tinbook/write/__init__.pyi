# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.write import assembly as assembly
from tinbook.write.assembly import assembled_svg as assembled_svg
from tinbook.write.assembly import exploded_svg as exploded_svg
from tinbook.write.assembly import parts_list as parts_list
from tinbook.write.cards import write_card as write_card
from tinbook.write.coloured import strength_svg as strength_svg
from tinbook.write.cutline import write_cut_line as write_cut_line
from tinbook.write.reread import read_back as read_back
from tinbook.write.scan import write_scan as write_scan
from tinbook.write.textfiles import write_assembly as write_assembly
from tinbook.write.weldpage.pages import write_assembly_page as write_assembly_page
