"""Forms: what is formed in a panel or marked on it, one module for each.

A form is declared in a part as a frozen value (`Form`), and resolved on a shop's tools by `make`.
A new form is a module here and a row in `FORMS`; see `form.py` for what it must answer.
"""

from __future__ import annotations

from tinbook.fields import documented
from tinbook.part.forms.bead import Bead
from tinbook.part.forms.drawn_hole import DrawnHole
from tinbook.part.forms.form import Form
from tinbook.part.forms.joggle import Joggle
from tinbook.part.forms.louvre import Louvre
from tinbook.part.forms.mark import Etch, Text

FORMS: tuple[type[Form], ...] = (Bead, DrawnHole, Louvre, Joggle, Text, Etch)
"""Every kind of form; a part holds its forms in this order."""

for _kind in FORMS:
    documented(_kind)
