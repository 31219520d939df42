"""Writing: files for the cutter, the folder, the client and the record, each written whole or not at all.

The same part gives the same bytes. On the front: `tb.write_dxf`, `write_step`, `write_svg`, `write_glb`,
`write_sheet` (a PDF for the bench), `write_template` (paper at full size), `write_part`, `write_fold_page`.
Doors here: `write_assembly_page` (welds, steps and cautions of an assembly on paper), `assembled_svg`, `exploded_svg` and `parts_list` of an assembly.

>>> import tempfile
>>> import tinbook as tb
>>> made = tb.make(tb.folded_channel(), tb.Shop.demo())
>>> with tempfile.TemporaryDirectory() as folder:
...     written = tb.write_dxf(made, f"{folder}/channel.dxf")
...     written.name
'channel.dxf'
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
