"""Progress as it is shown: how well each skill is heard, how that changed, and which chords are
mixed up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from trainer.drill import totals
from trainer.grade import whole_percent
from trainer.practice import (
    MOST_LAG_BEATS,
    Rating,
    SkillSummary,
    credible_interval,
    rating_probability,
)
from trainer.web.formatting import duration, percent
from trainer.web.views.periods import Period
from trainer.web.views.plots import SHARES, Plot, Point, bars, line, scale_for

if TYPE_CHECKING:
    from trainer.store import DayRecord, RatingDay, SkillDay

__all__ = ["ENOUGH_BARS", "day_plots", "skill_plots", "skills_to_draw"]

# A skill that was met in fewer bars of a period says little.
ENOUGH_BARS = 12


def day_plots(days: Sequence[DayRecord], period: Period) -> tuple[Plot, ...]:
    """Minutes and exercises a day, the score, the share in one pass, the lag."""
    stretches: list[list[DayRecord]] = [[] for _ in range(period.count)]
    for day in days:
        stretches[period.index_of(day.day)].append(day)
    summed = [totals(stretch) for stretch in stretches]
    found = totals(days)
    per_day = "a day" if period.days_each == 1 else f"a day, averaged over {period.days_each} days"
    every = period.count * period.days_each
    return (
        _bar_plot(
            period,
            "minutes",
            f"Minutes {per_day}",
            f"You practised for {duration(found.minutes)}, on {found.days} of {every} days.",
            [each.minutes / period.days_each if each.days else None for each in summed],
            _number,
        ),
        _bar_plot(
            period,
            "exercises",
            f"Exercises {per_day}",
            f"You wrote {found.exercises}, about {_number(found.exercises / max(1, found.days))} "
            "on each day you practised.",
            [each.exercises / period.days_each if each.days else None for each in summed],
            _number,
        ),
        _share_plot(
            period,
            "score",
            "Score",
            "Your average score is {}.",
            found.score,
            [s.score for s in summed],
        ),
        _share_plot(
            period,
            "first-pass",
            "Written in one pass",
            "You wrote {} of your exercises in one pass.",
            found.first_pass,
            [s.first_pass for s in summed],
        ),
        *_lag_plots(period, found.lag_beats, [s.lag_beats for s in summed]),
    )


def skill_plots(
    summaries: Iterable[SkillSummary],
    skill_days: Sequence[SkillDay],
    rating_days: Sequence[RatingDay],
    period: Period,
) -> tuple[Plot, ...]:
    """How well each skill is heard over time, and the mean credit of its bars.

    What the last stretch shows is the present estimate; a skill that was met too little has none.
    """
    drawn = list(summaries)
    counts: dict[str, dict[int, tuple[int, float]]] = {one.skill: {} for one in drawn}
    ratings: dict[str, dict[int, Rating]] = {one.skill: {} for one in drawn}
    for day in skill_days:
        if (found := counts.get(day.skill)) is not None:
            stretch = period.index_of(day.day)
            number, score = found.get(stretch, (0, 0.0))
            found[stretch] = number + day.bars, score + day.score_sum
    for each in rating_days:
        if each.skill in ratings:
            ratings[each.skill][period.index_of(each.day)] = Rating(each.mean, each.variance)
    return tuple(_skill(one, counts[one.skill], ratings[one.skill], period) for one in drawn)


def _skill(
    one: SkillSummary,
    bars_and_credit: Mapping[int, tuple[int, float]],
    ratings: Mapping[int, Rating],
    period: Period,
) -> Plot:
    labels, names = period.labels(), period.names()
    points, rows = [], []
    for stretch in range(period.count):
        bars_met, score = bars_and_credit.get(stretch, (0, 0.0))
        right = score / bars_met if bars_met else None
        if stretch == period.count - 1:
            point = _present(one, labels[stretch], right)
        else:
            point = _past(labels[stretch], None if one.is_early else ratings.get(stretch), right)
        points.append(point)
        if bars_met or point.value is not None:
            rows.append((names[stretch], _share(point.value), _between(point), _share(right),
                         str(bars_met)))  # fmt: skip
    headers = ("When", "Right", "Likely range", "In these bars", "Bars")
    return line(
        f"skill-{''.join(c if c.isalnum() else f'-{ord(c)}-' for c in one.skill)}",
        _title(one.name),
        one.said,
        points,
        SHARES,
        headers,
        list(reversed(rows)),
    )


def _past(label: str, value: Rating | None, second: float | None) -> Point:
    if value is None:
        return Point(label, None, second=second)
    return Point(label, rating_probability(value), *credible_interval(value), second)


def _present(one: SkillSummary, label: str, second: float | None) -> Point:
    """The last point: the present estimate, which the sentence and the table of skills have too."""
    if one.is_early:
        return Point(label, None, second=second)
    return Point(label, one.right, one.low, one.high, second)


def _title(name: str) -> str:
    """A skill's words begin like a sentence; a chord's name stays as it is written."""
    return name[:1].upper() + name[1:] if " " in name or name.isalpha() else name


def _bar_plot(
    period: Period,
    key: str,
    title: str,
    summary: str,
    values: Sequence[float | None],
    write: Callable[[float], str],
) -> Plot:
    points = [Point(label, value) for label, value in zip(period.labels(), values, strict=True)]
    scale = scale_for([value for value in values if value is not None], write)
    return bars(key, title, summary, points, scale, ("When", title), _rows(period, values, write))


def _share_plot(
    period: Period,
    key: str,
    title: str,
    sentence: str,
    found: float | None,
    values: Sequence[float | None],
) -> Plot:
    summary = "Nothing yet." if found is None else sentence.format(percent(found))
    points = [Point(label, value) for label, value in zip(period.labels(), values, strict=True)]
    rows = _rows(period, values, percent)
    return line(key, title, summary, points, SHARES, ("When", title), rows)


def _lag_plots(
    period: Period, found: float | None, values: Sequence[float | None]
) -> tuple[Plot, ...]:
    """The lag, unless the learner mostly listens first and writes afterwards."""
    if found is not None and found > MOST_LAG_BEATS:
        return ()
    title = "Beats behind the band"
    summary = "None of your writing has been timed yet."
    if found is not None:
        summary = f"Your average is {_number(found)} beats. Less means closer to the band."
    points = [Point(label, value) for label, value in zip(period.labels(), values, strict=True)]
    scale = scale_for([value for value in values if value is not None], _number)
    rows = _rows(period, values, _number)
    return (line("lag", title, summary, points, scale, ("When", title), rows),)


def _rows(
    period: Period, values: Sequence[float | None], write: Callable[[float], str]
) -> list[tuple[str, ...]]:
    """The table of a plot, newest first, empty stretches left out."""
    both = zip(period.names(), values, strict=True)
    rows: list[tuple[str, ...]] = [
        (name, write(value)) for name, value in both if value is not None
    ]
    return rows[::-1]


def _share(value: float | None) -> str:
    return "–" if value is None else percent(value)


def _between(point: Point) -> str:
    if point.low is None or point.high is None:
        return "–"
    return f"{whole_percent(point.low)} to {percent(point.high)}"


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0") if abs(value) < 100 else f"{value:,.0f}"


def skills_to_draw(
    summaries: Sequence[SkillSummary], skill_days: Iterable[SkillDay], most: int
) -> set[str]:
    """The weakest skills of those met in `ENOUGH_BARS` bars or more, then those met most."""
    bars_met: Counter[str] = Counter()
    for day in skill_days:
        bars_met[day.skill] += day.bars
    order = sorted(summaries, key=lambda one: _order(one, bars_met[one.skill]))
    return {one.skill for one in order[:most]}


def _order(one: SkillSummary, bars_met: int) -> tuple[bool, float, str]:
    is_enough = bars_met >= ENOUGH_BARS
    return not is_enough, one.right if is_enough else -bars_met, one.skill
