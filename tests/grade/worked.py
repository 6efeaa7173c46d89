"""Worked mistakes: a song, what somebody wrote, the grade and the advice, as a page to read.

`python -m tests.grade.worked` writes docs/grading.md.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from tests.grade.rules import rules_table
from trainer.chart import Chart, parse
from trainer.grade import SCHEMES, Report, Timing, Weights, grade, weights_table, whole_percent

__all__ = ["MISTAKES", "PAGE", "WorkedMistake", "page"]

PAGE = Path(__file__).parents[2] / "docs" / "grading.md"
STANDARD = SCHEMES["standard"]
SONG = """Verse:
1 5/7 6- 4 . 1 4 2- 5^7
Chorus:
4 1/3 (1 5) 6- . 2- (4 5) 1 1d
"""
SHORT = "1 5/7 6- 4 . 1 4 2- 5^7"
BLUES = "1^7 4^7 1^7 1^7 . 4^7 4^7 1^7 1^7 . 5^7 4^7 1^7 5^7"


@dataclass(frozen=True)
class WorkedMistake:
    """A mistake: its name, and the song and the answer as text ("" for no answer)."""

    name: str
    song: str
    answer: str
    weights: Weights = STANDARD
    behind_from: int = 0

    @property
    def played(self) -> Chart:
        """The song."""
        return parse(self.song)

    @property
    def written(self) -> Chart | None:
        """The answer."""
        return parse(self.answer) if self.answer else None

    def report(self) -> Report:
        """The grade."""
        return grade(self.played, self.written, weights=self.weights, timing=self._timing())

    def _timing(self) -> Timing | None:
        """One listen, each bar written a beat after it ended; from some bar on, three bars late."""
        if not self.behind_from:
            return None
        bars = len(self.played.bars())
        starts = [2.4 * k for k in range(bars + 1)]
        done = [
            starts[k + 1] + 0.6 + 7.2 * (self.behind_from <= k + 1 < self.behind_from + 3)
            for k in range(bars)
        ]
        return Timing(tuple(done), tuple(pairwise(starts)), 0.6)


def _in(song: str, name: str, *changes: str, weights: Weights = STANDARD) -> WorkedMistake:
    """A mistake made by changing parts of a song: old, new, old, new."""
    answer = song
    for old, new in zip(changes[::2], changes[1::2], strict=True):
        if answer.count(old) != 1:
            raise ValueError(f"{name}: found {old!r} {answer.count(old)} times, expected it once")
        answer = answer.replace(old, new)
    return WorkedMistake(name, song, answer, weights)


VERSE, CHORUS = SONG.split("Chorus:", maxsplit=1)
MISTAKES = (
    # Whole bars.
    _in(SHORT, "A bar left out", "6- 4 .", "6- ."),
    _in("1 1 1 1 1 . 4 4 1 1", "The fifth bar of a phrase of five", "1 1 1 1 1", "1 1 1 1"),
    _in(SONG, "A phrase skipped", "4 1/3 (1 5) 6- . ", ""),
    WorkedMistake("A chart that stops early", SONG, VERSE),
    WorkedMistake("A chart that stops early, one bar of it wrong", SONG, "Verse:\n1 5/7 6- 1 . 1"),
    _in(SHORT, "A bar doubled", "6- 4 .", "6- 4 4 ."),
    _in(SHORT, "A bar that was not there", "6- 4 .", "6- 4 5 ."),
    _in(SONG, "A split written as two bars", "(1 5) 6-", "1 5 6-"),
    _in(SONG, "Two bars written as one split", "1 4 2- 5^7", "(1 4) 2- 5^7"),
    WorkedMistake("Every bar written as two", SHORT,
                  "1 1 5/7 5/7 6- 6- 4 4 . 1 1 4 4 2- 2- 5^7 5^7"),
    WorkedMistake("Every two bars written as one", SHORT, "(1 5/7) (6- 4) . (1 4) (2- 5^7)"),
    WorkedMistake("Two sections swapped", SONG, "Chorus:" + CHORUS + VERSE),
    WorkedMistake("Two phrases swapped", SHORT, "1 4 2- 5^7 . 1 5/7 6- 4"),
    _in(SHORT, "Two bars the other way round", "1 4 2- 5^7", "1 2- 4 5^7"),
    WorkedMistake("A flat forgotten", "1 5 b7 4 . 1 4 5 1", "1 5 7 4 . 1 4 5 1"),
    WorkedMistake("Two chords of a bar in the other order", "1 (4 5) 6- 4 . 1 4 5 1",
                  "1 (5 4) 6- 4 . 1 4 5 1"),
    WorkedMistake("A short bar in another place", "1 4 [2/4] 5 1 . 1 4 5 1",
                  "1 [2/4] 4 5 1 . 1 4 5 1"),
    WorkedMistake("Four bars for four bars, two of them wrong", "1 6- 4 1", "1 4 5 1"),
    # Chords.
    _in(SHORT, "Plain numbers for minor chords", "6-", "6", "2-", "2"),
    _in(SHORT, "4 for 2-: two notes in common", "2-", "4"),
    _in(SONG, "3- for 1/3: the same bass", "1/3", "3-"),
    _in(SHORT, "6- for 1", "1 4", "6- 4"),
    _in(SHORT, "Minor for major", "6- 4 .", "6- 4- ."),
    _in(SHORT, "A seventh not heard", "5^7", "5"),
    _in(SHORT, "A seventh that was not there", "1 4", "1 4^7"),
    _in(BLUES, "The other seventh", "5^7 4^7 1^7 5^7", "5^7 4^7 1^maj7 5^7"),
    _in("1 4 5^sus4 5", "A suspension not heard", "5^sus4", "5"),
    _in("1 4 7o 1", "Minor for diminished", "7o", "7-"),
    _in(SHORT, "A bass not heard", "5/7", "5"),
    _in(SHORT, "A bass that was not there", "1 4", "1/3 4"),
    _in(SONG, "Another bass", "1/3", "1/5"),
    _in("1 4 0 5", "A stop-time bar filled in", "0", "4"),
    _in(SHORT, "A chord written as silence", "2-", "0"),
    _in(SHORT, "A bar left open", "2-", "?"),
    # Inside the bar.
    _in(SONG, "A split not heard", "(1 5)", "1"),
    _in(SHORT, "A split that was not there", "6- 4 .", "(6- 5) 4 ."),
    _in(SONG, "A split on the wrong beat", "(4 5)", "(4''' 5')"),
    _in("1 (4' 5' 6-'') 1 1", "A bar split otherwise", "(4' 5' 6-'')", "(4'' 6-'')"),
    _in(SONG, "A hold not heard", "1d", "1"),
    _in(SHORT, "A push that was not there", "6- 4 .", "6- 4p ."),
    _in("1 4 5p 1", "One articulation for another", "5p", "5c"),
    _in("1 4 [2/4] 5 1 1", "A bar of two beats", "[2/4] 5", "5"),
    # Form, home, speed.
    _in(SHORT, "No phrase marked", " . ", " "),
    _in(SONG, "A section called something else", "Chorus", "Bridge"),
    _in("1 4 5 1 . [up 2] 1 4 5 1", "A key change not marked", "[up 2] ", ""),
    WorkedMistake(
        "A key change heard, the numbers counted in the old key",
        "1 4 5 1 . [up 2] 1 4 6- 5", "1 4 5 1 . 2 5 7- 6",
    ),
    _in("1 4 1 4 . [fade] 1 4 1 4", "A fade not marked", "[fade] ", ""),
    WorkedMistake("Counted from another home", SHORT, "4 1/3 2- b7 . 4 b7 5- 1^7"),
    WorkedMistake("A minor song from its relative major", "1- 4- b7 1- . b6 b3 b7 1-",
            "6- 2- 5 6- . 4 1 5 6-"),
    WorkedMistake("A few bars behind", SONG, SONG, behind_from=9),
    WorkedMistake("Next to nothing right", SHORT, "3 b7 2- b6 . 3 b2 5 1"),
    WorkedMistake("Nothing written", SHORT, ""),
    # As asked.
    _in(SHORT, "Only roots asked, a bass and a minus missing", "5/7", "5", "6-", "6",
        weights=SCHEMES["roots"]),
    _in(SHORT, "A house that writes 2, 3 and 6 for minor", "2-", "2",
        weights=Weights(plain_minor=True)),
)  # fmt: skip


def page() -> str:
    """The page as Markdown."""
    return "\n".join(_lines()) + "\n"


def _lines() -> Iterator[str]:
    yield "# How charts are graded"
    yield ""
    yield "Written by `python -m tests.grade.worked`; what each number means stands in"
    yield "`trainer/grade`."
    yield ""
    yield "## The rules"
    yield ""
    yield "A chart is explained by what its writer did, at the least cost, and graded so: a right"
    yield "bar earns its credit, and each of these takes away, or keeps, what is declared here."
    yield "The grade of each example was measured."
    yield ""
    yield from rules_table()
    yield ""
    yield 'A level asks for more than a grade: see "When a level is passed" in'
    yield "[practice.md](practice.md)."
    yield ""
    yield "## How a bar is scored"
    yield ""
    yield "| part | weight | |"
    yield "|---|---|---|"
    for row in weights_table(STANDARD):
        yield f"| `{row.part}` | {row.weight:g} | {row.meaning} |"
    yield ""
    yield "A bar's parts are weighed against each other, and so are the chart's. A teacher may"
    yield "change any of them: `chart-trainer grade --weights FILE`."
    yield ""
    yield "## Worked mistakes"
    yield ""
    yield "| | mistake | song | answer | grade | advice |"
    yield "|---|---|---|---|---|---|"
    for number, mistake in enumerate(MISTAKES, 1):
        report = mistake.report()
        advice = "<br>".join(one.text for one in report.advice)
        song, answer = _cell(mistake.song), _cell(mistake.answer) if mistake.answer else "nothing"
        score = f"{whole_percent(report.score)}%"
        yield f"| {number} | {mistake.name} | {song} | {answer} | {score} | {advice} |"


def _cell(text: str) -> str:
    """A chart in one cell of a table."""
    return "<br>".join(f"`{line}`" for line in text.splitlines())


if __name__ == "__main__":
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(page(), encoding="utf-8")
