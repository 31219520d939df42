"""A workbench's part as a page of its own in a frame, where a notebook is run for sharing."""

from __future__ import annotations

import os
from html import escape
from typing import Final

from tinbook.making.assembled import Assembled
from tinbook.making.made import Made

SHARED: Final = "TINBOOK_SHARED"
"""Set in the kernel that runs a notebook for sharing."""


def shared_view(made: Made | Assembled | None) -> dict[str, str] | None:
    """Return a part in a frame, as the output of a cell, if the notebook is being run for sharing; else None."""
    if made is None or os.environ.get(SHARED) != "1":
        return None
    from tinbook.write.client_page import view_page  # loads the search for orders, which no workbench waits for

    named = made.part if isinstance(made, Made) else made.assembly
    title = f"{named.number} rev {named.rev} in 3-D"
    page = escape(view_page(made), quote=True)
    return {
        "text/html": f'<iframe title="{escape(title)}" sandbox="allow-scripts" srcdoc="{page}"></iframe>',
        "text/plain": title,
    }
