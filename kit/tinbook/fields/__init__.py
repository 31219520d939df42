"""What a field may hold, declared once beside it: unit, range, choices.

A field is declared as ``Annotated[float, Number("mm", above=0)]``, as a ``Literal``, a ``bool`` or a ``str``.
`check_fields` holds a value's fields against that on construction (the first mistake raises), so the methods that build
the value convert nothing themselves. Readers of files call the same `Kind` and collect every mistake; sliders take
range and hint from it. `kind_of` says which annotations are known.

>>> from dataclasses import dataclass
>>> from typing import Annotated, Literal
>>> from tinbook.fields import Number, check_fields
>>> @dataclass(frozen=True)
... class Slot:
...     width: Annotated[float, Number("mm", above=0)]
...     end: Literal["round", "square"] = "round"
...     def __post_init__(self) -> None:
...         check_fields(self, "slot")
>>> Slot("1/4 in").width
6.35
"""

from __future__ import annotations

from tinbook.fields.declared import Inside, check_fields, documented, kind_of, kinds, kinds_of, lookup
from tinbook.fields.kinds import (
    POSITIVE,
    ByName,
    Choice,
    Flag,
    FromZero,
    Kind,
    Maybe,
    Pair,
    Points,
    Positive,
    Several,
    Text,
    Word,
)
from tinbook.fields.numbers import Beyond, Count, Force, Number, Path, Range, beyond

__all__ = [
    "POSITIVE", "Beyond", "ByName", "Choice", "Count", "Flag", "Force", "FromZero", "Inside", "Kind", "Maybe", "Number", "Pair", "Path",
    "Points", "Positive", "Range", "Several", "Text", "Word", "beyond", "check_fields", "documented", "kind_of", "kinds", "kinds_of", "lookup",
]  # fmt: skip
