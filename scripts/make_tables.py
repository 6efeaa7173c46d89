#!/usr/bin/env python3
"""Turn the corpus of chord annotations into the generator's tables.

Usage: scripts/make_tables.py CORPUS, where CORPUS is the folder that `corpus` describes. Writes
trainer/generate/tables/*.json.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from chord_tables import count_chords
from corpus import read_songs
from form_tables import count_form, count_rhythm
from likelihood_tables import collect_likelihoods
from plan_tables import collect_plans, collect_worlds
from tune_likelihoods import tuned

CITATION = (
    "Counted from the McGill Billboard annotations 2.0: J. A. Burgoyne, J. Wild and I. Fujinaga, "
    "An expert ground-truth set for audio chord recognition and music analysis, ISMIR 2011. CC0."
)
SORTED = ("chords", "rhythm", "form")
TABLES = Path(__file__).resolve().parent.parent / "trainer" / "generate" / "tables"


def main() -> None:
    """Write the tables of the corpus folder named on the command line."""
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    songs = read_songs(Path(sys.argv[1]))
    tables = {
        "chords": count_chords(songs),
        "rhythm": count_rhythm(songs),
        "form": count_form(songs),
        "plans": collect_plans(songs),
        "worlds": collect_worlds(songs),
        "likelihoods": collect_likelihoods(songs),
    }
    for name, table in tables.items():
        write(name, table)
    # The generator assigns chords by the table of likelihoods while it is tuned.
    write("likelihoods", tuned(songs))


def write(name: str, table: dict[str, Any]) -> None:
    """Write a table with its source."""
    text = json.dumps(
        {"source": CITATION, **table}, separators=(",", ":"), sort_keys=name in SORTED
    )
    (TABLES / f"{name}.json").write_text(text + "\n", encoding="utf-8")
    print(f"{name}.json: {len(text)} bytes")


if __name__ == "__main__":
    main()
