"""Texts that stand on one line of a chart."""

from __future__ import annotations

import unicodedata

__all__ = ["is_one_line"]


def is_one_line(text: str) -> bool:
    """Whether text has single spaces only and neither control characters nor lone surrogates."""
    return text == " ".join(text.split()) and (
        text.isprintable() or not any(unicodedata.category(c) in ("Cc", "Cs") for c in text)
    )
