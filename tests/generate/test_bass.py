"""Slash chords obey the bass line (common practice, no source)."""

from __future__ import annotations

import random

import pytest

from tests.generate.draws import everyday
from trainer.chart import Chart, Chord, Degree
from trainer.generate import Features, Settings, generate
from trainer.generate.bass import explains_bass


def _lines(chart: Chart) -> list[list[Chord]]:
    """The chords of a song, cut where the key moves."""
    lines: list[list[Chord]] = [[]]
    for bar in chart.bars():
        if bar.key_change:
            lines.append([])
        lines[-1] += [event.chord for event in bar.events if event.chord]
    return lines


def _low(chord: Chord) -> int:
    return (chord.bass or chord.root).semitones


def _step(a: int, b: int) -> bool:
    return min((a - b) % 12, (b - a) % 12) <= 2


@pytest.mark.many
def test_every_bass_leads_on() -> None:
    """After a slash bass the line holds, steps, or falls home from a suspended dominant."""
    count = 0
    for chart in everyday(150):
        for line in _lines(chart):
            for chord, after in zip(line, [*line[1:], None], strict=True):
                if chord.bass is None:
                    continue
                count += 1
                assert after is not None, f"{chord} ends {chart.title}"
                fourth_up = (_low(after) - _low(chord)) % 12 == 5
                suspended = (_low(chord) - chord.root.semitones) % 12 in (2, 5)
                assert _step(_low(chord), _low(after)) or (fourth_up and suspended), (
                    f"{chord} {after} in {chart.title}"
                )
    assert count > 300


@pytest.mark.parametrize(
    ("before", "chord", "bass", "after", "right"),
    [
        ("1", "5", "7", "6", True),
        ("1", "1", "3", "4", True),
        ("4", "5", "7", "1", True),
        ("1", "4", "1", "1", True),
        ("6", "6-", "5", "4", True),
        ("4", "1", "5", "5", True),
        ("4", "4", "5", "1", True),
        ("1", "5", "7", "4", False),
        ("1", "1", "3", "1", False),
        ("5", "4", "1", "5", False),
        ("1", "4", "3", "6", False),
    ],
)
def test_lines_that_players_know(
    before: str, chord: str, bass: str, after: str, right: bool
) -> None:
    """Walks, pedals and cadences that players use pass; a bass that leads nowhere does not."""

    def low(name: str) -> int:
        return Degree(int(name)).semitones

    found = explains_bass(
        low(before), low(chord.rstrip("-")), chord.endswith("-"), low(bass), low(after)
    )
    assert found is right


@pytest.mark.many
def test_basses_are_named_from_their_chords() -> None:
    """The bass under a 2 major is #4, never b5, and flats stay flat."""
    settings = Settings(styles=("gospel 12/8",), features=Features(splits=0.4, slash_chords=0.5))
    named = {
        str(chord)
        for seed in range(150)
        for line in _lines(generate(settings, random.Random(seed)))
        for chord in line
        if chord.bass
    }
    assert not [name for name in named if name.endswith(("/b5", "/b4")) and name[0] in "2357"]
    assert {"5/7", "1/3"} <= named
