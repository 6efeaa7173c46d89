"""Say in two sentences what a teacher would say of an answer: what was good, and what to work on.

Both are true as they stand. The first names what is completely right: the form, the length
of every phrase, the roots (of some sections at least), the basses, splits and articulations that
the song has. What to work on is the kind of mistake that cost most, all its places together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from functools import lru_cache
from itertools import groupby, pairwise

from trainer.chart.model import Articulation
from trainer.grade.content import BarContent, ChartContent
from trainer.grade.report import Advice, BarGrade, FormGrade
from trainer.grade.text_pieces import bars_text, join_words

__all__ = ["summarise"]

MOST_GOOD, MOST_SECTIONS = 3, 3
# What a song may have here and there, what says most first.
SLASHES, SPLITS = "every bass note under a slash", "every split bar"
EVERY_ARTICULATION = {
    Articulation.HOLD: "every hold",
    Articulation.PUSH: "every push",
    Articulation.CHOKE: "every choke",
}
PARTS = (SLASHES, SPLITS, *EVERY_ARTICULATION.values())
MOST_CACHED = 1 << 12
NOTHING_TO_FIX = "There's nothing to fix. Try something harder next."
# Which kinds of advice are one thing to work on, and what it is called.
TOPICS = {
    "plain number": "the minor chords",
    "third": "telling major from minor",
    "quality": "the notes inside the chords",
    "other extension": "the notes inside the chords",
    "extension left out": "sevenths and other added notes",
    "extension added": "sevenths and other added notes",
    "bass left out": "the bass notes",
    "bass added": "the bass notes",
    "other bass": "the bass notes",
    "other chord": "hearing which chord it is",
    "accidental left out": "flats and sharps before the numbers",
    "exchanged": "hearing which chord it is",
    "left open": "writing something in every bar, even if it is a guess",
    "rest missed": "hearing when the band is silent",
    "rest written": "hearing when the band is silent",
    "split missed": "chords that change inside the bar",
    "split added": "chords that change inside the bar",
    "split otherwise": "chords that change inside the bar",
    "chords in the other order": "chords that change inside the bar",
    "beats": "which beat each chord comes on",
    "articulation left out": "holds, pushes and chokes",
    "articulation added": "holds, pushes and chokes",
    "articulation elsewhere": "holds, pushes and chokes",
    "other articulation": "holds, pushes and chokes",
    "meter": "the length of the bars",
    "meter elsewhere": "the length of the bars",
    "key change": "key changes",
    "left out": "counting bars",
    "added": "counting bars",
    "doubled": "counting bars",
    "split written as two bars": "counting bars",
    "two bars written as one": "counting bars",
    "counted double": "where each bar begins and ends",
    "counted half": "where each bar begins and ends",
    "not written": "carrying on with the song when you lose your place",
    "swapped": "the order of bars and sections",
    "phrases": "where each phrase ends",
    "copied": "what changes when a section comes back",
    "form": "section labels",
    "speed": "keeping up with the song",
}
PHRASE_LENGTHS = "every phrase length"
# Advice that is the one thing to work on wherever it is given.
WHOLE = {
    "empty": "Write down one phrase: count its bars, and find the 1.",
    "far off": "Work on one phrase at a time: count its bars, find the 1, then follow the bass.",
}


def summarise(
    reference: ChartContent,
    answer: ChartContent | None,
    rows: Sequence[BarGrade],
    form: FormGrade,
    advice: Sequence[Advice],
) -> tuple[str, str]:
    """Return what was good and what to work on, a sentence each.

    Parameters: `answer` None is an empty answer. `rows` are the graded bars; of an answer that is
    counted from another 1 or in another count, the bars as they were meant.
    """
    if answer is None:
        return "You haven't written anything yet.", WHOLE["empty"]
    counted = {case.answer for one in advice if one.kind == "counted double" for case in one.cases}
    # The second of two bars that are read as one has no bar of the song beside it.
    if counted:
        rows = [row for row in rows if row.reference is not None or row.answer not in counted]
    good = _good(reference, answer, rows, form)[:MOST_GOOD]
    if any(one.kind == "phrases" for one in advice):
        # As many bars between the ends, and not the bars that were played there.
        good = [one for one in good if one != PHRASE_LENGTHS]
    perfect = [row for row in rows if row.score == 1.0]
    right = sum(row.reference is not None for row in perfect) if not good else 0
    start = _start({one.kind for one in advice})
    if len(perfect) == len(rows):
        good = [f"all {len(reference)} bars" if len(reference) > 1 else "the bar"]
    elif not good and right:
        good = [f"{right} of {len(reference)} bars"]
    if good:
        first = f"{start} {join_words(good)} right."
    else:
        count = len(answer)
        first = f"You kept going: you wrote {count} bar{'' if count == 1 else 's'}."
    return first, _to_work_on(advice)


def _start(kinds: AbstractSet[str]) -> str:
    """Begin the praise, of what was meant where the 1 or the count is another."""
    if kinds & {"counted double", "counted half"}:
        return "With the bars counted as the band plays them, you got"
    if any(kind.startswith("home") and "key sign" not in kind for kind in kinds):
        return "Counted from the song's 1, you got"
    return "You got"


def _good(
    reference: ChartContent, answer: ChartContent, rows: Sequence[BarGrade], form: FormGrade
) -> list[str]:
    """Name what is completely right, what says most first."""
    good = []
    if len(reference.sections) > 1 and form.order == 1.0:
        good.append("the form")
    lengths = _lengths(reference)
    if len(lengths) > 1 and lengths == _lengths(answer):
        good.append(PHRASE_LENGTHS)
    if (roots := _roots(reference, rows)) is not None:
        good.append(roots)
    has, wrong = _parts_of(reference, rows)
    good += [noun for noun in PARTS if noun in has and noun not in wrong]
    return good


def _lengths(chart: ChartContent) -> list[int]:
    return [end - start for start, end in pairwise(chart.phrase_boundaries)]


def _roots(reference: ChartContent, rows: Sequence[BarGrade]) -> str | None:
    """Say where all roots are right: in the song or in some of its sections; None for nowhere."""
    right = {row[0] for row in rows if row[3] == 1.0 and row[1] is not None}
    own_bars = dict([row[:2] for row in rows])
    if right.issuperset(own_bars) and _in_order(own_bars, 1, len(reference)):
        return "all roots"
    stray = _sections_with_bars_too_many(reference, rows)
    names = [
        reference.sections[number].name
        for number, (start, end) in enumerate(pairwise(reference.section_boundaries))
        if number not in stray
        and right.issuperset(range(start + 1, end + 1))
        and _in_order(own_bars, start + 1, end)
    ]
    # Of sections that share a name, "all roots in Chorus" would say too much of one.
    every = [section.name for section in reference.sections]
    names = [
        name for name in dict.fromkeys(names) if name and names.count(name) == every.count(name)
    ]
    return f"all roots in {join_words(names[:MOST_SECTIONS])}" if names else None


def _in_order(own_bars: Mapping[int | None, int | None], first: int, last: int) -> bool:
    """Whether the bars from `first` to `last` are written in the order of the song."""
    written = [own for bar in range(first, last + 1) if (own := own_bars.get(bar)) is not None]
    return written == sorted(written)


def _sections_with_bars_too_many(reference: ChartContent, rows: Sequence[BarGrade]) -> set[int]:
    found, section = set(), 0
    bars = [row[0] for row in rows]
    for bar in bars if None in bars else ():
        if bar is not None:
            section = reference.section_of_bar[bar - 1]
        else:
            found |= {section, section + 1}
    return found


def _parts_of(reference: ChartContent, rows: Sequence[BarGrade]) -> tuple[set[str], set[str]]:
    """Return which of PARTS the song has, and which of them are wrong in some bar."""
    has: set[str] = set()
    wrong: set[str] = set()
    with_parts = {bar: parts for bar in {*reference.contents} if (parts := _parts(bar))}
    for found in with_parts.values():
        has |= found.keys()
    for row in rows if with_parts else ():
        one = row.reference
        here = None if one is None else with_parts.get(reference.contents[one - 1])
        if here is None:
            continue
        for noun, component in here.items():
            if row.answer is None or getattr(row, component) < 1.0:
                wrong.add(noun)
    return has, wrong


@lru_cache(maxsize=MOST_CACHED)
def _parts(bar: BarContent) -> dict[str, str]:
    """Return which of PARTS a bar has, each with the component of its grade that must be right."""
    found = {
        EVERY_ARTICULATION[articulation]: "articulation" for _, articulation in bar.articulations
    }
    if any(one.chord is not None and one.chord.bass is not None for one in bar.sonorities):
        found[SLASHES] = "bass"
    if bar.changes:
        found[SPLITS] = "score"
    return found


def _to_work_on(advice: Sequence[Advice]) -> str:
    """Name the one thing to work on, with its bars."""
    whole = [WHOLE[one.kind] for one in advice if one.kind in WHOLE]
    if whole:
        return whole[0]
    home = [one for one in advice if one.kind.startswith("home")]
    if home and home[0] is max(advice, key=lambda one: one.cost):
        return _home(home[0].kind.removeprefix("home: "))
    told = sorted((one for one in advice if one.kind in TOPICS), key=_topic)
    if not told:
        return NOTHING_TO_FIX
    groups = [(topic, list(inside)) for topic, inside in groupby(told, key=_topic)]
    topic, costliest = max(groups, key=lambda group: sum(one.cost for one in group[1]))
    return f"Work on {_pair(costliest) or topic}{_bars_of(costliest)}."


def _pair(advice: Sequence[Advice]) -> str:
    """Name the two chords that are taken for each other where the advice is on no others."""
    if any(one.kind != "other chord" for one in advice):
        return ""
    pairs = {(case.played, case.written) for one in advice for case in one.cases}
    if len(pairs) != 1:
        return ""
    played, written = pairs.pop()
    return f"telling {played} from {written}"


def _topic(advice: Advice) -> str:
    return TOPICS[advice.kind]


def _home(kind: str) -> str:
    """Say what to work on where numbers are counted from another 1."""
    if kind in ("relative major", "own minor 1"):
        return "Agree with the band on which 1 to count a minor song from."
    if kind.startswith(("key", "numbers")):
        return "Work on key changes: find the new 1, mark the change, and count from there."
    return "Work on finding the 1 before you write: it's where the song comes to rest."


def _bars_of(advice: Sequence[Advice]) -> str:
    """Name the bars of the song, or of the answer where none is of the song."""
    cases = [case for one in advice for case in one.cases]
    song = [case.reference for case in cases if case.reference is not None]
    own = [case.answer for case in cases if case.answer is not None]
    if song:
        return f": {bars_text(song)}"
    return f": your {bars_text(own)}" if own else ""
