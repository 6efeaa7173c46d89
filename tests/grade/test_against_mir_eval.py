"""Grading against mir_eval as referee.

Source: Raffel et al., "mir_eval: A transparent implementation of common MIR metrics", ISMIR 2014;
chord syntax after Harte, Sandler, Abdallah & Gómez, ISMIR 2005. Degrees are written as roots in C.

Where the two differ, and why:

* mir_eval's tetrads leave out everything above the seventh: an added ninth does not count, and a
  ninth, eleventh or thirteenth chord is its seventh chord. Here the notes count. `FOLDED` lists
  these extensions; with them folded the two agree everywhere.
* `segment.detection` with `trim` gives 0 to two charts without a boundary inside; here that is 1.

Shared with mir_eval, though it surprises: a bass that is not in the chord becomes a note of it, so
`1/b7` and `1^7/b7` are the same chord.
"""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import mir_eval
import numpy as np
import pytest

from tests.thorough import how_many
from trainer.chart import Bar, Chart, Chord, Meter, parse
from trainer.grade import grade
from trainer.grade.compare import compare
from trainer.grade.content import bar_content, chart_content
from trainer.grade.whole_chart import grade_phrases

from .helpers import METERS, corrupt_bar, random_bar, with_bars

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
BASSES = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
SHORTHAND = {
    ("", ""): "maj", ("", "5"): "5", ("", "6"): "maj6", ("", "69"): "maj6(9)", ("", "7"): "7",
    ("", "maj7"): "maj7", ("", "9"): "9", ("", "maj9"): "maj9", ("", "add9"): "maj(9)",
    ("", "11"): "11", ("", "13"): "13", ("", "7b9"): "7(b9)", ("", "7#9"): "7(#9)",
    ("", "sus2"): "sus2", ("", "sus4"): "sus4", ("", "7sus4"): "sus4(b7)",
    ("", "9sus4"): "sus4(b7,9)", ("-", ""): "min", ("-", "6"): "min6", ("-", "7"): "min7",
    ("-", "maj7"): "minmaj7", ("-", "9"): "min9", ("-", "add9"): "min(9)", ("-", "11"): "min11",
    ("o", ""): "dim", ("o", "7"): "dim7", ("+", ""): "aug", ("+", "7"): "aug(b7)",
    ("+", "maj7"): "aug(7)", ("ø", ""): "hdim7", ("ø", "7"): "hdim7",
}  # fmt: skip
# The trap: what mir_eval's tetrads make of chords above the seventh.
FOLDED = {
    ("", "69"): "6", ("", "9"): "7", ("", "maj9"): "maj7", ("", "add9"): "", ("", "11"): "7",
    ("", "13"): "7", ("", "7b9"): "7", ("", "7#9"): "7", ("", "9sus4"): "7sus4", ("-", "9"): "7",
    ("-", "add9"): "", ("-", "11"): "7",
}  # fmt: skip


def label(chord: Chord | None) -> str:
    """A chord in mir_eval's syntax, the bass as an interval above the root."""
    if chord is None:
        return "N"
    root = chord.root.semitones
    text = f"{ROOTS[root]}:{SHORTHAND[chord.quality, chord.extension]}"
    return text if chord.bass is None else f"{text}/{BASSES[(chord.bass.semitones - root) % 12]}"


def folded(bar: Bar) -> Bar:
    """The bar as mir_eval's tetrads see it."""
    events = []
    for event in bar.events:
        chord = event.chord
        if chord is not None and (chord.quality, chord.extension) in FOLDED:
            extension = FOLDED[chord.quality, chord.extension]
            chord = replace(chord, extension=extension)
        events.append(replace(event, chord=chord))
    return replace(bar, events=tuple(events))


def is_folded(bar: Bar) -> bool:
    """Whether the trap concerns a bar."""
    return folded(bar) != bar


def timed(bars: list[Bar]) -> tuple[np.ndarray, list[str]]:
    """Bars as labelled intervals, bar k from k to k + 1."""
    times, labels = [], []
    for k, bar in enumerate(bars):
        for start, event in zip(bar.starts(), bar.events, strict=True):
            begin = k + start / bar.meter.beats
            times.append((float(begin), float(begin + event.beats / bar.meter.beats)))
            labels.append(label(event.chord))
    return np.array(times), labels


def referee(reference: list[Bar], answer: list[Bar], metric: str) -> tuple[list[float], float]:
    """The metric of each bar, and over all of them."""
    intervals, ours, theirs = mir_eval.util.merge_labeled_intervals(
        *timed(reference), *timed(answer)
    )
    scores = getattr(mir_eval.chord, metric)(ours, theirs)
    lengths = mir_eval.util.intervals_to_durations(intervals)
    which = np.floor(intervals.mean(axis=1)).astype(int)
    bars = np.bincount(which, scores * lengths, len(reference))
    return bars.tolist(), mir_eval.chord.weighted_accuracy(scores, lengths)


def test_every_chord_of_the_vocabulary_is_read_as_meant() -> None:
    """mir_eval's notes for a chord are the chord's own notes up to the seventh, and its bass."""
    from trainer.chart import pitch_classes

    for quality, extension in SHORTHAND:
        chord = Chord(2, -1, quality, extension)
        folded_chord = replace(chord, extension=FOLDED.get((quality, extension), extension))
        root, notes, _ = mir_eval.chord.encode(label(chord))
        found = {(root + k) % 12 for k in np.flatnonzero(notes)}
        assert found == pitch_classes(folded_chord), label(chord)


def test_the_worked_example_comes_out_as_calculated() -> None:
    """`1|4 5|1/3|1` written as `1|4|3-|1` has strict credit 1, 0.5, 0, 1, in all 0.625."""
    reference, answer = parse("1 (4 5) 1/3 1"), parse("1 4 3- 1")
    report = grade(reference, answer)
    assert [bar.strict for bar in report.bars] == [1, 0.5, 0, 1]
    assert report.strict == 0.625
    strict = referee(list(reference.bars()), list(answer.bars()), "tetrads_inv")
    assert strict == ([1, 0.5, 0, 1], 0.625)
    root = referee(list(reference.bars()), list(answer.bars()), "root")
    assert ([bar.root for bar in report.bars], report.root) == root


@pytest.mark.many
@pytest.mark.hypothesis
@pytest.mark.parametrize("seed", range(50))
def test_root_and_strict_agree_bar_by_bar(seed: int) -> None:
    """Random pairs of charts: root is mir_eval's root, strict its tetrads_inv but for traps."""
    rng = random.Random(seed)
    for _ in range(how_many(4, 10)):
        meter = rng.choice(METERS)
        reference = [random_bar(rng, meter) for _ in range(6)]
        answer = [bar if rng.random() < 0.3 else corrupt_bar(rng, bar) for bar in reference]
        roots, _ = referee(reference, answer, "root")
        strict, _ = referee(reference, answer, "tetrads_inv")
        for ours, theirs, root, tetrads in zip(reference, answer, roots, strict, strict=True):
            comparison = compare(bar_content(ours), bar_content(theirs)).over_time
            assert comparison.root == pytest.approx(root, abs=1e-9)
            plain = compare(bar_content(folded(ours)), bar_content(folded(theirs))).over_time
            assert plain.strict == pytest.approx(tetrads, abs=1e-9)
            if not is_folded(ours) and not is_folded(theirs):
                assert comparison.strict == pytest.approx(tetrads, abs=1e-9)


@pytest.mark.many
@pytest.mark.hypothesis
def test_the_report_agrees_where_bars_stand_beside_their_own() -> None:
    """Over random charts with a third of the bars corrupted, means over time agree."""
    compared, charts = 0, how_many(90, 240)
    for seed in range(charts):
        rng = random.Random(1000 + seed)
        meter = rng.choice(METERS)
        bars = [folded(random_bar(rng, meter)) for _ in range(8)]
        reference = with_bars(parse("1 1 1 1\n1 1 1 1"), bars)
        wrong = [folded(corrupt_bar(rng, bar)) if rng.random() < 0.33 else bar for bar in bars]
        wrong = [bar if bar.meter == meter else bars[k] for k, bar in enumerate(wrong)]
        answer = with_bars(reference, wrong)
        report = grade(reference, answer)
        if [bar.answer for bar in report.bars] != list(range(1, 9)):
            continue
        compared += 1
        for name, found in (("root", report.root), ("tetrads_inv", report.strict)):
            assert found == pytest.approx(referee(bars, wrong, name)[1], abs=1e-9)
    assert compared >= charts * 5 / 6


def test_time_counts_by_length_of_bars() -> None:
    """A wrong bar of two beats costs half of a wrong bar of four in the mean over time."""
    reference = with_bars(
        parse("1 1"), [Bar(Meter(4, 4), parse("1").bars()[0].events), parse("[2/4] 4").bars()[0]]
    )
    answer = with_bars(reference, [reference.bars()[0], parse("[2/4] 5").bars()[0]])
    assert grade(reference, answer).root == pytest.approx(4 / 6)


def boundaries_as_intervals(chart: Chart) -> np.ndarray:
    """Phrases as intervals counted in bars."""
    boundaries = chart_content(chart).phrase_boundaries
    return np.array(list(itertools.pairwise(boundaries)), float)


def _phrased(rng: random.Random, bars: int) -> Chart:
    """A chart of so many bars, cut into phrases at random."""
    cuts = sorted(rng.sample(range(1, bars), rng.randint(0, min(6, bars - 1))))
    edges = [0, *cuts, bars]
    lines = ["1 " * (b - a) for a, b in itertools.pairwise(edges)]
    return parse("\n".join(lines))


@pytest.mark.many
@pytest.mark.hypothesis
@pytest.mark.parametrize("seed", range(40))
def test_phrase_boundaries_agree_with_segment_detection(seed: int) -> None:
    """Exact is a window of half a bar, within one bar is a window of one and a half."""
    rng = random.Random(seed)
    for _ in range(how_many(4, 10)):
        bars = rng.randint(4, 30)
        reference, answer = _phrased(rng, bars), _phrased(rng, bars)
        pairs = [(k, k) for k in range(bars)]
        found = grade_phrases(chart_content(reference), chart_content(answer), pairs)
        ours, theirs = boundaries_as_intervals(reference), boundaries_as_intervals(answer)
        if len(ours) == len(theirs) == 1:
            assert found.f == found.near_f == 1
            continue
        exact = _detect(ours, theirs, 0.5)
        assert (found.precision, found.recall, found.f) == pytest.approx(exact)
        near = _detect(ours, theirs, 1.25)
        assert (found.near_precision, found.near_recall, found.near_f) == pytest.approx(near)


def _detect(ours: np.ndarray, theirs: np.ndarray, window: float) -> tuple[float, float, float]:
    """mir_eval's precision, recall and F-measure; 0 where one side has nothing inside."""
    if min(len(ours), len(theirs)) == 1:
        return 0.0, 0.0, 0.0
    return mir_eval.segment.detection(ours, theirs, window=window, trim=True)


def test_mir_eval_fails_one_phrase_songs_which_is_why_we_do_not() -> None:
    """Two charts of one phrase are 0 after trimming in mir_eval and perfect here."""
    one = np.array([[0.0, 8.0]])
    with pytest.warns(UserWarning, match="empty"):
        assert mir_eval.segment.detection(one, one, trim=True) == (0, 0, 0)
    assert grade(parse("1 1 4 4"), parse("1 1 4 4")).phrases.f == 1
