"""The measures of a MusicXML file, read from the part that has the chords."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from trainer.chart import Feel, Meter
from trainer.chart.hits import HITS
from trainer.chart.invalid_tokens import FADE_WORDS
from trainer.chart.section_names import SECTION_KINDS
from trainer.errors import FileError
from trainer.export.harmony_read import read_harmony
from trainer.export.musicxml import (
    CAPO_FIELD,
    COMMENT_FIELD,
    COUNT_OFF_FIELD,
    METER_FIELD,
    OPEN_WORD,
    PUSH_WORD,
    SECTION_BOX,
)
from trainer.export.problems import LEFT_OPEN, SIMPLER, ProblemList
from trainer.export.rhythm import EIGHTH, VALUES
from trainer.export.score import Measure, Repeat, Score
from trainer.export.settings import Unsaid
from trainer.export.xml_keys import key_of_fifths
from trainer.export.xml_values import number_in, text_at, whole_at

__all__ = ["MOST_MEASURES", "read_score"]

MOST_MEASURES = 2_000
STRONG_LINES = frozenset(("light-light", "light-heavy", "heavy-light", "heavy-heavy", "heavy"))
SLASH_HEADS = frozenset(("slash", "slashed", "x", "diamond"))
QUARTERS = dict(VALUES)
METER = re.compile(r"(\d{1,3})/(\d{1,3})", re.ASCII)
COMMENT_PLACE = re.compile(rf"{COMMENT_FIELD}(?: \d{{1,4}}){{0,2}}", re.ASCII)
NUMBERS = re.compile(r"\d{1,3}", re.ASCII)
DA_CAPO = re.compile(r"\bD\.? ?C\b|\bda capo\b", re.IGNORECASE)
DAL_SEGNO = re.compile(r"\bD\.? ?S\b|\bdal segno\b", re.IGNORECASE)
TO_CODA = re.compile(r"\bto coda\b", re.IGNORECASE)
FADE = re.compile(FADE_WORDS, re.IGNORECASE)
# Words that name a section by themselves: "in 2" and "build" are said to the players.
SECTION_WORDS = frozenset(
    (*SECTION_KINDS, "prechorus", "pre chorus", "last chorus", "instrumental")
)


def read_score(root: Element, source: str, unsaid: Unsaid, problems: ProblemList) -> Score:
    """Read the measures of a score. Raises FileError for a file that holds no chords.

    Key and meter of `unsaid` hold until the file says others, and its tempo if the file has none.
    """
    if root.tag != "score-partwise":
        what = f"a file of {root.tag[:40]}"
        raise FileError(f"{source}: found {what}, expected MusicXML of the kind score-partwise")
    parts = root.findall("part")
    counts = [_chord_count(part) for part in parts]
    if not any(counts):
        raise FileError(f"{source}: found no harmony in any part, expected a chart's chords")
    part = parts[counts.index(max(counts))]
    if sum(count > 0 for count in counts) > 1:
        problems.add("parts", "chords in several parts", "only those of the fullest part are read")
    measures = part.findall("measure")
    if len(measures) > MOST_MEASURES:
        raise FileError(
            f"{source}: found {len(measures)} measures, expected at most {MOST_MEASURES}"
        )
    reader = _PartReader(unsaid, problems)
    title = text_at(root, "work/work-title") or text_at(root, "movement-title")
    score = Score(title, [reader.measure(each) for each in measures])
    score.tempo, score.feel_words = reader.tempo, reader.feels
    if score.tempo is None and unsaid.tempo is not None:
        meter = Meter(*(score.measures[0].meter or (4, 4)))
        score.tempo = Fraction(unsaid.tempo) * meter.pulse_quarters
    score.transposed = reader.transposed or 0
    for field in root.iterfind("identification/miscellaneous/miscellaneous-field"):
        match = METER.fullmatch(text_at(field, "."))
        if field.get("name") == METER_FIELD and match is not None:
            score.song_meter = int(match[1]), int(match[2])
        _read_detail(score, field.get("name", ""), text_at(field, "."))
    return score


def _read_detail(score: Score, name: str, text: str) -> None:
    """Take over what our own files keep beside the score; other fields are left alone."""
    if name == CAPO_FIELD and text in tuple("0123456789"):
        score.capo = int(text)
    elif name == COUNT_OFF_FIELD and text in tuple("012"):
        score.count_off = int(text)
    elif COMMENT_PLACE.fullmatch(name) is not None:
        places = [int(each) for each in name.split()[1:]] + [0, 0]
        score.placed_comments.append((places[0], places[1], text))


def _chord_count(part: Element) -> int:
    """How many chords a part has, open ones included."""
    words = part.iterfind("measure/direction/direction-type/words")
    open_bars = sum(each.text == OPEN_WORD for each in words)
    return len(part.findall("measure/harmony")) + open_bars


class _PartReader:
    """Reads the measures of a part in order; keeps what holds until it is changed."""

    def __init__(self, unsaid: Unsaid, problems: ProblemList) -> None:
        self.problems = problems
        self.divisions = Fraction(1)
        given = unsaid.meter
        self.meter = None if given is None else (given.beats, given.unit)
        self.key = unsaid.key
        self.transposed: int | None = None
        self.tempo: Fraction | None = None
        self.feels: list[str] = []
        self.endings: frozenset[int] = frozenset()
        self.copies = 0
        self.count = 0

    def measure(self, element: Element) -> Measure:
        """Read one measure."""
        self.count += 1
        name = element.get("number", "")[:20] or str(self.count)
        self.now = Measure(name)
        self.at = Fraction(0)
        self.repeat = Repeat(endings=self.endings)
        handlers = {
            "attributes": self._attributes,
            "note": self._note,
            "backup": self._backup,
            "forward": self._forward,
            "harmony": self._harmony,
            "direction": self._direction,
            "sound": self._sound,
            "barline": self._barline,
            "print": self._print,
        }
        for child in element:
            handler = handlers.get(child.tag)
            if handler is not None:
                handler(child)
        self.now.is_pickup = element.get("implicit") == "yes" or self.count == 1
        self.now.meter, self.now.key, self.now.copies = self.meter, self.key, self.copies
        self.now.repeat = self.repeat
        self.now.harmonies.sort(key=lambda each: each[0])
        return self.now

    def _problem(self, found: str, instead: str) -> None:
        self.problems.add(f"measure {self.now.name}", found, instead)

    def _set(self, **changes: object) -> None:
        self.repeat = replace(self.repeat, **changes)  # type: ignore[arg-type]  # names of Repeat

    # --- Time ----------------------------------------------------------------------------------

    def _length(self, element: Element) -> Fraction:
        duration = number_in(text_at(element, "duration"))
        return Fraction(0) if duration is None else abs(duration) / self.divisions

    def _move(self, by: Fraction) -> None:
        self.at = max(self.at + by, Fraction(0))
        self.now.length = max(self.now.length, self.at)

    def _backup(self, element: Element) -> None:
        self._move(-self._length(element))

    def _forward(self, element: Element) -> None:
        self._move(self._length(element))

    def _attributes(self, element: Element) -> None:
        divisions = number_in(text_at(element, "divisions"))
        if divisions is not None and divisions > 0:
            self.divisions = divisions
        self._meter(element)
        self._key(element)
        if self.transposed is None and element.find("transpose") is not None:
            self.transposed = whole_at(element, "transpose/chromatic")
        copied = element.find("measure-style/measure-repeat")
        if copied is not None:
            starts = copied.get("type") == "start"
            self.copies = (whole_at(copied, ".") or 1) if starts else 0

    def _meter(self, element: Element) -> None:
        time = element.find("time")
        if time is None:
            return
        beats = [NUMBERS.findall(each.text or "") for each in time.findall("beats")]
        units = {whole_at(each, ".") for each in time.findall("beat-type")}
        count = sum(int(number) for numbers in beats for number in numbers)
        unit = units.pop() if len(units) == 1 else None
        if unit in (2, 4, 8, 16) and 1 <= count <= 16:
            assert unit is not None
            self.meter = count, unit
        else:
            self._problem("a time signature that no chart has", "the meter stays as it was")

    def _key(self, element: Element) -> None:
        key = element.find("key")
        if key is None:
            return
        count, mode = whole_at(key, "fifths"), text_at(key, "mode")
        before = self.key
        minor = mode == "minor" if mode or before is None else before.minor
        try:
            if count is None:
                raise ValueError("no fifths")
            read = key_of_fifths(count, minor=minor)
        except ValueError:
            self._problem("a key signature that no chart has", "the key stays as it was")
            return
        same = before is not None and key_of_fifths(count, minor=before.minor) == before
        # A change of mode alone, D major to B minor, leaves the signature and the numbers.
        self.key = before if same else read

    # --- Notes and chords ----------------------------------------------------------------------

    def _note(self, element: Element) -> None:
        if element.find("grace") is not None:
            return
        length = Fraction(0) if element.find("chord") is not None else self._length(element)
        head = text_at(element, "notehead")
        if element.find("notations/fermata") is not None or head == "diamond":
            self.now.holds.add(self.at)
        if head in SLASH_HEADS:
            marks = {each.tag for each in element.iterfind("notations/articulations/*")}
            tied_on = any(each.get("type") == "stop" for each in element.findall("tie"))
            for places, is_there in (
                (self.now.slashes, not tied_on),
                (self.now.chokes, "staccatissimo" in marks),
                (self.now.accents, "accent" in marks),
            ):
                if is_there:
                    places.add(self.at)
        ties = [each.get("type") for each in element.findall("tie")]
        if length == EIGHTH and "start" in ties:
            self.now.anticipations.add(self.at)
        self._move(length)

    def _harmony(self, element: Element) -> None:
        read, lost = read_harmony(element, self.key)
        offset = number_in(text_at(element, "offset")) or Fraction(0)
        at = max(self.at + offset / self.divisions, Fraction(0))
        if any(place == at for place, _ in self.now.harmonies):
            self._problem("two chords at one place", "the first of them is read")
            return
        if lost:
            self._problem(lost, LEFT_OPEN if read.is_open else SIMPLER)
        self.now.harmonies.append((at, read))

    # --- Directions ----------------------------------------------------------------------------

    def _direction(self, element: Element) -> None:
        for kind in element.iterfind("direction-type/*"):
            text = " ".join("".join(kind.itertext()).split())
            if kind.tag == "rehearsal":
                self.now.section = self.now.section or text
            elif kind.tag == "words" and self.now.section and kind.get("enclosure") == SECTION_BOX:
                self.now.section_words.append(text)
            elif kind.tag == "words":
                self._words(text)
            elif kind.tag == "metronome":
                self._metronome(kind)
            elif kind.tag in ("segno", "coda"):
                self._set(**{kind.tag: True})
        sound = element.find("sound")
        if sound is not None:
            self._sound(sound)

    def _words(self, text: str) -> None:
        lowered = text.lower().rstrip(".")
        hits = HITS.fullmatch(text)
        if hits is not None:
            self.now.hits = hits["beats"]
        elif lowered == PUSH_WORD:
            self.now.says_push.add(self.at)
        elif DA_CAPO.search(text):
            self._set(da_capo=True)
        elif DAL_SEGNO.search(text):
            self._set(dal_segno=True)
        elif TO_CODA.search(text):
            self._set(to_coda=True)
        elif FADE.fullmatch(lowered):
            self.now.fades = True
        elif lowered in ("fine", "coda", "segno"):
            self._set(**{lowered: True})
        elif lowered in ("swing", *Feel) and not self.feels:
            self.feels.append("shuffle" if lowered == "swing" else lowered)
        elif self.at == 0 and lowered.strip(" :0123456789") in SECTION_WORDS:
            self.now.section = self.now.section or text
        else:
            self.now.words.append(text)

    def _metronome(self, element: Element) -> None:
        quarters = QUARTERS.get(text_at(element, "beat-unit"))
        per_minute = number_in(text_at(element, "per-minute"))
        if quarters is None or per_minute is None or len(element.findall("beat-unit")) > 1:
            return
        if element.find("beat-unit-dot") is not None:
            quarters *= Fraction(3, 2)
        self._tempo(per_minute * quarters)

    def _tempo(self, quarters_a_minute: Fraction) -> None:
        if self.tempo is None:
            self.tempo = quarters_a_minute
        elif abs(quarters_a_minute - self.tempo) > Fraction(1, 2):
            said = f"a tempo of {float(quarters_a_minute):g} quarters a minute"
            self._problem(said, "the chart keeps its first tempo")

    def _sound(self, element: Element) -> None:
        attributes = element.attrib
        tempo = number_in(attributes.get("tempo", ""))
        if tempo is not None and tempo > 0:
            self._tempo(tempo)
        if element.find("swing/first") is not None and text_at(element, "swing/first") != "1":
            self.feels.append("shuffle")
        if attributes.get("tocoda"):
            # The sign over a "to coda" is the coda's own.
            self._set(to_coda=True, coda=False)
        for name, field in (("segno", "segno"), ("coda", "coda"), ("dalsegno", "dal_segno")):
            if attributes.get(name):
                self._set(**{field: True})
        if attributes.get("dacapo") == "yes":
            self._set(da_capo=True)
        if attributes.get("fine"):
            self._set(fine=True)
        if attributes.get("forward-repeat") == "yes":
            self._set(forward=True)

    # --- Bar lines -----------------------------------------------------------------------------

    def _barline(self, element: Element) -> None:
        left = element.get("location", "right") == "left"
        if text_at(element, "bar-style") in STRONG_LINES:
            self.now.starts_phrase |= left
            self.now.ends_phrase |= not left
        ending = element.find("ending")
        if ending is not None:
            self._ending(ending)
        repeat = element.find("repeat")
        if repeat is None:
            return
        if repeat.get("direction") == "forward":
            self._set(forward=True)
            self.now.starts_phrase = True
        else:
            times = repeat.get("times", "")
            self._set(
                backward=True,
                times=int(times) if NUMBERS.fullmatch(times) else None,
                after_jump=repeat.get("after-jump") == "yes",
            )
            self.now.ends_phrase = True

    def _ending(self, element: Element) -> None:
        if element.get("type") == "start":
            # 0 stands for numbers that cannot be read.
            numbers = [int(each) for each in NUMBERS.findall(element.get("number", ""))] or [0]
            self.endings = frozenset(numbers)
            self._set(endings=self.endings)
            self.now.starts_phrase = True
        else:
            self.endings = frozenset()

    def _print(self, element: Element) -> None:
        self.now.new_system |= "yes" in (element.get("new-system"), element.get("new-page"))
