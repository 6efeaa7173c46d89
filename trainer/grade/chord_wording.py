"""Word mistakes in chords: what was played, what is written, what both share, what to listen for.

Where the chart or a part of it is read from another 1, chords are named as they are read there:
`Heard` holds a pair of chords in the numbers of the song.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from trainer.chart.chords import Chord, Degree
from trainer.grade.aligned import AlignedCharts
from trainer.grade.compare import chord_segments
from trainer.grade.content import Sonority
from trainer.grade.mistakes import Mistake
from trainer.grade.note_spelling import note_names_in
from trainer.grade.read_names import read_chord, read_name
from trainer.grade.text_pieces import (
    bars_text,
    join_words,
    location_text,
    number_word,
)

__all__ = ["CHORD_WORDINGS"]

# So many bars of silence are a gap that was left open.
LEAST_OPEN = 4
# Advice says "every time" only if the slip was made in at least this many bars.
LEAST_EVERY = 3
MOST_PAIRS = 4
MOST_CACHED = 1 << 12


@dataclass(frozen=True, slots=True)
class Heard:
    """A chord that was played and the one written for it, as they are read.

    Sets of notes hold pitch classes above the song's 1, the basses among them.
    """

    played: str
    written: str
    chord: Chord
    written_chord: Chord
    notes: int
    written_notes: int

    @property
    def more(self) -> int:
        """The notes that sound where the chord is played and not where the other is."""
        return self.notes & ~self.written_notes

    @property
    def less(self) -> int:
        """The notes that sound where the chord written is played and not where the other is."""
        return self.written_notes & ~self.notes

    @property
    def both(self) -> int:
        """The notes that both chords have."""
        return self.notes & self.written_notes

    @property
    def same_bass(self) -> bool:
        """Whether both have the same lowest note."""
        return _bass(self.chord).semitones == _bass(self.written_chord).semitones

    def played_notes(self, notes: int) -> str:
        """Name notes as the chord that was played spells them."""
        return join_words(note_names_in(self.chord, notes))

    def written_names(self, notes: int) -> str:
        """Name notes as the chord that is written spells them."""
        return join_words(note_names_in(self.written_chord, notes))


def _bass(chord: Chord) -> Degree:
    return chord.root if chord.bass is None else chord.bass


def _rotated(notes: int, shift: int) -> int:
    """Return a set of notes `shift` semitones lower."""
    shift %= 12
    return (notes >> shift | notes << 12 - shift) & 0xFFF


@lru_cache(maxsize=MOST_CACHED)
def _heard(played: Sonority, written: Sonority) -> Heard:
    """Return what stands against each other. Raises ValueError for silence."""
    if played.chord is None or written.chord is None:
        raise ValueError(f"{played} against {written}: expected two chords, found silence")
    frame = played.shift
    shift = written.shift - frame
    return Heard(
        played.name,
        read_name(written, shift),
        played.chord,
        read_chord(written.chord, shift),
        _rotated(played.all_tones, frame),
        _rotated(written.all_tones, frame),
    )


def _sonorities(mistake: Mistake) -> list[tuple[Sonority, Sonority]]:
    return [
        (played, written)
        for _, _, played, written in mistake.places
        if isinstance(played, Sonority) and isinstance(written, Sonority)
    ]


def _first(mistake: Mistake) -> Heard:
    """Return the chords of the first place."""
    return _heard(*_sonorities(mistake)[0])


def _pairs(mistake: Mistake) -> list[tuple[str, str]]:
    """Name the chords of the places, played and written, each pair once."""
    named = [
        (played.name, read_name(written, written.shift - played.shift))
        for played, written in _sonorities(mistake)
    ]
    return list(dict.fromkeys(named)) if len(named) > 1 else named


def _is_one_pair(mistake: Mistake) -> bool:
    return len(_pairs(mistake)) == 1


def _pairs_text(pairs: Sequence[tuple[str, str]]) -> str:
    """Name the chords of the cases: "the band played 2- and 6-, and you wrote 2 and 6"."""
    if len(pairs) == 1:
        return "the band played {} and you wrote {}".format(*pairs[0])
    played = list(dict.fromkeys(one for one, _ in pairs))
    written = list(dict.fromkeys(other for _, other in pairs))
    for names in (played, written):
        if len(names) > MOST_PAIRS:
            names[MOST_PAIRS - 1 :] = [f"{len(names) - MOST_PAIRS + 1} other chords"]
    several = len(played) > 1 or len(written) > 1
    return (
        f"the band played {join_words(played)}{',' if several else ''} and you wrote "
        f"{join_words(written)}"
    )


def _counts(mistake: Mistake, aligned: AlignedCharts) -> tuple[int, int]:
    """Return in how many bars a chord is written so each time it is played, of how many have it."""
    played, written = _sonorities(mistake)[0]
    bars = set(mistake.bars)
    chord = played.bass, played.all_tones
    having = {k + 1 for k, bar in enumerate(aligned.reference.contents) if chord in bar.progression}
    wholly = {
        one + 1
        for (one, _), own in zip(aligned.pairs, aligned.written, strict=True)
        if one is not None
        and own is not None
        and one + 1 in bars
        and all(
            theirs.same_chord_as(written)
            for _, _, ours, theirs in chord_segments(aligned.reference.contents[one], own)
            if ours.same_chord_as(played)
        )
    }
    return len(wholly & having), len(having)


def _start(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Say where a mistake is, how often it was made, what was played and what is written."""
    bars, pairs = mistake.bars, _pairs(mistake)
    where = location_text(aligned.reference, bars, capital=True)
    text = f"{where}: {_pairs_text(pairs)}"
    if len(bars) < 2 or len(pairs) > 1:
        return f"{text}."
    heard = _sonorities(mistake)
    played, written = pairs[0]
    if any(not heard[0][0].same_chord_as(one) for one, _ in heard):
        return f"{text}."
    wrong, having = _counts(mistake, aligned)
    if wrong == having == len(bars) and wrong >= LEAST_EVERY:
        every = bars_text(bars)
        return f"You wrote {written} every time the band played {played}: {every}."
    if having > len(bars):
        return f"{text} ({len(bars)} of the {having} bars with {played})."
    return f"{text}."


def _is_not(notes: int) -> str:
    return "isn't" if notes.bit_count() == 1 else "aren't"


def _plain_number(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a plain 2, 3 or 6 where the minor chord was played."""
    return (
        f"{_start(mistake, aligned)} A plain number means a major chord. Write the minus sign "
        "when the chord is minor."
    )


def _third(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word major for minor, or the other way round."""
    heard = _first(mistake)
    sound = "minor, darker" if heard.chord.quality == "-" else "major, brighter"
    (played, written) = (_third_of(chord) for chord in (heard.chord, heard.written_chord))
    return (
        f"{_start(mistake, aligned)} You have the right root but not the third. "
        f"Listen to the third: it's {played} ({sound}), not {written}."
    )


def _third_of(chord: Chord) -> str:
    interval = 3 if chord.quality == "-" else 4
    (name,) = note_names_in(chord, 1 << (chord.root.semitones + interval) % 12)
    return name


def _quality(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word chords on one root and one bass whose notes differ."""
    heard = _first(mistake)
    text = f"{_start(mistake, aligned)} The root is right."
    more, less = heard.played_notes(heard.more), heard.written_names(heard.less)
    if more and less:
        return f"{text} Listen inside the chord: it has {more}, not {less}."
    if more:
        return f"{text} Listen inside the chord: it has {more} as well."
    return f"{text} Listen inside the chord: {less} {_is_not(heard.less)} in it."


def _extension_left_out(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord without the extension that was played."""
    text = f"{_start(mistake, aligned)} You have the right chord, but there's more in it: listen"
    if not _is_one_pair(mistake):
        return f"{text} for the extra note."
    heard = _first(mistake)
    return f"{text} for {heard.played_notes(heard.more)}."


def _extension_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord with an extension that was not played."""
    text = f"{_start(mistake, aligned)} You have the right chord, but the band played it plainer:"
    if not _is_one_pair(mistake):
        return f"{text} it's just the triad."
    heard = _first(mistake)
    return f"{text} {heard.written_names(heard.less)} {_is_not(heard.less)} in it."


def _bass_left_out(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord without its slash bass."""
    if _is_one_pair(mistake):
        return _other_bass(mistake, aligned)
    return (
        f"{_start(mistake, aligned)} You have the right chord but not the bass note. Listen to "
        "the lowest note and write it after the slash."
    )


def _bass_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a slash bass under a chord whose bass is its root."""
    return (
        f"{_start(mistake, aligned)} You have the right chord, and the bass plays its root, so "
        "there's no slash."
    )


def _other_bass(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord over another bass."""
    heard = _first(mistake)
    return (
        f"{_start(mistake, aligned)} You have the right chord but not the bass note. Listen to "
        f"the lowest note: it's {_bass(heard.chord)}, not {_bass(heard.written_chord)}."
    )


def _accidental(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a number whose flat or sharp was forgotten."""
    heard = _first(mistake)
    sign = {1: "sharp", -1: "flat"}[heard.chord.alteration]
    return (
        f"{_start(mistake, aligned)} You forgot the {sign}: the bass is on "
        f"{_bass(heard.chord)}, not {_bass(heard.written_chord)}."
    )


def _other_chord(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord on another root or another bass."""
    return f"{_start(mistake, aligned)} {_likeness(*_sonorities(mistake)[0])}"


@lru_cache(maxsize=MOST_CACHED)
def _likeness(played: Sonority, written: Sonority) -> str:
    """Say what two chords share, and what to listen for."""
    heard = _heard(played, written)
    bass, count = _bass(heard.chord), heard.both.bit_count()
    names = heard.played_notes(heard.both)
    share = f"The chords share {number_word(count)} note{'s' * (count > 1)} ({names})"
    if not heard.same_bass:
        share = share if count else "The chords share no notes"
        hint = f"it's on {bass}, not {_bass(heard.written_chord)}"
        return f"{share}. Listen to the bass: {hint}."
    only = f"The chords share only the bass ({bass})"
    share = f"{share}, including the bass" if count > 1 else only
    text = f"{share}. Listen above the bass:"
    more, less = heard.played_notes(heard.more), heard.written_names(heard.less)
    if more:
        return f"{text} you hear {more}{f', not {less}' if less else ' as well'}."
    return f"{text} {less} {_is_not(heard.less)} there."


def _exchanged(mistake: Mistake, _: AlignedCharts) -> str:
    """Word two chords that are written for each other."""
    low, high = (root for root in mistake.detail if isinstance(root, int))
    bars: dict[int, list[int]] = {low: [], high: []}
    tones = {low: 0xFFF, high: 0xFFF}
    others = {low: 0, high: 0}
    frame = _sonorities(mistake)[0][0].shift
    for number, _other, played, _written in mistake.places:
        if isinstance(played, Sonority) and number is not None:
            bars[played.root].append(number)
            tones[played.root] &= played.tones
            others[played.root] |= played.tones
    one, other = sorted((low, high), key=lambda root: bars[root][0])
    name, other_name = _root_name(mistake, one), _root_name(mistake, other)
    text = (
        f"You swapped {name} and {other_name}: you wrote {other_name} for {name} in "
        f"{bars_text(bars[one])}, and {name} for {other_name} in {bars_text(bars[other])}."
    )
    for here, there, its, not_its in (
        (one, other, name, other_name),
        (other, one, other_name, name),
    ):
        telling = _rotated(tones[here] & ~others[there], frame)
        if telling & 1:
            return f"{text} Sing the 1 over both: it belongs to {its}, not to {not_its}."
    return f"{text} Sing the root of each with the bass before you write it."


def _root_name(mistake: Mistake, root: int) -> str:
    """Name a root, with the minus where every chord on it is minor, played and written."""
    chords = []
    for played, written in _sonorities(mistake):
        frame = played.shift
        if played.root == root and played.chord is not None:
            chords.append(played.chord)
        if written.root == root and written.chord is not None:
            chords.append(read_chord(written.chord, written.shift - frame))
    minor = all(chord.quality == "-" for chord in chords)
    return f"{chords[0].root}{'-' * minor}"


def _rest_missed(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord where the band was silent."""
    return f"{_silence(mistake, aligned)} Write 0 when the band is silent."


def _rest_written(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word silence where a chord was played."""
    start = _silence(mistake, aligned)
    if len(mistake.bars) >= LEAST_OPEN:
        return f"{start} If you left a gap there, listen to just these bars again and fill it."
    return f"{start} A chord lasts until the next one unless the band stops."


def _silence(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Say which chord stands against silence."""
    where = location_text(aligned.reference, mistake.bars, capital=True)
    text = _pairs_text(_pairs(mistake))
    if all(played == "0" for played, _ in _pairs(mistake)):
        text = text.replace("the band played 0", "the band was silent", 1)
    if all(written == "0" for _, written in _pairs(mistake)):
        text = text.replace("you wrote 0", "you wrote a rest (0)")
    whole = not any(bar.changes for pair in mistake.contents for bar in pair)
    part = "" if whole else "for part of the bar, "
    return f"{where}: {part}{text}."


CHORD_WORDINGS = {
    "plain number": _plain_number,
    "third": _third,
    "quality": _quality,
    "other extension": _quality,
    "extension left out": _extension_left_out,
    "extension added": _extension_added,
    "bass left out": _bass_left_out,
    "bass added": _bass_added,
    "other bass": _other_bass,
    "other chord": _other_chord,
    "accidental left out": _accidental,
    "exchanged": _exchanged,
    "rest missed": _rest_missed,
    "rest written": _rest_written,
}
