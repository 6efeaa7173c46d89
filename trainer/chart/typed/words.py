"""Words of chords in numbers, with or without spaces between the chords, in any habitual spelling.

A word is what stands between spaces, brackets, bar lines, commas and dots. `read_numbers` cuts it
into chords, each written as the notation has it, and finds what could be read in two ways: `57`,
`6-745`, `1-5-6-4`.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from trainer.chart.chords import EXTENSIONS
from trainer.chart.typed.spellings import Spelling, read_spelling

__all__ = ["ChordPiece", "Reading", "WordDoubt", "read_numbers"]

HEAD = re.compile(r"([<◇⬦◆♦]?)(?:([b#]?)([1-7])|(0))")
PART = re.compile(
    r"(?P<bass>/[b#]?[1-7])|(?P<ticks>['\"]+)|(?P<articulation>[dDpPcC](?![ac-zA-Z]))"
    r"|(?P<diamond>[>◇⬦◆♦])"
)
QUALITY_OR_BASS = re.compile(r"[-o+ømMΔ]|(?i:dim|hdim|aug|sus|add)|/[b#]?[1-7]")
TICKS = re.compile(r"['\"]*")
SUPERSCRIPTS = dict(zip("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻ᵃᵈᵍⁱʲᵐⁿᵒˢᵘ", "0123456789+-adgijmnosu", strict=True))
RAISED = "".join(SUPERSCRIPTS)
SUPERSCRIPT_RUN = re.compile(
    rf"(?P<signs>[⁺⁻]*)(?P<figures>(?:[{RAISED}][b#]?)*)(?P<others>[^{RAISED}]*)"
)
SUPERSCRIPT = re.compile(f"[{RAISED}]")
# Whole words that name a chord which the notation does not have. In longer words their figures are
# bars: 6m13 is no chord, but 46m135 is five bars.
NO_SUCH_CHORD = re.compile(
    r"[b#]?[1-7](?:(?:(?i:maj|ma|min|mi|dim|aug|hdim)|[mM])1[13]|(?:(?:(?i:maj|ma)|[MΔ])[79]|9)[b#]5)"
)
JOINED = re.compile(r"[b#]?[1-7]\+[b#]?[1-6]")
ACCENTED = re.compile(r"(?P<before>[<>^]?)(?P<chord>[b#]?[0-7][^<>!]*?)(?P<after>!+|[<>]?)")
PUSH, HOLD, CHOKE = (
    ("p", "a push (an eighth early)"), ("d", "a hold (let it ring)"),
    ("c", "a choke (struck and stopped dead)"),
)  # fmt: skip
LOUDER = ("", "only louder")
# What an accent may mean, as the letter of an articulation and in words.
ACCENTS = {
    "!": (CHOKE, HOLD, LOUDER), ">": (PUSH, LOUDER), "<": (PUSH, HOLD), "^": (CHOKE, PUSH, LOUDER),
}  # fmt: skip
# Degrees whose plain chord is minor in a major key, so that a dash after them is minor.
MINOR_DEGREES = frozenset("236")


class ChordPiece(NamedTuple):
    """One chord of a word, from index `start` to `end`, in the signs of the notation.

    `root` is a degree with its accidental, or "0" for no chord; `articulation` is "d", "p", "c" or
    "". `figure` is where a figure begins that could be a bar of its own.
    """

    start: int
    end: int
    root: str
    quality: str = ""
    extension: str = ""
    bass: str = ""
    ticks: int = 0
    articulation: str = ""
    figure: int | None = None

    @property
    def text(self) -> str:
        """The chord as the notation writes it."""
        extension = f"^{self.extension}" if self.extension else ""
        bass = f"/{self.bass}" if self.bass not in ("", self.root) else ""
        ticks = "'" * self.ticks
        return f"{self.root}{self.quality}{extension}{bass}{ticks}{self.articulation}"

    @property
    def is_plain(self) -> bool:
        """Whether the chord has neither quality nor extension."""
        return not self.quality and not self.extension


class WordDoubt(NamedTuple):
    """A stretch of a word that can be read in two ways; each reading is a sequence of chords.

    `labels` say what each reading is; by default they are the chords themselves.
    """

    start: int
    end: int
    asked: str
    readings: tuple[tuple[str, ...], ...]
    labels: tuple[str, ...] = ()


class Reading(NamedTuple):
    """The chords of a word, one bar each unless brackets say otherwise, and what is doubtful.

    In a doubtful stretch the chords are those of its first reading.
    """

    chords: tuple[ChordPiece, ...]
    doubts: tuple[WordDoubt, ...] = ()


@lru_cache(maxsize=4096)
def read_numbers(word: str, is_major: bool) -> Reading | None:
    """Read a word as chords in numbers; None if it is not made of chords from end to end.

    `is_major` is whether the chart's key is a major one, where a minor 1, 4 or 5 is rare.
    """
    if SUPERSCRIPT.search(word) is not None:
        return _read_superscripts(word, is_major)
    accented = _accented(word)
    if accented is not None:
        return accented
    parts = _parts_between_dashes(word)
    if len(parts) > 2:
        return _dashes(parts, ask=True)
    if is_major and JOINED.fullmatch(word) is not None:
        return _joined_by_plus(word)
    whole = chord_at(word, 0)
    if whole is not None and whole.end == len(word):
        return _one_chord(whole, parts, is_major)
    if NO_SUCH_CHORD.fullmatch(word) is not None:
        return None
    if len(parts) == 2 and (_with_minors(parts) is None or _is_rarely_minor(parts[0], is_major)):
        return _dashes(parts, ask=is_major)
    return _run(word)


def _accented(word: str) -> Reading | None:
    """Read one chord with an accent before or after it, such as 1!, >1 or ^1; else None.

    An accent says how the chord is struck, and leaders differ in what they mean by it.
    """
    match = ACCENTED.fullmatch(word)
    if match is None or bool(match["before"]) == bool(match["after"]):
        return None
    chord = chord_at(match["chord"], 0)
    if chord is None or chord.end < len(match["chord"]) or chord.articulation:
        return None
    sign = match["before"] or match["after"][0]
    letters, labels = zip(*ACCENTS[sign], strict=True)
    ways = tuple(
        chord._replace(start=0, end=len(word), articulation=letter or "") for letter in letters
    )
    if chord.root == "0":
        return Reading((chord._replace(start=0, end=len(word)),))
    readings = tuple((way.text,) for way in ways)
    doubt = WordDoubt(0, len(word), f"What does the {sign} mean?", readings, labels)
    return Reading((ways[0],), (doubt,))


def _joined_by_plus(word: str) -> Reading:
    """Read 1+5 as an augmented 1 and then 5, or as one bar of 1 and 5: that is asked about."""
    first, second = word.split("+")
    chords = (
        ChordPiece(0, len(first) + 1, first, "+"),
        ChordPiece(len(first) + 1, len(word), second),
    )
    readings = ((f"{first}+", second), (f"({first} {second})",))
    asked = f"{first}+ (augmented) and then {second}, or {first} and {second} in one bar?"
    return Reading(chords, (WordDoubt(0, len(word), asked, readings),))


def chord_at(word: str, at: int) -> ChordPiece | None:
    """Read the chord at an index of a word; None if there is none."""
    head = HEAD.match(word, at)
    if head is None:
        return None
    opening, accidental, degree, silence = head.groups("")
    if silence:
        ticks = TICKS.match(word, head.end())
        return (
            None
            if opening or ticks is None
            else ChordPiece(at, ticks.end(), "0", ticks=_count(ticks[0]))
        )
    reader = _ChordReader(word, head.end(), "d" if opening else "")
    reader.read()
    if (opening == "<") != (reader.closed == ">"):
        return None
    found = reader.spelling
    return ChordPiece(
        at, reader.end, accidental + degree, found.quality, found.extension,
        reader.bass, reader.ticks, reader.articulation, None if opening else found.figure,
    )  # fmt: skip


class _ChordReader:
    """Reads what follows a number, in any order, each kind of sign once."""

    def __init__(self, word: str, end: int, articulation: str) -> None:
        self.word, self.end, self.articulation = word, end, articulation
        self.spelling = Spelling(end, "", "", "")
        self.bass, self.ticks, self.closed = "", 0, ""

    def read(self) -> None:
        while self._spelling() or self._part():
            pass

    def _spelling(self) -> bool:
        """Read quality and extension; after other signs only where no bar could begin there."""
        sign = self.word[self.end : self.end + 1]
        if sign != "^" and (self.bass or self.ticks or (self.articulation and sign.isdigit())):
            return False
        before = self.spelling.short
        longer = read_spelling(self.word, self.end, free=False, before=before)
        figure = longer.figure
        # A dash with a 6 or an 11 after it is a minor chord with other bars after it, as in 2-6.
        if figure is not None and self.word[figure] != "7" and self.word[figure - 1] == "-":
            longer = read_spelling(self.word[:figure], self.end, free=False, before=before)
        if longer.end == self.end:
            return False
        self.spelling, self.end = longer, longer.end
        return True

    def _part(self) -> bool:
        """Read a bass, ticks, an articulation or the end of a diamond."""
        part = PART.match(self.word, self.end)
        if part is None:
            return False
        kind, text = part.lastgroup, part[0]
        if kind == "bass" and not self.bass:
            self.bass = text[1:]
        elif kind == "ticks":
            self.ticks += _count(text)
        elif kind == "articulation" and not self.articulation:
            self.articulation = text.lower()
        elif kind == "diamond" and not self.closed and self.articulation in ("", "d"):
            self.closed, self.articulation = text, "d"
        else:
            return False
        self.end = part.end()
        return True


def _count(ticks: str) -> int:
    """The number of beat ticks; a double quote counts as two."""
    return len(ticks) + ticks.count('"')


def _one_chord(chord: ChordPiece, parts: Sequence[ChordPiece], is_major: bool) -> Reading:
    """Read a word that is one chord; in a major key, 5-7 may be two chords joined by a dash."""
    if chord.figure is None or len(parts) != 2 or not _is_rarely_minor(parts[0], is_major):
        return Reading((chord,))
    apart = tuple(part.text for part in parts)
    asked = f"{chord.text}, or {apart[0]} and then {apart[1]}?"
    return Reading((chord,), (WordDoubt(chord.start, chord.end, asked, ((chord.text,), apart)),))


def _is_rarely_minor(chord: ChordPiece, is_major: bool) -> bool:
    """Whether a minor chord on this degree would be a rare one in a major key."""
    return is_major and chord.root not in MINOR_DEGREES


def _parts_between_dashes(word: str) -> tuple[ChordPiece, ...]:
    """The chords of a word that is nothing but chords with a dash between each two; else none."""
    parts: list[ChordPiece] = []
    at = 0
    if "-" not in word:
        return ()
    for text in word.split("-"):
        chord = chord_at(text, 0)
        if chord is None or chord.end != len(text):
            return ()
        parts.append(chord._replace(start=at, end=at + len(text)))
        at += len(text) + 1
    return tuple(parts)


def _with_minors(parts: Sequence[ChordPiece]) -> tuple[str, ...] | None:
    """The chords of all parts, minor where a dash follows; None if there is no such chord."""
    minors = []
    for part in parts[:-1]:
        if part.quality or part.extension not in ("", *EXTENSIONS["-"]) or part.root == "0":
            return None
        minors.append(part._replace(quality="-").text)
    return (*minors, parts[-1].text)


def _dashes(parts: Sequence[ChordPiece], *, ask: bool) -> Reading:
    """Read chords with dashes between them: the dashes either separate them or make them minor."""
    minors, apart = _with_minors(parts), tuple(part.text for part in parts)
    if minors is None or not ask:
        return Reading(tuple(parts))
    usual = all(part.root in MINOR_DEGREES for part in parts[:-1])
    readings = (minors, apart) if usual else (apart, minors)
    asked = f"Dashes between chords, {' '.join(apart)}, or minor chords, {' '.join(minors)}?"
    start, end = parts[0].start, parts[-1].end
    chords = tuple(
        part._replace(quality="-") if usual and part is not parts[-1] else part for part in parts
    )
    return Reading(chords, (WordDoubt(start, end, asked, readings),))


def _run(word: str) -> Reading | None:
    """Read several chords without spaces."""
    chords: list[ChordPiece] = []
    at = 0
    while at < len(word):
        chord = chord_at(word, at)
        if chord is None:
            return None
        if chord.figure is not None and QUALITY_OR_BASS.match(word, chord.figure + 1):
            chord = chord_at(word[: chord.figure], at)
            assert chord is not None
        chords.append(chord)
        at = chord.end
    return _ask(word, chords)


def _ask(word: str, chords: Sequence[ChordPiece]) -> Reading:
    """Find the figures of a run that may belong to the chord before them.

    Sevens that follow each other are one doubt, so that an answer settles them all.
    """
    read: list[ChordPiece] = []
    doubts: list[WordDoubt] = []
    waiting = deque(chords)
    while waiting:
        chord = waiting.popleft()
        joined = _joined(chord, waiting[0]) if waiting else None
        if chord.figure is not None:
            doubts.append(_doubt(chord, (chord,), _without_figure(word, chord)))
            read.append(chord)
        elif joined is not None:
            apart = [chord, waiting.popleft()]
            sevens = []
            while waiting and joined.extension == "7" and _is_seven(waiting[0]):
                sevens.append(waiting.popleft())
            place = joined._replace(end=(sevens or [joined])[-1].end)
            doubts.append(_doubt(place, (joined, *sevens), (*apart, *sevens)))
            read += [joined, *sevens]
        else:
            read.append(chord)
    return Reading(tuple(read), tuple(doubts))


def _doubt(place: ChordPiece, *ways: Sequence[ChordPiece]) -> WordDoubt:
    readings = tuple(tuple(chord.text for chord in chords) for chords in ways)
    return WordDoubt(place.start, place.end, _sentence(*readings), readings)


def _sentence(*readings: Sequence[str]) -> str:
    return ", or ".join(" and then ".join(chords) for chords in readings) + "?"


def _is_seven(chord: ChordPiece) -> bool:
    return chord.root == "7" and chord.is_plain


def _joined(before: ChordPiece, chord: ChordPiece) -> ChordPiece | None:
    """The two as one chord with a figure: 5 and 7 as 5^7, 1 and 69 as 1^69; None if they cannot."""
    if before.extension or before.ticks or before.root == "0":
        return None
    if (before.bass and chord.bass) or (before.articulation and chord.articulation):
        return None
    if _is_seven(chord):
        figure = "7"
    elif chord.root == "6" and chord.extension == "9" and before.text == before.root:
        figure = "69"
    else:
        return None
    return before._replace(
        end=chord.end,
        extension=figure,
        bass=before.bass or chord.bass,
        ticks=chord.ticks,
        articulation=before.articulation or chord.articulation,
    )


def _without_figure(word: str, chord: ChordPiece) -> tuple[ChordPiece, ...]:
    """A chord with a figure as several: 6-7 as 6- and 7, 2m11 as 2-, 1 and 1."""
    assert chord.figure is not None
    first = chord_at(word[: chord.figure], chord.start)
    assert first is not None
    digits = range(chord.figure, chord.figure + (len(chord.extension) or 1))
    others = [ChordPiece(at, at + 1, word[at]) for at in digits]
    others[-1] = others[-1]._replace(
        bass=chord.bass, ticks=chord.ticks, articulation=chord.articulation
    )
    return first, *others


def _read_superscripts(word: str, is_major: bool) -> Reading | None:
    """Read a word with raised signs, which stand for the same signs after a ^."""
    text, places = "", []
    for run in SUPERSCRIPT_RUN.finditer(word):
        caret = "^" if run["figures"] and not word[: run.start()].endswith("^") else ""
        signs = run["signs"] + caret + run["figures"] + run["others"]
        places += [run.start("signs") + at for at in range(len(run["signs"]))]
        places += [run.start("figures")] * len(caret)
        places += range(run.start("figures"), run.end())
        text += "".join(SUPERSCRIPTS.get(sign, sign) for sign in signs)
    reading = read_numbers(text, is_major)
    if reading is None:
        return None
    places.append(len(word))
    return Reading(
        tuple(c._replace(start=places[c.start], end=places[c.end]) for c in reading.chords),
        tuple(d._replace(start=places[d.start], end=places[d.end]) for d in reading.doubts),
    )
