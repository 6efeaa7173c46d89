"""The record that the pictures of docs/ show: an invented learner's evenings, always the same.

Wren has practised for seven weeks at the Millrace school: a daily set on most evenings, then a
level until it is passed, with the lessons it opens with before it, now and then a speed test or a
song of the house band. The answers
have the mistakes that learners make, fewer from week to week.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from itertools import count

from tests.web.evenings import mistaken, stamps_of
from trainer.chart import Bar, Chart, Event, Phrase, format_chart
from trainer.drill import (
    BarPractice,
    DailySets,
    Drill,
    Drills,
    answer_question,
    begin_bars,
    begin_questions,
    find_result,
    offered_lessons,
    play_song,
    practised_bars,
    run_questions,
    submit,
)
from trainer.exercise import (
    QUESTIONS,
    Catalogue,
    Exercise,
    Lesson,
    load_course,
    load_lessons,
    load_songs,
    make_exercise,
    song_code,
)
from trainer.practice import speed_test
from trainer.songbook import Sets, Songbook
from trainer.store import AttemptRecord, Learner, LessonRun, SetSong, Store

__all__ = ["LEARNER", "NOW", "fill"]

LEARNER = "Wren"
NOW = datetime(2026, 11, 19, 19, 40, tzinfo=UTC)
SEED = 1875
# Days before NOW on which Wren practised: four or five evenings a week, one week nearly without.
DAYS = (48, 47, 45, 43, 41, 40, 38, 36, 34, 33, 31, 27, 24, 22, 20, 19, 17, 15, 13, 12, 10, 8, 6, 5,
        3, 1)  # fmt: skip
SPEED_TESTS = frozenset({43, 36, 24, 17, 10, 3})
SONGS = {31: "millrace-ferry-bell", 13: "second-street-strut", 6: "porch-light-on-mill-street"}
FIRST_SHARE, LAST_SHARE = 0.34, 0.16
# What Wren writes for what was played, where it goes wrong.
TAKEN_FOR = {"4": "2-", "2-": "4", "6-": "1", "3-": "1", "2": "2-", "4-": "4", "7": "4"}
# The lesson in the middle of which Wren is.
LESSON = "four-over-five"
VERSE = "1 4 1 5 . 1 4 5 1\n6- 4 1 5\n"
OWN_SONG = (
    "title: Ropewalk Morning\nkey: E\ntempo: 88\n\nIntro:\n1 4 1 4\n\n"
    "Verse 1:\n1 5/7 6- 5 . 4 1/3 2- 5\n"
    "1 5/7 6- 5 . 4 5 1 1\n\nChorus:\n4 5 1 6- . 4 5 1 1\n4 5 3- 6- . 2- 5 1 1\n\nTag:\n4 5 1\n"
)
OTHERS = {"Hazel": (9, 5, 2), "Otis": (26, 25)}


@dataclass(slots=True)
class Practice:
    """What a learner does in an evening, on a clock that goes on with it."""

    store: Store
    learner: Learner
    rng: random.Random
    now: datetime = NOW
    level: int = 1
    _seeds: Callable[[], int] = field(default_factory=lambda: count(101).__next__)

    @property
    def drills(self) -> Drills:
        """The learner's drills, at the clock's time."""
        return Drills(self.store, self.learner, lambda: self.now)

    def daily_set(self, share: float, most: int = 12) -> None:
        """Write the day's set, at most so many items of it."""
        course = load_course()
        for _ in range(most):
            coming = DailySets(self.drills, course).next()
            if coming is None:
                return
            self.write(coming.drill.exercise, share)

    def next_level(self, share: float) -> AttemptRecord:
        """Write a song of the level that is not passed yet, after the lessons it opens with."""
        level = load_course()[self.level - 1]
        for lesson in offered_lessons(self.store, self.learner, load_lessons(), [level]):
            self.lesson(lesson, share)
        attempt = self.write(make_exercise(level.recipe, self._seeds(), level), share)
        self.level += bool(attempt.passed)
        return attempt

    def lesson(self, lesson: Lesson, share: float, most: int = QUESTIONS) -> LessonRun:
        """Answer a lesson's questions, at most so many, with a share of the answers wrong."""
        run = begin_questions(self.drills, lesson, self._seeds())
        for question in run_questions(lesson, run)[:most]:
            self.now += timedelta(seconds=15)
            wrong = (question.right + 1) % len(lesson.choices)
            chosen = wrong if self.rng.random() < share else question.right
            run = answer_question(self.drills, lesson, run, question.number, chosen)
        return run

    def write(self, exercise: Exercise, share: float) -> AttemptRecord:
        """Hear an exercise and hand it in, with a share of what is easily mistaken wrong."""
        heard = mistaken(exercise.chart, share, self.rng, TAKEN_FOR)
        text = format_chart(_without_details(heard, share, self.rng))
        drill = self.drills.begin(exercise)
        key, token = drill.record.key, drill.token
        arrangement = play_song(exercise)
        beat_s = arrangement.tempo_map.seconds(4 / exercise.chart.meter.unit)
        done = [start + beat_s * self.rng.uniform(2.5 + 5 * share, 4.5 + 18 * share)
                for start, _ in arrangement.bar_times_s]  # fmt: skip
        twice = drill.listens_left != 1 and self.rng.random() < 1.5 * share
        for _ in range(1 + twice):
            self.drills.listen(key, token=token)
            self.now += timedelta(seconds=arrangement.bar_times_s[-1][1])
            self.drills.heard(key, None, token=token)
        self.now += timedelta(seconds=self.rng.uniform(15, 70))
        stamps = stamps_of(exercise, text, sorted(done))
        return submit(self.drills, key, text, token=token, stamps=stamps).attempt


def fill(store: Store) -> Mapping[str, object]:
    """Put Wren's seven weeks, and a little of two other learners, on record.

    Returns what the addresses of the pictures name: the ids of results, drills and learners.
    """
    lessons = {lesson.id: lesson for lesson in load_lessons()}
    songs = {str(song.recipe["song"]): song for song in load_songs()}
    for name, days in OTHERS.items():
        other = _begin(store, name, max(days) + 1)
        for ago in days:
            other.now = NOW - timedelta(days=ago, minutes=90)
            other.daily_set(0.2)
    wren = _begin(store, LEARNER, max(DAYS) + 1)
    handout = None
    for number, ago in enumerate(DAYS):
        share = FIRST_SHARE + (LAST_SHARE - FIRST_SHARE) * number / (len(DAYS) - 1)
        wren.now = NOW - timedelta(days=ago, minutes=wren.rng.randrange(-20, 75))
        wren.daily_set(share)
        # Some evenings are better than others.
        wren.next_level(share * wren.rng.uniform(0.2, 1.5))
        if ago in SPEED_TESTS:
            wren.write(speed_test(wren.rng.randrange(10**6)), share)
        if ago in SONGS:
            handout = wren.write(songs[SONGS[ago]], share)
    assert handout is not None
    result = _telling_result(wren)
    wren.now = NOW - timedelta(minutes=20)
    wren.daily_set(LAST_SHARE, most=2)
    return {
        "learner": wren.learner.uid,
        "handout": handout.id,
        "result": result.id,
        "done": result.exercise_id,
        **_bars(wren, result),
        "run": wren.lesson(lessons[LESSON], share=0.0, most=2).id,
        "code": song_code(songs["second-street-strut"], Catalogue.load()),
        "write": _half_written(wren, songs["half-the-town-asleep"]),
        **_songbook(wren),
    }


def _songbook(practice: Practice) -> dict[str, object]:
    """Three own songs, one of them in two versions, and a set.

    Returns the uids of that song and of the set.
    """
    book = Songbook(practice.store, practice.learner, lambda: practice.now)
    practice.now = NOW - timedelta(days=4)
    book.new("title: Lantern Stairs\nkey: G\nmeter: 3/4\ntempo: 96\n\nVerse 1:\n" + VERSE, ["slow"])
    book.new("title: Up by the Weir\nkey: A\ntempo: 124\n\nVerse 1:\n" + VERSE, ["Anchor"])
    practice.now = NOW - timedelta(days=2)
    song = book.new(OWN_SONG, ["Anchor", "slow"])
    practice.now = NOW - timedelta(days=1)
    book.save(
        song.uid, OWN_SONG.replace("1 5/7 6- 5", "1 5 6- (4 5)").replace("4 5 1\n", "4 5 1d\n")
    )
    playing = [SetSong(song.uid, "F"), SetSong("house-second-street-strut")]
    return {"song": song.uid, "set": Sets(book).add("Friday at the Anchor", playing).uid}


def _without_details(chart: Chart, share: float, rng: random.Random) -> Chart:
    """The chart with a share of its pushes, holds, chokes and extensions not noticed."""

    def plain(event: Event) -> Event:
        if rng.random() >= 2 * share:
            return event
        chord = event.chord and replace(event.chord, extension="")
        return replace(event, chord=chord, articulation=None)

    def of_bar(bar: Bar) -> Bar:
        return replace(bar, events=tuple(map(plain, bar.events)))

    def of_phrase(phrase: Phrase) -> Phrase:
        return replace(phrase, bars=tuple(map(of_bar, phrase.bars)))

    sections = [replace(one, phrases=tuple(map(of_phrase, one.phrases))) for one in chart.sections]
    return replace(chart, sections=tuple(sections))


def _begin(store: Store, name: str, days_ago: int) -> Practice:
    """A learner who has read the hearing caution."""
    then = NOW - timedelta(days=days_ago)
    learner = store.learners.add(name, then, uid=f"millrace-{name.lower()}")
    learner = store.learners.caution_shown(learner, then)
    return Practice(store, learner, random.Random(f"{SEED} {name}"))


def _telling_result(practice: Practice) -> AttemptRecord:
    """The newest result of a level with something to praise and several bars to work on."""
    attempts = practice.store.attempts.history(practice.learner, limit=150)
    return next(
        one
        for one in attempts
        if one.level and 0.8 <= one.score <= 0.94 and len(_missed(practice, one).stretches) >= 3
    )


def _missed(practice: Practice, attempt: AttemptRecord) -> BarPractice:
    """The practice of the bars that an attempt missed."""
    result = find_result(practice.store, practice.learner, attempt.id)
    assert result is not None
    bars = practised_bars(practice.store, practice.learner, result)
    assert bars is not None
    return bars


def _half_written(practice: Practice, song: Exercise) -> str:
    """Begin a song and write it to the end of its first chorus; the drill's key."""
    lines = format_chart(song.chart).partition("\n\n")[2].splitlines()
    end = lines.index("Turnaround:")
    practice.now = NOW - timedelta(minutes=1)
    drill = practice.drills.begin(song)
    text = "\n".join(filter(None, lines[:end]))
    practice.drills.keep_text(drill.record.key, text, token=drill.token)
    return drill.record.key


def _bars(practice: Practice, attempt: AttemptRecord) -> dict[str, object]:
    """Practise two stretches that an attempt missed: the second is right twice, the first once.

    Returns the key of the drill that comes next and the id of the last try.
    """

    def begin(number: int) -> Drill:
        return begin_bars(practice.drills, _missed(practice, attempt), number, 0)

    for number in (1, 1, 0):
        tried = practice.write(begin(number).exercise, share=0.0)
    return {"bars": begin(0).record.key, "tried": tried.id}
