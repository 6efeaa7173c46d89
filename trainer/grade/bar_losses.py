"""Share out what one bar lost among the mistakes that were made in it.

Every loss goes to exactly one mistake. A bar may be divided otherwise than the song's bar (a split
mistake), its chords may differ, and so may its articulations, its meter and its key change.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from trainer.chart.model import Articulation, Bar, Chord
from trainer.grade.compare import ChordSegment, Comparison
from trainer.grade.content import BarContent, Sonority, is_usually_minor
from trainer.grade.known_bars import KnownBars
from trainer.grade.weights import ROUNDING

__all__ = ["CHORD_MISTAKES", "SPLIT_MISTAKES", "BarLosses", "Place", "chord_mistake_kind"]

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
        "accidental left out",
    }
)
SPLIT_MISTAKES = frozenset(
    {"split added", "split missed", "beats", "split otherwise", "chords in the other order"}
)
# Of these kinds, each pair of chords is a mistake by itself.
ONE_PAIR_EACH = frozenset(
    {"third", "quality", "other chord", "accidental left out", "other extension", "other bass"}
)

# A bar of the reference and of the answer, from 1, and what stands there: the bars, or chords in
# them; None if a side has nothing.
Place = tuple[int | None, int | None, "Bar | Sonority | None", "Bar | Sonority | None"]
# Adds a loss, in bars, in a place to the mistake of a kind; the last tells mistakes of it apart.
Charge = Callable[[str, float, Place, tuple[object, ...]], None]


@dataclass(slots=True)
class BarLosses:
    """One bar that lost something.

    `one` and `other` are its numbers, from 1; `before` and `after` are the chords that sound right
    before and after it in the song, `written_after` the one that is written after it; None if
    there is none. `exchanged` are pairs of roots that are written for each other throughout.
    """

    charge: Charge
    known: KnownBars
    one: int
    other: int
    played: BarContent
    written: BarContent
    before: Sonority | None
    after: Sonority | None
    written_after: Sonority | None
    exchanged: Collection[frozenset[int]] = ()

    def collect(self, c: Comparison, credit: float, lost: float) -> None:
        """Share out what the bar lost, 0 to 1, by what each part of it costs by itself.

        Parameters: `credit` is the bar's credit by its comparison.
        """
        if self.written.bar.is_open:
            self._charge("left open", lost)
            return
        w = self.known.weights
        meter = w.meter * (1 - c.meter)
        key_change = w.key_change * c.counts_key_change * (1 - c.key_change)
        placement = w.placement * (1 - c.placement)
        articulation = w.articulation * (1 - c.articulation)
        total = w.chord + w.meter * (1 - c.meter) + w.key_change * c.counts_key_change
        total += w.placement * c.counts_placement + w.articulation * c.counts_articulation
        chords = total * (1 - credit) - meter - key_change - placement - articulation
        chords = max(0.0, chords)
        whole = meter + key_change + placement + articulation + chords
        if whole <= 0:
            return
        scale = lost / whole
        self._charge("meter", scale * meter, self.played.meter, self.written.meter)
        changes = self.played.key_change, self.written.key_change
        self._charge("key change", scale * key_change, *changes)
        segments = self.known.differing(self.played, self.written)
        if any(one.played.chord is None or one.written.chord is None for one, _ in segments):
            # Silence has no articulation; that follows from the one mistake.
            chords, articulation = chords + articulation, 0.0
        split = self._split_mistake()
        if split is not None:
            if self._moved_with_their_chords():
                placement, articulation = placement + articulation, 0.0
            self._charge(split[0], scale * (chords + placement), *split[1:])
        else:
            self._charge_chords(segments, scale * chords)
        self._charge_articulations(scale * articulation)

    def _charge(
        self, kind: str, lost: float, *detail: object, segment: ChordSegment | None = None
    ) -> None:
        """Add a loss to a mistake, for the whole bar or for two chords in it."""
        if lost <= ROUNDING:
            return
        if segment is None:
            place: Place = (self.one, self.other, self.played.bar, self.written.bar)
        else:
            place = (self.one, self.other, segment.played, segment.written)
        self.charge(kind, lost, place, detail)

    def _split_mistake(self) -> tuple[str, *tuple[object, ...]] | None:
        """Return what is wrong with the way the bar is divided, kind and detail, or None."""
        played, written = self.played, self.written
        if not played.changes and not written.changes and len(played.sonorities) == 1:
            return None
        if (
            len(played.sonorities) == 2
            and _same_chords(played.sonorities, written.sonorities[::-1])
            and frozenset(one.root for one in played.sonorities) not in self.exchanged
        ):
            return ("chords in the other order", played, written)
        if _shares(played) == _shares(written):
            return None
        if (early_or_late := self._early_or_late()) is not None:
            return ("beats", early_or_late, played, written)
        if not played.changes:
            silent = played.sonorities[0].chord is None
            return ("split added", "silence") if silent else ("split added",)
        if not written.changes:
            plain = written.sonorities[0].same_chord_as(played.sonorities[0])
            return ("split missed",) if plain else ("split missed", played, written)
        if _same_chords(played.sonorities, written.sonorities):
            return ("beats", "inside", played, written)
        return ("split otherwise", played, written)

    def _early_or_late(self) -> str | None:
        """Return how a right chord is written early or late across a bar line, or None."""
        ours, theirs = self.played.sonorities, self.written.sonorities
        before, after = self.before, self.after
        if len(ours) == 1 and len(theirs) == 2:
            if after is not None and _same_chords(theirs, (ours[0], after)):
                return "early, into the bar before"
            if before is not None and _same_chords(theirs, (before, ours[0])):
                return "late, after the bar line"
        if len(ours) == 2 and len(theirs) == 1:
            follows = self.written_after
            if (
                after is not None
                and follows is not None
                and _same_chords(ours, (theirs[0], after))
                and follows.same_chord_as(after)
            ):
                return "late, on the bar line"
            if before is not None and _same_chords(ours, (before, theirs[0])):
                return "early, on the bar line"
        return None

    def _moved_with_their_chords(self) -> bool:
        """Whether the articulations are the same, each on its own chord."""
        ours, theirs = (
            [(_sonority_key(_at(bar, at)), what) for at, what in bar.articulations]
            for bar in (self.played, self.written)
        )
        return ours == theirs

    def _charge_chords(self, segments: Sequence[tuple[ChordSegment, float]], lost: float) -> None:
        """Share the loss among the chords that differ, by how much of the bar each spoils."""
        whole = sum([spoilt for _, spoilt in segments])
        for segment, share in segments:
            if whole <= 0:
                return
            played, written = segment.played, segment.written
            kind = chord_mistake_kind(played, written)
            alone = kind in ONE_PAIR_EACH
            detail = (_sonority_key(played), _sonority_key(written)) if alone else ()
            self._charge(kind, lost * share / whole, *detail, segment=segment)

    def _charge_articulations(self, lost: float) -> None:
        """Share the loss among the articulations that have no partner."""
        if lost <= ROUNDING:
            return
        ours, theirs = _articulations(self.played), _articulations(self.written)
        missing, extra = sorted(ours - theirs), sorted(theirs - ours)
        share = lost / max(1, len(missing) + len(extra))
        for position, played in missing:
            there = [written for at, written in extra if at == position]
            if there:
                self._charge("other articulation", share, played, there[0])
            elif played in {written for _, written in extra}:
                self._charge("articulation elsewhere", share, played, "inside")
            else:
                self._charge("articulation left out", share, played)
        for position, written in extra:
            there = [played for at, played in missing if at == position]
            if there:
                self._charge("other articulation", share, there[0], written)
            elif written in {played for _, played in missing}:
                self._charge("articulation elsewhere", share, written, "inside")
            else:
                self._charge("articulation added", share, written)


def _same_chords(ours: Sequence[Sonority], theirs: Sequence[Sonority]) -> bool:
    return len(ours) == len(theirs) and all(
        one.same_chord_as(other) for one, other in zip(ours, theirs, strict=True)
    )


def _at(bar: BarContent, position: int) -> Sonority:
    """Return the chord that sounds at a position of a bar."""
    return bar.sonorities[max(k for k, start in enumerate(bar.starts) if start <= position)]


def _sonority_key(sonority: Sonority) -> tuple[int, int, int]:
    return sonority.root, sonority.tones, sonority.bass


def _shares(content: BarContent) -> set[float]:
    """Return where the chord changes, as shares of the bar."""
    return {at / content.grid for at in content.changes}


def _articulations(content: BarContent) -> set[tuple[float, Articulation]]:
    """Return the articulations with their positions as shares of the bar."""
    return {(at / content.grid, articulation) for at, articulation in content.articulations}


def chord_mistake_kind(played: Sonority, written: Sonority) -> str:
    """Name the difference between two chords that are not the same; one of CHORD_MISTAKES."""
    one, other = played.chord, written.chord
    if one is None:
        return "rest missed"
    if other is None:
        return "rest written"
    if played.root != written.root:
        return "accidental left out" if _lacks_accidental(played, written) else "other chord"
    if played.tones == written.tones:
        return _bass_kind(one, other)
    if played.bass != written.bass:
        return "other chord"
    if one.quality == other.quality:
        return _extension_kind(one, other, played.tones, written.tones)
    return _quality_kind(one, other, played.tones, written.tones)


def _lacks_accidental(played: Sonority, written: Sonority) -> bool:
    """Whether only a flat or sharp before the number is missing, as in 7 for b7."""
    one, other = played.chord, written.chord
    if one is None or other is None or not one.alteration or other.alteration:
        return False
    is_moved = (played.root - written.root - one.alteration) % 12
    same = (one.degree, one.quality, one.extension, one.bass)
    return not is_moved and same == (other.degree, other.quality, other.extension, other.bass)


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


def _quality_kind(played: Chord, written: Chord, tones: int, written_tones: int) -> str:
    if {played.quality, written.quality} != {"", "-"} or played.extension != written.extension:
        return "quality"
    if (tones & ~written_tones).bit_count() != 1 or (written_tones & ~tones).bit_count() != 1:
        return "quality"
    habit = played.quality == "-" and is_usually_minor(written)
    return "plain number" if habit else "third"
