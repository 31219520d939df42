"""Suggestions: the smallest change of a family's parameters that turns a part that cannot be made into one that can."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from tinbook.fields import Path
from tinbook.part.provenance import Adjustable, Provenance, nested

Works = Callable[[Mapping[Path, Any]], bool]

SHARES: Final = (1 / 64, 1 / 16, 1 / 4, 1.0)
"""Shares of a parameter's range within which the search looks, near values first."""
NEAR: Final = 3
"""Number of shares that are tried before choices and names are changed."""


def suggest_change(
    provenance: Provenance,
    works: Works,
    words: Mapping[str, Sequence[Any]] | None = None,
    wrong: str = "",
    *,
    coarse: bool = False,
) -> dict[Adjustable, Any]:
    """Return the smallest change of one parameter that was found to work; of several where none helps alone.

    Parameters
    ----------
    provenance : Provenance
        The family call, with values that do not work.
    works : callable
        Whether these changes, by path, give something good.
    words : dict, optional
        Other values of parameters that name something, by their name, the likeliest first: the sheets of a shop.
    wrong : str
        The findings' text; a choice that it mentions is changed first.
    coarse : bool
        Choices first, then numbers in few large steps: for what takes long to try.

    Returns
    -------
    dict of Adjustable to value
        Every value was tried, together with the others that are named; empty where nothing was found.
    """
    parameters = provenance.adjustables
    numbers = [k for k in parameters if k.range is not None]
    failed: dict[tuple[Adjustable, int], float] = {}
    meant = [k for k in parameters if k.choices and f"{k.value}" in wrong]
    with nested():
        found = _another_word(meant, works, {})
        if coarse:
            found = found or _another_word(parameters, works, {})
            for share in SHARES[NEAR - 1 :]:
                found = found or _nearest_number(numbers, share, works, failed, coarse=True)
            found = found or _another_word(parameters, works, words or {})
            return found or _together(parameters, works, words or {})
        for share in SHARES[:NEAR]:
            found = found or _nearest_number(numbers, share, works, failed)
        found = found or _another_word(parameters, works, words or {})
        for share in SHARES[NEAR:]:
            found = found or _nearest_number(numbers, share, works, failed)
        return found or _together(parameters, works, words or {})


def _another_word(
    parameters: Sequence[Adjustable], works: Works, words: Mapping[str, Sequence[Any]]
) -> dict[Adjustable, Any]:
    """Return the first other choice or word that works alone."""
    tries = (
        (k, word)
        for k in parameters
        for word in (*k.others, *words.get(k.name, ()))
        if k.typed(word) != k.typed(k.value)
    )
    return next(({k: word} for k, word in tries if works({k.path: word})), {})


def _nearest_number(
    parameters: Sequence[Adjustable],
    share: float,
    works: Works,
    failed: dict[tuple[Adjustable, int], float],
    *,
    coarse: bool = False,
) -> dict[Adjustable, Any]:
    """Return the parameter that works with the smallest share of its range changed, at most `share`."""
    best: tuple[Adjustable, float] | None = None
    least = math.inf
    for k in parameters:
        assert k.range is not None
        span = k.range.high - k.range.low
        for sign in (-1, 1):
            bad = failed.get((k, sign), float(k.value))
            far = max(share * span, 1.0) if k.whole else share * span
            good = k.near(k.value + sign * far, k.value + sign * far)
            if good == bad or not works({k.path: good}):
                failed[k, sign] = good
                continue
            if best is not None:
                # Another parameter helps already: this one must do so with less.
                closer = k.near(k.value + sign * 0.95 * least * span, good)
                if (closer - bad) * sign <= 0 or (good - closer) * sign <= 0 or not works({k.path: closer}):
                    continue
                good = closer
            value = _halved(k, bad, good, works, span / 40 if coarse else 0.0)
            least, best = abs(value - k.value) / span, (k, value)
    return {} if best is None else dict([best])


def _halved(k: Adjustable, bad: float, good: float, works: Works, fine: float = 0.0) -> float:
    """Return the value nearest to a bad one that works, between it and a good one, to `fine` or finer than its step."""
    assert k.range is not None
    fine = 1.0 if k.whole else max(0.011, k.range.step / 20, fine)
    while abs(good - bad) > fine:
        middle = k.near((good + bad) / 2, good)
        if middle in (good, bad):
            break
        if works({k.path: middle}):
            good = middle
        else:
            bad = middle
    return good


def _together(
    parameters: Sequence[Adjustable], works: Works, words: Mapping[str, Sequence[Any]]
) -> dict[Adjustable, Any]:
    """Return the fewest parameters that help together: as the family has them, or as few pieces as can be.

    With another sheet, where none of these helps.
    """
    usual = {k: k.default for k in parameters if k.default is not None and k.default != k.value}
    fewest = {k: int(k.range.low) for k in parameters if k.range is not None and k.whole and k.value > k.range.low}
    sheets = [{}, *({k: word} for k in parameters for word in words.get(k.name, ()))]
    sets = ({**base, **sheet} for sheet in sheets for base in (usual, fewest, {**usual, **fewest}))
    found = next((s for s in sets if s and works({k.path: v for k, v in s.items()})), {})
    for k in list(found):
        fewer = {o.path: v for o, v in found.items() if o is not k}
        if fewer and works(fewer):
            del found[k]
    for k in [k for k in found if k.range is not None]:
        found[k] = _halved(k, float(k.value), found[k], _with(works, {o.path: v for o, v in found.items()}))
    return found


def _with(works: Works, others: Mapping[Path, Any]) -> Works:
    """Return whether changes work together with others."""
    return lambda changes: works({**others, **changes})
