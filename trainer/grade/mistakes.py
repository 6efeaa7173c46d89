"""Find what is wrong in the bars, and put like with like.

Every loss of every bar goes to exactly one mistake, so the costs of all mistakes add up to what the
bars lost.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import zip_longest

from trainer.chart.format import ARTICULATION_LETTERS
from trainer.chart.model import Articulation, Bar, Chord
from trainer.grade.compare import ChordSegment, Comparison, bar_credit, differing_segments
from trainer.grade.content import BarContent, Sonority, tone_similarity
from trainer.grade.report import AlignmentEdit, Case
from trainer.grade.scoring import AlignedCharts
from trainer.grade.weights import Weights

__all__ = ["CHORD_MISTAKES", "Mistake", "bar_text", "chord_mistake_kind", "find_mistakes"]

# The degrees on which a minor chord is usual, so that a plain number there is a habit.
HABIT_DEGREES = (2, 3, 6)
CHORD_MISTAKES = frozenset(
    {
        "plain number",
        "third",
        "quality",
        "extension left out",
        "extension added",
        "other extension",
        "bass left out",
        "bass added",
        "other bass",
        "rest missed",
        "rest written",
        "other chord",
    }
)
# Of these kinds, each pair of chords is a mistake by itself.
ONE_PAIR_EACH = frozenset(
    {
        "third",
        "quality",
        "other chord",
        "other extension",
        "other bass",
        "rest missed",
        "rest written",
    }
)
# Edits of these kinds are put together where each is of single bars.
SINGLE_BAR_EDITS = frozenset(
    ("left out", "added", "doubled", "split written as two bars", "two bars written as one")
)

# A bar of the reference and of the answer, from 1, and what stands there: the bars, or chords in
# them; None where a side has nothing.
Place = tuple[int | None, int | None, "Bar | Sonority | None", "Bar | Sonority | None"]
# What mistakes are put together by.
Key = tuple[object, ...]


@dataclass(slots=True)
class Mistake:
    """One mistake, made in one place or more.

    `lost_bars` is what it cost, in bars; `edits` are those of the alignment that it is about, if it
    is about whole bars.
    """

    kind: str
    lost_bars: float = 0.0
    places: list[Place] = field(default_factory=list)
    edits: list[AlignmentEdit] = field(default_factory=list)

    @property
    def bars(self) -> list[int]:
        """Bars of the reference, from 1, in order, each once."""
        return sorted({place[0] for place in self.places if place[0] is not None})

    @property
    def cases(self) -> tuple[Case, ...]:
        """The places as a report has them, each once."""
        return tuple(
            dict.fromkeys(
                Case(one, other, _text(played), _text(written))
                for one, other, played, written in self.places
            )
        )


def _text(thing: Bar | Sonority | None) -> str:
    if isinstance(thing, Bar):
        return bar_text(thing)
    return "" if thing is None else thing.name


def bar_text(bar: Bar) -> str:
    """Return a bar in notation, without its meter and key."""
    parts = []
    for event in bar.events:
        text = "0" if event.chord is None else str(event.chord)
        if not bar.is_even:
            text += "'" * int(event.beats)
        if event.articulation is not None:
            text += ARTICULATION_LETTERS[event.articulation]
        parts.append(text)
    return "_".join(parts)


def find_mistakes(
    aligned: AlignedCharts, edits: Sequence[AlignmentEdit], weights: Weights
) -> list[Mistake]:
    """Return every mistake in the bars. Bars that an edit is about lost what they lost by it."""
    found: dict[Key, Mistake] = {}
    by_song_bar: dict[int, AlignmentEdit] = {}
    by_answer_bar: dict[int, AlignmentEdit] = {}
    for edit in edits:
        if edit.kind == "swapped" and edit.unit != "bar":
            # The bars inside stand beside their own and have their own mistakes.
            mistake = found[_edit_key(aligned, edit)] = Mistake(edit.kind, weights.swapped)
            _add_edit(mistake, aligned, edit)
            continue
        by_song_bar |= dict.fromkeys(edit.reference, edit)
        by_answer_bar |= dict.fromkeys(edit.answer, edit)
    for place, ((one, other), row, comparison) in enumerate(
        zip(aligned.pairs, aligned.rows, aligned.comparisons, strict=True)
    ):
        if row.score == 1.0:
            continue
        named = by_song_bar.get(row.reference or -1) or by_answer_bar.get(row.answer or -1)
        if named is not None:
            mistake = found.setdefault(_edit_key(aligned, named), Mistake(named.kind))
            if named not in mistake.edits:
                _add_edit(mistake, aligned, named)
            mistake.lost_bars += aligned.lost_bars(place, weights)
        elif one is not None and other is not None and comparison is not None:
            played, written = aligned.reference.contents[one], aligned.answer.contents[other]
            _BarLosses(found, weights, one + 1, other + 1, played, written).collect(comparison)
    return list(found.values())


def _edit_key(aligned: AlignedCharts, edit: AlignmentEdit) -> Key:
    """Put single bars with the same edit together, keep all else apart."""
    stops = edit.reference[-1:] == (len(aligned.reference),) and len(edit.reference) > 2
    if edit.unit == "bar" and edit.kind in SINGLE_BAR_EDITS and not stops:
        return ("bars", edit.kind)
    return ("edit", edit)


def _add_edit(mistake: Mistake, aligned: AlignedCharts, edit: AlignmentEdit) -> None:
    mistake.edits.append(edit)
    for one, other in zip_longest(edit.reference, edit.answer):
        played = None if one is None else aligned.reference.bars[one - 1]
        written = None if other is None else aligned.answer.bars[other - 1]
        mistake.places.append((one, other, played, written))


@dataclass(slots=True)
class _BarLosses:
    """One bar that lost something. `one` and `other` are its numbers, from 1."""

    found: dict[Key, Mistake]
    weights: Weights
    one: int
    other: int
    played: BarContent
    written: BarContent

    def collect(self, c: Comparison) -> None:
        """Share out what the bar lost."""
        w = self.weights
        total = w.chord
        total += w.placement * c.counts_placement + w.articulation * c.counts_articulation
        total += w.meter * (1 - c.meter) + w.key_change * c.counts_key_change
        ours, theirs = self.played, self.written
        self._charge("meter", w.meter * (1 - c.meter) / total, ours.meter, theirs.meter)
        lost = w.key_change * c.counts_key_change * (1 - c.key_change) / total
        self._charge("key change", lost, ours.key_change, theirs.key_change)
        placement = w.placement * (1 - c.placement) / total
        articulation = w.articulation * (1 - c.articulation) / total
        chords = (1 - c.meter) * w.meter + (1 - c.key_change) * w.key_change
        chords = 1 - bar_credit(c, w) - chords / total - placement - articulation
        segments = differing_segments(self.played, self.written, w.plain_minor)
        if any(one.played.chord is None or one.written.chord is None for one in segments):
            # Silence has no articulation; that follows from the one mistake.
            chords, articulation = chords + articulation, 0.0
        split = self._split_mistake()
        if split is not None:
            self._charge(split, chords + placement, self.played, self.written)
        else:
            self._charge_chords(segments, chords)
        self._charge_articulations(articulation)

    def _charge(
        self, kind: str, lost: float, *more: object, segment: ChordSegment | None = None
    ) -> None:
        """Add a loss, in bars, to a mistake; `more` tells mistakes of one kind apart."""
        if lost <= 1e-9:
            return
        mistake = self.found.setdefault((kind, *more), Mistake(kind))
        mistake.lost_bars += lost
        if segment is None:
            place: Place = (self.one, self.other, self.played.bar, self.written.bar)
        else:
            place = (self.one, self.other, segment.played, segment.written)
        mistake.places.append(place)

    def _split_mistake(self) -> str | None:
        """Return what is wrong with the way the bar is divided, or None."""
        played, written = self.played, self.written
        if _shares(played) == _shares(written):
            return None
        if not played.changes:
            return "split added"
        if not written.changes:
            return "split missed"
        same = len(played.sonorities) == len(written.sonorities) and all(
            one.same_chord_as(other)
            for one, other in zip(played.sonorities, written.sonorities, strict=True)
        )
        return "split misplaced" if same else "split otherwise"

    def _charge_chords(self, segments: Sequence[ChordSegment], lost: float) -> None:
        """Share the loss among the chords that differ, by how much of the bar each spoils."""
        spoilt = [segment.share * self._chord_loss(segment) for segment in segments]
        whole = sum(spoilt)
        for segment, share in zip(segments, spoilt, strict=True):
            if whole <= 0:
                return
            played, written = segment.played, segment.written
            kind = chord_mistake_kind(played, written)
            alone = kind in ONE_PAIR_EACH
            more = (*_sonority_key(played), *_sonority_key(written)) if alone else ()
            self._charge(kind, lost * share / whole, *more, segment=segment)

    def _chord_loss(self, segment: ChordSegment) -> float:
        """Return what a chord lost of its credit, 0 to 1."""
        w, played, written = self.weights, segment.played, segment.written
        right = w.root * (played.root == written.root)
        if not w.all_or_nothing:
            similarity = tone_similarity(played, written)
            right += w.quality * (1.0 if similarity == 1.0 else w.shared_tones * similarity)
            right += w.bass * (played.bass == written.bass)
        return 1.0 - right / w.chord

    def _charge_articulations(self, lost: float) -> None:
        """Share the loss among the articulations that have no partner."""
        ours, theirs = _articulations(self.played), _articulations(self.written)
        missing, extra = sorted(ours - theirs), sorted(theirs - ours)
        share = lost / max(1, len(missing) + len(extra))
        for place, played in missing:
            there = [written for at, written in extra if at == place]
            if there:
                self._charge("other articulation", share, played, there[0])
            else:
                self._charge("articulation left out", share, played)
        for place, written in extra:
            there = [played for at, played in missing if at == place]
            if there:
                self._charge("other articulation", share, there[0], written)
            else:
                self._charge("articulation added", share, written)


def _sonority_key(sonority: Sonority) -> tuple[int, int, int]:
    return sonority.root, sonority.tones, sonority.bass


def _shares(content: BarContent) -> set[float]:
    """Return where the chord changes, as shares of the bar."""
    return {at / content.grid for at in content.changes}


def _articulations(content: BarContent) -> set[tuple[float, Articulation]]:
    """Return the articulations with their places as shares of the bar."""
    return {(at / content.grid, articulation) for at, articulation in content.articulations}


def chord_mistake_kind(played: Sonority, written: Sonority) -> str:
    """Name the difference between two chords that are not the same; one of CHORD_MISTAKES."""
    one, other = played.chord, written.chord
    if one is None:
        return "rest missed"
    if other is None:
        return "rest written"
    if played.root != written.root:
        return "other chord"
    if played.tones == written.tones:
        return _bass_kind(one, other)
    if played.bass != written.bass:
        return "other chord"
    if one.quality == other.quality:
        return _extension_kind(one, other, played.tones, written.tones)
    return _quality_kind(one, other)


def _bass_kind(played: Chord, written: Chord) -> str:
    if not written.bass:
        return "bass left out"
    return "other bass" if played.bass else "bass added"


def _extension_kind(played: Chord, written: Chord, tones: int, written_tones: int) -> str:
    """Name a difference in the extension, which may add to the triad or replace a note of it."""
    common = tones & written_tones
    if not written.extension and common == written_tones:
        return "extension left out"
    if not played.extension and common == tones:
        return "extension added"
    return "other extension"


def _quality_kind(played: Chord, written: Chord) -> str:
    if {played.quality, written.quality} != {"", "-"} or played.extension != written.extension:
        return "quality"
    habit = played.quality == "-" and written.degree in HABIT_DEGREES and not written.alteration
    return "plain number" if habit else "third"
