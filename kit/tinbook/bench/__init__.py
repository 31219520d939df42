"""The workbench: widgets in a notebook for one part, its sliders, views, findings and files.

The only room that knows widgets. A slider event makes the part again and shows its preview, its flat
pattern and the quick rules at once; whatever takes longer runs in a thread and can be stopped.

Doors: `tb.workbench(function, shop)` gives any function that returns a Part its sliders;
`tb.folding(made)` steps through the folds of a part on the machine.

>>> import tinbook as tb
>>> bench = tb.workbench(tb.folded_channel, tb.Shop.demo())
>>> bench.set(flange=40.0)
>>> bench.made.ok
True
>>> bench.close()
"""
