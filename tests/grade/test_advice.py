"""Worked mistakes: what is said about them, read as a teacher would."""

from __future__ import annotations

import pytest

from trainer.chart import Chart, parse
from trainer.grade import Weights, grade
from trainer.grade.bar_losses import CHORD_MISTAKES
from trainer.grade.text_pieces import bars_text, beats_text, join_words
from trainer.grade.wording import WORDINGS

SONG = """Verse 1:
1 1 4 4 . 1 5/7 6- 5 5
Chorus:
4 5 (1 5/7) 6- . 2- 5^7 1 1d
"""


def changed(old: str, new: str) -> Chart:
    """The song with one thing written otherwise."""
    assert old in SONG
    return parse(SONG.replace(old, new))


WORKED = {
    "left out": (
        changed("5 5\nCh", "5\nCh"),
        (
            "You left out bar 9 (Verse 1): the band played 5 there. The phrase is five "
            "bars long (5–9), and you wrote four. Count until the vocal starts over."
        ),
    ),
    "plain number": (
        parse(SONG.replace("6-", "6").replace("2-", "2")),
        (
            "Bars 7 and 13–14: the band played 6- and 2-, and you wrote 6 and 2. A plain "
            "number means a major chord. Write the minus sign when the chord is minor."
        ),
    ),
    "bass left out": (
        parse(SONG.replace("5/7", "5")),
        (
            "Bars 6 and 12: the band played 5/7 and you wrote 5. You have the right chord "
            "but not the bass note. Listen to the lowest note: it's 7, not 5."
        ),
    ),
    "other chord": (
        changed("2-", "4"),
        (
            "Bar 14 (bar 5 of Chorus): the band played 2- and you wrote 4. The chords "
            "share two notes (4 and 6). Listen to the bass: it's on 2, not 4."
        ),
    ),
    "extension left out": (
        changed("5^7", "5"),
        (
            "Bar 15 (bar 6 of Chorus): the band played 5^7 and you wrote 5. You have the "
            "right chord, but there's more in it: listen for 4."
        ),
    ),
    "split missed": (
        changed("(1 5/7)", "1"),
        (
            "Bar 12 (bar 3 of Chorus): the band played 1 and 5/7, two beats each, and you "
            "wrote 1 for the whole bar. Listen for the bass moving inside the bar."
        ),
    ),
    "beats": (
        changed("(1 5/7)", "(1''' 5/7')"),
        (
            "Bar 12 (bar 3 of Chorus): you have the right chords on the wrong beats. The "
            "band played 1 and 5/7, two beats each, and you wrote (1''' 5/7'). Count the "
            "beats up to the change."
        ),
    ),
    "split written as two bars": (
        changed("(1 5/7)", "1 5/7"),
        (
            "Bar 12 (bar 3 of Chorus) is one bar, (1 5/7), and you wrote two, 1 5/7. Count "
            "the beats: the chord changes inside the bar."
        ),
    ),
    "two bars written as one": (
        changed("4 5 (1 5/7)", "(4 5) (1 5/7)"),
        (
            "Bars 10–11 (Chorus) are two bars, 4 5, and you wrote one, (4 5). Count the "
            "beats: each chord lasts a bar."
        ),
    ),
    "doubled": (
        changed("1 1 4 4 .", "1 1 1 4 4 ."),
        (
            "Your bar 3 (1) repeats the bar before: the band played 1 for two bars and you "
            "wrote it for three; after bar 2 comes 4. Count the bars as they go by."
        ),
    ),
    "added": (
        changed("6- . 2-", "6- 4 . 2-"),
        (
            "The band didn't play your bar 14 (4): after bar 13 comes 2-. The phrase is "
            "four bars long (10–13), and you wrote five. Count until the vocal starts over."
        ),
    ),
    "swapped": (
        parse("Chorus:" + SONG.split("Chorus:")[1] + SONG.split("Chorus:", maxsplit=1)[0]),
        (
            "Bars 1–17: you swapped Verse 1 and Chorus. Verse 1 came first. Write the "
            "section labels down first, in the order they come."
        ),
    ),
    "articulation left out": (
        changed("1d", "1"),
        (
            "Bar 17 (bar 8 of Chorus): the band played a hold (diamond), 1d, and you missed "
            "it. Listen: on a hold, the band strikes the chord once and lets it ring."
        ),
    ),
    "third": (
        changed("4 5 (1 5/7)", "4- 5 (1 5/7)"),
        (
            "Bar 10 (bar 1 of Chorus): the band played 4 and you wrote 4-. You have the "
            "right root but not the third. Listen to the third: it's 6 (major, brighter), "
            "not b6."
        ),
    ),
    "rest written": (
        changed("1 1d", "0 1d"),
        (
            "Bar 16 (bar 7 of Chorus): the band played 1 and you wrote a rest (0). A chord "
            "lasts until the next one unless the band stops."
        ),
    ),
    "left open": (
        changed("1 1d", "? 1d"),
        (
            "You left bar 16 (bar 7 of Chorus) open: the band played 1. A guess costs no more than "
            "an open bar."
        ),
    ),
    "phrases": (
        parse(SONG.replace(" . ", " ")),
        (
            "You didn't mark the phrase ends after bars 4 and 13 of the song. Listen for "
            "where the vocal starts over."
        ),
    ),
    "form": (
        parse(SONG.replace("Chorus", "Bridge")),
        "Section labels: you labelled Chorus (bar 10) Bridge.",
    ),
}


@pytest.mark.parametrize("kind", WORKED)
def test_one_mistake_is_one_piece_of_advice(kind: str) -> None:
    """Each worked mistake is named once, in these words, and costs what the grade lost."""
    answer, text = WORKED[kind]
    report = grade(parse(SONG), answer)
    assert [(advice.kind, advice.text) for advice in report.advice] == [(kind, text)]
    assert report.advice[0].cost == pytest.approx(1.0 - report.score)


def test_a_skipped_phrase_and_a_skipped_section_are_named_as_such() -> None:
    """Four bars between two boundaries are a phrase; a labelled part is a section."""
    report = grade(parse(SONG), changed("4 5 (1 5/7) 6- . ", ""))
    assert [(one.kind, one.unit) for one in report.edits] == [("left out", "phrase")]
    assert "a whole phrase: the band played 4 5 (1 5/7) 6- there" in report.advice[0].text
    song = SONG + "Bridge:\n2- 3- 4 5\n"
    report = grade(parse(song), parse(SONG.split("Chorus", maxsplit=1)[0] + "Bridge:\n2- 3- 4 5\n"))
    assert [(one.kind, one.unit) for one in report.edits] == [("left out", "section")]
    assert report.advice[0].text.startswith(
        "You left out the whole of Chorus (bars 10–17): the band played "
    )


def test_bars_left_out_here_and_there_are_said_in_one_breath() -> None:
    """Two bars in two phrases are two edits and one piece of advice; so are bars added."""
    short = parse(SONG.replace("1 1 4 4", "1 1 4").replace("2- 5^7", "5^7"))
    report = grade(parse(SONG), short)
    assert [one.reference for one in report.edits] == [(4,), (14,)]
    assert [advice.text for advice in report.advice] == [
        (
            "You left out bars 4 and 14: the band played 4 in bar 4 (a phrase of four "
            "bars) and 2- in bar 14 (a phrase of four bars). Count the bars of each phrase "
            "until the vocal starts over."
        )
    ]
    report = grade(short, parse(SONG))
    assert [one.answer for one in report.edits] == [(4,), (14,)]
    assert report.advice[0].text.startswith(("Your bar 4", "Your bar 14"))
    report = grade(parse(SONG), parse(SONG.replace("6- . ", "6- b7 . ").replace("1d", "1d b7")))
    assert report.advice[0].text == (
        "The band didn't play your bars 14 and 19. Count the bars of each phrase until "
        "the vocal starts over."
    )


def test_a_chart_that_stops_early_is_said_to_stop() -> None:
    """Three or more bars missing at the end are not called left out."""
    report = grade(parse(SONG), parse(SONG.split(" . 2-", maxsplit=1)[0]))
    assert report.advice[0].text == (
        "Bars 14–17 (Chorus) are missing: your chart goes up to bar 13 of the song. "
        "When you lose your place, leave a gap and carry on with the song."
    )


def test_swapped_phrases_are_named_once() -> None:
    """Two neighbouring phrases in the other order are one mistake."""
    report = grade(parse("1 4 1 5 . 2- 5 1 6-"), parse("2- 5 1 6- . 1 4 1 5"))
    assert [(one.kind, one.unit) for one in report.edits] == [("swapped", "phrase")]
    assert len(report.advice) == 1


def test_a_song_that_repeats_is_not_taken_for_swapped() -> None:
    """Verse and chorus in turn, with one wrong bar: the other order is next door, and not meant."""
    song = "Verse:\n1 4 1 5\nChorus:\n4 5 1 1\n" * 3
    for number in range(song.count("Verse")):
        parts = song.split("1 4 1 5")
        wrong = (
            "1 4 1 5".join(parts[: number + 1]) + "1 4 2 5" + "1 4 1 5".join(parts[number + 1 :])
        )
        report = grade(parse(song), parse(wrong))
        assert not report.edits
        assert [advice.kind for advice in report.advice] == ["other chord"]


def test_a_dot_in_the_wrong_place_is_told_from_both_sides() -> None:
    """What ends in the song and what ends in the answer."""
    report = grade(parse(SONG), changed("4 4 . 1 5/7", "4 4 1 . 5/7"))
    assert report.advice[0].text == (
        "You didn't mark the phrase end after bar 4 of the song, and you marked a phrase "
        "end after your bar 5, where there is none. Listen for where the vocal starts "
        "over."
    )


def test_every_mistake_is_said_the_dearest_first() -> None:
    """Four mistakes are four pieces of advice, however little the last one cost."""
    answer = parse(
        SONG.replace("2-", "4").replace("1d", "1").replace("5^7", "5").replace("6- 5 5", "1 5 5")
    )
    kinds = [advice.kind for advice in grade(parse(SONG), answer).advice]
    assert kinds == [
        "other chord",
        "other chord",
        "articulation left out",
        "extension left out",
    ]


def test_far_off_answers_get_one_word_to_start_again_with() -> None:
    """Where next to nothing agrees, a list of bars would not help."""
    report = grade(parse(SONG), parse("3 b7 2 7o b6 b2 3 b3 2 2 3 3 b7 b7 b6 b6 b2"))
    assert [advice.kind for advice in report.advice] == ["far off"]
    assert report.advice[0].text.startswith("Of the 17 bars you wrote, none has the right root.")


def test_an_empty_answer_is_told_where_to_start() -> None:
    """No marks, no list of every bar."""
    report = grade(parse(SONG), None)
    assert report.score == 0.0
    assert [advice.kind for advice in report.advice] == ["empty"]
    assert [bar.answer for bar in report.bars] == [None] * 17


def test_what_does_not_count_is_not_advised_on() -> None:
    """Advice follows the weights."""
    report = grade(parse(SONG), changed("1d", "1"), weights=Weights(articulation=0.0))
    assert report.score == 1.0
    assert [advice.kind for advice in report.advice] == ["all right"]


def test_every_kind_of_chord_mistake_has_a_wording() -> None:
    """No confusion is left without words."""
    assert set(WORDINGS) >= CHORD_MISTAKES


@pytest.mark.parametrize(
    ("played", "written", "said"),
    [
        ("5^sus4", "5", "Listen inside the chord: it has 1, not 7."),
        ("1^maj7", "1^7", "Listen inside the chord: it has 7, not b7."),
        ("5", "5^7", "You have the right chord, but the band played it plainer: 4 isn't in it."),
        ("1", "1/3", "You have the right chord, and the bass plays its root, so there's no slash."),
        (
            "1/5",
            "1/3",
            (
                "You have the right chord but not the bass note. Listen to the lowest note: "
                "it's 5, not 3."
            ),
        ),
        (
            "1/3",
            "3-",
            ("The chords share two notes (3 and 5), including the bass. Listen above the bass:"),
        ),
        ("0", "1", "the band was silent and you wrote 1. Write 0 when the band is silent."),
        ("1", "(1 4)", "the band played 1 for the whole bar, and you wrote (1 4)."),
        (
            "(1 4)",
            "(1' 4'' 5')",
            "the band played 1 and 4, two beats each, and you wrote (1' 4'' 5').",
        ),
        ("(1''' 4')", "1", "the band played 1 and 4, three beats and then one, and you wrote 1"),
        ("1p", "1d", "the band played a push and you wrote a hold (diamond)."),
        ("1", "1c", "you wrote a choke, but the band didn't play one."),
        ("[2/4] 1", "1", "Bar 2 is a short bar of 2/4 (two beats), and you wrote 4/4."),
        ("[up 2] 1", "1", "you didn't mark the change: the band would stay in the old key."),
        ("[down 1] 1", "[up 1] 1", "the key moves down a half step, and you wrote [up 1]."),
        ("1", "[up 2] 1", "You wrote a key change, [up 2], at bar 2, but the key stays the same."),
        ("5o", "5-", "The root is right. Listen inside the chord: it has b2, not 2."),
    ],
)
def test_the_words_for_one_bar(played: str, written: str, said: str) -> None:
    """Bar 2 of three, everything else right."""
    report = grade(parse(f"1 {played} 6-"), parse(f"1 {written} 6-"))
    assert said in report.advice[0].text
    assert "ar 2" in report.advice[0].text.split(". ", maxsplit=1)[0]


def test_words_for_lists() -> None:
    """Stretches are joined, and every bar is named."""
    assert bars_text([3]) == "bar 3"
    assert bars_text([1, 2, 3, 7]) == "bars 1–3 and 7"
    assert bars_text([1, 3, 5, 7, 9, 11, 13, 14]) == "bars 1, 3, 5, 7, 9, 11 and 13–14"
    assert join_words(["a"]) == "a"
    assert join_words(["a", "b", "c"]) == "a, b and c"
    bar = parse("(1 4 5)").bars()[0]
    assert beats_text([event.beats for event in bar.events]) == "dividing the bar evenly"
