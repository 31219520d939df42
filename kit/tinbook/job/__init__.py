"""The job: what is done with parts once they are drawn: nested sheets, and their way to the cutter.

`tb.Job` is what is wanted: items, quantities, a date (`Item`, `read_job`, `write_job`). `nest_job` puts its parts on sheets
and offcuts of a `Stock` (`StockSheet`, `Offcut`) and gives a `JobNest`, whose `plans()` go to the cutter. A
`Store` remembers the stock in one file and books what `booking_of` says of a nest;
`dump_store` and `restore_store` turn it into text and back. `price_nest` gives the `Price` of a nested job line by line,
`price_job` those of several numbers of sets. A `SupplierQuote` in the job takes the place of own
cutting or folding: `write_enquiry` asks for it, `purchase_order` and `write_order` order it; `quotation` and `write_quotation`
offer the job to a customer (`Party`: who writes to whom). `cut_list`, `purchase_list` and `mass_list` are tables that `write_list`
writes as CSV or XLSX. `move_in_job` moves and locks a blank of a nested job, `nest_around` nests the rest around it;
`write_layouts` keeps the layouts in a file, and `read_layouts` reads them.
`read_party` reads who writes to whom from a file.
On the command line: `python -m tinbook nest|price|stock|enquiry|quotation|order`.

Doors beneath: `nest` (blanks on to sheets and offcuts, the best layout that an effort finds), `nests` (the same, each better
layout as it is found), `blank_for_nesting` (a made part or a flat as a `Blank`), `Plate` (a sheet or an offcut),
`moved` (one blank moved by hand and locked), `faults` (what is wrong with a layout), `cut_order` (contours in the order
in which they are cut), `layout_svg` (a picture); `cut_plan` (how one sheet is cut: order, metres, pierces, minutes,
offcuts to keep), `write_nest_dxf` (its file for the cutter), `write_cut_sheets` (the same on paper);
`write_job_card` (stages, minutes, first-off sizes), `write_papers` (all papers of a job, in its language);
`compare` (what changed between two revisions). `part_labels` and `offcut_labels` say what stands on the labels of a job;
`write_labels` prints a `Label` for each part, bag or offcut on the paper of a `LabelSheet`. `proposed_rates` says what
the minutes of the last jobs make of the shop's rates; `store.correct_rate` accepts one.

`kit_of` gives the `Kit` of a nested job: `write_fitting_text` writes its fitting instructions as text to edit, `write_fitting`
as paper with pictures; `delivery_of` packs it into bags and parcels, for `packing_list`, `kit_labels` and
`write_delivery_note`.

`tb.release` writes a whole job as one archive that proves itself, `tb.verify` says what was altered in it (`Verified`),
`tb.open_release` gives the job back (`Opened`), which releases to the same bytes again. `Store.send` and `Store.sent` are
the register of who was sent what.

Three flanged discs lie on one sheet.

>>> import tinbook as tb
>>> made = tb.make(tb.families.flanged_disc(), tb.Shop.demo())
>>> plate = tb.job.Plate.rectangle("DC01 1.5", 2500, 1250)
>>> nest = tb.job.nest([tb.job.blank_for_nesting(made, 3)], [plate], gap=6, margins=10, effort=0)
>>> len(nest.layouts), len(nest.layouts[0].placements)
(1, 3)
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
