"""Progress as it is shown: what is heard, how that went over time, what is taken for what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, pi, sqrt
from typing import TYPE_CHECKING

from trainer.practice import Rating, SkillSummary, credible_interval
from trainer.web.formatting import duration, per_cent, percent
from trainer.web.views.plots import SHARES, Plot, Point, bars, line, scale_for
from trainer.web.views.spans import Span

if TYPE_CHECKING:
    from trainer.store import DayRecord, RatingDay, SkillDay

__all__ = ["OFTEN", "Totals", "day_plots", "skill_plots", "totals", "worth_drawing"]

# Fewer bars in a range make no line.
OFTEN = 12


@dataclass(frozen=True, slots=True)
class Totals:
    """A range summed up; `first_pass` and `lag_beats` None where nothing says."""

    exercises: int
    days: int
    minutes: float
    score: float | None
    first_pass: float | None
    lag_beats: float | None


def totals(days: Sequence[DayRecord]) -> Totals:
    """The days of a range summed up."""
    attempts = sum(day.attempts for day in days)
    return Totals(
        attempts,
        len(days),
        sum(day.minutes for day in days),
        sum(day.score * day.attempts for day in days) / attempts if attempts else None,
        sum(day.first_passes for day in days) / attempts if attempts else None,
        _mean(day.lag_beats for day in days),
    )


def day_plots(days: Sequence[DayRecord], span: Span) -> tuple[Plot, ...]:
    """Minutes and exercises a day, the score, the share in one pass, the lag."""
    pieces: list[list[DayRecord]] = [[] for _ in range(span.pieces)]
    for day in days:
        pieces[span.piece(day.day)].append(day)
    summed = [totals(piece) for piece in pieces]
    found = totals(days)
    per_day = "a day" if span.step == 1 else f"a day, averaged over {span.step} days"
    every = span.pieces * span.step
    return (
        _drawn(
            span,
            "minutes",
            f"Minutes {per_day}",
            f"{duration(found.minutes)} on {found.days} of {every} days.",
            [each.minutes / span.step if each.days else None for each in summed],
            _number,
        ),
        _drawn(
            span,
            "exercises",
            f"Exercises {per_day}",
            f"{found.exercises} in all, {_number(found.exercises / max(1, found.days))} "
            "on a day with any.",
            [each.exercises / span.step if each.days else None for each in summed],
            _number,
        ),
        _shares(span, "score", "Score", "on average", found.score, [s.score for s in summed]),
        _shares(
            span,
            "first-pass",
            "Written in one pass",
            "of all exercises",
            found.first_pass,
            [s.first_pass for s in summed],
        ),
        _lag(span, found.lag_beats, [s.lag_beats for s in summed]),
    )


def skill_plots(
    lines: Iterable[SkillSummary], met: Sequence[SkillDay], rated: Sequence[RatingDay], span: Span
) -> tuple[Plot, ...]:
    """How well each skill is heard over time, and the mean credit of its bars.

    What is said of the last stretch is the present estimate; a skill met too little has none.
    """
    drawn = list(lines)
    counts: dict[str, dict[int, tuple[int, float]]] = {one.skill: {} for one in drawn}
    ratings: dict[str, dict[int, Rating]] = {one.skill: {} for one in drawn}
    for day in met:
        if (found := counts.get(day.skill)) is not None:
            piece = span.piece(day.day)
            number, score = found.get(piece, (0, 0.0))
            found[piece] = number + day.bars, score + day.score_sum
    for each in rated:
        if each.skill in ratings:
            ratings[each.skill][span.piece(each.day)] = Rating(each.mean, each.variance)
    return tuple(_skill(one, counts[one.skill], ratings[one.skill], span) for one in drawn)


def _skill(
    one: SkillSummary, met: Mapping[int, tuple[int, float]], rated: Mapping[int, Rating], span: Span
) -> Plot:
    labels, names = span.labels(), span.names()
    points, rows = [], []
    for piece in range(span.pieces):
        bars_met, score = met.get(piece, (0, 0.0))
        right = score / bars_met if bars_met else None
        if piece == span.pieces - 1:
            point = _present(one, labels[piece], right)
        else:
            value = None if one.is_early else rated.get(piece)
            low, high = credible_interval(value) if value else (None, None)
            point = Point(labels[piece], _chance(value) if value else None, low, high, right)
        points.append(point)
        if bars_met or point.value is not None:
            rows.append((names[piece], _share(point.value), _between(point), _share(right),
                         str(bars_met)))  # fmt: skip
    heads = ("When", "Heard", "Between", "Came out", "Bars")
    return line(
        f"skill-{''.join(c if c.isalnum() else f'-{ord(c)}-' for c in one.skill)}",
        _title(one.name),
        one.said,
        points,
        SHARES,
        heads,
        list(reversed(rows)),
    )


def _present(one: SkillSummary, label: str, beside: float | None) -> Point:
    """The last point: the present estimate, which the sentence and the table of skills have too."""
    if one.is_early:
        return Point(label, None, beside=beside)
    return Point(label, one.right, one.low, one.high, beside)


def _title(name: str) -> str:
    """A skill's words begin like a sentence; a chord's name stays as it is written."""
    return name[:1].upper() + name[1:] if " " in name or name.isalpha() else name


def _chance(value: Rating) -> float:
    """The chance that a rating stands for in an ordinary bar, as in `practice.rating`."""
    return 1 / (1 + exp(-value.mean / sqrt(1 + pi * value.variance / 8)))


def _drawn(
    span: Span,
    key: str,
    title: str,
    summary: str,
    values: Sequence[float | None],
    say: Callable[[float], str],
) -> Plot:
    points = [Point(label, value) for label, value in zip(span.labels(), values, strict=True)]
    scale = scale_for([value for value in values if value is not None], say)
    return bars(key, title, summary, points, scale, ("When", title), _rows(span, values, say))


def _shares(
    span: Span, key: str, title: str, of: str, found: float | None, values: Sequence[float | None]
) -> Plot:
    summary = "Nothing yet." if found is None else f"{percent(found)} {of}."
    points = [Point(label, value) for label, value in zip(span.labels(), values, strict=True)]
    rows = _rows(span, values, percent)
    return line(key, title, summary, points, SHARES, ("When", title), rows)


def _lag(span: Span, found: float | None, values: Sequence[float | None]) -> Plot:
    title = "Beats behind the band"
    summary = "No writing was timed yet."
    if found is not None:
        summary = f"{_number(found)} beats on average; less is closer."
    points = [Point(label, value) for label, value in zip(span.labels(), values, strict=True)]
    scale = scale_for([value for value in values if value is not None], _number)
    rows = _rows(span, values, _number)
    return line("lag", title, summary, points, scale, ("When", title), rows)


def _rows(
    span: Span, values: Sequence[float | None], say: Callable[[float], str]
) -> list[tuple[str, ...]]:
    """The table of a plot, newest first, empty pieces left out."""
    both = zip(span.names(), values, strict=True)
    rows: list[tuple[str, ...]] = [(name, say(value)) for name, value in both if value is not None]
    return rows[::-1]


def _mean(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None


def _share(value: float | None) -> str:
    return "–" if value is None else percent(value)


def _between(point: Point) -> str:
    if point.low is None or point.high is None:
        return "–"
    return f"{per_cent(point.low)} to {percent(point.high)}"


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0") if abs(value) < 100 else f"{value:,.0f}"


def worth_drawing(lines: Sequence[SkillSummary], met: Iterable[SkillDay], most: int) -> set[str]:
    """The weakest skills of those met in `OFTEN` bars of a range or more, then those met most."""
    bars_met: Counter[str] = Counter()
    for day in met:
        bars_met[day.skill] += day.bars
    order = sorted(lines, key=lambda one: _worth(one, bars_met[one.skill]))
    return {one.skill for one in order[:most]}


def _worth(one: SkillSummary, bars_met: int) -> tuple[bool, float, str]:
    is_often = bars_met >= OFTEN
    return not is_often, one.right if is_often else -bars_met, one.skill
