"""Charts written as MusicXML 4.0: one staff of slash notation under the chords.

Sections are rehearsal marks, a phrase ends with a double bar, and a new system begins with each
section and where a line gets long. `rhythm` says how holds, chokes and pushes are written. A bar
whose chord is open has a question mark over a rest, and a fade is a word. The tempo counts the
meter's pulse, and the feel is a word beside it. Notes are words over their bar; those about a
section are in a box after its rehearsal mark. The title is the work's; the song's own meter
is kept with the file's other details if the first bar is in another, as are the capo, the count-off
and the comments, for which the format has no element.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from fractions import Fraction
from math import lcm
from xml.etree.ElementTree import Element, ElementTree, SubElement, indent

from trainer import __version__
from trainer.chart import Chart, Feel, Key, Meter
from trainer.chart.format import format_key_change, format_tempo
from trainer.chart.hits import format_hits
from trainer.export.harmony import write_harmony
from trainer.export.rhythm import Head, SlashBar, SlashNote, slash_bars, writes_hits
from trainer.export.xml_keys import fifths

__all__ = [
    "CAPO_FIELD",
    "COMMENT_FIELD",
    "CONTAINER",
    "COUNT_OFF_FIELD",
    "METER_FIELD",
    "MIMETYPE",
    "PUSH_WORD",
    "SECTION_BOX",
    "write_musicxml",
    "write_mxl",
]

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
MIMETYPE = "application/vnd.recordare.musicxml"
CONTAINER = "META-INF/container.xml"
SCORE_NAME = "score.musicxml"
# A zip file's own beginning of time: the same chart gives the same bytes.
ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)
# The miscellaneous field that holds the meter of the song.
METER_FIELD = "meter of the song"
# The box around words about a section.
SECTION_BOX = "rectangle"
CAPO_FIELD, COUNT_OFF_FIELD, COMMENT_FIELD = "capo", "count-off", "comment"
PUSH_WORD, OPEN_WORD, FADE_WORD = "push", "?", "Fade"
# Bars on one system: two short phrases share a line as they do in a chart's text.
MOST_BARS_ON_A_SYSTEM = 8
BEAT_UNITS = {
    Fraction(3, 4): ("eighth", True),
    Fraction(1): ("quarter", False),
    Fraction(3, 2): ("quarter", True),
    Fraction(2): ("half", False),
}


def write_musicxml(chart: Chart, *, letters: bool = False) -> bytes:
    """Write a chart as a MusicXML 4.0 file, its chords as numerals or as letters in its key."""
    score = Element("score-partwise", version="4.0")
    _write_header(score, chart)
    part = SubElement(score, "part", id="P1")
    bars = slash_bars(chart)
    divisions = lcm(*(note.length_quarters.denominator for bar in bars for note in bar.notes))
    writer = _PartWriter(chart, divisions, letters=letters)
    for bar, ends_phrase, breaks in zip(bars, *_layout(chart), strict=True):
        part.append(writer.measure(bar, ends_phrase=ends_phrase, new_system=breaks))
    indent(score)
    out = io.BytesIO()
    out.write(b'<?xml version="1.0" encoding="UTF-8"?>\n' + DOCTYPE.encode())
    ElementTree(score).write(out, encoding="utf-8", xml_declaration=False)
    return out.getvalue() + b"\n"


def write_mxl(chart: Chart, *, letters: bool = False) -> bytes:
    """Write a chart as a compressed MusicXML file (.mxl): a zip archive with a container file."""
    container = Element("container")
    root = SubElement(SubElement(container, "rootfiles"), "rootfile")
    root.set("full-path", SCORE_NAME)
    root.set("media-type", "application/vnd.recordare.musicxml+xml")
    described = io.BytesIO()
    ElementTree(container).write(described, encoding="utf-8", xml_declaration=True)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        # The standard asks for the type first, not compressed, so that it can be seen.
        kind = zipfile.ZipInfo("mimetype", ZIP_EPOCH)
        archive.writestr(kind, MIMETYPE, zipfile.ZIP_STORED)
        for name, content in (
            (CONTAINER, described.getvalue()),
            (SCORE_NAME, write_musicxml(chart, letters=letters)),
        ):
            archive.writestr(zipfile.ZipInfo(name, ZIP_EPOCH), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def xml_text(text: str) -> str:
    """A text without the two characters that are printable elsewhere but not allowed in XML."""
    return text.replace("\ufffe", "\ufffd").replace("\uffff", "\ufffd")


def _write_header(score: Element, chart: Chart) -> None:
    if chart.title:
        work = SubElement(score, "work")
        SubElement(work, "work-title").text = xml_text(chart.title)
    identification = SubElement(score, "identification")
    encoding = SubElement(identification, "encoding")
    SubElement(encoding, "software").text = f"chart-trainer {__version__}"
    SubElement(
        encoding, "supports", attribute="new-system", element="print", type="yes", value="yes"
    )
    fields = list(_details(chart))
    if fields:
        other = SubElement(identification, "miscellaneous")
        for name, text in fields:
            SubElement(other, "miscellaneous-field", name=name).text = xml_text(text)
    parts = SubElement(score, "part-list")
    named = SubElement(parts, "score-part", id="P1")
    SubElement(named, "part-name", {"print-object": "no"}).text = "Chart"


def _details(chart: Chart) -> Iterator[tuple[str, str]]:
    """What the file keeps beside the score, by name.

    Comments on a section or phrase have the places of both in the name, counted from 1.
    """
    if chart.bars()[0].meter != chart.meter:
        yield METER_FIELD, str(chart.meter)
    if chart.capo is not None:
        yield CAPO_FIELD, str(chart.capo)
    if chart.count_off != 1:
        yield COUNT_OFF_FIELD, str(chart.count_off)
    yield from ((COMMENT_FIELD, comment) for comment in chart.comments)
    for number, section in enumerate(chart.sections, 1):
        here = f"{COMMENT_FIELD} {number}"
        yield from ((here, comment) for comment in section.comments)
        for place, phrase in enumerate(section.phrases, 1):
            yield from ((f"{here} {place}", comment) for comment in phrase.comments)


def _layout(chart: Chart) -> tuple[list[bool], list[bool]]:
    """For each bar, whether it ends a phrase, and whether it begins a system after the first."""
    ends: list[bool] = []
    breaks: list[bool] = []
    on_system = 0
    for section in chart.sections:
        for number, phrase in enumerate(section.phrases):
            count = len(phrase.bars)
            starts = number == 0 or on_system + count > MOST_BARS_ON_A_SYSTEM
            on_system = count if starts else on_system + count
            ends += [False] * (count - 1) + [True]
            breaks += [starts and bool(breaks)] + [False] * (count - 1)
    return ends, breaks


class _PartWriter:
    """Writes the measures of a part one after another; knows the meter and key that hold."""

    def __init__(self, chart: Chart, divisions: int, *, letters: bool) -> None:
        self.chart, self.divisions, self.letters = chart, divisions, letters
        self.count = len(chart.bars())
        self.meter: Meter | None = None
        self.shift: int | None = None

    def measure(self, bar: SlashBar, *, ends_phrase: bool, new_system: bool) -> Element:
        """One measure of the file."""
        place, measure = bar.place, Element("measure", number=str(bar.place.number))
        if new_system:
            SubElement(measure, "print", {"new-system": "yes"})
        self._attributes(measure, bar)
        for direction in self._directions(bar):
            measure.append(direction)
        for note in bar.notes:
            self._note(measure, note, bar)
        if ends_phrase:
            style = "light-heavy" if place.number == self.count else "light-light"
            line = SubElement(measure, "barline", location="right")
            SubElement(line, "bar-style").text = style
        return measure

    def _key(self, shift: int) -> Key:
        return self.chart.key.shifted(shift)

    def _attributes(self, measure: Element, bar: SlashBar) -> None:
        meter, shift = bar.place.bar.meter, bar.place.key_shift
        first = self.meter is None
        if meter == self.meter and shift == self.shift:
            return
        attributes = SubElement(measure, "attributes")
        if first:
            SubElement(attributes, "divisions").text = str(self.divisions)
        if shift != self.shift:
            key = SubElement(attributes, "key")
            SubElement(key, "fifths").text = str(fifths(self._key(shift)))
            SubElement(key, "mode").text = "minor" if self.chart.key.minor else "major"
        if meter != self.meter:
            time = SubElement(attributes, "time")
            SubElement(time, "beats").text = str(meter.beats)
            SubElement(time, "beat-type").text = str(meter.unit)
        if first:
            clef = SubElement(attributes, "clef")
            SubElement(clef, "sign").text = "G"
            SubElement(clef, "line").text = "2"
        self.meter, self.shift = meter, shift

    def _directions(self, bar: SlashBar) -> Iterator[Element]:
        """What stands over the beginning of a bar."""
        place = bar.place
        section = self.chart.sections[place.section]
        if section.name and place.phrase == place.index == 0:
            yield _direction("rehearsal", xml_text(section.name))
            for note in section.notes:
                yield _direction("words", xml_text(note), enclosure=SECTION_BOX)
        if place.number == 1:
            yield self._tempo()
        if place.bar.key_change and place.number > 1:
            yield _direction("words", format_key_change(place.bar.key_change).strip("[]"))
        if place.bar.fades:
            yield _direction("words", FADE_WORD)
        for note in place.bar.notes:
            yield _direction("words", xml_text(note))
        if place.bar.hits and not writes_hits(place.bar):
            yield _direction("words", format_hits(place.bar.hits, place.bar.meter))
        if place.bar.is_open:
            yield _direction("words", OPEN_WORD)

    def _tempo(self) -> Element:
        """The tempo with the feel in words before it."""
        direction = _direction("words", self.chart.feel.capitalize())
        pulse = self.chart.meter.pulse_quarters
        name, dotted = BEAT_UNITS[pulse]
        metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
        SubElement(metronome, "beat-unit").text = name
        if dotted:
            SubElement(metronome, "beat-unit-dot")
        SubElement(metronome, "per-minute").text = format_tempo(self.chart.tempo)
        quarters_a_minute = self.chart.tempo * float(pulse)
        sound = SubElement(direction, "sound", tempo=format_tempo(quarters_a_minute))
        if self.chart.feel is Feel.SHUFFLE:
            # Programs that play the file swing its eighths.
            swing = SubElement(sound, "swing")
            for name, text in (("first", "2"), ("second", "1"), ("swing-type", "eighth")):
                SubElement(swing, name).text = text
        return direction

    def _note(self, measure: Element, note: SlashNote, bar: SlashBar) -> None:
        if note.chord is not None and not note.chord.place.bar.is_open:
            event, place = note.chord
            key, signature = self._key(place.key_shift), self._key(bar.place.key_shift)
            measure.append(write_harmony(event.chord, key, signature, letters=self.letters))
            if note.says_push:
                measure.append(_direction("words", PUSH_WORD))
        measure.append(self._note_element(note, bar.place.bar.meter))

    def _note_element(self, note: SlashNote, meter: Meter) -> Element:
        element = Element("note")
        rest = note.head is Head.REST
        if rest:
            SubElement(element, "rest", {"measure": "yes"} if note.whole_bar else {})
        else:
            unpitched = SubElement(element, "unpitched")
            SubElement(unpitched, "display-step").text = "B"
            SubElement(unpitched, "display-octave").text = "4"
        length = note.length_quarters * self.divisions
        SubElement(element, "duration").text = str(length)
        for kind, tied in (("stop", note.tie_stop), ("start", note.tie_start)):
            if tied:
                SubElement(element, "tie", type=kind)
        SubElement(element, "voice").text = "1"
        if not note.whole_bar:
            SubElement(element, "type").text = note.value.name
            if note.value.dotted:
                SubElement(element, "dot")
        if note.tuplet is not None:
            modification = SubElement(element, "time-modification")
            SubElement(modification, "actual-notes").text = str(note.tuplet.actual)
            SubElement(modification, "normal-notes").text = str(note.tuplet.normal)
        if not rest:
            plain = note.length_quarters == meter.pulse_quarters and not note.accented
            if plain and not note.tie_start:
                SubElement(element, "stem").text = "none"
            filled = {"filled": "no"} if note.head is Head.DIAMOND else {}
            SubElement(element, "notehead", filled).text = note.head
        _write_notations(element, note)
        return element


def _direction(kind: str, text: str, **attributes: str) -> Element:
    """A text over the staff: a rehearsal mark or words."""
    direction = Element("direction", placement="above")
    SubElement(SubElement(direction, "direction-type"), kind, attributes).text = text
    return direction


def _write_notations(element: Element, note: SlashNote) -> None:
    """Ties, the ends of a tuplet, and the wedge of a choke."""
    edges = (
        []
        if note.tuplet is None
        else [
            kind
            for kind, here in (("start", note.tuplet.start), ("stop", note.tuplet.stop))
            if here
        ]
    )
    if not (note.tie_start or note.tie_stop or edges or note.choked or note.accented):
        return
    notations = SubElement(element, "notations")
    for kind, tied in (("stop", note.tie_stop), ("start", note.tie_start)):
        if tied:
            SubElement(notations, "tied", type=kind)
    for kind in edges:
        SubElement(notations, "tuplet", type=kind)
    if note.choked or note.accented:
        articulations = SubElement(notations, "articulations")
        for name, is_there in (("accent", note.accented), ("staccatissimo", note.choked)):
            if is_there:
                SubElement(articulations, name)
