"""Names, titles, tempos and letters of other formats as a chart can hold them."""

from __future__ import annotations

import unicodedata

from trainer.chart import Degree, Key
from trainer.chart.model import HEADER_WORDS, TEMPO_BPM
from trainer.chart.section_names import split_repeats
from trainer.chart.typed.other_names import degree_of
from trainer.export.problems import ProblemList

__all__ = ["chart_tempo", "chart_title", "degree_of_letter", "one_line", "section_name"]

MOST_NAME, MOST_TITLE = 40, 120
USUAL_TEMPO = 100.0


def degree_of_letter(name: str, key: Key) -> Degree:
    """The degree of a letter name in a key: the flat seven for Eb in F.

    A note that sounds like a plain degree is that degree, however it is spelt.
    """
    return Degree.of(degree_of(name, key))


def one_line(text: str) -> str:
    """A text on one line, without control characters."""
    kept = (c if unicodedata.category(c) not in ("Cc", "Cs") else " " for c in text)
    return " ".join("".join(kept).split())


def chart_title(title: str, problems: ProblemList) -> str:
    """A title of at most 120 characters."""
    line = one_line(title)
    if len(line) > MOST_TITLE:
        problems.add("title", f"{len(line)} characters", f"the first {MOST_TITLE} are kept")
    return line[:MOST_TITLE].strip()


def chart_tempo(tempo: float | None, problems: ProblemList) -> float:
    """A tempo that a chart may have, in pulses a minute; None for a file that says none."""
    low, high = TEMPO_BPM
    if tempo is None:
        problems.add("tempo", "none", f"{USUAL_TEMPO:g} is taken")
        return USUAL_TEMPO
    if not low <= tempo <= high:
        near = min(max(tempo, low), high)
        problems.add("tempo", f"{tempo:g}", f"{near:g} is taken, as near as a chart may have it")
        return near
    return tempo


def section_name(text: str, place: str, problems: ProblemList) -> str:
    """A name that a section may have, as close to what the file says as can be."""
    line = one_line(text)
    name = " ".join(line.replace(":", " ").split())
    name, times = split_repeats(name)
    if not name[:1].isalpha():
        name = f"Section {name}".strip()
    if name.lower() in HEADER_WORDS:
        name = f"Section {name}"
    name = name[:MOST_NAME].strip()
    if times > 1:
        problems.add(place, f"{line}, a section to be played {times} times", "it is written once")
    elif name != line:
        problems.add(place, f"the name {line[:60]!r}", f"it is called {name!r}")
    return name
