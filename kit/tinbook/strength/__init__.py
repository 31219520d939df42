"""Strength: shell analysis of a made part under loads, its natural frequencies, and the search for beads.

A screen, never a certificate: every answer names its supports, its range and what it leaves out.
`tb.strength_of(made, load=...)` answers a whole question, `frequencies_of` that of the frequencies alone. Doors: the loads (`Foot`, `heel`, `Pressure`,
`Acceleration`, `Pull`, `Contents`), `strength_choices` (what can be held and loaded), `stiffness_of` and
`panel_stiffness` (a quick estimate of a beaded panel), `worst_place` (where a foot or a wheel does most harm), `bead_layouts` (a search for the stiffest beads),
`joints_of` and `Joining` (each weld, bolt, screw and insert that holds a part against its rule), `beam_estimate` (a folded
part, a channel or a tube as a beam and as a strut), `bracket_weld` (a bracket's fillets as lines, by hand).

>>> import tinbook as tb
>>> made = tb.make(tb.families.bead_rolled_panel(), tb.Shop.demo())
>>> estimate = tb.strength.stiffness_of(made)
>>> estimate.gain > 1.0
True
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
