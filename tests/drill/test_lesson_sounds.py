"""What a lesson teaches is in the notes that the band plays, by measure of the notes themselves."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from trainer.band import Arrangement, arrange, playing_time_s
from trainer.chart import Key, bass_pitch_class, pitch_classes
from trainer.drill import play_example, play_question
from trainer.exercise import Lesson, load_lessons, make_questions

pytestmark = pytest.mark.many

LESSONS = {lesson.id: lesson for lesson in load_lessons()}
NEAR = 0.12
PITCHED = ("guitar", "bass", "keys", "pad", "lead")
KICK, SNARE, SIDE_STICK = 36, 38, 37
Heard = tuple[float, float, int]


def versions(name: str) -> Iterator[tuple[Lesson, int, list[Arrangement]]]:
    """Each line of a lesson as it is played for every choice, in G."""
    lesson = LESSONS[name]
    tempo = round(sum(lesson.tempo) / 2)
    for line in range(len(lesson.lines)):
        charts = [lesson.chart(line, k, Key("G"), tempo) for k in range(len(lesson.choices))]
        yield (
            lesson,
            line,
            [arrange(chart, rng=lesson.example_rng(), band=lesson.band) for chart in charts],
        )


def notes(arrangement: Arrangement, number: int, *parts: str) -> list[Heard]:
    """What parts strike in a bar, from 1: (start, end, pitch), in quarters from its bar line."""
    bar = arrangement.bars[number - 1]
    first, last = bar.start_quarters, bar.start_quarters + bar.length_quarters
    return sorted(
        (
            note.start_quarters - first,
            note.start_quarters + note.length_quarters - first,
            note.pitch,
        )
        for part in arrangement.parts
        if part.name in parts
        for note in part.notes
        if first - NEAR <= note.start_quarters < last - NEAR
    )


def differing_bars(lesson: Lesson, line: int) -> list[int]:
    """The bars, from 1, in which the versions of a line differ."""
    every = zip(*(chart.bars() for chart in lesson.lines[line].charts), strict=True)
    return [number for number, bars in enumerate(every, 1) if len(set(bars)) > 1]


@pytest.mark.parametrize("name", LESSONS)
def test_every_lesson_plays(name: str) -> None:
    """Every line of every choice plays within half a minute, the examples together in about half a
    minute; no two choices of a line have the same notes as loud as each other."""
    lesson = LESSONS[name]
    times = [playing_time_s(lesson.example(k)) for k in range(len(lesson.choices))]
    assert 15 <= sum(times) <= 40
    assert [play_example(lesson, k).bars for k in range(len(lesson.choices))]
    for _, _, played in versions(name):
        assert all(each.bar_times_s[-1][1] < 30 for each in played)
        heard = [
            frozenset((part.name, part.notes, part.volume_steps) for part in each.parts)
            for each in played
        ]
        assert len(set(heard)) == len(heard)


@pytest.mark.parametrize("name", LESSONS)
def test_questions_differ_from_each_other(name: str) -> None:
    """The five questions of a seed are five different sounds, and none is an example."""
    lesson = LESSONS[name]
    examples = [play_example(lesson, k) for k in range(len(lesson.choices))]
    for seed in range(3):
        played = [play_question(question) for question in make_questions(lesson, seed)]
        every = [*examples, *played]
        assert all(one != other for k, one in enumerate(every) for other in every[:k])


@pytest.mark.parametrize(
    "name",
    [
        "five-over-seven", "six-minor-or-one", "four-or-two-minor", "one-over-three",
        "five-over-seven-or-five", "four-over-five", "flat-seven-or-four", "two-or-two-minor",
        "four-over-one", "one-over-five", "one-over-flat-seven", "six-minor-over-five",
        "five-over-one", "passing-diminished",
    ],
)  # fmt: skip
def test_bass_and_guitar_play_the_chord_asked_for(name: str) -> None:
    """Where the versions differ, the bass strikes the bass of the chord and the guitar its notes
    and no other; the drums play the same in all versions."""
    for lesson, line, played in versions(name):
        tonic = Key("G").pitch_class
        for choice, arrangement in enumerate(played):
            chart = lesson.lines[line].charts[choice]
            for number in differing_bars(lesson, line):
                place = next(
                    k for k, event in enumerate(chart.bars()[number - 1].events)
                    if str(event.chord) == lesson.choices[choice].name
                )  # fmt: skip
                bar = chart.bars()[number - 1]
                chord, at = bar.events[place].chord, float(bar.starts()[place])
                assert chord is not None
                until = at + float(bar.events[place].beats)
                bass = notes(arrangement, number, "bass")
                first = min(
                    (each for each in bass if each[0] > at - NEAR), key=lambda each: each[0]
                )
                assert first[2] % 12 == bass_pitch_class(chord, tonic)
                guitar = {
                    pitch % 12
                    for start, _, pitch in notes(arrangement, number, "guitar")
                    if at - NEAR < start < until - NEAR
                }
                assert guitar <= pitch_classes(chord, tonic)
        drums = {part.notes for each in played for part in each.parts if part.name == "drums"}
        assert len(drums) == 1


def test_one_over_three_shares_its_bass_with_three_minor() -> None:
    """The bass is no help here: only the 1 above it makes 1/3 sound different from 3-."""
    tonic = Key("G").pitch_class
    for lesson, line, played in versions("one-over-three"):
        for number in differing_bars(lesson, line):
            basses = [notes(each, number, "bass") for each in played]
            assert len({min(struck)[2] % 12 for struck in basses}) <= 2
            has_one = [
                any(pitch % 12 == tonic for start, _, pitch in notes(each, number, "guitar")
                    if start > float(lesson.lines[line].charts[0].bars()[number - 1].starts()[-1])
                    - NEAR)
                for each in played
            ]  # fmt: skip
            assert has_one == [True, False]


def test_a_hold_rings_and_nothing_is_struck_after_it() -> None:
    """In the bar of a hold everybody strikes once, and the chord rings to its end."""
    for lesson, line, (held, plain) in versions("hold"):
        for number in differing_bars(lesson, line):
            bar = held.bars[number - 1]
            struck = notes(held, number, *PITCHED, "drums")
            assert all(abs(start) < NEAR for start, _, _ in struck)
            ends = [end for _, end, _ in notes(held, number, "guitar", "bass")]
            assert min(ends) > bar.length_quarters * 0.9
            assert len(notes(plain, number, "drums")) > len(notes(held, number, "drums"))


def test_a_choke_is_silent_after_the_strike() -> None:
    """In the bar of a choke no pitched note lasts a beat, where in a hold all ring on."""
    for lesson, line, (choked, held) in versions("choke"):
        for number in differing_bars(lesson, line):
            assert max(end for _, end, _ in notes(choked, number, *PITCHED, "voice")) < 1.0
            assert min(end for _, end, _ in notes(held, number, "guitar", "bass")) > 3.0


def test_a_push_is_an_eighth_early() -> None:
    """The bass strikes a pushed chord half a quarter before its bar line, and the plain one on
    it."""
    for lesson, line, (pushed, plain) in versions("push"):
        for number in differing_bars(lesson, line):
            bar_line = plain.bars[number - 1].start_quarters
            for arrangement, early in ((pushed, 0.5), (plain, 0.0)):
                starts = [
                    note.start_quarters
                    for part in arrangement.parts
                    if part.name == "bass"
                    for note in part.notes
                ]
                assert any(abs(start - (bar_line - early)) < NEAR for start in starts)
            kick = [
                note.start_quarters
                for part in pushed.parts
                if part.name == "drums"
                for note in part.notes
                if note.pitch == KICK
            ]
            assert any(abs(start - (bar_line - 0.5)) < NEAR for start in kick)
            assert not any(abs(start - bar_line) < NEAR for start in kick)


@pytest.mark.parametrize(
    ("name", "choice", "beat"),
    [("even-split", 0, 2), ("uneven-split", 0, 3), ("uneven-split", 1, 2)],
)
def test_a_split_bar_changes_on_its_beat(name: str, choice: int, beat: int) -> None:
    """The bass strikes the second chord's root on beat three of an even split, and on beat four
    where the first chord has three beats."""
    tonic = Key("G").pitch_class
    for lesson, line, played in versions(name):
        for number in differing_bars(lesson, line):
            second = lesson.lines[line].charts[choice].bars()[number - 1].events[1].chord
            assert second is not None
            at_beat = [
                pitch % 12
                for start, _, pitch in notes(played[choice], number, "bass")
                if abs(start - beat) < NEAR
            ]
            assert at_beat == [bass_pitch_class(second, tonic)]


def test_a_two_four_bar_lasts_half_as_long() -> None:
    """The next bar line comes two beats sooner."""
    for lesson, line, (short, full) in versions("two-four-bar"):
        for number in differing_bars(lesson, line):
            lengths = [each.bars[number - 1].length_quarters for each in (short, full)]
            assert lengths == [2.0, 4.0]


def test_a_key_change_moves_every_chord_after_it() -> None:
    """From the sign on, guitar and bass play the same chords so many half steps higher."""
    for lesson, line, (moved, same) in versions("key-change"):
        chart = lesson.lines[line].charts[0]
        for place in chart.placed_bars():
            heard = [
                {pitch % 12 for _, _, pitch in notes(each, place.number, "guitar")}
                for each in (moved, same)
            ]
            assert heard[0] == {(pitch + place.key_shift) % 12 for pitch in heard[1]}


def test_phrases_are_heard_in_the_voice_alone() -> None:
    """Guitar, bass and drums play the same notes with the same strength at the same times whatever
    the phrases; the voice does not."""
    for _, _, (twos, fours) in versions("phrase-start"):
        both = [{part.name: part.notes for part in each.parts} for each in (twos, fours)]
        for name in ("guitar", "bass", "drums"):
            assert both[0][name] == both[1][name], name
        assert both[0]["voice"] != both[1]["voice"]


def test_the_backbeat_tells_half_time() -> None:
    """Straight, the snare strikes on two and four; in half-time once a bar, on three."""
    for _, _, (half, straight) in versions("half-time"):
        for number in range(1, len(half.bars)):
            found = [
                {
                    round(start)
                    for start, _, pitch in notes(each, number, "drums")
                    if pitch in (SNARE, SIDE_STICK)
                }
                for each in (half, straight)
            ]
            assert found == [{2}, {1, 3}]


def test_the_backbeat_tells_six_eight() -> None:
    """In 6/8 the snare answers on the second dotted quarter alone; the waltz has twice the bars."""
    for _, _, (six, waltz) in versions("six-eight-or-waltz"):
        for number in range(1, len(six.bars)):
            snare = {
                round(start, 1)
                for start, _, pitch in notes(six, number, "drums")
                if pitch in (SNARE, SIDE_STICK)
            }
            assert all(abs(start - 1.5) < NEAR for start in snare)
            assert snare
        assert len(waltz.bars) == 2 * len(six.bars)
        ends = [each.bar_times_s[-1][1] - each.bar_times_s[0][0] for each in (six, waltz)]
        assert ends[0] == pytest.approx(ends[1])


def test_nobody_sings_in_a_turnaround() -> None:
    """The voice rests for the bars of the turnaround, and sings on straight away without one."""
    for lesson, line, (turned, straight) in versions("turnaround"):
        chart = lesson.lines[line].charts[0]
        inside = [
            place.number
            for place in chart.placed_bars()
            if chart.sections[place.section].kind == "turnaround"
        ]
        sung = {number for number in range(1, len(turned.bars) + 1)
                if [n for n in notes(turned, number, "voice") if n[0] < 1.0]}  # fmt: skip
        assert sung.isdisjoint(inside)
        first = inside[0]
        assert [n for n in notes(straight, first, "voice") if n[0] < 1.0]


def test_a_pickup_comes_before_the_first_full_bar() -> None:
    """After the count-off the band plays a bar of one or two beats, or a whole one at once."""
    for _, _, (pickup, on_the_one) in versions("pickup"):
        assert pickup.bars[0].length_quarters in (1.0, 2.0)
        assert on_the_one.bars[0].length_quarters == 4.0
        assert pickup.bars[0].start_quarters == on_the_one.bars[0].start_quarters == 4.0
        assert notes(pickup, 1, "bass")


def test_the_band_is_silent_in_a_silent_bar() -> None:
    """No player with a pitch strikes in it, where the other version goes on."""
    for lesson, line, (silent, played) in versions("stop-time"):
        for number in differing_bars(lesson, line):
            assert notes(silent, number, *PITCHED) == []
            assert notes(played, number, "bass")


@pytest.mark.parametrize("name", ["one-over-five", "one-over-flat-seven", "six-minor-over-five"])
def test_both_chords_have_one_bass(name: str) -> None:
    """The bass is no help here: it strikes the same note whichever chord is over it."""
    for lesson, line, played in versions(name):
        for number in differing_bars(lesson, line):
            basses = [
                {pitch % 12 for _, _, pitch in notes(each, number, "bass")} for each in played
            ]
            assert basses[0] & basses[1]


def test_a_fade_is_in_the_volume_of_all_players() -> None:
    """From the sign on every player gets softer until nothing is left; the notes are the same."""
    for lesson, line, (faded, ended) in versions("fade"):
        first = lesson.lines[line].charts[0].fade_bar
        assert first is not None
        for part, other in zip(faded.parts, ended.parts, strict=True):
            assert [note.pitch for note in part.notes] == [note.pitch for note in other.notes]
            assert other.volume_steps == ()
            if part.volume_steps:
                values = [step.value for step in part.volume_steps]
                assert values == sorted(values, reverse=True)
                assert part.volume_steps[0].at_quarters >= faded.bars[first - 1].start_quarters
        fading = {part.name for part in faded.parts if part.volume_steps}
        assert {"bass", "drums", "guitar"} <= fading
