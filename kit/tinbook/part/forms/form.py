"""What every form answers: anything that is formed in a panel, or marked on it."""

from __future__ import annotations

from abc import ABC
from typing import TYPE_CHECKING, ClassVar


class Form(ABC):
    """A form as a part declares it: a frozen value whose fields are the keys of its rows in a part file.

    Attributes
    ----------
    TABLE : str
        Name of its rows in a part file, ``[[bead]]``.
    TITLE : str
        What it is called in messages.
    NAMED : bool
        Whether its name must differ from those of all others of its kind.
    """

    __slots__ = ()

    TABLE: ClassVar[str]
    TITLE: ClassVar[str]
    NAMED: ClassVar[bool] = True

    if TYPE_CHECKING:

        @property
        def name(self) -> str:
            """Its name."""

        @property
        def panel(self) -> str:
            """The panel that carries it."""
