"""What numbers, revisions, titles and names of parts, assemblies and features look like."""

from __future__ import annotations

from typing import Final

from tinbook.fields import Text, Word

NUMBER: Final = Word(
    r"(?!.*\.\.)[A-Za-z0-9](?:[A-Za-z0-9._-]{0,38}[A-Za-z0-9])?",
    "1 to 40 letters, digits, '.', '_', '-', no '..', as in 'HN-FP-L'",
)
"""Of a part or an assembly; it becomes part of file names."""
REVISION: Final = Word(r"[A-Za-z0-9-]{1,8}", "1 to 8 letters, digits or '-', as in 'B'")
TITLE: Final = Text(empty=True, most=80)
NAME: Final = Word(r"\w[\w .+-]{0,59}", "1 to 60 letters, digits, spaces, '.', '_', '-', '+'")
"""Of a panel, a hole, a form or a member."""
