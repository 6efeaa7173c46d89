"""What is said of numbers from another 1, and of signs for a change of key."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.grade import grade
from trainer.grade.key_signs import _missing_text, _Sign, _Span

from .advice_checker import FalseSentence, check_advice
from .test_advice_checker import advice
from .test_advice_on_chords import told

VERSE, CHORUS = "1 4 5 1 . 1 4 5 1", "4 5 1 6- . 4 5 1 1"
SONG = f"Verse:\n{VERSE}\nChorus:\n{CHORUS}\nChorus:\n[up 2] {CHORUS}\n"


def chords_only(text: str, numbers: dict[str, str]) -> str:
    """A section with its numbers replaced."""
    return " ".join(numbers.get(one, one) for one in text.split())


def test_a_key_that_was_moved_and_is_not_is_one_act() -> None:
    """Numbers and sign that make the chords sound right: home stays."""
    song = f"Verse:\n{VERSE}\nChorus:\n{CHORUS}\nVerse:\n{VERSE}\n"
    moved = chords_only(CHORUS, {"4": "b3", "5": "4", "1": "b7", "6-": "5-"})
    back = chords_only(VERSE, {"4": "b3", "5": "4", "1": "b7"})
    (text,) = told(song, f"Verse:\n{VERSE}\nChorus:\n[up 2] {moved}\nVerse:\n{back}\n")
    assert text.startswith(
        "You moved the key at bar 9 (bar 1 of Chorus): the chords sound right, but the "
        "song stays in its key"
    )


def test_a_section_from_another_1_is_told_that_the_1_stays() -> None:
    """Nothing is to be found there: the 1 that was there goes on."""
    song = f"Verse:\n{VERSE}\nChorus:\n{CHORUS}\nVerse:\n{VERSE}\n"
    other = chords_only(CHORUS, {"4": "1", "5": "2", "1": "5", "6-": "3-"})
    (text,) = told(song, f"Verse:\n{VERSE}\nChorus:\n{other}\nVerse:\n{VERSE}\n")
    assert text.startswith(
        "Bars 9–16 (Chorus): you counted from another 1, so your numbers are a fifth"
    )
    assert text.endswith("The 1 stays where it was: keep singing it into the section.")


def test_a_section_counted_from_the_relative_major_is_said_to_be() -> None:
    """The chorus of a song in minor, with b3 as its 1."""
    verse, chorus = "1- b7 4- 1- . 1- b7 4- 1-", "b3 b7 4- 1- . b3 b7 4- 4-"
    song = f"Verse:\n{verse}\nChorus:\n{chorus}\nVerse:\n{verse}\n"
    (text,) = told(song, song.replace(chorus, "1 5 2- 6- . 1 5 2- 2-"))
    assert "you counted from the relative major, so your numbers are a major sixth above" in text


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (
            SONG.replace("[up 2] 4 5", "4 [up 2] 5"),
            (
                "The key moves up a whole step at bar 17 (bar 1 of Chorus), but you marked it "
                "at bar 18, one bar late."
            ),
        ),
        (
            SONG.replace("1 1\nChorus:\n[up 2] 4", "1 [up 2] 1\nChorus:\n4"),
            (
                "The key moves up a whole step at bar 17 (bar 1 of Chorus), but you marked it "
                "at bar 16, one bar early."
            ),
        ),
        (
            SONG.replace("[up 2]", "[up 1]"),
            (
                "At bar 17 (bar 1 of Chorus) the key moves up a whole step, and you wrote [up "
                "1]. Write [up 2] before bar 17."
            ),
        ),
        (
            SONG.replace("[up 2]", ""),
            (
                "From bar 17 on, your numbers are right in the new key, but you didn't mark "
                "the change: the band would stay in the old key. Write [up 2] before"
            ),
        ),
    ],
)
def test_one_wrong_sign_is_one_sentence(answer: str, said: str) -> None:
    """A sign late, early, by another interval or missing: what the bars behind it lose is part."""
    (text,) = told(SONG, answer)
    assert text.startswith(said)


def test_a_key_that_moves_and_moves_back_without_signs_is_one_sentence() -> None:
    """Both signs are named, and only the bars between them."""
    song = f"Verse:\n{VERSE}\nBridge:\n[down 4] {CHORUS}\nVerse:\n[up 4] {VERSE}\n"
    (text,) = told(song, song.replace("[down 4] ", "").replace("[up 4] ", ""))
    assert text.startswith("From bar 9 to bar 16, your numbers are right in the new key")
    assert text.endswith("Write [down 4] before bar 9 and [up 4] before bar 17.")


@pytest.mark.parametrize(
    ("end", "songs_end", "said"),
    [
        (5, 8, "In bar 5,"),
        (5, 5, "In bar 5,"),
        (6, 8, "From bar 5 to bar 6,"),
        (8, 8, "From bar 5 on,"),
    ],
)
def test_one_bar_in_another_key_is_named_by_itself(end: int, songs_end: int, said: str) -> None:
    """A stretch of one bar is not told as one from a bar to the same bar."""
    text = _missing_text(_Span([_Sign(4, 5, 2, 0)]), end, songs_end)
    assert text.startswith(f"{said} your numbers are right in the new key")


@pytest.mark.parametrize(
    ("song", "answer", "said"),
    [
        (
            "1 4 5 1 . [up 2] 4 5 . 1 6- 4 1",
            "1 4 5 1 . [up 2] 1 6- 4 1",
            "at bar 7: the key moves in bar 5, which you left out.",
        ),
        (
            "1 4 . 1 4 5 1 . [up 11] 1 [down 10] 4 . 5 1 4 5 1 4",
            "1 4 . 1 4 5 1 . [up 1] 5 1 4 5 1 4",
            "at bar 9: the key moves in bars 7–8, which you left out.",
        ),
        (
            "1 4 5 1 . [up 2] 4 5 . [down 2] 1 6- 4 1",
            "1 4 5 1 . 1 6- 4 1",
            "at bar 7: the key moves in bar 5, which you left out.",
        ),
    ],
)
def test_a_key_that_moves_in_bars_left_out_is_not_said_to_stay(
    song: str, answer: str, said: str
) -> None:
    """The sign behind the gap puts the answer in the song's key, so it is not made up."""
    texts = told(song, answer)
    assert any(text.startswith(f"Your key changes don't match the song's {said}") for text in texts)
    assert not any("the key stays" in text for text in texts)


def test_a_change_that_is_noticed_late_is_said_to_be() -> None:
    """Old numbers for a phrase, then the sign and the new numbers."""
    old = chords_only(CHORUS[: CHORUS.index(" .")], {"4": "5", "5": "6", "1": "2", "6-": "7-"})
    answer = SONG.replace(f"[up 2] {CHORUS}", f"{old} . [up 2] 4 5 1 1")
    (text,) = told(SONG, answer)
    assert text.startswith(
        "The key moves at bar 17 (bar 1 of Chorus), but you moved it at bar 21. Until then"
    )


ROWS = [(bar, bar, "1", "1") for bar in range(17, 25)]


@pytest.mark.parametrize(
    "text",
    [
        (
            "The key moves up a whole step at bar 17 (bar 1 of Chorus), but you marked it "
            "at bar 18, one bar early."
        ),
        (
            "You wrote a key change, [up 2], at bar 17 (bar 1 of Chorus), but the key "
            "stays the same."
        ),
        (
            "At bar 17 (bar 1 of Chorus) the key moves up a half step, and you wrote [up "
            "1]. Write [up 2] before bar 17."
        ),
        (
            "You moved the key at bar 17 (bar 1 of Chorus): the chords sound right, but "
            "the song stays in its key, so your numbers are a whole step above the song's."
        ),
        (
            "Bars 17–24 (Chorus): you counted from the relative major, so your numbers are "
            "a fifth above what the band played."
        ),
    ],
)
def test_false_sentences_on_keys_are_found(text: str) -> None:
    """The checker tells a sign in another bar, of another kind and by another interval."""
    with pytest.raises(FalseSentence):
        check_advice(advice(text, *ROWS), parse(SONG), parse(SONG.replace("+2", "+1")))


def test_the_song_and_the_answer_are_never_called_the_chart() -> None:
    """What is called the chart could be either of two."""
    minor = "1- b7 b6 5 . 1- 4- 5 1-"
    relative = "6- 5 4 3 . 6- 2- 3 6-"
    for song, answer in ((minor, relative), (relative, minor), ("1 4 5 1 " * 4, "5 1 2 5 " * 4)):
        report = grade(parse(song), parse(answer))
        assert not any("he chart" in one.text for one in report.advice)


def test_two_made_up_signs_that_do_not_lead_back_are_one_sentence() -> None:
    """The bars behind them are cited as well: they stand in another key than was played."""
    song, answer = "0 0 [up 1] 0", "[up 1] 0 [up 1] 0 [up 1] 0"
    report = grade(parse(song), parse(answer))
    check_advice(report.advice, parse(song), parse(answer))
    (said,) = (one for one in report.advice if one.kind.startswith("home"))
    assert said.text.startswith(
        "You wrote key changes at bars 1–2 ([up 1] and [up 1]), but the key stays the same."
    )
    assert [case.reference for case in said.cases] == [1, 2, 3]


def test_a_wrong_sign_in_a_swapped_section_is_not_charged_to_the_other() -> None:
    """The sign is wrong in the chorus, which comes first in the chart; the verse behind it is in
    its own key, has full credit and is not cited for the sign.
    """
    song = "Verse:\n1 4 5 1 . 6- 4 5 1\nChorus:\n4 1 5 6- . 2- 5 4 5"
    written = "Chorus:\n4 [up 2] 1 5 6- . 2- 5 4 5\nVerse:\n1 4 5 1 . 6- 4 5 1"
    report = grade(parse(song), parse(written))
    assert [bar.score for bar in report.bars if (bar.reference or 0) <= 8] == [1.0] * 8
    sign = next(one for one in report.advice if "wrote a key change" in one.text)
    assert [case.reference for case in sign.cases] == [*range(10, 17)]
    check_advice(report.advice, parse(song), parse(written))


def test_a_missing_sign_in_a_swapped_section_is_said_of_that_section() -> None:
    """The bars named end with the section, not with the song."""
    song = "Verse:\n1 4 5 1\nChorus:\n[up 2] 4 1 5 6-\nBridge:\n[down 2] 2- 5 4 5 . 3- 6- 2- 5"
    written = "Chorus:\n4 1 5 6-\nVerse:\n1 4 5 1\nBridge:\n2- 5 4 5 . 3- 6- 2- 5"
    report = grade(parse(song), parse(written))
    check_advice(report.advice, parse(song), parse(written))
    assert any("From bar 5 to bar 8, your numbers are right" in one.text for one in report.advice)


def test_wrong_signs_in_two_swapped_sections_are_told_apart() -> None:
    """Each is said of its own bars: they are no one act from the first to the second."""
    song = "Verse:\n1/3 6- 4 5 [up 1] b7\nChorus:\n4 1\n1 1\n5d 6- b7"
    written = "Chorus:\n4 [up 1] 1\n1 1\n5d 6- b7\nVerse:\n1/3 6- 4 5 [up 2] b7"
    report = grade(parse(song), parse(written))
    check_advice(report.advice, parse(song), parse(written))
    told_of = {min(case.reference or 0 for case in one.cases) for one in report.advice[1:]}
    assert told_of == {5, 7}


def test_two_signs_missing_that_cancel_leave_the_rest_in_the_songs_key() -> None:
    """With both signs of a key change and back missing, the bars after the second have full
    credit; with the first alone missing they have not.
    """
    song = parse("Verse:\n1 4 [up 2] 5 1 . [down 2] 6- 4 5 1")
    both = grade(song, parse("Verse:\n1 4 5 1 . 6- 4 5 1"))
    first = grade(song, parse("Verse:\n1 4 5 1 . [down 2] 6- 4 5 1"))
    assert [bar.score for bar in both.bars][5:] == [1.0] * 3
    assert all(bar.score < 1.0 for bar in first.bars[5:])


def test_signs_missing_on_both_sides_of_a_bar_left_out_with_its_own_sign() -> None:
    """The bar left out takes its change of key with it; the two signs beside it are one sentence,
    and what it says of the bars between them is true.
    """
    song = "Verse:\n[down 2] 1 4 5 . 1 [down 5] 6- 1 4 . [up 2] 5 1 4 1"
    written = "Verse:\n1 4 5 . 1 1 4 . 5 1 4 1"
    report = grade(parse(song), parse(written))
    check_advice(report.advice, parse(song), parse(written))
    assert any(
        one.text.startswith("From bar 1 to bar 7, your numbers are right in the new key")
        for one in report.advice
    )
