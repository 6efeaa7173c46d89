"""A score's measures made into a chart: in the order they are played, chords as degrees.

A chord sounds until the next one, over bar lines too. A chord off the beat that is tied into the
beat is a push; other chords off the beat are moved to it, and told. Double bars and repeats end
phrases; in a file without any, systems do. `score_words` reads what is said to the players.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.chart import (
    Articulation,
    Bar,
    Chart,
    Chord,
    Degree,
    Event,
    Feel,
    Key,
    Meter,
    Phrase,
    Section,
    chord_intervals,
)
from trainer.chart.letters import degree_letters
from trainer.chart.model import MOST_BARS, MOST_EVENTS
from trainer.errors import ChartError, FileError
from trainer.export.musicxml import OPEN_WORD
from trainer.export.names import chart_tempo, chart_title, degree_of_letter, section_name
from trainer.export.problems import LEFT_OPEN, ProblemList
from trainer.export.repeats import played_order
from trainer.export.rhythm import EIGHTH
from trainer.export.score import HarmonyRead, Measure, Numeral, Score
from trainer.export.score_words import KEY_MOVE, notes_of, song_comments, with_comments, with_words
from trainer.export.xml_keys import parallel_major

__all__ = ["chart_of_score"]

PICKUP_UNITS = (4, 8, 16)


@dataclass(frozen=True, slots=True)
class _Entry:
    """A chord at a place in a bar, perhaps with an articulation."""

    harmony: HarmonyRead
    articulation: Articulation | None = None


Entries = dict[Fraction, _Entry]


def chart_of_score(score: Score, source: str, problems: ProblemList) -> Chart:
    """Make a chart of a score; what is lost is added to `problems`.

    Raises FileError for repeats that cannot be followed and for a song that is no chart.
    """
    order = played_order(score.measures, source, MOST_BARS)
    measures = [score.measures[at] for at in order]
    if measures and _is_empty_pickup(measures[0]):
        problems.add(f"measure {measures[0].name}", "a pickup without a chord", "it is left out")
        order, measures = order[1:], measures[1:]
    if not measures:
        raise FileError(f"{source}: found no measures, expected at least one")
    if measures[0].key is None:
        problems.add(f"measure {measures[0].name}", "no key signature", "the key of C is taken")
    bars = _Bars(measures, problems).all()
    jumps = [at > 0 and order[at] != order[at - 1] + 1 for at in range(len(order))]
    sections = with_comments(_sections(measures, bars, jumps, problems), score, problems)
    meter = Meter(*(score.song_meter or measures[0].meter or (4, 4)))
    feels = [Feel(word) for word in score.feel_words if Feel(word).fits(meter)]
    feel = feels[0] if feels else Feel.usual(meter)
    pulse = meter.pulse_quarters
    tempo = chart_tempo(None if score.tempo is None else float(score.tempo / pulse), problems)
    key = (measures[0].key or Key("C")).shifted(score.transposed)
    title = chart_title(score.title, problems)
    try:
        return Chart(
            title, meter, tempo, feel, key, sections, score.capo, score.count_off,
            song_comments(score, problems),
        )  # fmt: skip
    except ChartError as error:
        raise FileError(f"{source}: found {error.found}, expected {error.expected}") from error


def _is_empty_pickup(measure: Measure) -> bool:
    """Whether a first measure is shorter than its meter and has no chord."""
    if not measure.is_pickup or measure.harmonies or not measure.length:
        return False
    beats, unit = measure.meter or (4, 4)
    return measure.length < Fraction(4 * beats, unit)


class _Bars:
    """Makes the bars of the measures, in the order in which they are played."""

    def __init__(self, measures: Sequence[Measure], problems: ProblemList) -> None:
        self.measures, self.problems = measures, problems
        self.meters = [self._meter(measure) for measure in measures]
        self.entries: list[Entries] = [{} for _ in measures]

    def all(self) -> list[Bar]:
        """All bars."""
        for at in range(len(self.measures)):
            self._place_chords(at)
        for at in range(len(self.measures)):
            self._move_to_beats(at)
        made: list[Bar] = []
        sounding = HarmonyRead(None)
        for at, measure in enumerate(self.measures):
            entries = self.entries[at]
            if measure.copies and not entries and at >= measure.copies:
                entries.update(self.entries[at - measure.copies])
            if OPEN_WORD in measure.words and not entries:
                made.append(self._open_bar(at))
                continue
            entries.setdefault(Fraction(0), _Entry(sounding))
            sounding = entries[max(entries)].harmony
            made.append(self._bar(at))
        made = [
            with_words(bar, measure, self.problems)
            for bar, measure in zip(made, self.measures, strict=True)
        ]
        fading = [at for at, measure in enumerate(self.measures) if measure.fades]
        # A fade in a part that is repeated is meant for the last time.
        for at in fading[-1:]:
            made[at] = replace(made[at], fades=True)
        return made

    def _problem(self, at: int, found: str, instead: str) -> None:
        self.problems.add(f"measure {self.measures[at].name}", found, instead)

    def _key(self, at: int) -> Key:
        return self.measures[at].key or Key("C")

    def _meter(self, measure: Measure) -> Meter:
        """The meter of a measure: a pickup's own length, else the one that is written."""
        beats, unit = measure.meter or (4, 4)
        written = Meter(beats, unit)
        if measure.length in (0, written.quarters):
            return written
        for each in (unit, *PICKUP_UNITS):
            count = measure.length * each / 4
            if count.denominator == 1 and 1 <= count <= 16:
                if not measure.is_pickup:
                    said = f"{float(measure.length):g} quarters in {written}"
                    self.problems.add(f"measure {measure.name}", said, "the bar has its own length")
                return Meter(int(count), each)
        said = f"{float(measure.length):g} quarters in {written}"
        self.problems.add(f"measure {measure.name}", said, f"the bar is made {written}")
        return written

    def _place_chords(self, at: int) -> None:
        """Put the chords of a measure where they belong; a push belongs to what follows."""
        measure, length = self.measures[at], self.meters[at].quarters
        there = {place for place, _ in measure.harmonies}
        for place, harmony in measure.harmonies:
            target = place + EIGHTH
            if place >= length:
                self._problem(at, "a chord after the end of the measure", "it is left out")
            elif self._is_push(at, place) and target not in there:
                self._push(at, target, harmony)
            else:
                self.entries[at][place] = _Entry(
                    harmony, self._articulation(measure, place, harmony)
                )

    def _is_push(self, at: int, place: Fraction) -> bool:
        """Whether a chord stands an eighth before where it belongs and is tied into it."""
        meter = self.meters[at]
        if place not in self.measures[at].anticipations or not place:
            return False
        beat, target = (each * meter.unit / 4 for each in (place, place + EIGHTH))
        is_last = target == meter.beats
        if is_last and at + 1 < len(self.measures):
            return not any(other == 0 for other, _ in self.measures[at + 1].harmonies)
        return target < meter.beats and (target.denominator == 1 or beat.denominator > 1)

    def _push(self, at: int, target: Fraction, harmony: HarmonyRead) -> None:
        entry = _Entry(harmony, None if harmony.root is None else Articulation.PUSH)
        if target == self.meters[at].quarters:
            self.entries[at + 1][Fraction(0)] = entry
        else:
            self.entries[at][target] = entry

    @staticmethod
    def _articulation(
        measure: Measure, place: Fraction, harmony: HarmonyRead
    ) -> Articulation | None:
        if harmony.root is None:
            return None
        for places, articulation in (
            (measure.says_push, Articulation.PUSH),
            (measure.chokes, Articulation.CHOKE),
            (measure.holds, Articulation.HOLD),
        ):
            if place in places:
                return articulation
        return None

    def _move_to_beats(self, at: int) -> None:
        """Move chords to beats if they neither stand on beats nor divide the bar evenly."""
        meter, entries = self.meters[at], self.entries[at]
        beats = {place: place * meter.unit / 4 for place in sorted(entries)}
        starts = sorted({Fraction(0), *beats.values()})
        lengths = [b - a for a, b in zip(starts, [*starts[1:], Fraction(meter.beats)], strict=True)]
        if len(set(lengths)) == 1 or all(each.denominator == 1 for each in lengths):
            return
        self._problem(at, "chords between the beats", "each is on a beat, early ones as pushes")
        moved: Entries = {}
        for place, beat in beats.items():
            entry, target = entries[place], -(-beat // 1)
            early = beat != target and (target - beat) * 4 / meter.unit <= EIGHTH
            if early and entry.articulation is None and entry.harmony.root is not None:
                entry = replace(entry, articulation=Articulation.PUSH)
            if not early:
                target = beat // 1
            if target == meter.beats:
                if at + 1 < len(self.measures):
                    self.entries[at + 1].setdefault(Fraction(0), entry)
                continue
            moved.setdefault(Fraction(target) * 4 / meter.unit, entry)
        self.entries[at] = moved

    def _bar(self, at: int) -> Bar:
        meter, entries, key = self.meters[at], self.entries[at], self._key(at)
        places = sorted(entries)
        most = max(MOST_EVENTS, meter.beats)
        if any(entry.harmony.is_open for entry in entries.values()):
            return self._open_bar(at)
        if len(places) > most:
            self._problem(at, f"{len(places)} chords", f"only the first {most} are read")
            places = places[:most]
        ends = [*places[1:], meter.quarters]
        events = tuple(
            Event(
                _chord(entries[place].harmony, key),
                (end - place) * meter.unit / 4,
                entries[place].articulation,
            )
            for place, end in zip(places, ends, strict=True)
        )
        try:
            return Bar(meter, events, self._move(at))
        except ChartError as error:
            self._problem(at, error.found, LEFT_OPEN)
            return self._open_bar(at)

    def _open_bar(self, at: int) -> Bar:
        meter = self.meters[at]
        return Bar(meter, (Event(None, Fraction(meter.beats)),), self._move(at), is_open=True)

    def _move(self, at: int) -> int:
        """By how many semitones the key moves: as said in words, or the shorter way."""
        if not at:
            return 0
        up = (self._key(at).pitch_class - self._key(at - 1).pitch_class) % 12
        for words in self.measures[at].words:
            match = KEY_MOVE.fullmatch(words)
            if match is not None and up and 0 < int(match[2]) < 12:
                said = int(match[2]) * (1 if match[1] == "up" else -1)
                if said % 12 == up:
                    return said
        return up - 12 if up > 6 else up


def _chord(harmony: HarmonyRead, key: Key) -> Chord | None:
    """A chord as a degree of the key that holds where it belongs."""
    if harmony.root is None:
        return None
    root = _degree(harmony.root, key)
    chord = Chord(*root, harmony.quality, harmony.extension)
    bass = _bass(harmony, chord, key)
    return chord if bass in (None, root) else replace(chord, bass=bass)


def _degree(root: str | Numeral, key: Key) -> Degree:
    if isinstance(root, str):
        return degree_of_letter(root, key)
    if root.key == parallel_major(key) and root.degree.alteration in (-1, 0, 1):
        return root.degree
    return degree_of_letter(degree_letters(root.degree, root.key), key)


def _bass(harmony: HarmonyRead, chord: Chord, key: Key) -> Degree | None:
    if not harmony.bass and harmony.bass_degree is not None:
        return harmony.bass_degree
    if harmony.bass:
        read, shown = degree_of_letter(harmony.bass, key), harmony.bass_degree
        agrees = shown is not None and shown.semitones == read.semitones
        return shown if agrees else read
    tones = chord_intervals(chord)
    if not 0 < harmony.inversion < len(tones):
        return None
    semitones = (chord.root.semitones + tones[harmony.inversion]) % 12
    number = (chord.degree - 1 + 2 * harmony.inversion) % 7 + 1
    alter = (semitones - Degree(number).semitones + 6) % 12 - 6
    return Degree(number, alter) if abs(alter) <= 1 else None


def _sections(
    measures: Sequence[Measure], bars: Sequence[Bar], jumps: Sequence[bool], problems: ProblemList
) -> tuple[Section, ...]:
    """Group bars into phrases and phrases into sections."""
    by_system = not any(each.ends_phrase or each.starts_phrase for each in measures[:-1])
    found: list[tuple[str, list[list[Bar]]]] = []
    firsts: list[Measure] = []
    for at, (measure, bar) in enumerate(zip(measures, bars, strict=True)):
        starts = jumps[at] or measure.starts_phrase or (by_system and measure.new_system)
        starts = starts or (at > 0 and measures[at - 1].ends_phrase)
        if measure.section or not found:
            place = f"measure {measure.name}"
            name = section_name(measure.section, place, problems) if measure.section else ""
            firsts.append(measure)
            found.append((name, [[bar]]))
        elif starts:
            found[-1][1].append([bar])
        else:
            found[-1][1][-1].append(bar)
    return tuple(
        Section(
            name,
            tuple(Phrase(tuple(phrase)) for phrase in phrases),
            notes_of(first.section_words, first.name, problems) if name else (),
        )
        for (name, phrases), first in zip(found, firsts, strict=True)
    )
