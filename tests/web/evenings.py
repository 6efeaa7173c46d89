"""A learner's evenings on record: real exercises, answers with the mistakes a learner makes."""

from __future__ import annotations

import json
import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import groupby
from types import MappingProxyType

from trainer.chart import Bar, Chart, Chord, format_chart
from trainer.drill import Drills, play_song, submit
from trainer.exercise import Exercise, load_course, make_exercise, read_answer
from trainer.practice import speed_test
from trainer.store import Learner, Store

TAKEN_FOR = {"4": "2-", "2-": "4", "3-": "1", "6-": "4", "5": "1"}


def evenings(
    store: Store, learner: Learner, now: datetime, days: Sequence[int], rng: random.Random
) -> None:
    """Two exercises on each of the days (counted back from `now`), a self-test now and then."""
    course = load_course()
    for number, ago in enumerate(sorted(days, reverse=True)):
        share = 0.32 - 0.22 * number / max(1, len(days) - 1)
        at = now - timedelta(days=ago, minutes=30)
        for turn in range(2):
            level = course[min(len(course) - 1, number // 3 + 2 * turn)]
            exercise = make_exercise(level.recipe, rng.randrange(10**6), level)
            hand_in_at(store, learner, exercise, at + timedelta(minutes=6 * turn), share, rng)
        if number % 6 == 5:
            test = speed_test(rng.randrange(10**6))
            hand_in_at(store, learner, test, at + timedelta(minutes=20), share, rng)


def hand_in_at(
    store: Store,
    learner: Learner,
    exercise: Exercise,
    at: datetime,
    share: float,
    rng: random.Random,
) -> int:
    """Hand an exercise in with a share of its chords mistaken, at a lag; the attempt's id."""
    chart = exercise.chart
    text = format_chart(mistaken(chart, share, rng))
    arrangement = play_song(exercise)
    beat_s = arrangement.tempo_map.seconds(4 / chart.meter.unit)
    done = [start + beat_s * (3 + 18 * share + rng.random() * 3)
            for start, _ in arrangement.bar_times_s]  # fmt: skip
    late = len(done) // 2
    done[late : late + 3] = [each + 7 * beat_s for each in done[late : late + 3]]
    began = Drills(store, learner, lambda: at - timedelta(minutes=rng.uniform(2, 5)))
    drill = began.listen(began.begin(exercise).record.key)
    stamps = stamps_of(exercise, text, done)
    ended = Drills(store, learner, lambda: at)
    return submit(ended, exercise.id, text, token=drill.token, stamps=stamps).attempt.id


def stamps_of(exercise: Exercise, text: str, done_s: Sequence[float]) -> str:
    """The stamps of a text whose bars were each typed at one moment."""
    starts = [0, *(k + 1 for k, sign in enumerate(text) if sign == "\n")]
    times: list[float | None] = [None] * len(text)
    spans = read_answer(exercise, text).parsed.bar_spans
    for (line, column, end_column), moment in zip(spans, done_s, strict=True):
        for place in range(starts[line - 1] + column - 1, starts[line - 1] + end_column - 1):
            times[place] = moment
    return json.dumps([[len(list(run)), moment] for moment, run in groupby(times)])


def mistaken(
    chart: Chart,
    share: float,
    rng: random.Random,
    taken_for: Mapping[str, str] = MappingProxyType(TAKEN_FOR),
) -> Chart:
    """The chart with a share of the chords that are easily mistaken, mistaken: each key of
    `taken_for` for its value, and a slash chord for the chord without its bass."""

    def slip(bar: Bar) -> Bar:
        events = []
        for event in bar.events:
            chord = event.chord
            plain = "" if chord is None else f"{chord.degree}{chord.quality}"
            if chord is not None and plain in taken_for and rng.random() < share:
                name = taken_for[plain]
                chord = Chord(int(name[0]), quality=name[1:])
            elif chord is not None and chord.bass is not None and rng.random() < 2 * share:
                chord = replace(chord, bass=None)
            events.append(replace(event, chord=chord))
        return replace(bar, events=tuple(events))

    sections = tuple(
        replace(s, phrases=tuple(replace(p, bars=tuple(map(slip, p.bars))) for p in s.phrases))
        for s in chart.sections
    )
    return replace(chart, sections=sections)
