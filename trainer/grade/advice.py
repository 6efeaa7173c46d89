"""Put together the advice on an answer: each mistake once, the costliest first.

Besides the mistakes in the bars, advice may be on the tonic (home), the meter's name, the phrases,
the form and the speed. Every bar of the song that lost something, and every bar too many, is cited
by a piece of advice. Each piece says where to hear both charts again.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.chart.model import Chart
from trainer.grade.aligned import AlignedCharts
from trainer.grade.charging import find_mistakes
from trainer.grade.chart_wording import (
    empty_text,
    fade_text,
    far_off_text,
    other_meter_text,
    phrases_text,
    respelled_meter_text,
    speed_text,
)
from trainer.grade.content import ChartContent
from trainer.grade.excerpts import ExcerptFinder, bar_durations_s, excerpt_around
from trainer.grade.form_advice import advise_on_copies, advise_on_form
from trainer.grade.home import HomeReading
from trainer.grade.home_advice import advise_on_home, lost_by_reading
from trainer.grade.key_signs import advise_on_signs
from trainer.grade.mistakes import Mistake, bar_text
from trainer.grade.report import (
    Advice,
    AlignmentEdit,
    Case,
    FormGrade,
    PhraseGrade,
    SpeedGrade,
)
from trainer.grade.weights import ROUNDING, Weights
from trainer.grade.whole_chart import boundary_spans, match_boundaries
from trainer.grade.wording import word_mistake

__all__ = ["MOST_LAG_BEATS", "advice_on_empty", "choose_advice"]

# An answer with at least this many bars is far off if less than this share has the right root.
FAR_OFF_BARS, FAR_OFF_SHARE = 8, 0.3
# A bar has the right root if it has it for at least this share of its time.
HALF = 0.5
# A writer who is at most this many beats behind the song, two bars of 4/4, keeps up with it.
# Whoever is usually further behind listened first and wrote afterwards.
MOST_LAG_BEATS = 8.0
# How much of its cost counts where a forgotten flat or sharp is listed.
ACCIDENTAL_SHARE = 0.25
ALL_RIGHT = "Every bar matches what the band played."
RIGHT_AS_ASKED = "You got everything right that was asked for."


def choose_advice(
    chart: Chart,
    aligned: AlignedCharts,
    edits: Sequence[AlignmentEdit],
    phrases: PhraseGrade,
    form: FormGrade,
    speed: SpeedGrade | None,
    found_reading: HomeReading,
    score: float,
    shares: tuple[float, float, float],
    weights: Weights,
) -> tuple[Advice, ...]:
    """Return the advice on an answer.

    Parameters: `chart` is the reference; `aligned` are the charts as they were compared, read as
    `found_reading` has it; `score` is the bars' score; `shares` is what bars, phrases and form make
    up of the score, adding up to 1.
    """
    shift = found_reading.shift
    explained = shift is not None or bool(aligned.counted)
    found: list[Advice] = [] if explained else _on_far_off(aligned, (1.0 - score) * shares[0])
    if found:
        return _with_excerpts(found, aligned, chart)
    cost_of_bar = shares[0] / len(aligned.reference)
    mistakes = find_mistakes(aligned, edits, weights)
    told: frozenset[int] = frozenset()
    if shift is not None:
        on_home, told = advise_on_home(shift, aligned, cost_of_bar, weights)
        found += on_home
    on_signs, mistakes = _on_signs(aligned, mistakes, told, cost_of_bar, weights)
    found += on_signs
    if found_reading.meter_renamed:
        keep = weights.other_pulse if found_reading.same_pulse else weights.other_meter
        lost = sum(1.0 / keep - 1.0 for row in aligned.rows if row.reference is not None)
        cost = min(lost * cost_of_bar * score, shares[0] * (1.0 - score))
        found.append(_on_meter(chart, found_reading, aligned, cost))
    mistakes = [
        mistake
        for mistake in mistakes
        if mistake.is_spared or mistake.lost_bars * cost_of_bar > ROUNDING
    ]
    _charge_form(mistakes, shares[2] * (1.0 - form.order) / cost_of_bar)
    found += [_on_mistake(mistake, aligned, cost_of_bar) for mistake in mistakes]
    of_chart = [
        *_on_phrases(aligned, phrases, shares[1], edits),
        *advise_on_form(aligned, form, shares[2], edits),
    ]
    found += [one for one in of_chart if one.cost > ROUNDING]
    found.sort(key=_rank)
    for copy in advise_on_copies(aligned):
        bars = {case.reference for case in copy.cases}
        at = (
            k
            for k, one in enumerate(found)
            if not bars.isdisjoint(case.reference for case in one.cases)
        )
        # First that it is a copy, then what is wrong by that.
        if (first := next(at, None)) is not None:
            found.insert(first, copy)
    if speed is not None and speed.fell_behind is not None and _wrote_along(speed):
        case = Case(speed.fell_behind, None, "", "")
        found.append(Advice("speed", speed_text(speed.fell_behind), 0.0, (case,)))
    on_fade = _on_fade(aligned)
    if not found:
        text = ALL_RIGHT if _agrees_wholly(aligned, weights) else RIGHT_AS_ASKED
        return (Advice("all right", text, 0.0), *_with_excerpts(on_fade, aligned, chart))
    return _with_excerpts([*found, *on_fade], aligned, chart)


def _on_signs(
    aligned: AlignedCharts,
    mistakes: Sequence[Mistake],
    told: frozenset[int],
    cost_of_bar: float,
    weights: Weights,
) -> tuple[list[Advice], list[Mistake]]:
    """Return the advice on signs for a change of key, and the mistakes of other kinds.

    What is `told` of bars, from 1, covers the signs there.
    """
    of_keys = [
        mistake
        for mistake in mistakes
        if mistake.kind == "key change" and not told.issuperset(mistake.bars)
    ]
    others = [mistake for mistake in mistakes if mistake.kind != "key change"]
    if not of_keys and not aligned.keys_off:
        return [], others
    off = set(aligned.keys_off)
    lost = [
        lost_by_reading(aligned, row, weights) if row in off else 0.0
        for row in range(len(aligned.rows))
    ]
    advice, left = advise_on_signs(aligned, of_keys, lost, cost_of_bar)
    return advice, others + left


def _agrees_wholly(aligned: AlignedCharts, weights: Weights) -> bool:
    """Whether nothing differs, not even what is not asked for."""
    if weights.plain_minor and aligned.reference.contents != aligned.answer.contents:
        return False
    return all(row.strict == row.placement == row.articulation == 1.0 for row in aligned.rows)


def _charge_form(mistakes: Sequence[Mistake], lost_bars: float) -> None:
    """Charge what form lost to the sections that are missing, made up or swapped, if any are."""
    for mistake in mistakes:
        if any(one.unit == "section" for one in mistake.edits):
            mistake.lost_bars += lost_bars
            return


def _wrote_along(speed: SpeedGrade) -> bool:
    """Whether the bars were written while the song played, once, so that a lag says something."""
    if speed.first_pass:
        return True
    lag = speed.median_lag_beats
    return speed.listens == 1 and not speed.paused and lag is not None and lag <= MOST_LAG_BEATS


def _rank(advice: Advice) -> tuple[float, int, str]:
    """Put what cost most first, a forgotten flat or sharp behind what is harder to hear."""
    weight = ACCIDENTAL_SHARE if advice.kind == "accidental left out" else 1.0
    return -advice.cost * weight, _first_bar(advice), advice.kind


def _first_bar(advice: Advice) -> int:
    return min((case.reference or case.answer or 0 for case in advice.cases), default=0)


def _with_excerpts(
    found: Sequence[Advice], aligned: AlignedCharts, chart: Chart
) -> tuple[Advice, ...]:
    """Return the advice, each with an excerpt of either chart to hear."""
    finder, advice = ExcerptFinder(aligned, chart), []
    for one in found:
        bars = sorted({case.reference for case in one.cases if case.reference is not None})
        own = sorted({case.answer for case in one.cases if case.answer is not None})
        played, written = finder.find(bars, own) if bars or own else finder.find([1])
        advice.append(Advice(one.kind, one.text, one.cost, one.cases, played, written))
    return tuple(advice)


def advice_on_empty(content: ChartContent, chart: Chart) -> tuple[Advice, ...]:
    """Return the advice on an answer with nothing in it. `chart` is the reference."""
    cases = tuple(Case(k + 1, None, bar_text(bar), "") for k, bar in enumerate(content.bars))
    listen = excerpt_around(bar_durations_s(content, chart), 1, content.phrase_boundaries[1])
    return (Advice("empty", empty_text(len(content)), 1.0, cases, listen),)


def _row_cases(aligned: AlignedCharts, bars: range | None = None) -> tuple[Case, ...]:
    """Return the rows that lost something as cases; of the song's `bars` (from 1) if given."""
    return tuple(
        Case(
            None if one is None else one + 1,
            None if other is None else other + 1,
            "" if one is None else bar_text(aligned.reference.bars[one]),
            "" if other is None else bar_text(aligned.answer.bars[other]),
        )
        for (one, other), row in zip(aligned.pairs, aligned.rows, strict=True)
        if (row.score < 1.0 if bars is None else row.reference in bars and other is not None)
    )


def _on_far_off(aligned: AlignedCharts, cost: float) -> list[Advice]:
    """Advise to start again where too little agrees to say what went wrong."""
    two_to_one = {row for rows in aligned.two_to_one for row in rows}
    compared = [row for row, comparison in enumerate(aligned.comparisons) if comparison is not None]
    right = [row for row in compared if aligned.rows[row].root >= HALF or row in two_to_one]
    if len(compared) < FAR_OFF_BARS or len(right) >= FAR_OFF_SHARE * len(compared):
        return []
    bars = [one + 1 for row in right if (one := aligned.pairs[row][0]) is not None]
    text = far_off_text(len(aligned.answer), bars)
    return [Advice("far off", text, cost, _row_cases(aligned))]


def _on_mistake(mistake: Mistake, aligned: AlignedCharts, cost_of_bar: float) -> Advice:
    return Advice(
        mistake.kind, word_mistake(mistake, aligned), mistake.lost_bars * cost_of_bar, mistake.cases
    )


def _on_meter(chart: Chart, found: HomeReading, aligned: AlignedCharts, cost: float) -> Advice:
    """Advise on a chart that is in another meter throughout."""
    text = respelled_meter_text if found.same_pulse else other_meter_text
    cases = _row_cases(aligned, range(1, len(aligned.reference) + 1))
    return Advice("meter", text(str(chart.meter), found.written_meter), cost, cases)


def _on_phrases(
    aligned: AlignedCharts, phrases: PhraseGrade, share: float, edits: Sequence[AlignmentEdit]
) -> list[Advice]:
    """Advise on phrase ends not marked, or marked where none is.

    Those beside bars that another advice is about are left out.
    """
    if phrases.f == 1.0:
        return []
    ours, theirs = aligned.reordered.phrase_boundaries[1:-1], _own_ends(aligned)
    matched = match_boundaries(ours, boundary_spans(theirs, aligned.reordered_pairs), 0)
    found, right = {one for one, _ in matched}, {other for _, other in matched}
    named = [one for one in edits if one.kind != "swapped" or one.unit == "bar"]
    gone = {bar for one in named for bar in one.reference}
    new = {bar for one in named for bar in one.answer}
    ends = [aligned.bar_order[at - 1] + 1 for k, at in enumerate(ours) if k not in found]
    missed = [at for at in ends if not gone & {at, at + 1}]
    own = [aligned.reading.read_bars[at - 1].bars[-1] + 1 for at in theirs]
    extra = [at for k, at in enumerate(own) if k not in right and not new & {at, at + 1}]
    if not missed and not extra:
        return []
    cases = tuple(Case(bar, None, "", "") for bar in missed)
    cases += tuple(Case(None, bar, "", "") for bar in extra)
    return [Advice("phrases", phrases_text(missed, extra), share * (1.0 - phrases.f), cases)]


def _on_fade(aligned: AlignedCharts) -> list[Advice]:
    """Advise on a fade that is missing or made up. It costs nothing: no bar is wrong by it.

    Where a fade begins is not compared, since it cannot be heard to the bar.
    """
    played, written = (
        next((number for number, bar in enumerate(bars, 1) if bar.fades), None)
        for bars in (aligned.reference.bars, aligned.answer.bars)
    )
    if (played is None) == (written is None):
        return []
    return [Advice("fade", fade_text(played, written), 0.0, (Case(played, written, "", ""),))]


def _own_ends(aligned: AlignedCharts) -> tuple[int, ...]:
    """Return the ends of phrases inside the answer as it is read; none of what is written again."""
    repeated = aligned.repeated_bars()
    content = aligned.reading.content
    return tuple(at for at in content.phrase_boundaries[1:-1] if at - 1 not in repeated)
