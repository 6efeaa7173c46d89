"""The bars of a chart as signs of the printed sheet, with their widths.

All measures are in em, the size of a root. A chord's name is a row of pieces, each in a style that
`sheet.typ` draws: the root large, its accidental and quality beside it, what is added raised, the
bass small and lowered after a slash. The signs are those of the page's own sheet (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from trainer.chart import Articulation, Bar, Chart, Chord, Degree, Event, Key
from trainer.chart.hits import hit_strip
from trainer.chart.letters import chord_suffix, degree_letters

__all__ = [
    "NOTE_SIZE",
    "STYLES",
    "DrawnBar",
    "DrawnChord",
    "Names",
    "Piece",
    "bar_of",
    "plain_text",
    "printed_key",
    "tag_width",
]

ACCIDENTALS = ("", "♯", "♭")
QUALITIES = {"": "", "-": "−", "o": "°", "+": "+", "ø": "ø"}
PRINTED = str.maketrans({"#": "♯", "b": "♭"})
# How large each style is drawn.
STYLES = {"root": 1.0, "sign": 0.84, "quality": 0.78, "added": 0.5, "slash": 0.8, "bass": 0.68,
          "words": 0.5, "line": 0.8}  # fmt: skip
# Advance widths of Source Sans Pro Semibold in thousandths; the accidentals are of another font.
ADVANCES = {
    **dict.fromkeys("0123456789+−", 513),
    "A": 558, "B": 597, "C": 576, "D": 625, "E": 538, "F": 510, "G": 628, "N": 656,
    "a": 516, "b": 563, "d": 564, "e": 507, "f": 317, "g": 520, "i": 262, "j": 263, "k": 522,
    "m": 843, "s": 431, "u": 556, "y": 495, "°": 348, "ø": 549, "/": 344, "?": 444, ".": 275,
    "(": 324, ")": 324, " ": 200, "_": 500, "♯": 560, "♭": 480,
}  # fmt: skip
USUAL_ADVANCE = 560
CHORD_GAP = 0.34
TAG_SIZE, TAG_PADDING, TAG_GAP = 0.42, 0.3, 0.18
# A diamond is so much wider than what stands in it.
DIAMOND, BROAD_DIAMOND, DIAMOND_PADDING, DIAMOND_OVERLAP = 1.72, 2.1, 0.12, 0.1
NOTES_BETWEEN = " · "
NOTE_SIZE, NOTE_SHARE, STRIP_PLACE = 0.4, 0.45, 0.24
# How far numbers reach up, with beats over them, with a push or choke, and in a diamond.
PLAIN, TICKED, SIGNED, HELD = 0.8, 1.06, 1.26, 1.16
SIGNS = {Articulation.PUSH: "<", Articulation.CHOKE: "^"}
LETTERS_UNDER = 0.6


class Names(StrEnum):
    """How chords are named on a sheet: numbers, letters, or letters under the numbers. With BLANK
    each bar is a line to write on, and nothing is given away but the form.
    """

    NUMBERS = "numbers"
    LETTERS = "letters"
    BOTH = "both"
    BLANK = "blank"


Piece = tuple[str, str]
# The line of a bar that is to be written on.
LINE: tuple[Piece, ...] = (("line", "_____"),)


@dataclass(frozen=True, slots=True)
class DrawnChord:
    """A chord whose name begins `at` from the first chord of its bar and is `name_width` wide.

    `width` is all the room it takes. `pieces` are styles with texts, `under` those of the letters
    under a number; `centre` is the middle of the root from the name's beginning. `ticks` is how
    many beats stand over it, 0 where the bar is divided evenly; `sign` is that of a push or choke,
    and `diamond` the width of the diamond around a hold, 0 for none.
    """

    at: float
    width: float
    name_width: float
    pieces: tuple[Piece, ...]
    under: tuple[Piece, ...]
    centre: float
    ticks: int
    sign: str
    diamond: float


@dataclass(frozen=True, slots=True)
class DrawnBar:
    """A bar: its width, the words in boxes before it, and its chords from `start` on.

    `notes` are the words for the players over it and `strip` the row of its hits, as `hit_strip`
    gives it; both stand `over` the feet of the numbers, clear of all signs.
    """

    width: float
    tags: tuple[str, ...]
    start: float
    chords: tuple[DrawnChord, ...]
    notes: str = ""
    strip: tuple[str, ...] = ()
    over: float = 0.0


def bar_of(bar: Bar, chart: Chart, key_shift: int, names: Names) -> DrawnBar:
    """A bar of a chart as it is drawn; `key_shift` is that of its place."""
    if names is Names.BLANK:
        return _blank_bar()
    return _bar(bar, bar.meter != chart.meter, chart.key.shifted(key_shift), names)


def tag_width(tag: str) -> float:
    """The room of a word in a box before a bar."""
    return TAG_SIZE * (_advance(tag) + TAG_PADDING * 2) + TAG_GAP


def plain_text(pieces: tuple[Piece, ...]) -> str:
    """What a name says, without its styles."""
    return "".join(text for _, text in pieces)


@lru_cache(maxsize=4096)
def _bar(bar: Bar, has_own_meter: bool, key: Key, names: Names) -> DrawnBar:
    tags = [text for is_there, text in (
        (bar.fades, "fade"),
        (bar.key_change != 0, f"key {printed_key(key)}"),
        (has_own_meter, str(bar.meter)),
    ) if is_there]  # fmt: skip
    tag_widths = [tag_width(tag) for tag in tags]
    at = 0.0
    chords = []
    for event in bar.events:
        chord = _chord(event, at, key, names, ticked=not bar.is_even, is_open=bar.is_open)
        chords.append(chord)
        at += chord.width + CHORD_GAP
    start = sum(tag_widths)
    notes, strip = NOTES_BETWEEN.join(bar.notes), hit_strip(bar.hits, bar.meter)
    # A long note may reach over the bars after it, and is drawn smaller where it can't.
    least = max(NOTE_SHARE * NOTE_SIZE * _advance(notes), STRIP_PLACE * len(strip))
    width = max(start + at - CHORD_GAP, least)
    over = max(map(_height, chords)) if notes or strip else 0.0
    return DrawnBar(width, tuple(tags), start, tuple(chords), notes, strip, over)


def _height(chord: DrawnChord) -> float:
    """How far all that belongs to a chord reaches over the feet of the numbers."""
    if chord.sign:
        return SIGNED + (TICKED - PLAIN) * (chord.ticks > 0) + (HELD - PLAIN) * (chord.diamond > 0)
    if chord.diamond:
        return HELD + (TICKED - PLAIN) * (chord.ticks > 0)
    return TICKED if chord.ticks else PLAIN


@lru_cache(maxsize=1)
def _blank_bar() -> DrawnBar:
    """A line to write a bar on. All are alike, so that none says what is in the bar."""
    width = _width(LINE)
    line = DrawnChord(0.0, width, width, LINE, (), width / 2, 0, "", 0.0)
    return DrawnBar(width, (), 0.0, (line,))


def _chord(
    event: Event, at: float, key: Key, names: Names, *, ticked: bool, is_open: bool
) -> DrawnChord:
    pieces: tuple[Piece, ...]
    under: tuple[Piece, ...] = ()
    if event.chord is None:
        pieces = (("root", "?"),) if is_open else (("words", "N.C."),)
    elif names is Names.LETTERS:
        pieces = _letters(event.chord, key)
    else:
        pieces = _numbers(event.chord)
        under = _letters(event.chord, key) if names is Names.BOTH else ()
    width = _width(pieces)
    is_hold = event.articulation is Articulation.HOLD
    # Over letters a diamond is lower, and a bass stands low, so either needs a wider one.
    is_broad = bool(under) or any(style == "bass" for style, _ in pieces)
    shape = BROAD_DIAMOND if is_broad else DIAMOND
    diamond = shape * width + DIAMOND_PADDING if is_hold else 0.0
    before = max(0.0, (diamond - width) / 2 - DIAMOND_OVERLAP)
    whole = max(width + 2 * before, before + LETTERS_UNDER * _width(under))
    root = next(k for k, (style, _) in enumerate(pieces) if style in ("root", "words"))
    centre = _width(pieces[:root]) + _width(pieces[root : root + 1]) / 2
    ticks = int(event.beats) if ticked else 0
    sign = SIGNS.get(event.articulation, "") if event.articulation else ""
    return DrawnChord(at + before, whole, width, pieces, under, centre, ticks, sign, diamond)


def _numbers(chord: Chord) -> tuple[Piece, ...]:
    return _some(
        ("sign", ACCIDENTALS[chord.alteration]),
        ("root", str(chord.degree)),
        ("quality", QUALITIES[chord.quality]),
        ("added", _added(chord.extension)),
        ("slash", "/" if chord.bass else ""),
        ("bass", _degree(chord.bass) if chord.bass else ""),
    )


def _letters(chord: Chord, key: Key) -> tuple[Piece, ...]:
    root, suffix = degree_letters(chord.root, key), chord_suffix(chord)
    quality = next((sign for sign in ("dim", "aug", "m") if _begins(suffix, sign)), "")
    return _some(
        ("root", root[0]),
        ("sign", root[1:].translate(PRINTED)),
        ("quality", quality),
        ("added", _added(suffix[len(quality) :])),
        ("slash", "/" if chord.bass else ""),
        ("bass", degree_letters(chord.bass, key).translate(PRINTED) if chord.bass else ""),
    )


def _begins(suffix: str, sign: str) -> bool:
    """Whether a suffix begins with the sign of a quality; the m of maj7 is none."""
    return suffix.startswith(sign) and not suffix.startswith("maj")


def _added(text: str) -> str:
    """An extension with printed accidentals; the word sub or add has no flat in it."""
    return "".join(
        PRINTED[ord(c)] if c in "#b" and text[k + 1 : k + 2].isdigit() else c
        for k, c in enumerate(text)
    )


def _some(*pieces: Piece) -> tuple[Piece, ...]:
    return tuple(piece for piece in pieces if piece[1])


def _degree(degree: Degree) -> str:
    return f"{ACCIDENTALS[degree.alteration]}{degree.number}"


def printed_key(key: Key) -> str:
    """The name of a key with printed signs: E♭ minor."""
    name = str(key)
    return name[0] + name[1:2].translate(PRINTED) + name[2:]


def _width(pieces: tuple[Piece, ...]) -> float:
    return sum(STYLES[style] * _advance(text) for style, text in pieces)


def _advance(text: str) -> float:
    return sum(ADVANCES.get(c, USUAL_ADVANCE) for c in text) / 1000
