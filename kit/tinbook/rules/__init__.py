"""Rules: whether a part can be cut, beaded, folded and welded, as findings with limit, value, source and remedy.

`tb.check(made)` applies every rule and then searches the order of folds; `tb.check_assembly` looks at an
assembly. A rule that fails is itself a stop. One file for each subject.

>>> import tinbook as tb
>>> shop = tb.Shop.demo()
>>> tb.check(tb.make(tb.folded_channel(), shop)).ok
True
>>> short = tb.Part("HN-SH-1", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100)).fold("right", "up", leg=3)
>>> tb.check(tb.make(short, shop)).ok
False
"""
