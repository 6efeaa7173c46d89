"""What the page knows decides between alignments: labels, and when bars were written."""

from __future__ import annotations

from itertools import accumulate, pairwise

from trainer.chart import Chart, parse
from trainer.grade import Timing, Weights, grade

BAR_S = 2.0
SONG = """Verse:
1 4 1 5 . 1 4 2- 5
Chorus:
4 5 1 6- . 2- 5 1 1
Verse 2:
1 4 1 5 . 1 4 2- 5
Chorus:
4 5 1 6- . 2- 5 1 1
"""


def timed(song: Chart, done_after_bar: list[int], listens: int = 1) -> Timing:
    """Each bar of the answer finished as the bar of the song with that number ends."""
    ends = [0.0, *accumulate(BAR_S for _ in song.bars())]
    done = tuple(ends[bar] for bar in done_after_bar)
    return Timing(done, tuple(pairwise(ends)), BAR_S / 4, listens)


def places(song: str, answer: str, timing: Timing | None = None) -> list[int | None]:
    """The bars of the song that the bars of the answer stand for."""
    report = grade(parse(song), parse(answer), timing=timing)
    return [row.reference for row in report.bars if row.answer is not None]


def test_a_bar_written_early_in_the_song_is_not_one_of_its_end() -> None:
    """A bar written as bar n ended stands for one that had sounded, or a bar ahead of the sound,
    though a later one fits better.
    """
    song, answer = parse(SONG), "1 4 1 5 . 2- 5 1 1 . 1 4 1 5"
    ahead = [bar - k for k, bar in enumerate(places(SONG, answer), 1) if bar is not None]
    assert max(ahead) > 2
    timing = timed(song, list(range(1, 13)))
    ahead = [bar - k for k, bar in enumerate(places(SONG, answer, timing), 1) if bar is not None]
    assert max(ahead) <= 2


def test_bars_written_later_may_stand_for_any_that_have_sounded() -> None:
    """Who writes from memory after the song is not held to when it was written."""
    song, answer = parse(SONG), "Chorus:\n4 5 1 6- . 2- 5 1 1"
    timing = timed(song, [32] * 8)
    assert places(SONG, answer, timing) == places(SONG, answer)


def test_times_of_several_listens_say_nothing() -> None:
    """After a second listen a bar may have been heard before the time on the clock."""
    song, answer = parse(SONG), "1 4 1 5 . 2- 5 1 1 . 1 4 1 5"
    timing = timed(song, list(range(1, 13)), listens=2)
    assert places(SONG, answer, timing) == places(SONG, answer)


def test_the_grade_does_not_need_the_times() -> None:
    """What is right in its place is graded the same with and without them, and never worse."""
    song = parse(SONG)
    slips = parse(SONG.replace("6-", "4").replace("1 4 2- 5", "1 4 4 5", 1))
    timing = timed(song, list(range(1, 33)))
    assert grade(song, slips).score < 1.0
    assert grade(song, slips, timing=timing).score == grade(song, slips).score
    short, bars = parse("1 4 1 5 . 2- 5 1 1 . 1 4 1 5"), Weights(phrases=0.0, form=0.0)
    plain = grade(song, short, weights=bars).score
    timing = timed(song, list(range(1, 13)))
    assert grade(song, short, weights=bars, timing=timing).score >= plain - 1e-9
