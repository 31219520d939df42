"""Findings: severities, and what older files call them."""

from __future__ import annotations

import pytest

from tinbook.errors import BadValue
from tinbook.finding import Finding


def test_severities_are_stop_caution_and_fine() -> None:
    with pytest.raises(BadValue, match="valid: stop, caution, fine"):
        Finding(code="a.b", severity="warning", where="here", what="it is so")  # type: ignore[arg-type]


def test_the_word_of_older_files_is_read_as_a_caution() -> None:
    old = Finding(code="a.b", severity="mind", where="here", what="it is so")  # type: ignore[arg-type]
    assert old == Finding(code="a.b", severity="caution", where="here", what="it is so")
    assert str(old) == "caution: here: it is so."
