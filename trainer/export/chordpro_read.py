"""ChordPro files read as charts, where they have bars.

A line with bar lines is read bar by bar: a chord, a slash and a dot are a beat each, % is the bar
before once more. A line of words with chords above them has no bars: each of its chords becomes a
bar, and that is told. Environments for other things (tablature, pictures) are left out.
"""

from __future__ import annotations

import re
from copy import deepcopy
from dataclasses import dataclass, field
from fractions import Fraction

from trainer.chart import Articulation, Feel, Key, Meter
from trainer.chart.band_words import read_band_words
from trainer.chart.header import METER
from trainer.chart.hits import HITS
from trainer.chart.invalid_tokens import FADE_WORDS
from trainer.chart.section_names import OTHER, section_kind
from trainer.errors import ChartError, FileError
from trainer.export.chord_names import read_chord_name
from trainer.export.musicxml import COUNT_OFF_FIELD, OPEN_WORD
from trainer.export.problems import LEFT_OPEN, ProblemList, ReadFile
from trainer.export.score import HarmonyRead, Measure, Score
from trainer.export.score_chart import chart_of_score
from trainer.export.settings import Unsaid
from trainer.export.xml_values import number_in

__all__ = ["read_chordpro"]

DIRECTIVE = re.compile(r"\{\s*([a-zA-Z_]+)\s*(?:[:\s]\s*(.*?))?\s*\}")
LABEL = re.compile(r'label\s*=\s*"([^"]*)"|label\s*=\s*\'([^\']*)\'')
GRID_SHAPE = re.compile(r"[\d+x]+", re.ASCII)
BAR_LINES = re.compile(r"(?<!\|)(\|{1,2}|\|:|:\|:?|\|\.)(?!\|)")
TOKEN = re.compile(r"\[\*([^\]]*)\]|\[([^\]]*)\]|([/.%]{1,2})")
SIGNS = frozenset(("/", ".", "%", "%%"))
FADE = re.compile(FADE_WORDS, re.IGNORECASE)
SHORT = {"t": "title", "soc": "start_of_chorus", "eoc": "end_of_chorus", "sov": "start_of_verse",
         "eov": "end_of_verse", "sob": "start_of_bridge", "eob": "end_of_bridge",
         "sog": "start_of_grid", "eog": "end_of_grid", "sot": "start_of_tab", "eot": "end_of_tab",
         "c": "comment", "ci": "comment", "comment_italic": "comment", "cb": "comment_box",
         "highlight": "comment", "ns": "new_song"}  # fmt: skip
NO_CHORDS_IN = frozenset(("tab", "abc", "ly", "svg", "textblock", "musicxml"))
MARKS = {Articulation.HOLD: "holds", Articulation.CHOKE: "chokes", Articulation.PUSH: "says_push"}


def read_chordpro(text: str, source: str, unsaid: Unsaid) -> ReadFile:
    """Read a ChordPro file as a chart, with a report of what was guessed or lost.

    Raises FileError for a file without chords.
    """
    # A file with double bar lines ends its phrases there, any other one at the ends of lines.
    reader = _Reader(unsaid, by_line="||" not in text)
    for number, line in enumerate(text.splitlines(), 1):
        reader.line(number, line.strip())
        if reader.ended:
            break
    if not reader.measures:
        raise FileError(f"{source}: found no chords, expected ChordPro with chords in brackets")
    reader.end_phrase()
    score = Score(reader.title, reader.measures)
    pulse = Meter(*reader.song_meter).pulse_quarters
    score.tempo = None if reader.tempo is None else reader.tempo * pulse
    score.song_meter, score.feel_words = reader.song_meter, reader.feels
    score.capo, score.count_off = reader.capo, reader.count_off
    score.placed_comments = reader.comments
    return ReadFile(chart_of_score(score, source, reader.problems), reader.problems.all())


@dataclass(slots=True)
class _Cell:
    """The tokens of a bar: chords with their beats, annotations and words."""

    chords: list[tuple[int, HarmonyRead]] = field(default_factory=list)
    beats: int = 0
    slashes: bool = False
    marks: list[tuple[int, str]] = field(default_factory=list)
    copies: int = 0
    is_open: bool = False


class _Reader:
    """Reads a file line by line."""

    def __init__(self, unsaid: Unsaid, *, by_line: bool) -> None:
        self.problems = ProblemList()
        self.measures: list[Measure] = []
        self.title, self.feels = "", list[str]()
        self.key, self.tempo = unsaid.key, None if unsaid.tempo is None else Fraction(unsaid.tempo)
        meter = unsaid.meter or Meter(4, 4)
        self.meter = self.song_meter = (meter.beats, meter.unit)
        self.section, self.environment = "", ""
        self.words: list[str] = []
        self.section_words: list[str] = []
        self.capo: int | None = None
        self.count_off = 1
        self.comments: list[tuple[int, int, str]] = []
        self._seen: set[str] = set()
        self.fades = self.ended = False
        self.by_line = by_line
        self.choruses: list[tuple[int, int]] = []
        self.chorus_start: int | None = None

    def _problem(self, line: int, found: str, instead: str) -> None:
        self.problems.add(f"line {line}", found, instead)

    def end_phrase(self) -> None:
        """End a phrase after the last bar so far."""
        if self.measures:
            self.measures[-1].ends_phrase = True

    def line(self, number: int, text: str) -> None:
        """Read one line."""
        if text.startswith("#"):
            self._remark(text.lstrip("#").strip())
        if not text or text.startswith("#"):
            return
        directive = DIRECTIVE.fullmatch(text)
        if directive is not None:
            name = directive[1].lower()
            self._directive(number, SHORT.get(name, name), (directive[2] or "").strip())
        elif self.environment in NO_CHORDS_IN:
            return
        elif "|" in text:
            self._bars(number, text)
        elif "[" in text:
            self._words_with_chords(number, text)

    def _remark(self, text: str) -> None:
        """Keep a line for people: with the phrase before it, or the section, or the song.

        Sections and phrases are counted as `chart_of_score` will make them.
        """
        section = phrase = 0
        for at, measure in enumerate(self.measures):
            if measure.section or at == 0:
                section, phrase = section + 1, 0
            begins = at == 0 or self.measures[at - 1].ends_phrase or measure.section
            phrase += bool(begins)
        if self.section:
            section, phrase = section + 1, 0
        if text:
            self.comments.append((section, phrase, text))

    # --- Directives ----------------------------------------------------------------------------

    def _directive(self, number: int, name: str, value: str) -> None:
        if name.startswith("start_of_"):
            self._start(number, name.removeprefix("start_of_"), value)
        elif name.startswith("end_of_"):
            self._end()
        elif name == "meta":
            word, _, rest = value.partition(" ")
            self._value(number, word, rest.strip())
        else:
            self._value(number, name, value)

    def _value(self, number: int, name: str, value: str) -> None:
        """Take over a directive that says something of the song or of the bars that follow."""
        handlers = {
            "key": self._key,
            "time": self._time,
            "tempo": self._tempo,
            "feel": self._feel,
            "comment": self._comment,
            "comment_box": self._boxed,
            "capo": self._capo,
            COUNT_OFF_FIELD: self._count_off,
            "chorus": self._chorus,
            "new_song": self._new_song,
        }
        if name == "title":
            self.title = self.title or value
        elif name == "transpose":
            self._problem(number, f"{{transpose: {value[:20]}}}", "the chords stay as they are")
        elif name in handlers:
            handlers[name](number, value)

    def _new_song(self, number: int, value: str) -> None:
        del value
        self.ended = bool(self.measures)
        if self.ended:
            self._problem(number, "a second song", "only the first is read")

    def _start(self, number: int, kind: str, value: str) -> None:
        self.environment = kind
        if kind in NO_CHORDS_IN:
            self._problem(number, f"a section of the kind {kind[:20]}", "it is left out")
            return
        match = LABEL.search(value)
        plain = "" if "=" in value or GRID_SHAPE.fullmatch(value) else value
        label = (match[1] or match[2] or "") if match else plain
        usual = "" if kind in ("grid", "part") else kind.replace("_", " ").capitalize()
        self.section = " ".join(label.split()) or usual or self.section
        if kind == "chorus":
            self.chorus_start = len(self.measures)
        self.end_phrase()

    def _end(self) -> None:
        if self.environment == "chorus" and self.chorus_start is not None:
            self.choruses.append((self.chorus_start, len(self.measures)))
        self.environment = ""
        self.end_phrase()

    def _chorus(self, number: int, value: str) -> None:
        """Play the last chorus again."""
        del value
        if not self.choruses:
            self._problem(number, "{chorus} before any chorus", "it is left out")
            return
        start, end = self.choruses[-1]
        self.end_phrase()
        again = deepcopy(self.measures[start:end])
        for measure in again:
            measure.fades = False
        self.measures += again

    def _key(self, number: int, value: str) -> None:
        try:
            self.key = Key.parse(value)
        except ChartError as error:
            self._problem(number, f"the key {value[:20]!r}", f"{error.expected} is read")

    def _time(self, number: int, value: str) -> None:
        match = METER.fullmatch(value)
        try:
            if match is None:
                raise ChartError("time", value, "a meter")
            meter = Meter(int(match[1]), int(match[2]))
        except ChartError:
            self._problem(number, f"the time {value[:20]!r}", "the meter stays as it was")
            return
        if not self.measures and not self._said("time"):
            self.song_meter = meter.beats, meter.unit
        self.meter = meter.beats, meter.unit

    def _said(self, word: str) -> bool:
        """Whether a directive was there before; from now on it was."""
        said = word in self._seen
        self._seen.add(word)
        return said

    def _tempo(self, number: int, value: str) -> None:
        tempo = number_in(value)
        if tempo is None or tempo <= 0:
            self._problem(number, f"the tempo {value[:20]!r}", "it is left out")
        elif not self.measures:
            self.tempo = tempo
        else:
            self._problem(number, "a change of tempo", "the chart keeps its first tempo")

    def _feel(self, number: int, value: str) -> None:
        if value in tuple(Feel):
            self.feels.append(value)
        else:
            self._problem(
                number, f"the feel {value[:20]!r}", "the usual feel of the meter is taken"
            )

    def _capo(self, number: int, value: str) -> None:
        if value in tuple("0123456789"):
            self.capo = int(value)
        else:
            self._problem(number, f"the capo {value[:20]!r}", "it is left out")

    def _count_off(self, number: int, value: str) -> None:
        if value in tuple("012"):
            self.count_off = int(value)
        else:
            self._problem(number, f"the count-off {value[:20]!r}", "one bar is counted off")

    def _boxed(self, number: int, value: str) -> None:
        """A comment in a box: about the section if it stands before its bars."""
        if self.environment and self.section:
            self.section_words.append(value)
        else:
            self._comment(number, value)

    def _comment(self, number: int, value: str) -> None:
        del number
        names_section = section_kind(value) != OTHER and not read_band_words(value)
        if FADE.fullmatch(value):
            self.fades = True
        elif not self.environment and names_section and len(value) <= 24:
            self.section = value
            self.end_phrase()
        else:
            self.words.append(value)

    # --- Bars ----------------------------------------------------------------------------------

    def _bars(self, number: int, text: str) -> None:
        """Read a line with bar lines."""
        pieces = BAR_LINES.split(text)
        for at in range(0, len(pieces), 2):
            cell, after = pieces[at], pieces[at + 1] if at + 1 < len(pieces) else ""
            # What stands before the first bar line is no bar.
            if at and cell.strip():
                self._bar(number, self._cell(number, cell))
            if ":" in after:
                self._problem(number, f"the repeat sign {after}", "the bars are written once")
            if after in ("||", "|."):
                self.end_phrase()
        if self.by_line:
            self.end_phrase()

    def _cell(self, number: int, text: str) -> _Cell:
        """The tokens of a bar; in a grid chords stand without brackets, between spaces."""
        cell = _Cell()
        if self.environment == "grid":
            found = [("", "", each) if each in SIGNS else ("", each, "") for each in text.split()]
        else:
            found = TOKEN.findall(text)
        for note, name, sign in found:
            if note:
                cell.marks.append((max(cell.beats - 1, 0), note.strip()))
            elif sign in ("%", "%%"):
                cell.copies = len(sign)
            elif sign:
                cell.beats += len(sign)
                cell.slashes = True
            elif name:
                self._chord(number, cell, name)
        return cell

    def _chord(self, number: int, cell: _Cell, name: str) -> None:
        key = self.key or Key("C")
        read = read_chord_name(name.strip(), key)
        if read is None:
            self._problem(number, f"the chord {name[:20]!r}", LEFT_OPEN)
            read = HarmonyRead(None, is_open=True)
        cell.chords.append((cell.beats, read))
        cell.beats += 1

    def _bar(self, number: int, cell: _Cell) -> None:
        """Add a bar; chords without slashes divide it evenly."""
        beats, unit = self.meter
        length = Fraction(4 * beats, unit)
        measure = Measure(f"{len(self.measures) + 1} (line {number})", length)
        measure.meter, measure.key, measure.copies = self.meter, self.key, cell.copies
        even = not cell.slashes or cell.beats != beats
        if cell.slashes and cell.beats != beats:
            found = f"{cell.beats} beats in a bar of {beats}/{unit}"
            self._problem(number, found, "its chords divide the bar evenly")
        places: dict[int, Fraction] = {}
        for at, (beat, read) in enumerate(cell.chords):
            place = length * at / len(cell.chords) if even else Fraction(4 * beat, unit)
            places[beat] = place
            measure.harmonies.append((place, read))
        for beat, note in cell.marks:
            if note in tuple(Articulation) and beat in places:
                getattr(measure, MARKS[Articulation(note)]).add(places[beat])
            elif note == OPEN_WORD:
                measure.words.append(note)
            elif (hits := HITS.fullmatch(note)) is not None:
                measure.hits = hits["beats"]
        self._finish(measure)

    def _words_with_chords(self, number: int, text: str) -> None:
        """Read a line of words with chords: there are no bars, so each chord becomes one."""
        names = [name for _, name, _ in TOKEN.findall(text) if name]
        if not names:
            return
        self._problem(number, "chords without bar lines", "each is one bar")
        for name in names:
            cell = _Cell()
            self._chord(number, cell, name)
            self._bar(number, cell)
        self.end_phrase()

    def _finish(self, measure: Measure) -> None:
        """Add a measure with what was said before it."""
        measure.section, self.section = self.section, ""
        measure.words += self.words
        measure.section_words, self.section_words = self.section_words, []
        measure.fades, self.fades, self.words = self.fades, False, []
        self.measures.append(measure)
