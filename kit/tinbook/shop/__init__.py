"""The workshop: its sheets, tools, machines, cutters, fixings and measured bends, as frozen values read from TOML.

Every row of data names its source. `tb.Shop.demo()` is an invented workshop, `tb.Shop.load(file)` reads your own.
Door beyond the front: `cut_on` (the same shop, a sheet cut on another of its cutters).

>>> import tinbook as tb
>>> shop = tb.Shop.demo()
>>> shop.sheet("DC01", "1.5 mm").thickness
1.5
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
