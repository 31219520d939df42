"""The letters of a PDF, read by a library that knows nothing of how it was written."""

from __future__ import annotations

import io
import math
from typing import Any

from pypdf import PdfReader


def sizes(pdf: bytes) -> list[float]:
    """Return the size of every piece of text of a document, points."""
    found: list[float] = []

    def see(text: str, cm: list[float], tm: list[float], _font: Any, size: float) -> None:
        if text.strip():
            up = tm[2] * cm[0] + tm[3] * cm[2], tm[2] * cm[1] + tm[3] * cm[3]
            found.append(size * math.hypot(*up))

    for page in PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(visitor_text=see)
    return found
