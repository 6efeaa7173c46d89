from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from itertools import pairwise
from statistics import mean

import pytest

from tests.band.songs import river_song
from trainer.band import BANDS, Arrangement, Note, arrange
from trainer.chart import (
    Bar,
    Chart,
    Feel,
    Phrase,
    Section,
    parse,
    root_pitch_class,
    without_notes,
)
from trainer.chart.model import Articulation

PITCHED = ("guitar", "bass", "keys", "pad", "lead", "voice")
# Players stray this far from their places, in quarters.
STRAYS = 0.12
FEELS = [*Feel]
SEEDS = range(3)


def noted(chart: Chart, notes: dict[int, str]) -> Chart:
    """A chart with a note before each of some bars, by number."""
    number, sections = 0, []
    for section in chart.sections:
        phrases = []
        for phrase in section.phrases:
            bars: list[Bar] = []
            for bar in phrase.bars:
                number += 1
                said = (notes[number],) if number in notes else ()
                bars.append(replace(bar, notes=said))
            phrases.append(Phrase(tuple(bars)))
        sections.append(Section(section.name, tuple(phrases)))
    return replace(chart, sections=tuple(sections))


@cache
def play(chart: Chart, seed: int = 0, band: str = "full") -> Arrangement:
    """A chart as a band plays it."""
    return arrange(chart, rng=random.Random(seed), band=band)


def notes_of(played: Arrangement, bars: Iterable[int], *names: str) -> list[tuple[str, int, Note]]:
    """The notes of some players in some bars, as player, number of the bar and note."""
    wanted = set(bars)
    return [
        (part.name, bar.number, note)
        for part in played.parts
        if part.name in names
        for note in part.notes
        for bar in played.bars
        if bar.number in wanted
        and -STRAYS / 4 <= note.start_quarters - bar.start_quarters
        < bar.length_quarters - STRAYS / 4
    ]  # fmt: skip


def signature(played: Arrangement) -> object:
    """All that is played."""
    return played.parts, played.bars, played.length_quarters


@pytest.mark.parametrize("band", BANDS)
@pytest.mark.parametrize("feel", FEELS)
def test_words_the_band_does_not_know_change_nothing(feel: Feel, band: str) -> None:
    """A chart with other words plays note for note like the chart without them."""
    plain = river_song(feel)
    chart = noted(plain, {5: "watch the singer", 9: "rit.", 20: "second gtr picks"})
    chart = replace(chart, comments=("for Friday",))
    assert without_notes(chart) == plain
    assert signature(play(chart, band=band)) == signature(play(plain, band=band))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("feel", FEELS)
def test_drums_out_until_drums_in(feel: Feel, seed: int) -> None:
    """No drum sounds between drums out and drums in, and what the others play stays the same."""
    plain = river_song(feel)
    chart = noted(plain, {7: "drums out", 11: "drums in"})
    played = play(chart, seed)
    assert not notes_of(played, range(7, 11), "drums")
    for bar in (5, 6, 11, 12):
        assert notes_of(played, [bar], "drums")
    others = [part for part in played.parts if part.name != "drums"]
    assert others == [part for part in play(plain, seed).parts if part.name != "drums"]


@pytest.mark.parametrize(
    ("words", "silent"),
    [
        ("guitar only", {"bass", "drums", "keys"}),
        ("a cappella", {"guitar", "bass", "drums", "keys"}),
        ("tacet", {"guitar", "bass", "drums", "keys"}),
        ("band out", {"guitar", "bass", "drums", "keys"}),
        ("bass and drums only", {"guitar", "keys"}),
        ("vocal out", {"voice"}),
    ],
)
def test_who_plays_to_the_end_of_the_section(words: str, silent: set[str]) -> None:
    """Players stay out to the end of their section, where everybody is back by themselves."""
    played = play(noted(river_song(), {9: words}))
    inside = {name for name, _, _ in notes_of(played, range(9, 18), *PITCHED, "drums")}
    assert inside == {"guitar", "bass", "drums", "keys", "voice"} - silent
    after = {name for name, _, _ in notes_of(played, range(18, 26), *PITCHED, "drums")}
    assert after == {"guitar", "bass", "drums", "keys", "voice"}


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("feel", FEELS)
def test_a_build_raises_the_strength(feel: Feel, seed: int) -> None:
    """Over the bars of a build every player's strokes get harder, half by half."""
    chart = noted(river_song(feel), {5: "build"})
    played = play(chart, seed)
    for name in ("guitar", "bass", "drums", "voice"):
        first, last = (
            mean(note.velocity for _, _, note in notes_of(played, half, name))
            for half in (range(5, 9), range(14, 18))
        )
        assert last > first + 4, name


@pytest.mark.parametrize(
    ("words", "sign"), [("down", -1), ("bring it up", 1), ("last chorus lifts", 1)]
)
@pytest.mark.parametrize("feel", FEELS)
def test_levels_are_heard(words: str, sign: int, feel: Feel) -> None:
    """Where the band is to come down it plays softer than the chart without the note, else louder.

    A section that is quiet or full already has less room, so verses and choruses count together.
    """
    plain = river_song(feel)
    chart = noted(plain, {5: words, 18: words})
    bars = range(5, 26)
    both = [
        mean(note.velocity for _, _, note in notes_of(play(each), bars, "guitar", "bass", "drums"))
        for each in (chart, plain)
    ]
    assert sign * (both[0] - both[1]) > 2


def test_one_player_comes_down_alone() -> None:
    """A level for one player leaves the others as they were."""
    plain = play(river_song())
    played = play(noted(river_song(), {5: "guitar down"}))
    assert [part for part in played.parts if part.name != "guitar"] == [
        part for part in plain.parts if part.name != "guitar"
    ]
    soft, usual = (
        mean(note.velocity for _, _, note in notes_of(each, range(5, 14), "guitar"))
        for each in (played, plain)
    )
    assert soft < usual - 5


@pytest.mark.parametrize("feel", FEELS)
def test_stop_time_leaves_one_short_stroke(feel: Feel) -> None:
    """In stop-time every chord is struck once and short, and the voice sings on."""
    played = play(noted(river_song(feel), {5: "stop-time", 9: "in time"}))
    for name, bar, note in notes_of(played, range(5, 9), "guitar", "bass", "drums", "keys", "pad"):
        start = next(each.start_quarters for each in played.bars if each.number == bar)
        assert note.start_quarters - start < 2 * STRAYS, name
        assert note.length_quarters < 0.6
    assert len(notes_of(played, range(5, 9), "voice")) > 4
    assert len(notes_of(played, [9], "guitar")) > 6


@pytest.mark.parametrize("feel", FEELS)
def test_ringing_out_holds_each_chord(feel: Feel) -> None:
    """Where the band rings out nothing is struck after a chord's first stroke."""
    played = play(noted(river_song(feel), {9: "let ring"}))
    for name, bar, note in notes_of(played, range(9, 14), "guitar", "bass", "keys", "pad"):
        time = next(each for each in played.bars if each.number == bar)
        assert note.start_quarters - time.start_quarters < 2 * STRAYS, name
        assert note.length_quarters > time.length_quarters - 3 * STRAYS


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("feel", [Feel.STRAIGHT, Feel.SHUFFLE, Feel.TRAIN_BEAT, Feel.WALTZ])
def test_a_walk_up_steps_into_the_next_bar(feel: Feel, seed: int) -> None:
    """The last bass notes of the bar rise by steps of the scale to the first of the next bar."""
    chart = noted(river_song(feel), {8: "walk-up"})
    played = play(chart, seed)
    walked = [note.pitch for _, _, note in notes_of(played, [8], "bass")]
    target = notes_of(played, [9], "bass")[0][2].pitch
    line = [*walked[1:], target]
    assert len(line) >= 3
    assert all(1 <= after - before <= 2 for before, after in pairwise(line))


@pytest.mark.parametrize("player", ["guitar", "keys"])
@pytest.mark.parametrize("seed", SEEDS)
def test_fills_answer_in_the_gaps(player: str, seed: int) -> None:
    """A player who answers plays single chord tones at the end of each phrase, and only there."""
    plain, chart = river_song(), noted(river_song(), {5: f"{player} answers the vocal"})
    played, usual = play(chart, seed), play(plain, seed)
    for bar in (8, 13):
        end = next(each for each in played.bars if each.number == bar)
        half = end.start_quarters + end.length_quarters / 2
        fill = [
            note for _, _, note in notes_of(played, [bar], player)
            if note.start_quarters > half - STRAYS
        ]  # fmt: skip
        assert len(fill) >= 3
        assert len({round(note.start_quarters, 1) for note in fill}) == len(fill)
        chord = plain.bars()[bar - 1].events[-1].chord
        assert chord is not None
        root = root_pitch_class(chord, plain.key.pitch_class)
        assert {(note.pitch - root) % 12 for note in fill} <= {0, 4, 7}
    for bars in ([5, 6, 7], [9]):
        here, there = (notes_of(each, bars, player) for each in (played, usual))
        assert [note.pitch for _, _, note in here] == [note.pitch for _, _, note in there]


HITS = {
    Feel.STRAIGHT: ("*12+4 ", (0, 1.5, 3)),
    Feel.SHUFFLE: ("*12+4 ", (0, 1 + 2 / 3, 3)),
    Feel.TRAIN_BEAT: ("*13+ ", (0, 2.5)),
    Feel.WALTZ: ("*12+ ", (0, 1.5)),
    Feel.SIX_EIGHT: ("*146 ", (0, 1.5, 2.5)),
    Feel.TWELVE_EIGHT: ("*1,4,10 ", (0, 1.5, 4.5)),
}


@pytest.mark.parametrize("band", BANDS)
@pytest.mark.parametrize("feel", HITS)
def test_hits_are_played_by_all(feel: Feel, band: str) -> None:
    """All pitched attacks of a bar with hits fall on them, every player is on each, with drums."""
    written, places = HITS[feel]
    header = f"meter: {river_song(feel).meter}\nfeel: {feel}\n\nVerse:\n"
    chart = parse(f"{header}1 5/7 {written}6- 4 . 1 {written}(4 5) 1 1")
    for seed in SEEDS:
        played = play(chart, seed, band)
        for bar in (3, 6):
            start = played.bars[bar - 1].start_quarters
            for name, _, note in notes_of(played, [bar], *PITCHED):
                at = note.start_quarters - start
                assert any(-STRAYS < at - place < 2 * STRAYS for place in places), (name, at)
            struck = {name for name, _, _ in notes_of(played, [bar], *PITCHED)}
            assert {"guitar", "voice"} <= struck
            assert "bass" in struck or band == "work tape"
            if band == "work tape":
                continue
            for place in places:
                keys = {
                    note.pitch for _, _, note in notes_of(played, [bar], "drums")
                    if abs(note.start_quarters - start - place) < STRAYS
                }  # fmt: skip
                assert {36, 38} <= keys


def test_the_chords_of_hits_are_the_charts() -> None:
    """In a bar of hits every chord of the bar is heard with its own tones, and its bass below."""
    chart = parse("key: D\n\nVerse:\n1 *12+4 (6- 5/7p) 1 1")
    played = play(chart)
    start = played.bars[1].start_quarters
    first = [n for name, _, n in notes_of(played, [2], "guitar", "keys", "bass")
             if n.start_quarters - start < 1]  # fmt: skip
    assert {note.pitch % 12 for note in first} == {11, 2, 6}
    later = [n for name, _, n in notes_of(played, [2], "guitar", "keys", "bass")
             if n.start_quarters - start > 1.3]  # fmt: skip
    assert {note.pitch % 12 for note in later} == {9, 1, 4}
    assert min(note.pitch for note in later) % 12 == 1


def test_a_choked_hit_is_short() -> None:
    """Every hit on a choked chord stops dead."""
    (bar,) = parse("*13 1c").bars()
    assert bar.events[0].articulation is Articulation.CHOKE
    played = play(parse("1 *13 1c 1"))
    for _, _, note in notes_of(played, [2], "guitar", "bass", "keys"):
        assert note.length_quarters < 0.4


@pytest.mark.parametrize("bars", [0, 1, 2])
def test_the_count_off_has_the_bars_of_the_chart(bars: int) -> None:
    """A chart may ask for two bars of clicks, or for none; two are one, two, one two three four."""
    chart = replace(river_song(), count_off=bars)
    played = play(chart)
    assert played.count_off_quarters == 4 * bars
    clicks = [part.notes for part in played.parts if part.name == "count-off"]
    assert [len(notes) for notes in clicks] == [[], [4], [6]][bars]


def test_the_guitar_uses_the_capo_of_the_chart() -> None:
    """With the capo at 5 no string of the guitar sounds below the low E string's fifth fret."""
    played = play(replace(river_song(), capo=5))
    lowest = min(note.pitch for _, _, note in notes_of(played, range(1, 40), "guitar"))
    assert lowest >= 45
