"""A learner's evenings on record: real exercises, answers with the mistakes a learner makes."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from trainer.chart import Bar, Chart, Chord, chart_to_json, format_chart
from trainer.exercise import (
    Exercise,
    bar_skills,
    exercise_to_json,
    load_course,
    make_exercise,
)
from trainer.grade import Timing, grade, report_to_json, weights_for
from trainer.practice import speed_test
from trainer.store import Learner, Sitting, Store
from trainer.web.playing import bar_times_s, whole_song

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
    answer = mistaken(chart, share, rng)
    arrangement = whole_song(exercise, chart)
    times = bar_times_s(arrangement)
    beat_s = arrangement.tempo_map.seconds(4 / chart.meter.unit)
    done = [start + beat_s * (3 + 18 * share + rng.random() * 3) for start, _ in times]
    late = len(done) // 2
    done[late : late + 3] = [each + 7 * beat_s for each in done[late : late + 3]]
    timing = Timing(tuple(done), times, beat_s)
    report = grade(chart, answer, weights=weights_for(exercise.ask), timing=timing)
    assert report.speed is not None
    kept = store.exercises.keep(exercise_to_json(exercise), "generated")
    sitting = Sitting(
        started_at=at - timedelta(minutes=rng.uniform(2, 5)),
        first_pass=report.speed.first_pass,
        lag_beats=report.speed.lag_beats,
    )
    record = store.attempts.record(
        learner,
        kept,
        format_chart(answer),
        report_to_json(report),
        sitting,
        at,
        answer_chart=chart_to_json(answer),
        bar_skills=bar_skills(chart),
    )
    return record.id


def mistaken(chart: Chart, share: float, rng: random.Random) -> Chart:
    """The chart with a share of the chords that are easily mistaken, mistaken."""

    def slip(bar: Bar) -> Bar:
        events = []
        for event in bar.events:
            chord = event.chord
            plain = "" if chord is None else f"{chord.degree}{chord.quality}"
            if chord is not None and plain in TAKEN_FOR and rng.random() < share:
                name = TAKEN_FOR[plain]
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
