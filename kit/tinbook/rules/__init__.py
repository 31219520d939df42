"""Rules: whether a part can be cut, beaded, folded and welded, as findings with limit, value, source and remedy.

`tb.check(made)` applies the live rules, then the searched ones: the order of folds, which its answer carries, and for a
part of a family that is stopped the nearest parameter with which it can be made. `tb.check` takes an assembly too.
A rule that crashes is a stop that says so. One file for each subject; `registry.RULES` lists the rules of parts,
`assembly.RULES` those of assemblies.

>>> import tinbook as tb
>>> shop = tb.Shop.demo()
>>> tb.check(tb.make(tb.folded_channel(), shop)).ok
True
>>> short = tb.Part("HN-SH-1", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100)).fold("right", "up", leg=3)
>>> tb.check(tb.make(short, shop)).ok
False
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
