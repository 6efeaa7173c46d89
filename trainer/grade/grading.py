"""Grade an answer against the chart that was played: the steps, in order."""

from __future__ import annotations

from itertools import pairwise

from trainer.chart.model import Chart
from trainer.chart.variants import without_notes
from trainer.grade.advice import advice_on_empty, choose_advice
from trainer.grade.aligned import AlignedCharts, bars_score, in_song_order
from trainer.grade.content import ChartContent, chart_content
from trainer.grade.edits import find_edits
from trainer.grade.form import grade_form
from trainer.grade.home import find_reading
from trainer.grade.known_bars import known_bars
from trainer.grade.report import (
    BarGrade,
    ComponentScores,
    Confusion,
    FormGrade,
    PhraseGrade,
    Report,
    SectionPair,
    SpeedGrade,
)
from trainer.grade.rows import as_meant, is_as_meant
from trainer.grade.summary import summarise
from trainer.grade.weights import Weights
from trainer.grade.whole_chart import (
    Timing,
    bar_lags,
    check_timing,
    grade_phrases,
    grade_speed,
)

__all__ = ["grade", "score_shares"]

STANDARD = Weights()


def grade(
    reference: Chart,
    answer: Chart | None,
    *,
    weights: Weights = STANDARD,
    timing: Timing | None = None,
) -> Report:
    """Grade an answer.

    Numbers are compared, not sounding keys: the charts' own keys, titles, tempos and feels do not
    matter to the score, and after a key change each side's numbers are counted in the new key.
    Notes for the players, hits and comments are not graded at all.

    The score is the mean of the bars' credit, the phrases' F-measure and the order of sections,
    weighted by `weights.bars`, `phrases` and `form`; phrases count only where either side has more
    than one, form where the song has more than one section. The bars' credit is what the bars of
    the reference earn in the reading that explains the answer best, less what was done to whole
    bars (`Weights` declares both), over the number of the reference's bars, at least 0.

    Parameters: `answer` None is an empty answer. `timing` must have one time a bar for each side.
    Raises InputError for a timing that does not fit.
    """
    reference = without_notes(reference)
    ours = chart_content(reference)
    if answer is None:
        return _empty(reference, ours, weights, timing)
    answer = without_notes(answer)
    theirs = chart_content(answer)
    if timing is not None:
        check_timing(timing, len(ours), len(theirs))
    found = find_reading(reference, answer, ours, theirs, weights, timing)
    aligned, shift = found.aligned, found.shift
    form = grade_form(ours, theirs)
    phrases = grade_phrases(
        aligned.reordered, aligned.reading.content, aligned.reordered_pairs, aligned.repeated_bars()
    )
    edits = find_edits(aligned)
    speed = None
    if timing is not None:
        speed = grade_speed(timing, aligned.pairs, _bars_of_swapped_blocks(aligned))
    shares = _shares(ours, theirs, weights)
    score = bars_score(aligned, weights)
    root, strict = _over_time(aligned)
    advice = choose_advice(
        reference, aligned, edits, phrases, form, speed, found, score, shares, weights
    )
    meant = aligned if is_as_meant(aligned) else as_meant(aligned, weights)
    return Report(
        _total(shares, (score, phrases.f, form.score)),
        root,
        strict,
        _component_scores(aligned),
        _with_lags(aligned, timing),
        phrases,
        form,
        shift,
        edits,
        _confusions(aligned, weights),
        speed,
        advice,
        weights,
        tuple(aligned.slips),
        found.meter_renamed,
        summarise(ours, theirs, in_song_order(meant.rows), form, advice),
    )


def score_shares(
    reference: Chart, answer: Chart | None, weights: Weights
) -> tuple[float, float, float]:
    """What the bars, the phrases and the form make up of the score of an answer, adding up to 1."""
    ours = chart_content(reference)
    return _shares(ours, ours if answer is None else chart_content(answer), weights)


def _shares(
    ours: ChartContent, theirs: ChartContent, weights: Weights
) -> tuple[float, float, float]:
    """Return what bars, phrases and form make up of the score, adding up to 1."""
    boundaries = max(len(ours.phrase_boundaries), len(theirs.phrase_boundaries))
    phrases = weights.phrases if boundaries > 2 else 0.0
    form = weights.form if len(ours.sections) > 1 else 0.0
    total = weights.bars + phrases + form
    phrases, form = phrases / total, form / total
    return 1.0 - phrases - form, phrases, form


def _total(shares: tuple[float, ...], parts: tuple[float, ...]) -> float:
    """Return the weighted mean, taken from 1 so that a perfect answer is 1 exactly."""
    lost = sum(share * (1.0 - part) for share, part in zip(shares, parts, strict=True))
    return max(0.0, 1.0 - lost)


def _component_scores(aligned: AlignedCharts) -> ComponentScores:
    """Return the components as their means over the song."""
    roots: list[float] = []
    qualities: list[float] = []
    basses: list[float] = []
    placements: list[float] = []
    articulations: list[float] = []
    meters: list[float] = []
    key_changes: list[float] = []
    for row, c in zip(aligned.rows, aligned.comparisons, strict=True):
        one, _, _, root, quality, bass, placement, articulation, meter, key_change, _, _ = row
        if one is None:
            continue
        roots.append(root)
        qualities.append(quality)
        basses.append(bass)
        if c is None:
            bar = aligned.reference.contents[one - 1]
            counts = bool(bar.changes), bool(bar.articulations), bool(bar.key_change)
        else:
            counts = c[-3:]
            if not meter:
                meters.append(meter)
        placement_counts, articulation_counts, key_change_counts = counts
        if placement_counts:
            placements.append(placement)
        if articulation_counts:
            articulations.append(articulation)
        if key_change_counts:
            key_changes.append(key_change)
    return ComponentScores(
        _mean(roots) or 0.0,
        _mean(qualities) or 0.0,
        _mean(basses) or 0.0,
        _mean(placements),
        _mean(articulations),
        _mean(meters),
        _mean(key_changes),
    )


def _mean(values: list[float]) -> float | None:
    return sum(values) / len(values) if values else None


def _over_time(aligned: AlignedCharts) -> tuple[float, float]:
    """Return root and strict agreement, 0 to 1, weighted by the reference's time."""
    lengths = [bar.meter.beats / bar.meter.unit for bar in aligned.reference.bars]
    root = strict = 0.0
    for (one, _), c in zip(aligned.pairs, aligned.comparisons, strict=True):
        if c is not None and one is not None:
            length, chords = lengths[one], c.over_time
            root += length * chords.root
            strict += length * chords.strict
    whole = sum(lengths)
    return root / whole, strict / whole


def _with_lags(aligned: AlignedCharts, timing: Timing | None) -> tuple[BarGrade, ...]:
    if timing is None:
        return in_song_order(aligned.rows)
    lags = bar_lags(timing, aligned.pairs)
    return in_song_order(
        [row._replace(lag_beats=lag) for row, lag in zip(aligned.rows, lags, strict=True)]
    )


def _bars_of_swapped_blocks(aligned: AlignedCharts) -> set[int]:
    """Return the bars, from 0, of phrases and sections that are written in the other order."""
    blocks = [block for swap in aligned.swaps for block in (swap.first, swap.second)]
    return {bar for start, end in blocks for bar in range(start, end)}


def _confusions(aligned: AlignedCharts, weights: Weights) -> tuple[Confusion, ...]:
    """Return every chord that was written for another, bar by bar.

    Two bars for one, or one for two, have the same chords, which were taken for no others.
    """
    found, differing = [], known_bars(weights).differing
    divided_otherwise = {row for rows in aligned.two_to_one for row in rows}
    for row, ((one, _), written, c) in enumerate(
        zip(aligned.pairs, aligned.written, aligned.comparisons, strict=True)
    ):
        if c is None or c.same_chord == 1.0 or one is None or written is None:
            continue
        if row in divided_otherwise:
            continue
        found += [
            Confusion(one + 1, segment.played.name, segment.written.name, segment.share)
            for segment, _ in differing(aligned.reference.contents[one], written)
        ]
    return tuple(found)


def _empty(chart: Chart, content: ChartContent, weights: Weights, timing: Timing | None) -> Report:
    """Return the report on an answer with nothing in it."""
    if timing is not None:
        check_timing(timing, len(content), 0)
    speed = None
    if timing is not None:
        speed = SpeedGrade(
            False, timing.listens, timing.paused, None, None, None, None, (None,) * len(content)
        )
    bounds = pairwise(content.section_boundaries)
    sections = tuple(
        SectionPair(section.name, None, end - start, 0)
        for section, (start, end) in zip(content.sections, bounds, strict=True)
    )
    rows = tuple(BarGrade(bar + 1, None) for bar in range(len(content)))
    form, advice = FormGrade(0.0, 0.0, 0.0, sections), advice_on_empty(content, chart)
    return Report(
        0.0,
        0.0,
        0.0,
        ComponentScores(0.0, 0.0, 0.0, None, None, None, None),
        rows,
        PhraseGrade(0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
        form,
        None,
        (),
        (),
        speed,
        advice,
        weights,
        summary=summarise(content, None, rows, form, advice),
    )
