"""What the generator draws from: counts of real songs, plans of songs, and chords that go together.

Source of all of them: the McGill Billboard annotations 2.0, J. A. Burgoyne, J. Wild and
I. Fujinaga, "An expert ground-truth set for audio chord recognition and music analysis",
ISMIR 2011, CC0. Written by scripts/make_tables.py; chords are degree and `-` or `o`, minor songs
are counted from their own 1. The plans hold no chords, and the worlds, the chords of a song with
their shares, no order; scripts/plan_tables.py says what both are. The likelihoods say how well
chords go with what a plan does; scripts/likelihood_tables.py and scripts/tune_likelihoods.py say
how they are found.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import Any

__all__ = ["read_table", "table"]


@cache
def table(name: str) -> dict[str, Any]:
    """A table, read once."""
    return read_table(name)


def read_table(name: str) -> dict[str, Any]:
    """The table "chords", "rhythm", "form", "plans", "worlds" or "likelihoods"."""
    text = resources.files(__name__).joinpath(f"{name}.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded
