"""The band's parts as a MIDI file with markers: sections and phrases where they begin."""

from __future__ import annotations

import io
import random
from typing import TYPE_CHECKING

from trainer.band import arrange, to_midi
from trainer.band.midi import TICKS_PER_QUARTER
from trainer.chart import Chart, Key
from trainer.export.xml_keys import fifths

if TYPE_CHECKING:
    import mido

__all__ = ["markers", "write_midi"]

COUNT_OFF = "Count-off"
MOST_SIGNS = 7


def markers(chart: Chart) -> list[tuple[float, str]]:
    """The markers of a chart: quarters from the beginning of the count-off, and their texts."""
    count_off = float(chart.meter.quarters)
    found = [(0.0, COUNT_OFF)]
    for place in chart.placed_bars():
        if place.index:
            continue
        name = chart.sections[place.section].name or "Song"
        text = name if place.phrase == 0 else f"{name}, phrase {place.phrase + 1}"
        found.append((count_off + float(place.start_quarters), text))
    return found


def write_midi(
    chart: Chart, *, band: str = "full", seed: int = 0, tempo: float | None = None
) -> bytes:
    """The parts as the band plays them, with title, tempo, meters, key signatures and markers.

    `band`, `seed` and `tempo` are as in `band.arrange`.
    """
    import mido

    arrangement = arrange(chart, rng=random.Random(seed), band=band, tempo=tempo)
    written = io.BytesIO()
    to_midi(arrangement).write(written)
    written.seek(0)
    # Texts in UTF-8, as most programs read them.
    file = mido.MidiFile(file=written, charset="utf-8")
    file.tracks[0] = _with_markers(file.tracks[0], chart)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def _with_markers(track: mido.MidiTrack, chart: Chart) -> mido.MidiTrack:
    """The track of tempo and signatures with the title and the markers of the chart."""
    import mido

    texts = [mido.MetaMessage("track_name", name=chart.title, time=0)] if chart.title else []
    texts += [
        mido.MetaMessage("marker", text=text, time=round(at * TICKS_PER_QUARTER))
        for at, text in markers(chart)
    ]
    timed, now = [(each.time, each) for each in texts], 0
    keys = _keys(chart)
    for message in track:
        now += message.time
        if message.type == "key_signature":
            timed.append((now, message.copy(key=keys[Key.parse(message.key).pitch_class])))
        elif message.type != "end_of_track":
            timed.append((now, message))
    timed.sort(key=lambda each: each[0])
    again, before = mido.MidiTrack(), 0
    for at, message in timed:
        again.append(message.copy(time=at - before))
        before = at
    again.append(mido.MetaMessage("end_of_track", time=0))
    return again


def _keys(chart: Chart) -> dict[int, str]:
    """The names of the keys of a chart by pitch class, spelt as the chart spells them.

    A MIDI key signature has at most seven sharps or flats: other keys have their usual name.
    """
    keys = [chart.key, *(chart.key.shifted(place.key_shift) for place in chart.placed_bars())]
    usual = [key if abs(fifths(key)) <= MOST_SIGNS else _usual(key) for key in reversed(keys)]
    return {key.pitch_class: str(key).replace(" minor", "m") for key in usual}


def _usual(key: Key) -> Key:
    """The usual name of a key: a move of the key there and back forgets its own."""
    return key.shifted(1).shifted(-1)
