"""The guitar's capo: which shapes sound in the key that is called."""

from __future__ import annotations

from trainer.chart.chords import Chord
from trainer.chart.keys import Key
from trainer.chart.letters import chord_letters
from trainer.chart.model import Chart

__all__ = ["shape_keys", "shape_letters"]

MOST_SHAPES = 8


def shape_keys(chart: Chart) -> tuple[Key, ...]:
    """The keys of the shapes that a guitarist plays with the chart's capo, in order.

    There is more than one where the key moves, and none if the chart says nothing of a capo.
    """
    if chart.capo is None:
        return ()
    shifts = dict.fromkeys([0, *(place.key_shift for place in chart.placed_bars())])
    keys = (chart.key.shifted(shift).shifted(-chart.capo) for shift in shifts)
    return tuple(dict.fromkeys(keys))


def shape_letters(chart: Chart) -> tuple[tuple[str, str], ...]:
    """The commonest chords of a chart, each with the shape that is played for it in the first key.

    Chords stand by their numbers; a bass and what is added are left to the player.
    """
    keys = shape_keys(chart)
    if not keys:
        return ()
    counts: dict[Chord, int] = {}
    for place in chart.placed_bars():
        for event in place.bar.events:
            if event.chord is not None and place.key_shift == 0:
                chord = event.chord
                plain = Chord(chord.degree, chord.alteration, chord.quality)
                counts[plain] = counts.get(plain, 0) + 1
    common = sorted(counts, key=lambda chord: -counts[chord])[:MOST_SHAPES]
    rising = sorted(common, key=lambda chord: (chord.root.semitones, chord.quality))
    return tuple((str(chord), chord_letters(chord, keys[0])) for chord in rising)
