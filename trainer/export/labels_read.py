"""Label files (start, end, chord) read as charts.

A label file knows no bars, meter or key. The beat is taken from the commonest length of a chord,
which is a bar unless that would be a very slow or fast song, and followed as it drifts; chords that
start between two beats are pushes. What the file can't say is guessed and told, unless it is given.
"""

from __future__ import annotations

import math
from collections import Counter
from fractions import Fraction
from typing import NamedTuple

from trainer.chart import Header, Key, chord_intervals
from trainer.chart.chords import Chord
from trainer.chart.keys import LETTER_PITCH, USUAL_MAJOR
from trainer.errors import FileError
from trainer.export.harte import NO_CHORD, UNKNOWN, read_harte
from trainer.export.problems import LEFT_OPEN, SIMPLER, ProblemList, ReadFile
from trainer.export.rhythm import EIGHTH
from trainer.export.score import HarmonyRead, Measure, Score
from trainer.export.score_chart import chart_of_score
from trainer.export.settings import Unsaid

__all__ = ["read_labels"]

MOST_LINES = 20_000
# Gaps and overlaps of less than this are no more than rounding.
SLACK_S = 0.06
SLOWEST, FASTEST, USUAL = 60.0, 180.0, 100.0
PHRASE_BARS = 4
# How fast the beat follows the chords: the share of a chord's deviation that is taken for drift.
FOLLOW = 0.3
DIATONIC = {0: "", 2: "-", 4: "-", 5: "", 7: "", 9: "-", 11: "o"}


class _Label(NamedTuple):
    """A chord from `start` to `end`, in seconds, and its line."""

    line: int
    start: float
    end: float
    text: str


def read_labels(text: str, source: str, unsaid: Unsaid) -> ReadFile:
    """Read a label file as a chart, with a report of what was guessed or lost.

    Raises FileError with the line for a text that is no label file.
    """
    problems = ProblemList()
    labels = _trimmed(_parsed(text, source), source, problems)
    read = [_read(label, problems) for label in labels]
    meter = unsaid.meter or Header().meter
    key = unsaid.key
    if key is None:
        key = _likeliest_key(labels, read)
        problems.add(
            "key", "none in the file", f"{key} is taken, in which most of the chords are at home"
        )
    pulse = meter.pulse_quarters
    quarter_s = _quarter_s(labels, meter.quarters, float(pulse), unsaid.tempo, problems)
    if unsaid.meter is None:
        problems.add("meter", "none in the file", f"{meter} is taken")
    positions = _positions(labels, quarter_s)
    measures = _measures(positions, read, meter.quarters, (meter.beats, meter.unit), key)
    problems.add("phrases", "none in the file", f"each line has {PHRASE_BARS} bars")
    score = Score("", measures, Fraction(round(60 / quarter_s, 2)).limit_denominator(100))
    return ReadFile(chart_of_score(score, source, problems), problems.all())


def _parsed(text: str, source: str) -> list[_Label]:
    """The lines of a file; a gap between two of them is a label of no chord."""
    labels: list[_Label] = []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        if number > MOST_LINES:
            raise FileError(f"{source}: found more than {MOST_LINES} lines, expected fewer")
        fields = line.split()
        where = f"{source}: line {number}"
        times = [_seconds(each) for each in fields[:2]]
        if len(fields) != 3 or None in times:
            raise FileError(f"{where}: found {line.strip()[:60]!r}, expected start, end and chord")
        start, end = (each or 0.0 for each in times)
        before = labels[-1].end if labels else start
        if end <= start or start < before - SLACK_S:
            found = f"{fields[0]} to {fields[1]}"
            raise FileError(f"{where}: found {found}, expected times that go forward")
        if start > before + SLACK_S:
            labels.append(_Label(number, before, start, NO_CHORD))
        labels.append(_Label(number, start, end, fields[2]))
    if not labels:
        raise FileError(f"{source}: found no labels, expected lines of start, end and chord")
    return labels


def _seconds(text: str) -> float | None:
    """A time of at most a day; None for what is no time."""
    try:
        seconds = float(text)
    except ValueError:
        return None
    return seconds if 0 <= seconds <= 86_400 else None


def _trimmed(labels: list[_Label], source: str, problems: ProblemList) -> list[_Label]:
    """The labels without the silence around the song."""
    silent = [label.text in (NO_CHORD, UNKNOWN) for label in labels]
    if all(silent):
        raise FileError(f"{source}: found no chord, expected at least one")
    first, last = silent.index(False), len(labels) - silent[::-1].index(False)
    for label in (*labels[:first], *labels[last:]):
        said = f"no chord for {label.end - label.start:.2f} s before or after the song"
        problems.add(f"line {label.line}", said, "it is left out")
    return labels[first:last]


def _read(label: _Label, problems: ProblemList) -> HarmonyRead:
    if label.text == UNKNOWN:
        problems.add(f"line {label.line}", "X, an unknown chord", LEFT_OPEN)
        return HarmonyRead(None, is_open=True)
    read, lost = read_harte(label.text)
    if lost:
        instead = LEFT_OPEN if read.is_open else SIMPLER
        problems.add(f"line {label.line}", lost, instead)
    return read


def _quarter_s(
    labels: list[_Label],
    bar_quarters: Fraction,
    pulse: float,
    tempo: float | None,
    problems: ProblemList,
) -> float:
    """The length of a quarter in seconds, from the tempo or the commonest length of a chord."""
    if tempo is not None:
        return 60.0 / tempo / pulse
    lengths = Counter(round(label.end - label.start, 1) for label in labels)
    commonest = lengths.most_common(1)[0][0]
    near = sorted(
        each.end - each.start for each in labels if abs(each.end - each.start - commonest) <= 0.08
    )
    middle = near[len(near) // 2]
    pulses_a_bar = float(bar_quarters) / pulse
    tempos = [60.0 * pulses_a_bar * bars / middle for bars in (1.0, 0.5, 2.0, 4.0, 0.25, 8.0)]
    fitting = [each for each in tempos if SLOWEST <= each <= FASTEST]
    found = fitting[0] if fitting else min(tempos, key=lambda each: abs(math.log(each / USUAL)))
    problems.add(
        "tempo", "none in the file", f"{found:.1f} is taken, from the commonest chord length"
    )
    return 60.0 / found / pulse


def _positions(labels: list[_Label], quarter_s: float) -> list[Fraction]:
    """Where each label starts and the last one ends, in eighths from the first, in quarters.

    The beat follows the chords a little, since players drift.
    """
    at, expected, places = Fraction(0), labels[0].start, [Fraction(0)]
    times = [label.start for label in labels[1:]] + [labels[-1].end]
    for time in times:
        exact = (time - expected) / quarter_s
        eighths = max(round(exact * 2), 0)
        at += Fraction(eighths, 2)
        expected += eighths * quarter_s / 2
        expected += FOLLOW * (time - expected)
        places.append(at)
    return places


def _measures(
    positions: list[Fraction],
    read: list[HarmonyRead],
    bar: Fraction,
    meter: tuple[int, int],
    key: Key,
) -> list[Measure]:
    """Bars from the first chord on; a chord off the beat is written where a push stands."""
    count = max(math.ceil((positions[-1] - EIGHTH / 2) / bar), 1)
    measures = [
        Measure(f"{number}", bar, meter, key, ends_phrase=number % PHRASE_BARS == 0)
        for number in range(1, count + 1)
    ]
    for at, harmony in zip(positions[:-1], read, strict=True):
        number, place = divmod(at, bar)
        if number >= count:
            continue
        measure = measures[int(number)]
        if measure.harmonies and measure.harmonies[-1][0] == place:
            measure.harmonies.pop()
        if (place * meter[1] / 4).denominator > 1:
            measure.anticipations.add(place)
        measure.harmonies.append((place, harmony))
    return measures


def _likeliest_key(labels: list[_Label], read: list[HarmonyRead]) -> Key:
    """The major key in which most of the time has chords of its scale; the last chord counts."""
    scores = [0.0] * 12
    for label, harmony in zip(labels, read, strict=True):
        if not isinstance(harmony.root, str):
            continue
        root = LETTER_PITCH[harmony.root[0]] + harmony.root.count("#") - harmony.root[1:].count("b")
        minor = 3 in chord_intervals(Chord(1, 0, harmony.quality, harmony.extension))
        for tonic in range(12):
            quality = DIATONIC.get((root - tonic) % 12)
            fits = quality is not None and (quality != "") == minor
            home = (root - tonic) % 12 == 0 and not minor
            weight = label.end - label.start
            scores[tonic] += weight * (fits + 0.5 * home)
            if label is labels[-1] or label is labels[0]:
                scores[tonic] += 2 * weight * home
    return Key.parse(USUAL_MAJOR[scores.index(max(scores))])
