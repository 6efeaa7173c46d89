from __future__ import annotations

from datetime import timedelta

import pytest

from tests.practice.samples import NOW, graded_bar
from tests.store.samples import chart, exercise
from trainer.exercise import read_answer
from trainer.grade import grade
from trainer.practice import GradedBar, graded_bars
from trainer.practice.evidence import attempt_credits, gather
from trainer.practice.situation import FEATURES, Situation, situation_of

# Each skill, a bar in which its part is partly or wholly wrong, and the credit that is left.
# What a credit is made of stands in the module's table (common practice, no source).
CASES = {
    "right": ("chord 4", graded_bar(("chord 4",)), 1.0),
    "another root": ("chord 4", graded_bar(("chord 4",), confusions=(("4", "2-"),)), 0.0),
    "another quality": ("chord 2-", graded_bar(("chord 2-",), confusions=(("2-", "2"),)), 0.5),
    "only the bass": (
        "chord 5",
        graded_bar(("chord 5", "bass 5/7"), confusions=(("5/7", "5"),)),
        1.0,
    ),
    "the bass itself": (
        "bass 5/7",
        graded_bar(("chord 5", "bass 5/7"), confusions=(("5/7", "5"),)),
        0.0,
    ),
    "bass kept": ("bass 5/7", graded_bar(("bass 5/7",), confusions=(("5/7", "7o"),)), 1.0),
    "spelt otherwise": ("chord b5", graded_bar(("chord b5",), confusions=(("b5", "#4-"),)), 0.5),
    "no extension": ("extension 7", graded_bar(("extension 7",), confusions=(("5^7", "5"),)), 0.0),
    "extension kept": (
        "extension 7",
        graded_bar(("extension 7",), confusions=(("5^7", "5-^7"),)),
        1.0,
    ),
    "extension elsewhere": (
        "extension 7",
        graded_bar(("extension 7",), confusions=(("5^7", "2^7"),)),
        0.0,
    ),
    "the other chord": (
        "chord 1",
        graded_bar(("chord 1", "chord 5"), confusions=(("5", "4"),)),
        1.0,
    ),
    "split in the wrong place": ("even split", graded_bar(("even split",), placement=0.5), 0.5),
    "hold not written": ("hold", graded_bar(("hold",), articulation=0.0), 0.0),
    "meter not written": ("short bar", graded_bar(("short bar",), meter=0.0), 0.0),
    "key change not written": ("key change", graded_bar(("key change",), key_change=0.0), 0.0),
    "phrase runs on": ("odd phrase", graded_bar(("odd phrase",), phrase_end=0.0), 0.0),
    "section heard": ("section start", graded_bar(("section start",), section_start=1.0), 1.0),
    "tag half right": ("tag", graded_bar(("tag",), score=0.6), 0.6),
    "silence written": ("no chord", graded_bar(("no chord",)), 1.0),
    "silence missed": ("no chord", graded_bar(("no chord",), confusions=(("0", "1"),)), 0.0),
    "chord for silence": ("chord 1", graded_bar(("chord 1",), confusions=(("1", "0"),)), 0.0),
    "left out": ("chord 1", graded_bar(("chord 1",), answer=None), 0.0),
}


@pytest.mark.parametrize(("skill", "bar", "credit"), CASES.values(), ids=CASES)
def test_credit(skill: str, bar: GradedBar, credit: float) -> None:
    """Each skill has the credit of the part of the bar that it is about."""
    assert attempt_credits((bar,))[0][skill] == credit


def test_what_a_bar_cannot_tell_is_no_evidence() -> None:
    """A bar left out says nothing of meter and feel; an unknown limit nothing of phrases."""
    skills = ("chord 1", "meter 3/4", "feel waltz", "minor home")
    assert attempt_credits((graded_bar(skills, answer=None),))[0] == {"chord 1": 0.0}
    assert attempt_credits((graded_bar(("odd phrase", "section start")),))[0] == {}


@pytest.mark.parametrize(
    ("ask", "kept"),
    [
        ("roots", {"chord 2-"}),
        ("chords", {"chord 2-", "even split", "bass 5/7", "extension 7"}),
        ("everything", {"chord 2-", "even split", "bass 5/7", "extension 7", "push"}),
    ],
)
def test_what_was_not_asked_is_no_evidence(ask: str, kept: set[str]) -> None:
    """Only what an exercise asks is evidence, and roots alone make a chord when roots are asked."""
    bar = graded_bar(
        ("chord 2-", "even split", "bass 5/7", "extension 7", "push"), confusions=(("2-", "2"),)
    )
    found = attempt_credits((bar,), ask)[0]
    assert set(found) == kept
    assert found["chord 2-"] == (1.0 if ask == "roots" else 0.5)


def test_counting_from_another_home_says_nothing_of_chords() -> None:
    """A chart counted from the relative major is evidence about the home, not about its chords."""
    bar = graded_bar(("chord 1-", "minor home", "even split"), confusions=(("1-", "6-"),))
    assert attempt_credits((bar,), home_shift="relative major")[0] == {
        "minor home": 0.0,
        "even split": 1.0,
    }
    assert attempt_credits((bar,))[0]["minor home"] == 1.0


def _shown(song_text: str, text: str) -> tuple[list[dict[str, float]], str | None]:
    """What each bar of an answer shows, and the kind of its home shift."""
    song = exercise(song=chart(song_text))
    answer = read_answer(song, text)
    report = grade(song.chart, answer.chart)
    shift = report.home_shift.kind if report.home_shift is not None else None
    return list(attempt_credits(graded_bars(report, song, answer), home_shift=shift)), shift


def test_a_missing_key_sign_says_nothing_against_the_chords() -> None:
    """Numbers that are right after a key change are heard, whether its sign is written or not."""
    song = "1 4 5/7 1 . 4 2- 5 1 . [up 2] 1 4 5/7 1"
    shown, shift = _shown(song, song.replace("[up 2] ", ""))
    assert shift == "key sign missing"
    assert shown[8]["key change"] == 0.0
    chords = {
        skill: value
        for each in shown
        for skill, value in each.items()
        if skill.startswith(("chord", "bass"))
    }
    assert {"chord 4", "bass 5/7", "chord 2-"} <= chords.keys()
    assert set(chords.values()) == {1.0}


def test_a_part_counted_from_another_home_says_nothing_of_its_chords_only() -> None:
    """Where the numbers of the old key go on after a change, the bars before it are evidence."""
    song = "1 4 5 1 . 4 2- 5 1 . [up 2] 1 4 5p 1 . 6- 4 5 1"
    shown, shift = _shown(song, "1 4 5 1 . 4 2- 5 1 . [up 2] 2 5 6p 2 . 7- 5 6 2")
    assert shift == "numbers of the old key"
    assert [each.get("chord 4") for each in shown][:5:4] == [None, 1.0]
    assert all("chord 1" not in each for each in shown[9:])
    assert shown[10]["push"] == 1.0


def test_two_bars_written_as_one_are_no_confusion_of_their_chords() -> None:
    """Chords counted in half the time are heard; no bar of them is left out."""
    for text in ("(1 4) (5 1) (6- 4) (5 1) (2- 4) (5 1)", "(1 4) 5 1 6- 4 5 1 2- 4 5 1"):
        shown, shift = _shown("1 4 5 1 6- 4 5 1 2- 4 5 1", text)
        assert shift is None
        chords = {value for each in shown for skill, value in each.items() if "chord" in skill}
        assert chords == {1.0}


def test_a_graded_answer_gives_evidence_for_every_bar() -> None:
    """What grading says of a chart becomes credits bar by bar, phrase limits included."""
    song = exercise(song=chart("1 (1 5/7) 6- . 4 5 1 1"))
    answer = read_answer(song, "1 (1 5) 6- 2- . 5 1 1")
    bars = graded_bars(grade(song.chart, answer.chart), song, answer)
    found = gather(bars, Situation(), NOW)
    shown = [dict(bar.shown) for bar in found.bars]
    assert len(shown) == 7
    assert shown[1]["bass 5/7"] == 0.0
    assert shown[1]["even split"] == shown[1]["chord 5"] == 1.0
    assert shown[2]["odd phrase"] == 0.0
    assert shown[3]["chord 4"] == 0.0
    assert found.at == NOW
    assert gather(bars, Situation(), NOW + timedelta(1)).bars == found.bars


def test_an_ordinary_bar_has_no_features() -> None:
    """The situation that ratings are stated for has all features 0; harder ones are above."""
    plain = situation_of({"listens": 3, "help": {}}, 100, 12, 5)
    assert plain == Situation()
    harder = situation_of({"listens": 1, "help": {}}, 140, 64, 9)
    easier = situation_of(
        {"listens": 0, "help": {"bass_lift_db": 6, "tonic_first": True}}, 66, 4, 3
    )
    for name in ("quick", "long", "few_listens", "many_chords"):
        assert getattr(harder, name) > 0 > getattr(easier, name)
    assert easier.no_help == -1.0
    assert situation_of({"listens": 3}, 100, 12, 5, tempo_ratio=0.5).quick == -1.0
    assert len(FEATURES) == 9
