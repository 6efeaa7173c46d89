"""What is said of slips that are easily told wrongly, sentence by sentence."""

from __future__ import annotations

from itertools import pairwise

import pytest

from trainer.chart import parse
from trainer.grade import Report, Timing, grade
from trainer.grade.text_pieces import percent_text

from .advice_checker import check_advice


def told(song: str, answer: str) -> list[tuple[str, str]]:
    """Kind and text of each advice, all of it true."""
    report = grade(parse(song), parse(answer))
    check_advice(report.advice, parse(song), parse(answer))
    return [(one.kind, one.text) for one in report.advice]


def test_two_chords_exchanged_throughout_are_one_sentence() -> None:
    """Every 4 as 5 and every 5 as 4 is said once, with both lists of bars."""
    song = "1 4 1 5 . 1 4 6- 5^7 . 6- 1 5 1"
    swapped = song.replace("5^7", "5").replace("5", "y").replace("4", "5").replace("y", "4")
    assert told(song, swapped) == [
        (
            "exchanged",
            (
                "You swapped 4 and 5: you wrote 5 for 4 in bars 2 and 6, and 4 for 5 in bars "
                "4, 8 and 11. Sing the 1 over both: it belongs to 4, not to 5."
            ),
        )
    ]


def test_one_slip_made_throughout_is_said_once_with_how_often() -> None:
    """Every 2- as 4, and most 2- as 4."""
    song = "1 2- 5 1 . 1 2- 6- 5 . 1 2- 5 1 . 2- 5 1 1"
    ((_, text),) = told(song, song.replace("2-", "4"))
    assert text.startswith("You wrote 4 every time the band played 2-: bars 2, 6, 10 and 13.")
    ((_, text),) = told(song, song.replace("2-", "4", 3))
    assert text.startswith(
        "Bars 2, 6 and 10: the band played 2- and you wrote 4 (3 of the 4 bars with 2-)."
    )


def test_bars_left_open_are_named_with_what_was_played() -> None:
    """All open bars in one piece of advice, silence among them, and the checker knows it."""
    ((kind, text),) = told("1 4 0 6- . 4 5 1 1", "1 ? ? 6- . 4 5 ? 1")
    assert kind == "left open"
    assert text.startswith("You left bars 2–3 and 7 open: the band played 4, nothing and 1.")


def test_a_short_bar_written_full_is_named_as_such() -> None:
    """The advice speaks of the bar of 2/4."""
    ((kind, text),) = told("1 4 [2/4] 5 1 . 4 5 1 1", "1 4 5 1 . 4 5 1 1")
    assert kind == "meter"
    assert text.startswith("Bar 3 is a short bar of 2/4 (two beats), and you wrote 4/4.")


def test_a_bar_in_the_songs_meter_in_a_chart_in_another_is_told_by_its_length() -> None:
    """In a chart in 12/8 for a song in 6/8 a bar of 6/8 is short, though it is in 6/8."""
    song = "1 4 5 1 . 6- 4 5 1 . 1 4 6- 5 . 4 5 1 1"
    texts = told(f"meter: 6/8\n{song}", f"meter: 12/8\n{song.replace('4 6-', '4 [6/8] 6-')}")
    assert (
        "meter",
        (
            "Bar 11: this bar is as long as most in the song, and shorter than most in your chart. "
            "Count the beats from one downbeat to the next."
        ),
    ) in texts


def test_a_short_bar_left_out_is_named_as_such() -> None:
    """A bar of 2/4 that is missing is called a short bar."""
    ((kind, text),) = told("1 4 [2/4] 5 1 . 4 5 1 1", "1 4 1 . 4 5 1 1")
    assert kind == "left out"
    assert text.startswith("You left out bar 3, a short bar of 2/4: the band played 5 there.")


@pytest.mark.parametrize(
    ("song", "answer", "said"),
    [
        (
            "1 4 5 6- . 4 5 1 1d",
            "1 4 5 6- . 4 5 1d 1",
            (
                "The hold (diamond) is in bar 8, but you put it in bar 7. Listen: on a hold, "
                "the band strikes the chord once and lets it ring."
            ),
        ),
        (
            "1 4 5 1p . 4 5 1p 1",
            "1 4 5p 1 . 4 5p 1 1",
            (
                "The pushes are in bars 4 and 7, but you put them in bars 3 and 6. Listen: on "
                "a push, the chord comes an eighth before the beat."
            ),
        ),
        (
            "1 4 5 (1 5d)",
            "1 4 5 (1d 5)",
            (
                "Bar 4: the hold (diamond) is in the wrong place in the bar. The band "
                "played (1 5d), and you wrote (1d 5). Listen: on a hold, the band strikes "
                "the chord once and lets it ring."
            ),
        ),
    ],
)
def test_an_articulation_in_another_place_is_said_to_be_there(
    song: str, answer: str, said: str
) -> None:
    """One sentence for where it was and where it is written."""
    assert told(song, answer) == [("articulation elsewhere", said)]


@pytest.mark.parametrize(
    ("song", "answer", "said"),
    [
        ("1 (4 5) 1 1", "1 (4''' 5') 1 1", "you have the right chords on the wrong beats"),
        ("1 (4 5d) 1 1", "1 (4''' 5'd) 1 1", "you have the right chords on the wrong beats"),
        (
            "1 4 5 1",
            "1 (4''' 5') 5 1",
            "you wrote 5 too early, (4''' 5') instead of 4. It comes on the next",
        ),
        (
            "1 4 5 1",
            "1 4 (4' 5''') 1",
            "you wrote 5 too late, (4' 5'''). The band plays it on the downbeat",
        ),
        (
            "1 (4''' 5') 5 1",
            "1 4 5 1",
            (
                "5 comes inside the bar, (4''' 5'), but you wrote it on the next downbeat, "
                "which is too late"
            ),
        ),
        (
            "1 (1' 4''') 5 1",
            "1 4 5 1",
            (
                "4 comes inside the bar, (1' 4'''), but you wrote it on the downbeat, which is "
                "too early"
            ),
        ),
    ],
)
def test_right_chords_on_wrong_beats_are_a_matter_of_beats(
    song: str, answer: str, said: str
) -> None:
    """They are told as beats, not as chords."""
    ((kind, text),) = told(song, answer)
    assert kind == "beats"
    assert said in text


def test_the_wrong_length_of_a_phrase_is_told_by_its_length() -> None:
    """A bar missing and a bar too many speak of how long the phrase is."""
    song = "1 4 5 1 1 . 4 5 6- 1"
    ((_, text),) = told(song, "1 4 5 1 . 4 5 6- 1")
    assert "The phrase is five bars long (1–5), and you wrote four. Count" in text
    ((_, text),) = told(song, "1 4 5 1 1 . 4 5 6- 2- 1")
    assert "The phrase is four bars long (6–9), and you wrote five. Count" in text


def late(listens: int, seconds_behind: float, from_bar: int = 1) -> Report:
    """A right answer, each bar written a second after its end, from some bar on later."""
    song = parse("1 4 5 1 . 4 5 6- 1 . 1 4 5 1 . 4 5 1 1")
    starts = [2.4 * k for k in range(len(song.bars()) + 1)]
    done = tuple(
        start + 1 + (seconds_behind if k + 1 >= from_bar else 0)
        for k, start in enumerate(starts[1:])
    )
    return grade(song, song, timing=Timing(done, tuple(pairwise(starts)), 0.6, listens))


def test_a_slow_writer_who_may_listen_again_is_not_told_to_have_fallen_behind() -> None:
    """Lags over several listens say nothing, nor do those of who wrote after the song."""
    assert [one.kind for one in late(3, 40, from_bar=9).advice] == ["all right"]
    assert [one.kind for one in late(1, 40, from_bar=2).advice] == ["all right"]
    assert [one.kind for one in late(1, 7.2, from_bar=12).advice] == ["speed"]


def test_percentages_are_rounded_down() -> None:
    """Only what is wholly right is 100%."""
    assert [percent_text(share) for share in (1.0, 0.9999, 0.996, 0.29, 0.0)] == [
        "100%",
        "99%",
        "99%",
        "29%",
        "0%",
    ]


def test_none_of_the_holds_is_said_where_none_is_written() -> None:
    """A skill that was ignored is named as such, with every bar."""
    ((_, text),) = told("1d 4 5 1d . 4 5 1 1d", "1 4 5 1 . 4 5 1 1")
    assert text.startswith("You missed all of the holds (diamonds): bars 1, 4 and 8.")
    ((_, text),) = told("1d 4 5 1d . 4 5 1 1d", "1d 4 5 1 . 4 5 1 1")
    assert "the band played a hold (diamond) in each, and you missed it (2 of the 3 bars" in text


def test_two_articulations_in_a_bar_are_told_apart() -> None:
    """The hold that is missing is named, not the push that is there."""
    ((_, text),) = told("1 (4d 5p) 1", "1 (4 5p) 1")
    assert text.startswith("Bar 2: the band played a hold (diamond), (4d 5p), and you missed it.")


def test_bars_too_many_are_not_followed_by_numbers_that_read_as_bars() -> None:
    """What stands in them is in brackets unless it begins with one: "bars 4–5, 0 (4 5)" would name
    three bars.
    """
    found = told("Verse:\n1 0 b7 . 4 5 4", "Verse:\n1 0 b7 . 6- (2- 3-) . 4 5 4")
    assert any("your bars 4–5 (6- (2- 3-)):" in text for _, text in found)
