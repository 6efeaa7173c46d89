"""The lessons that ship: every one loads, is easy to read, and its versions of a line differ in
what it teaches and in nothing else."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.readability import flesch_kincaid_grade
from trainer.chart import Bar, Chart, Event
from trainer.exercise import GROUPS, Lesson, load_course, load_lessons, load_signs

LESSONS = {lesson.id: lesson for lesson in load_lessons()}
WANTED = (
    "hold", "push", "choke", "even-split", "uneven-split", "five-over-seven", "two-four-bar",
    "key-change", "six-minor-or-one", "four-or-two-minor", "one-over-three",
    "five-over-seven-or-five", "four-over-five", "flat-seven-or-four", "two-or-two-minor",
    "phrase-start", "five-bar-phrase", "finding-home", "minor-home", "half-time",
    "six-eight-or-waltz", "turnaround", "tag", "pickup", "four-over-one", "one-over-five",
    "one-over-flat-seven", "six-minor-over-five", "five-over-one", "passing-diminished",
    "stop-time", "twelve-bar-form", "fade",
)  # fmt: skip
CHORDS = [
    lesson for lesson in LESSONS.values() if lesson.choices[0].spoken != lesson.choices[0].name
]
EASY = 7.0


def pairs(lesson: Lesson) -> list[tuple[Chart, ...]]:
    """The versions of each line."""
    return [line.charts for line in lesson.lines]


def shape(chart: Chart) -> list[tuple[str, list[int]]]:
    """The sections of a chart with the bars of their phrases."""
    return [
        (section.name, [len(phrase.bars) for phrase in section.phrases])
        for section in chart.sections
    ]


def without_articulations(bar: Bar) -> Bar:
    """A bar with its chords alone."""
    return replace(bar, events=tuple(replace(event, articulation=None) for event in bar.events))


def chords(bar: Bar) -> list[str]:
    """The chords of a bar."""
    return [str(event.chord) for event in bar.events]


def test_every_lesson_is_there() -> None:
    """Each sign and each confusion that a chart brings has its lesson, in one of the groups."""
    assert sorted(LESSONS) == sorted(WANTED)
    assert {lesson.group for lesson in LESSONS.values()} == set(GROUPS)
    places = [(lesson.group, lesson.order) for lesson in LESSONS.values()]
    assert len(set(places)) == len(places)


@pytest.mark.parametrize("name", WANTED)
def test_a_text_is_easy_to_read(name: str) -> None:
    """What a lesson says has two to four sentences and a Flesch-Kincaid grade of 7 at most."""
    lesson = LESSONS[name]
    for text in (lesson.about, lesson.listen_for):
        assert flesch_kincaid_grade(text) <= EASY
        assert 2 <= len(re.findall(r"[.?!](?= |$)", text)) <= 5, text
    assert lesson.question.endswith("?")


def test_the_signs_are_easy_to_read() -> None:
    """So is what is said of the signs; the lessons named there exist."""
    signs = load_signs()
    assert flesch_kincaid_grade(" ".join(sign.means for sign in signs)) <= EASY
    assert {sign.lesson for sign in signs} - {""} <= set(LESSONS)


@pytest.mark.parametrize("name", ["hold", "push"])
def test_an_articulation_is_all_that_differs(name: str) -> None:
    """One version has the articulation, the other the same bars without it."""
    for one, other in pairs(LESSONS[name]):
        assert [*map(without_articulations, one.bars())] == [*other.bars()]
        assert {event.articulation for bar in one.bars() for event in bar.events} == {None, name}
        assert shape(one) == shape(other)


def test_a_choke_is_told_from_a_hold() -> None:
    """Where one version has a choke, the other has a hold."""
    for one, other in pairs(LESSONS["choke"]):
        both = [
            (ours.articulation, theirs.articulation)
            for mine, their in zip(one.bars(), other.bars(), strict=True)
            for ours, theirs in zip(mine.events, their.events, strict=True)
        ]
        assert set(both) == {(None, None), ("choke", "hold")}
        assert [*map(without_articulations, one.bars())] == [
            *map(without_articulations, other.bars())
        ]


@pytest.mark.parametrize("lesson", CHORDS, ids=lambda lesson: lesson.id)
def test_the_chord_asked_for_is_all_that_differs(lesson: Lesson) -> None:
    """In each line every choice stands in the same place, between the same chords."""
    names = [choice.name for choice in lesson.choices]
    for charts in pairs(lesson):
        events = [[event for bar in chart.bars() for event in bar.events] for chart in charts]
        differing = 0
        for versions in zip(*events, strict=True):
            if len(set(versions)) > 1:
                differing += 1
                assert [str(event.chord) for event in versions] == names
                assert len({replace(event, chord=None) for event in versions}) == 1
        assert 1 <= differing <= 2
        assert len({str(shape(chart)) for chart in charts}) == 1


def test_an_even_split_is_told_from_one_chord() -> None:
    """One bar is split evenly; the other version has one of its chords for the whole bar."""
    for one, other in pairs(LESSONS["even-split"]):
        differing = [
            (ours, theirs)
            for ours, theirs in zip(one.bars(), other.bars(), strict=True)
            if ours != theirs
        ]
        assert len(differing) == 1
        split, whole = differing[0]
        assert len(split.events) == 2
        assert split.is_even
        assert len(whole.events) == 1
        assert set(chords(whole)) < set(chords(split))


def test_an_uneven_split_is_told_from_an_even_one() -> None:
    """The same two chords share a bar three to one, or evenly."""
    for one, other in pairs(LESSONS["uneven-split"]):
        for ours, theirs in zip(one.bars(), other.bars(), strict=True):
            assert chords(ours) == chords(theirs)
        beats = [
            (
                [int(event.beats) for event in ours.events],
                [int(event.beats) for event in theirs.events],
            )
            for ours, theirs in zip(one.bars(), other.bars(), strict=True)
            if ours != theirs
        ]
        assert beats == [([3, 1], [2, 2])]


def test_a_short_bar_is_told_from_a_full_one() -> None:
    """One bar has two beats in place of four."""
    for one, other in pairs(LESSONS["two-four-bar"]):
        differing = [
            (ours, theirs)
            for ours, theirs in zip(one.bars(), other.bars(), strict=True)
            if ours != theirs
        ]
        assert [(str(a.meter), str(b.meter), chords(a) == chords(b)) for a, b in differing] == [
            ("2/4", "4/4", True)
        ]


def test_a_key_change_is_all_that_differs() -> None:
    """Without the sign the versions have the same bars; the key changes where a phrase begins."""
    for one, other in pairs(LESSONS["key-change"]):
        assert [replace(bar, key_change=0) for bar in one.bars()] == [*other.bars()]
        changed = [place.index for place in one.placed_bars() if place.bar.key_change]
        assert changed == [0]


def test_phrases_differ_in_the_voice_alone() -> None:
    """The same bars are cut into phrases of two or of four."""
    for one, other in pairs(LESSONS["phrase-start"]):
        assert one.bars() == other.bars()
        assert shape(one) == [("", [2, 2, 2, 2])]
        assert shape(other) == [("", [4, 4])]


def test_a_fifth_bar_is_the_last_chord_again() -> None:
    """The first phrase has five bars, the last of them as the one before, or four."""
    for one, other in pairs(LESSONS["five-bar-phrase"]):
        assert (shape(one), shape(other)) == ([("", [5, 4])], [("", [4, 4])])
        assert one.bars()[4] == one.bars()[3]
        assert (*one.bars()[:4], *one.bars()[5:]) == other.bars()


def test_home_is_where_the_line_ends() -> None:
    """Lines start on the 1 or on the 4, on the same letter, and end on the 1."""
    lesson = LESSONS["finding-home"]
    for one, other in pairs(lesson):
        assert [chords(chart.bars()[0]) for chart in (one, other)] == [["1"], ["4"]]
        assert [chords(chart.bars()[-1]) for chart in (one, other)] == [["1"], ["1"]]
        assert len(one.bars()) == len(other.bars())
    # The 4 of the key a fifth higher is the 1 of the key itself.
    assert [choice.up for choice in lesson.choices] == [0, 7]


def test_minor_and_major_home_share_their_notes() -> None:
    """The minor home is that of the relative key; each line ends on its home."""
    lesson = LESSONS["minor-home"]
    assert [(choice.minor, choice.up) for choice in lesson.choices] == [(True, -3), (False, 0)]
    for one, other in pairs(lesson):
        assert [chords(chart.bars()[-1]) for chart in (one, other)] == [["1-"], ["1"]]
        assert len(one.bars()) == len(other.bars())


@pytest.mark.parametrize("name", ["half-time", "six-eight-or-waltz"])
def test_a_feel_is_all_that_differs(name: str) -> None:
    """Both versions have the same chords for the same time."""
    lesson = LESSONS[name]
    for number in range(len(lesson.lines)):
        heard = []
        for choice in range(2):
            chart = lesson.chart(number, choice, lesson.keys[0], 60.0)
            pulse_s = 60 / chart.tempo
            quarter_s = pulse_s / float(chart.meter.pulse_quarters)
            times: list[tuple[str, float]] = []
            for bar in chart.bars():
                chord, length_s = chords(bar)[0], float(bar.meter.quarters) * quarter_s
                if times and times[-1][0] == chord:
                    length_s += times.pop()[1]
                times.append((chord, round(length_s, 6)))
            heard.append(times)
        assert heard[0] == heard[1]


@pytest.mark.parametrize(("name", "kind"), [("tag", "tag"), ("turnaround", "turnaround")])
def test_a_section_more_is_all_that_differs(name: str, kind: str) -> None:
    """One version has the section, the other the same song without it."""
    for one, other in pairs(LESSONS[name]):
        rest = [section for section in one.sections if section.kind != kind]
        assert len(rest) == len(one.sections) - 1
        assert [section.kind for section in rest] == [section.kind for section in other.sections]
        assert [[*map(plain, section_bars(each))] for each in rest] == [
            [*map(plain, section_bars(each))] for each in other.sections
        ]


def section_bars(section: object) -> list[Bar]:
    """The bars of a section."""
    return [bar for phrase in section.phrases for bar in phrase.bars]  # type: ignore[attr-defined]


def plain(bar: Bar) -> tuple[Event, ...]:
    """The chords of a bar: the last one of a song rings wherever the song ends."""
    return without_articulations(bar).events


def test_a_pickup_is_a_short_bar_before_the_first() -> None:
    """One version begins with a bar of one or two beats, the other with the bar after it."""
    for one, other in pairs(LESSONS["pickup"]):
        assert one.bars()[1:] == other.bars()
        assert str(one.bars()[0].meter) in ("1/4", "2/4")


def test_every_skill_that_has_a_lesson_opens_it_once() -> None:
    """Lessons of a level are few, and each skill that the course introduces with a lesson has one
    lesson alone."""
    taught = [skill for lesson in LESSONS.values() for skill in lesson.teaches]
    assert len(set(taught)) == len(taught)
    introduced = {skill for level in load_course() for skill in level.introduced}
    assert set(taught) - introduced == {"chord 7o"}


def test_a_silent_bar_is_told_from_the_chord_before_it() -> None:
    """One version is silent for a bar; in the other the chord before goes on."""
    for one, other in pairs(LESSONS["stop-time"]):
        differing = [
            number
            for number, bars in enumerate(zip(one.bars(), other.bars(), strict=True))
            if len(set(bars)) > 1
        ]
        assert len(differing) == 1
        silent, played = (chart.bars()[differing[0]] for chart in (one, other))
        assert chords(silent) == ["None"]
        assert played == other.bars()[differing[0] - 1]


def test_the_third_line_of_twelve_bars_is_told_from_the_second() -> None:
    """After one first line comes a line that opens on the 4, or one on the 5 or its 2-."""
    for one, other in pairs(LESSONS["twelve-bar-form"]):
        assert one.bars()[:4] == other.bars()[:4]
        assert chords(one.bars()[4]) == ["4"]
        assert chords(other.bars()[4])[0] in ("5", "2-")
        assert shape(one) == shape(other) == [("", [4, 4])]


def test_a_fade_is_all_that_differs() -> None:
    """Both versions play one line twice; in one the second time fades."""
    for one, other in pairs(LESSONS["fade"]):
        assert (one.fade_bar, other.fade_bar) == (5, None)
        assert [replace(bar, fades=False) for bar in one.bars()] == [*other.bars()]
        assert other.bars()[:4] == other.bars()[4:]
