# The doors of this room and their homes; see tinbook/doors.py.

from tinbook.job.comparing.comparison import compare as compare
from tinbook.job.declared import Item as Item
from tinbook.job.declared import JobPart as JobPart
from tinbook.job.jobfile import read_job as read_job
from tinbook.job.jobfile import write_job as write_job
from tinbook.job.nested import JobNest as JobNest
from tinbook.job.nested import nest_job as nest_job
from tinbook.job.nesting.blanks import blank_for_nesting as blank_for_nesting
from tinbook.job.nesting.by_hand import faults as faults
from tinbook.job.nesting.by_hand import moved as moved
from tinbook.job.nesting.cut_order import cut_order as cut_order
from tinbook.job.nesting.layout import Blank as Blank
from tinbook.job.nesting.layout import Nest as Nest
from tinbook.job.nesting.layout import Placement as Placement
from tinbook.job.nesting.layout import Plate as Plate
from tinbook.job.nesting.layout import PlateLayout as PlateLayout
from tinbook.job.nesting.nest import nest as nest
from tinbook.job.nesting.nest import nests as nests
from tinbook.job.nesting.picture import layout_svg as layout_svg
from tinbook.job.sheets.cutfile import write_nest_dxf as write_nest_dxf
from tinbook.job.sheets.paper import write_cut_sheets as write_cut_sheets
from tinbook.job.sheets.plan import CutPlan as CutPlan
from tinbook.job.sheets.plan import cut_plan as cut_plan
from tinbook.job.stock.values import Offcut as Offcut
from tinbook.job.stock.values import Stock as Stock
from tinbook.job.stock.values import StockSheet as StockSheet
