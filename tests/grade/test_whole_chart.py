"""Phrase boundaries and speed."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.errors import InputError
from trainer.grade import Timing, Weights, grade, report_to_json

SONG = parse("1 4 5 1 6- 4 5 1")
BARS = tuple((2.0 + 2.0 * k, 4.0 + 2.0 * k) for k in range(8))


def test_a_boundary_one_bar_off_is_near_and_not_exact() -> None:
    """Boundaries at 4 and 8 written at 4 and 9: half of them exact, all within one bar."""
    phrases = grade(
        parse("1 1 1 1 . 4 4 4 4 . 5 5 5 5"), parse("1 1 1 1 . 4 4 4 4 5 . 5 5 5")
    ).phrases
    assert (phrases.precision, phrases.recall, phrases.f) == (0.5, 0.5, 0.5)
    assert phrases.near_f == 1.0


def test_one_phrase_songs_agree() -> None:
    """Neither side has a boundary inside: perfect; only one has: nothing agrees."""
    assert grade(parse("1 4 5 1"), parse("1 4 5 1")).phrases.f == 1.0
    report = grade(parse("1 4 5 1"), parse("1 4 . 5 1"))
    assert (report.phrases.precision, report.phrases.recall, report.phrases.f) == (0, 0, 0)
    assert report.score < 1.0


@pytest.mark.parametrize("gone", range(5))
def test_a_bar_left_out_does_not_move_the_boundaries(gone: int) -> None:
    """Whichever bar of the second phrase is missing, its boundaries are where they were."""
    bars = ["4", "5", "1", "2-", "5"]
    del bars[gone]
    report = grade(
        parse("1 6- 4 5 . 4 5 1 2- 5 . 1 1 1 1"), parse(f"1 6- 4 5 . {' '.join(bars)} . 1 1 1 1")
    )
    assert report.phrases.f == 1.0


def test_phrases_and_form_count_only_where_there_is_something_to_hear() -> None:
    """A song of one phrase in one section is graded by its bars alone."""
    assert grade(parse("1 4 5 1"), parse("1 4 5 4")).score == pytest.approx(
        grade(parse("1 4 5 1"), parse("1 4 5 4"), weights=Weights(phrases=0, form=0)).score
    )


def timing(*done: float | None, listens: int = 1, paused: bool = False) -> Timing:
    """Bars of two seconds at half a second a beat, after a count-off of two seconds."""
    return Timing(done, BARS, 0.5, listens, paused)


def test_lag_is_counted_in_beats_from_where_the_bar_began() -> None:
    """A bar that is finished as it ends is four beats behind its start."""
    report = grade(SONG, SONG, timing=timing(*(end for _, end in BARS)))
    assert [bar.lag_beats for bar in report.bars] == [4.0] * 8
    assert report.speed is not None
    assert report.speed.median_lag_beats == report.speed.most_lag_beats == 4.0
    assert report.speed.bars_a_minute == pytest.approx(30.0)
    assert report.speed.fell_behind is None
    assert report.speed.lag_beats == (4.0,) * 8


def test_lags_follow_the_alignment() -> None:
    """Where a bar is left out, later bars are timed against their own; the gap has no lag."""
    report = grade(
        SONG,
        parse("1 5 1 6- 4 5 1"),
        timing=timing(*(end for k, (_, end) in enumerate(BARS) if k != 1)),
    )
    assert [bar.lag_beats for bar in report.bars] == [4.0, None, *[4.0] * 6]
    assert report.speed is not None
    assert report.speed.lag_beats[1] is None


@pytest.mark.parametrize(
    ("late", "listens", "paused", "expected"),
    [
        (0.0, 1, False, True),
        (2.0, 1, False, True),
        (2.1, 1, False, False),
        (0.0, 2, False, False),
        (0.0, 1, True, False),
    ],
)
def test_first_pass_is_one_listen_no_pause_and_done_with_the_song(
    late: float, listens: int, paused: bool, expected: bool
) -> None:
    """The last bar may be written up to one bar after the song has ended."""
    done = [end for _, end in BARS]
    done[-1] += late
    report = grade(SONG, SONG, timing=timing(*done, listens=listens, paused=paused))
    assert report.speed is not None
    assert report.speed.first_pass is expected


def test_falling_behind_is_the_longest_late_stretch() -> None:
    """Bars 4 to 6 lag a bar behind the others; bar 4 is named and advised on."""
    done = [end + (2.0 if 3 <= k <= 5 else 0.0) for k, (_, end) in enumerate(BARS)]
    report = grade(SONG, SONG, timing=timing(*done))
    assert report.speed is not None
    assert report.speed.fell_behind == 4
    assert [advice.kind for advice in report.advice] == ["speed"]
    assert "bar 4" in report.advice[0].text


def test_who_writes_ahead_is_not_behind() -> None:
    """A chart written before the song is played has fallen behind nowhere, however uneven."""
    report = grade(SONG, SONG, timing=timing(*(0.1 * k for k in range(8))))
    assert report.speed is not None
    assert report.speed.median_lag_beats is not None
    assert report.speed.median_lag_beats < 0
    assert report.speed.fell_behind is None


def test_unknown_times_are_none() -> None:
    """A bar without a time has no lag, and the pass is not known to be the first."""
    report = grade(SONG, SONG, timing=timing(*([None] * 8)))
    assert {bar.lag_beats for bar in report.bars} == {None}
    assert report.speed is not None
    assert report.speed.median_lag_beats is None
    assert report.speed.bars_a_minute is None
    assert not report.speed.first_pass
    assert report_to_json(report)["speed"]["lag_beats"] == [None] * 8


def test_an_empty_answer_has_no_speed_but_counts_listens() -> None:
    """Nothing was written, three times."""
    report = grade(SONG, None, timing=timing(listens=3))
    assert report.speed is not None
    assert (report.speed.listens, report.speed.first_pass) == (3, False)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: grade(SONG, SONG, timing=timing(1.0, 2.0)), "found 2 bar_done_s.* 8"),
        (lambda: grade(SONG, SONG, timing=Timing((1.0,) * 8, BARS[:3], 0.5)), "3 bar_times_s.* 8"),
        (lambda: grade(SONG, None, timing=timing(1.0)), "found 1 bar_done_s.* 0"),
        (lambda: timing(float("nan")), "not finite"),
        (lambda: Timing((), BARS, 0.0), "0.0 seconds per beat"),
        (lambda: timing(listens=-1), "-1 listens"),
    ],
)
def test_times_that_do_not_fit_are_refused(make: object, said: str) -> None:
    """The error says what was found and what was expected."""
    assert callable(make)
    with pytest.raises(InputError, match=said):
        make()


def test_swapped_sections_keep_the_lags_in_the_songs_order() -> None:
    """One lag for each bar of the reference; out of order is not behind."""
    song, answer = "Verse:\n1 4 2- 5\nChorus:\n4 5 1 6-\n", "Chorus:\n4 5 1 6-\nVerse:\n1 4 2- 5\n"
    report = grade(parse(song), parse(answer), timing=timing(*(end - 2 for _, end in BARS)))
    assert [one.kind for one in report.edits] == ["swapped"]
    assert report.speed is not None
    assert list(report.speed.lag_beats) == [16.0] * 4 + [-16.0] * 4
    assert report.speed.fell_behind is None
    assert [bar.lag_beats for bar in report.bars] == list(report.speed.lag_beats)
