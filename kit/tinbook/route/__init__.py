"""The route through the shop: the order of folds on the machine, and the order of work of part and assembly.

`tb.fold_sequence` searches an order in which every fold clears punch, die and machine; `tb.order_of_work`
sorts cutting, beading, folding, welding and finishing by their constraints, or the members of an assembly and the
work between them. Doors beyond the front: `step_svg` and `clash_svg`, pictures of one step in the machine.

>>> import tinbook as tb
>>> made = tb.make(tb.folded_channel(), tb.Shop.demo())
>>> sequence = tb.fold_sequence(made)
>>> sorted(step.fold for step in sequence.steps)
['far', 'near']
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
