"""What a part holds: number, sheet, outline and features as plain values; names looked up, features replaced."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal, Self, TypeVar

from tinbook.errors import BadValue, UnknownName
from tinbook.part.declared import part_html
from tinbook.part.features import MOST_HOLES, Fold, Hole, HoleGrid, HoleRow
from tinbook.part.forms import FORMS
from tinbook.part.forms.bead import Bead
from tinbook.part.forms.form import Form
from tinbook.part.forms.mark import Etch, Text

if TYPE_CHECKING:
    from tinbook.part.asked import Asked
    from tinbook.part.outline import Outline
    from tinbook.shop.material import Sheet

F = TypeVar("F", bound=Form)
_NUMBER = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,38}[A-Za-z0-9])?")
_NAME = re.compile(r"[\w][\w .+-]{0,59}")
_REV = re.compile(r"[A-Za-z0-9-]{1,8}")


@dataclass(frozen=True, slots=True, init=False, repr=False)
class Declaration:
    """What a part holds, checked when it is made; `Part` adds the verbs.

    The base outline is drawn to the outside mould lines, seen from the up side of the sheet.
    See `Part` for what it is made with.
    """

    number: str
    rev: str
    sheet: str
    base: Outline
    title: str
    quantity: int
    folds: tuple[Fold, ...]
    holes: tuple[Hole | HoleRow | HoleGrid, ...]
    forms: tuple[Form, ...]
    other_hand: bool
    trim: bool
    marking: bool
    clean: tuple[tuple[str, str], ...]  # (panel, edge) pairs without nicks; ("", "") for all
    last: str = field(repr=False, compare=False)  # which tuple the newest feature is in, for `repeated`
    asked: Asked | None = field(repr=False, compare=False)  # the family's values, as long as nothing is changed by hand

    def __init__(
        self,
        number: str,
        *,
        sheet: Sheet | str,
        base: Outline,
        rev: str = "A",
        title: str = "",
        quantity: int = 1,
        trim: bool = False,
        marking: bool = True,
    ) -> None:
        if not isinstance(number, str) or not _NUMBER.fullmatch(number) or ".." in number:
            raise BadValue("part number", number, "1 to 40 letters, digits, '.', '_', '-', no '..', as in 'HN-FP-L'")
        if not isinstance(rev, str) or not _REV.fullmatch(rev):
            raise BadValue("rev", rev, "1 to 8 letters, digits or '-', as in 'B'")
        if not isinstance(title, str) or len(title) > 80 or not (title.isprintable() or title == ""):
            raise BadValue("title", title, "at most 80 printable characters")
        if isinstance(quantity, bool) or not isinstance(quantity, int) or not 1 <= quantity <= 1_000_000:
            raise BadValue("quantity", quantity, "a whole number from 1")
        for name, flag in (("trim", trim), ("marking", marking)):
            if not isinstance(flag, bool):
                raise BadValue(name, flag, "True or False")
        if not hasattr(base, "loop"):
            raise BadValue("base", base, "an Outline")
        key = sheet if isinstance(sheet, str) else getattr(sheet, "key", None)
        if not isinstance(key, str):
            raise BadValue("sheet", sheet, "a sheet of the shop or its key, as in 'DC01 1.6'")
        given = {"number": number, "rev": rev, "sheet": key, "base": base, "title": title, "quantity": quantity}
        empty: dict[str, Any] = dict.fromkeys(("folds", "holes", "forms"), ())
        empty |= {"other_hand": False, "clean": (), "last": "", "asked": None}
        for name, value in {**given, **empty, "trim": trim, "marking": marking}.items():
            object.__setattr__(self, name, value)

    def __repr__(self) -> str:
        counts = ((len(self.panels), "panel"), (len(self.holes), "hole feature"), (len(self.forms), "form"))
        has = ", ".join(f"{n} {what}{'s' if n > 1 else ''}" for n, what in counts if n)
        return f"<{self.number} rev {self.rev} of {self.sheet}: {has}>"

    def _repr_html_(self) -> str:
        return part_html(self)

    # -- what it has -----------------------------------------------------

    def forms_of(self, kind: type[F]) -> tuple[F, ...]:
        """Return the forms of one kind, in their order."""
        return tuple(f for f in self.forms if type(f) is kind)

    @property
    def beads(self) -> tuple[Bead, ...]:
        """The beads."""
        return self.forms_of(Bead)

    @property
    def texts(self) -> tuple[Text, ...]:
        """The texts."""
        return self.forms_of(Text)

    @property
    def etches(self) -> tuple[Etch, ...]:
        """The lines."""
        return self.forms_of(Etch)

    @property
    def panels(self) -> tuple[str, ...]:
        """Names of all panels, the base first."""
        return ("base", *(f.name for f in self.folds))

    def edges_of(self, panel: str) -> tuple[str, ...]:
        """Names of the edges of a panel that can be used."""
        if panel == "base":
            return tuple(self.base.names)
        for f in self.folds:
            if f.name == panel:
                return f.edges
        raise UnknownName("panel", panel, self.panels)

    @property
    def clean_all(self) -> bool:
        """Whether every edge is kept clean."""
        return ("", "") in self.clean

    def _place(self, path: str, what: str) -> tuple[str, str]:
        """Split "panel.edge" (or a base edge's name) and check that it exists."""
        if not isinstance(path, str):
            raise BadValue(what, path, "the name of an edge")
        if path in self.base.names:
            return "base", path
        panel, _, edge = path.rpartition(".")
        if panel in self.panels and edge in self.edges_of(panel):
            return panel, edge
        known = [*self.base.names, *(f"{f.name}.{e}" for f in self.folds for e in f.edges)]
        raise UnknownName(what, path, known)

    def _panel(self, panel: str, what: str) -> str:
        if not isinstance(panel, str) or panel not in self.panels:
            raise UnknownName(what, panel, self.panels)
        return panel

    def _free_name(self, name: str | None, wanted: str, taken: Collection[str], what: str) -> str:
        if name is not None:
            if not isinstance(name, str) or not _NAME.fullmatch(name):
                raise BadValue(f"{what} name", name, "1 to 60 letters, digits, spaces, '.', '_', '-', '+'")
            if name in taken:
                raise BadValue(f"{what} name", name, "a name that is not taken; taken: " + ", ".join(taken))
            return name
        listed = tuple(taken)
        if wanted not in listed:
            return wanted
        known = set(listed)
        # Numbers go on from the newest, so that naming many features does not try all the earlier numbers each time.
        numbers = (int(t[len(wanted) + 1 :]) for t in reversed(listed) if _numbered(t, wanted))
        n = next(numbers, 1) + 1
        while f"{wanted} {n}" in known:
            n += 1
        return f"{wanted} {n}"

    def _with(self, where: str, feature: Fold | Hole | HoleRow | HoleGrid) -> Self:
        return self._changed(**{where: (*getattr(self, where), feature), "last": where})

    def formed(self, form: Form) -> Self:
        """Return the part with one form more, its panel and name checked.

        Parameters
        ----------
        form : Form
            A value of one of the classes in `tinbook.part.forms`.

        Returns
        -------
        Part

        Raises
        ------
        UnknownName
            The part has no such panel.
        BadValue
            Something that is no form, or a name that is taken.
        """
        kind = type(form)
        if kind not in FORMS:
            raise BadValue("form", form, "one of: " + ", ".join(k.__name__ for k in FORMS))
        self._panel(form.panel, f"{form.TITLE} {form.name!r} panel")
        own = self.forms_of(kind)
        if form.NAMED:
            self._free_name(form.name, form.name, [o.name for o in own], form.TITLE)
        after = {k: n for n, k in enumerate(FORMS)}
        forms = sorted((*self.forms, form), key=lambda f: after[type(f)])
        return self._changed(forms=tuple(forms), last=kind.TABLE)

    def _form_name(self, kind: type[Form], name: str | None, wanted: str) -> str:
        return self._free_name(name, wanted, [f.name for f in self.forms_of(kind)], kind.TITLE)

    def _changed(self, **values: Any) -> Self:
        new = object.__new__(type(self))
        values.setdefault("asked", None)
        for name in self.__dataclass_fields__:
            object.__setattr__(new, name, values[name] if name in values else getattr(self, name))
        return new

    def mirrored(self, number: str | None = None, title: str | None = None) -> Self:
        """Return the other hand; what is added later is still drawn on the first hand.

        Parameters
        ----------
        number, title : str, optional
            Of the other hand.

        Returns
        -------
        Part
        """
        return self.renamed(number=number, title=title)._changed(other_hand=not self.other_hand)

    def renamed(
        self,
        number: str | None = None,
        rev: str | None = None,
        title: str | None = None,
        quantity: int | None = None,
        sheet: Sheet | str | None = None,
    ) -> Self:
        """Return the part under another number, revision, title, quantity or on another sheet."""
        checked = type(self)(
            self.number if number is None else number,
            rev=self.rev if rev is None else rev,
            sheet=self.sheet if sheet is None else sheet,
            base=self.base,
            title=self.title if title is None else title,
            quantity=self.quantity if quantity is None else quantity,
        )
        names: tuple[Literal["number", "rev", "sheet", "title", "quantity"], ...]
        names = ("number", "rev", "sheet", "title", "quantity")
        return self._changed(**{n: getattr(checked, n) for n in names})

    def with_features(
        self,
        folds: tuple[Fold, ...] = (),
        holes: tuple[Hole | HoleRow | HoleGrid, ...] = (),
        forms: Iterable[Form] = (),
    ) -> Self:
        """Return the part with all its features replaced, their panels and edges checked; for readers of files."""
        part = self._changed(folds=(), holes=(), forms=(), last="")
        for fold in folds:
            part._place(fold.edge if fold.panel == "base" else f"{fold.panel}.{fold.edge}", f"fold {fold.name!r} edge")
            part._free_name(fold.name, fold.name, part.panels, "fold")
            part = part._changed(folds=(*part.folds, fold))
        taken: dict[str, None] = {}
        for h in holes:
            taken[part._free_name(h.name, h.name, taken, "hole")] = None
            for panel, edge in h.edges if isinstance(h, HoleRow) else ():
                part._place(edge if panel == "base" else f"{panel}.{edge}", f"holes {h.name!r} edge")
            if not isinstance(h, HoleRow):
                part._panel(h.panel, f"hole {h.name!r} panel")
        if len(holes) > MOST_HOLES:
            raise BadValue("holes", len(holes), f"at most {MOST_HOLES} in a part")
        part = part._changed(holes=tuple(holes))
        for f in forms:
            part = part.formed(f)
        return part._changed(last="")

    def keep_clean(self, *edges: str) -> Self:
        """Keep edges free of nicks: those that are seen, and those that carry high stress or stop a crack.

        Parameters
        ----------
        *edges : str
            Edges ("rear", "lid.left"); none for every edge of the part.

        Returns
        -------
        Part
            Folds whose ends lie on these edges are set out by numbers where the cutter does not etch them.
        """
        found = [self._place(e, "clean edge") for e in edges] or [("", "")]
        return self._changed(clean=tuple(dict.fromkeys((*self.clean, *found))))

    def _hole_name(self, name: str | None, wanted: str) -> str:
        if len(self.holes) >= MOST_HOLES:
            raise BadValue("holes", len(self.holes) + 1, f"at most {MOST_HOLES} in a part")
        return self._free_name(name, wanted, [h.name for h in self.holes], "hole")


def _numbered(name: str, wanted: str) -> bool:
    """Whether a name is `wanted` with a number that we gave it."""
    rest = name[len(wanted) + 1 :]
    return name.startswith(f"{wanted} ") and rest.isascii() and rest.isdigit() and len(rest) <= 6
