"""The saying for each kind of finding."""

from __future__ import annotations

from collections.abc import Callable

from trainer.grade import bar_sayings as bars
from trainer.grade import chord_sayings as chords
from trainer.grade.findings import Finding
from trainer.grade.scoring import Scored

__all__ = ["say"]

Saying = Callable[[Finding, Scored], str]


def say(finding: Finding, scored: Scored) -> str:
    """Say what happened. Raises KeyError for a kind without a saying."""
    return SAYINGS[finding.kind](finding, scored)


SAYINGS: dict[str, Saying] = {
    "plain number": chords.plain_number,
    "third": chords.third,
    "quality": chords.inside,
    "other extension": chords.inside,
    "extension left out": chords.extension_left_out,
    "extension added": chords.extension_added,
    "bass left out": chords.bass_left_out,
    "bass added": chords.bass_added,
    "other bass": chords.other_bass,
    "other chord": chords.other_chord,
    "rest missed": chords.rest_missed,
    "rest written": chords.rest_written,
    "split missed": chords.split_missed,
    "split added": chords.split_added,
    "split misplaced": chords.split_misplaced,
    "split otherwise": chords.split_otherwise,
    "articulation left out": chords.articulation_left_out,
    "articulation added": chords.articulation_added,
    "other articulation": chords.other_articulation,
    "meter": bars.meter,
    "key change": bars.key_change,
    "left out": bars.left_out,
    "added": bars.added,
    "doubled": bars.added,
    "swapped": bars.swapped,
    "split written as two bars": bars.as_two,
    "two bars written as one": bars.as_one,
}
