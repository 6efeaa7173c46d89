"""The bars that were missed, practised until they are right twice in a row."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.drill.evening import Clock
from tests.store.samples import exercise
from trainer.chart import Chart, format_chart, parse
from trainer.drill import (
    BarPractice,
    Drills,
    Result,
    Stretch,
    Submitted,
    are_right,
    attempt_kind,
    begin_bars,
    exercise_kinds,
    find_bars,
    find_result,
    import_record,
    loop_s,
    practised_bars,
    rating_state,
    rebuild,
    stretches_to_practise,
    submit,
)
from trainer.exercise import Exercise, exercise_from_json, exercise_to_json
from trainer.grade import grade

SONG = parse("key: D\nVerse:\n1 4 5 1 . 6- 2- 5 1\n4 4 1 1 . 2- 5 1 1\nTag:\n4 5 1 1")


@pytest.mark.parametrize(
    ("answer", "found"),
    [
        # One wrong bar is practised after the one before it, the first from itself.
        ("1 4 5 1 . 6- 4 5 1\n4 4 1 1 . 2- 5 1 1\nTag:\n4 5 1 1", [(5, 6, (6,))]),
        ("2- 4 5 1 . 6- 2- 5 1\n4 4 1 1 . 2- 5 1 1\nTag:\n4 5 1 1", [(1, 1, (1,))]),
        # Near ones are practised together, far ones by themselves.
        ("1 4 3- 1 . 3- 2- 5 1\n4 4 1 1 . 2- 5 1 1\nTag:\n4 3- 1 1", [(2, 5, (3, 5)),
         (17, 18, (18,))]),
        # A bar too many is missed where the song goes on.
        ("1 4 5 1 . 6- 2- 5 1 3\n4 4 1 1 . 2- 5 1 1\nTag:\n4 5 1 1", [(8, 9, (9,))]),
        # What is right in another way is practised from the first phrase on.
        ("4 b7 1 4 . 2- 5- 1 4\nb7 b7 4 4 . 5- 1 4 4\nTag:\nb7 1 4 4", [(1, 4, (1, 2, 3, 4))]),
        # What was not written is practised where nothing else is wrong.
        ("1 4 5 1 . 6- 2- 5 1\n4 4 1 1 . 2- 5 1 1", [(16, 20, (17, 18, 19, 20))]),
        ("1 4 5 1 . 6- 4 5 1\n4 4 1 1 . 2- 5 1 1", [(5, 6, (6,))]),
        ("1 4 5 1 . 6- 2- 5 1\n4 4 1 1 . 2- 5 1 1\nTag:\n4 5 1 1", []),
    ],
)  # fmt: skip
def test_the_missed_bars_make_stretches(
    answer: str, found: list[tuple[int, int, tuple[int, ...]]]
) -> None:
    """Each stretch is a few missed bars with the bar before."""
    report = grade(SONG, parse(f"Verse:\n{answer}"))
    assert stretches_to_practise(report, SONG) == tuple(Stretch(*each) for each in found)


def test_no_stretch_is_long() -> None:
    """Where much was missed in a row, it is practised eight bars at a time."""
    song = parse("1 " * 30)
    report = grade(song, parse("b2 " * 30))
    stretches = stretches_to_practise(report, song)
    assert [bar for each in stretches for bar in each.missed] == list(range(1, 31))
    assert max(each.last - each.first for each in stretches) <= 8


def whole() -> Exercise:
    """The song as an exercise of a level."""
    return replace(exercise(ask="everything"), chart=SONG)


def missed(drills: Drills, text: str) -> Result:
    """The song, written with mistakes after one listen."""
    drill = drills.begin(whole())
    drills.listen(drill.record.key, token=drill.token)
    done = submit(drills, drill.record.key, text, token=drill.token)
    result = find_result(drills.store, drills.learner, done.attempt.id)
    assert result is not None
    return result


WRONG = "Verse:\n1 4 5 1 . 6- 4 5 1\n4 4 1 1 . 2- 5 1 1\nTag:\n4 3- 1 1"


def practice_of(drills: Drills, result: Result, number: int | None = None) -> BarPractice:
    """The practice of what a result missed, as it stands now."""
    practice = practised_bars(drills.store, drills.learner, result, number)
    assert practice is not None
    return practice


def tried(drills: Drills, practice: BarPractice, text: str = "", shift: int = 0) -> Submitted:
    """A try at the stretch under way; without a text it is right."""
    drill = begin_bars(drills, practice, practice.number, shift)
    drills.listen(drill.record.key, 80, token=drill.token)
    right = body(drill.exercise.chart)
    return submit(drills, drill.record.key, text or right, token=drill.token)


def body(chart: Chart) -> str:
    """A chart without its header."""
    return format_chart(chart).partition("\n\n")[2]


def test_a_stretch_is_an_exercise_of_its_own(drills: Drills) -> None:
    """Its song is the bars with the bar before, looped, as often as one likes, in any key; it stays
    the same through JSON, and its lead-in is the bar before as it is written."""
    practice = practice_of(drills, missed(drills, WRONG))
    made = practice.exercise(0, 5)
    assert made.chart.bars() == SONG.bars()[4:6]
    assert (str(made.chart.key), made.listens, made.loop, made.level) == ("G", 0, True, None)
    assert exercise_from_json(exercise_to_json(made)) == made
    assert practice.lead_in == "6-"
    full, half = loop_s(made, 100), loop_s(made, 50)
    assert 0 < full[1] < half[1]
    assert half == pytest.approx((2 * full[0], 2 * full[1]))
    assert len({practice.exercise(n, k).id for n in (0, 1) for k in range(12)}) == 24


def test_it_takes_twice_right_in_a_row(drills: Drills, clock: Clock) -> None:
    """Right counts in any key and at any speed, a wrong try starts again; then the next stretch."""
    result = missed(drills, WRONG)
    wanted = [("", 0, 1), ("6- 4", 0, 0), ("", 0, 1), ("", 7, 2)]
    for text, shift, rights in wanted:
        clock.pass_(seconds=30)
        practice = practice_of(drills, result, 0)
        tried(drills, practice, text, shift)
        assert practice_of(drills, result, 0).rights == (rights, 0)
    practice = practice_of(drills, result)
    assert practice.number == 1
    for _ in range(2):
        tried(drills, practice)
    last = practice_of(drills, result, 1)
    assert last.is_done
    assert last.following is None


def test_bars_right_without_their_phrase_ends_are_right(drills: Drills) -> None:
    """How the bars are laid out on lines is not what is practised."""
    result = missed(drills, WRONG.replace("1 . 6-", "2- . 6-", 1))
    practice = practice_of(drills, result)
    done = tried(drills, practice, "5 1 6- 2-")
    detail = drills.store.attempts.get(done.attempt.id)
    assert detail is not None
    assert done.attempt.score < 1
    assert are_right(detail.bars)
    assert practice_of(drills, result).rights[0] == 1


def test_it_is_practice_and_counts_for_nothing_else(drills: Drills) -> None:
    """Tries change no rating, no sum and no level, also when all is made again from the record;
    in the history they have a kind of their own."""
    store, learner = drills.store, drills.learner
    result = missed(drills, WRONG)
    before = rating_state(store, learner), store.progress.skills(learner)
    best = store.attempts.best_by_level(learner)
    done = tried(drills, practice_of(drills, result))
    assert done.attempt.seen
    assert not done.attempt.counts
    assert (done.attempt.level, done.attempt.passed, done.attempt.tempo_ratio) == (None, None, 0.8)
    assert done.verdict is None
    for _ in range(2):
        after = rating_state(store, learner)
        assert after.skills == before[0].skills
        assert store.progress.skills(learner) == before[1]
        assert store.attempts.best_by_level(learner) == best
        rebuild(store, learner)
    assert attempt_kind(done.attempt, exercise_kinds(store, learner)) == "bars practised"
    assert drills.begin(done.exercise.exercise).seen


def test_a_try_leads_back_to_what_missed_its_bars(drills: Drills) -> None:
    """From the exercise of a try the practice is found again, also in another key, and in a record
    that was taken elsewhere; an ordinary exercise has none."""
    store, learner = drills.store, drills.learner
    result = missed(drills, WRONG)
    done = tried(drills, practice_of(drills, result, 1), shift=3)
    found = find_bars(store, learner, done.exercise)
    assert found is not None
    assert found.result.detail.record == result.detail.record
    assert (found.number, found.shift, found.rights) == (1, 3, (0, 1))
    assert find_bars(store, learner, result.detail.exercise) is None
    there = import_record(store, store.transfer.export_json(learner), "Odell Pruitt").learner
    again = store.exercises.get(there, done.exercise.key)
    assert again is not None
    moved = find_bars(store, there, again)
    assert moved is not None
    assert moved.rights == (0, 1)


def test_what_is_right_leaves_nothing_to_practise(drills: Drills) -> None:
    """A result without a mistake offers no bars."""
    result = missed(drills, body(SONG))
    assert practised_bars(drills.store, drills.learner, result) is None
