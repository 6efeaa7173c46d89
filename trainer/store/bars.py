"""From a report to rows: what each bar was, what was written, what it is evidence for."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import Connection, insert, select

from trainer.practice.evidence import bar_credits
from trainer.store.database import upsert
from trainer.store.records import BarResult
from trainer.store.tables import bar_results, confusion_days, skill_days

__all__ = ["BATCH", "Sums", "add_bars", "add_days", "bar_texts", "read_bars", "stored_bars"]

PARTS = ("root", "quality", "bass", "placement", "articulation", "meter", "key_change", "strict")
WHOLLY_RIGHT = 1 - 1e-9
# Attempts whose bars are read at once.
BATCH = 200


def bar_texts(chart: Mapping[str, Any] | None) -> tuple[str, ...]:
    """The chords of every bar of a CHART, joined by "_", "0" for silence."""
    if chart is None:
        return ()
    return tuple(
        "_".join(event["chord"] or "0" for event in bar["events"])
        for section in chart["sections"]
        for phrase in section["phrases"]
        for bar in phrase["bars"]
    )


def read_bars(
    report: Mapping[str, Any],
    reference: Mapping[str, Any],
    answer: Mapping[str, Any] | None,
    skills: Sequence[Iterable[str]] = (),
    lags: Sequence[float | None] = (),
) -> tuple[BarResult, ...]:
    """The bars of a report, with what the charts, skills and lags say about them.

    Parameters
    ----------
    report : the report's JSON; its "bars" count from 1 in both charts.
    reference, answer : the CHARTs compared; no answer if nothing could be read.
    skills, lags : per bar of the reference, from the first; may be shorter than it.

    Raises
    ------
    ValueError
        If a bar of the report is not in its chart, or has a score that is not 0 to 1.
    """
    played, written = bar_texts(reference), bar_texts(answer)
    mixed = _mixed(report)
    ours, theirs = _limits(reference), _limits(answer)
    results = []
    for position, bar in enumerate(report["bars"], 1):
        place = f"report, bars[{position - 1}]"
        heard = _number(bar, "reference", len(played), place)
        wrote = _number(bar, "answer", len(written), place)
        scores = {part: _score(bar, part, place) for part in PARTS}
        results.append(
            BarResult(
                position=position,
                reference=heard,
                answer=wrote,
                score=_score(bar, "score", place),
                **scores,
                lag_beats=_lag(bar, heard, lags),
                played=played[heard - 1] if heard else "",
                written=written[wrote - 1] if wrote else "",
                mixed=tuple(mixed[heard]) if heard else (),
                skills=tuple(sorted(skills[heard - 1])) if heard and heard <= len(skills) else (),
                phrase_end=_found(ours.ends, theirs.ends, heard, wrote),
                section_start=_found(ours.starts, theirs.starts, heard, wrote),
            )
        )
    return tuple(results)


class _Limits(NamedTuple):
    """Numbers of the bars that end a phrase, and of those that start a section."""

    ends: frozenset[int]
    starts: frozenset[int]


def _limits(chart: Mapping[str, Any] | None) -> _Limits:
    ends, starts, number = set(), set(), 0
    for section in () if chart is None else chart["sections"]:
        starts.add(number + 1)
        for phrase in section["phrases"]:
            number += len(phrase["bars"])
            ends.add(number)
    return _Limits(frozenset(ends), frozenset(starts))


def _found(
    ours: frozenset[int], theirs: frozenset[int], heard: int | None, wrote: int | None
) -> float | None:
    """Whether the answer has a limit where the reference has one; None where it has none."""
    return None if heard not in ours else float(wrote in theirs)


def _mixed(report: Mapping[str, Any]) -> defaultdict[int, list[tuple[str, str]]]:
    """The chords written for others, by bar of the reference."""
    found: defaultdict[int, list[tuple[str, str]]] = defaultdict(list)
    for confusion in report.get("confusions", ()):
        found[confusion["bar"]].append((confusion["played"], confusion["written"]))
    return found


def _lag(bar: Mapping[str, Any], heard: int | None, lags: Sequence[float | None]) -> float | None:
    own: float | None = bar.get("lag_beats")
    return lags[heard - 1] if own is None and heard and heard <= len(lags) else own


def _number(bar: Mapping[str, Any], side: str, bars: int, place: str) -> int | None:
    number = bar[side]
    if number is None:
        return None
    if not isinstance(number, int) or not 1 <= number <= bars:
        raise ValueError(f"{place}: found {side} bar {number!r}, expected 1 to {bars} or null")
    return number


def _score(bar: Mapping[str, Any], part: str, place: str) -> float | None:
    score = bar.get(part)
    if score is None:
        return None
    if not isinstance(score, (int, float)) or not 0 <= score <= 1:
        raise ValueError(f"{place}: found {part} {score!r}, expected 0 to 1 or null")
    return float(score)


def add_bars(connection: Connection, attempt_id: int, bars: Sequence[BarResult]) -> None:
    """Write the bars of an attempt."""
    if bars:
        rows = [{"attempt_id": attempt_id, **asdict(bar)} for bar in bars]
        connection.execute(insert(bar_results), rows)


def stored_bars(
    connection: Connection, attempt_ids: Sequence[int]
) -> dict[int, tuple[BarResult, ...]]:
    """The bars of each of at most `BATCH` attempts, in their order."""
    query = select(bar_results).where(bar_results.c.attempt_id.in_(attempt_ids))
    query = query.order_by(bar_results.c.attempt_id, bar_results.c.position)
    found: dict[int, list[BarResult]] = {number: [] for number in attempt_ids}
    for attempt_id, *values, mixed, skills, end, start in connection.execute(query):
        pairs = tuple((played, written) for played, written in mixed)
        found[attempt_id].append(BarResult(*(*values, pairs, tuple(skills), end, start)))
    return {number: tuple(bars) for number, bars in found.items()}


def chord_pairs(bar: BarResult) -> Iterator[tuple[str, str]]:
    """What each chord of a bar was written as: itself, another, or "" with a bar left out.

    The chords of a bar that was added are written for "".
    """
    if not bar.played or not bar.written:
        for chord in (bar.played or bar.written).split("_"):
            yield (chord, "") if bar.played else ("", chord)
        return
    yield from bar.mixed
    wrong = {played for played, _ in bar.mixed}
    for chord in bar.played.split("_"):
        if chord not in wrong:
            yield chord, chord


class Sums:
    """What bars add up to: per skill (bars, credit, wholly right), per chord played and written.

    The credit is that of the part of the bar which the skill is about, as ratings take it: `ask`
    and `home_shift` as `trainer.practice.gather` has them.
    """

    def __init__(
        self,
        bars: Iterable[BarResult] = (),
        ask: str = "everything",
        home_shift: str | None = None,
    ) -> None:
        self.skills: defaultdict[str, tuple[int, float, int]] = defaultdict(lambda: (0, 0.0, 0))
        self.pairs: Counter[tuple[str, str]] = Counter()
        for bar in bars:
            self.pairs.update(chord_pairs(bar))
            for skill, credit in bar_credits(bar, ask, home_shift).items():
                self._add(skill, (1, credit, int(credit >= WHOLLY_RIGHT)))

    def _add(self, skill: str, more: tuple[int, float, int]) -> None:
        bars, score, right = self.skills[skill]
        self.skills[skill] = (bars + more[0], score + more[1], right + more[2])

    def add(self, other: Sums) -> None:
        """Add another's sums, as adding its attempt to the stored ones would, rounding and all."""
        self.pairs.update(other.pairs)
        for skill, more in other.skills.items():
            self._add(skill, more)


def add_days(connection: Connection, learner_id: int, day: date, sums: Sums) -> None:
    """Add to the day's sums.

    Rows are written in order, so that two writers of a class server cannot block each other.
    """
    key = {"learner_id": learner_id, "day": day}
    names = ("bars", "score_sum", "right")
    rows = [
        {**key, "skill": skill, **dict(zip(names, values, strict=True))}
        for skill, values in sorted(sums.skills.items())
    ]
    upsert(connection, skill_days, rows, add=names)
    pairs = [
        {**key, "played": played, "written": written, "chords": chords}
        for (played, written), chords in sorted(sums.pairs.items())
    ]
    upsert(connection, confusion_days, pairs, add=("chords",))
