"""Ready-made kinds of part: plain functions that return a `Part`, or an `Assembly` of several.

Every parameter has a default and a range, so `tb.workbench` gives it a slider; a value that cannot work
is refused with the nearest one that can. Unit and range of each stand at the end of its help. The sheet is the
shop's `Sheet`, whose measured thickness then counts, or its name; number and revision are those of the part or assembly.

Doors, by what they serve: floor (`floor_pan`, `floor_pan_pair`, `plain_opening`, `floor_brace`, `reinforcement_plate`,
`tunnel`, `tunnel_lid`, `lid_opening`), dash (`hemmed_dash_edge`, `dash_bay`, `dash_frame`, `fascia`), tank (`tank_cradle`,
`tank_strap`, `strap_and_bolt`, `cradle_liner`, `strapped_tank`), lids (`hinged_lid`, `lid_on_struts`, `strut_bracket`), heavy
plate (`winch_cradle`, `recovery_plate`, `body_mount`, `gusset`, `front_joiner`), general (`folded_channel`, `folded_box`,
`folded_strip`, `flanged_disc`, `bead_rolled_panel`, `gasket`, `covered` for what is screwed over an opening,
`coupon_blanks`). `__init__.pyi` lists all.

>>> import tinbook as tb
>>> channel = tb.families.folded_channel(length=300.0, flange=25.0)
>>> channel.panels
('base', 'near', 'far')
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
