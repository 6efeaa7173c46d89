"""The band's parts as a MIDI file with markers where sections and phrases begin, and with what is
said to the players as texts at their bars."""

from __future__ import annotations

import io
import random
import struct
from typing import TYPE_CHECKING

from trainer.band import arrange, to_midi
from trainer.band.midi import TICKS_PER_QUARTER, tempo_changes
from trainer.chart import Chart, Key
from trainer.export.xml_keys import fifths

if TYPE_CHECKING:
    import mido

__all__ = ["markers", "texts", "write_midi"]

COUNT_OFF = "Count-off"
MOST_SIGNS = 7
# A chunk of a file: four letters and the length of what follows (Standard MIDI Files 1.0).
CHUNK = struct.Struct(">4sI")


def markers(chart: Chart) -> list[tuple[float, str]]:
    """The markers of a chart: quarters from the beginning of the count-off, and their texts."""
    count_off = _count_off(chart)
    found = [(0.0, COUNT_OFF)] if count_off else []
    for place in chart.placed_bars():
        if place.index:
            continue
        name = chart.sections[place.section].name or "Song"
        text = name if place.phrase == 0 else f"{name}, phrase {place.phrase + 1}"
        found.append((count_off + float(place.start_quarters), text))
    return found


def texts(chart: Chart) -> list[tuple[float, str]]:
    """What is said to people: quarters from the beginning of the count-off, and the words.

    The comments about the whole chart come first. What is said about a section stands at its first
    bar, a comment about a phrase at the first bar of the phrase, and a note at its own bar.
    """
    count_off = _count_off(chart)
    found = [(0.0, comment) for comment in chart.comments]
    for place in chart.placed_bars():
        section = chart.sections[place.section]
        said: list[str] = []
        if place.index == 0 and place.phrase == 0:
            said += (*section.notes, *section.comments)
        if place.index == 0:
            said += section.phrases[place.phrase].comments
        said += place.bar.notes
        found += [(count_off + float(place.start_quarters), words) for words in said]
    return found


def _count_off(chart: Chart) -> float:
    """The length of the count-off in quarters."""
    return float(chart.meter.quarters * chart.count_off)


def write_midi(
    chart: Chart, *, band: str = "full", seed: int = 0, tempo: float | None = None
) -> bytes:
    """The parts as the band plays them, with title, tempo, meters, key signatures, markers and
    texts.

    `band`, `seed` and `tempo` are as in `band.arrange`.
    """
    arrangement = arrange(chart, rng=random.Random(seed), band=band, tempo=tempo)
    written = io.BytesIO()
    to_midi(arrangement).write(written)
    return _with_head(written.getvalue(), chart, tempo_changes(arrangement.tempo_map))


def _with_head(content: bytes, chart: Chart, tempos: list[tuple[float, float]]) -> bytes:
    """A file with the title, the markers and the texts of the chart in its first track, and changes
    of the tempo. The other tracks, which hold the notes, are left as they are."""
    first = CHUNK.size + CHUNK.unpack_from(content)[1]
    end = first + CHUNK.size + CHUNK.unpack_from(content, first)[1]
    head = _opened(_head(content, 1) + content[first:end])
    head.tracks[0] = _with_events(head.tracks[0], chart, tempos)
    out = io.BytesIO()
    head.save(file=out)
    return content[:first] + out.getvalue()[first:] + content[end:]


def _head(content: bytes, tracks: int) -> bytes:
    """The header of a file with another number of tracks, which stands after its format."""
    end = CHUNK.size + CHUNK.unpack_from(content)[1]
    count = CHUNK.size + 2
    return content[:count] + struct.pack(">H", tracks) + content[count + 2 : end]


def _opened(content: bytes) -> mido.MidiFile:
    """A file as mido reads it, with texts in UTF-8, as most programs read them."""
    import mido

    return mido.MidiFile(file=io.BytesIO(content), charset="utf-8")


def _with_events(
    track: mido.MidiTrack, chart: Chart, tempos: list[tuple[float, float]]
) -> mido.MidiTrack:
    """The track of tempo and signatures with the words of the chart and more tempos."""
    import mido

    title = [mido.MetaMessage("track_name", name=chart.title, time=0)] if chart.title else []
    words = [
        mido.MetaMessage(kind, text=text, time=round(at * TICKS_PER_QUARTER))
        for kind, placed in (("marker", markers(chart)), ("text", texts(chart)))
        for at, text in placed
    ]
    changes = [
        mido.MetaMessage(
            "set_tempo", tempo=mido.bpm2tempo(tempo), time=round(at * TICKS_PER_QUARTER)
        )
        for at, tempo in tempos
    ]
    timed, now = [(each.time, each) for each in (*title, *words, *changes)], 0
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
