"""Find what is wrong, bar by bar, and put like with like.

Every loss of every bar goes to exactly one finding, so the costs of all findings add up to what
the bars lost.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import zip_longest

from trainer.chart.model import Bar, Chord
from trainer.grade.compare import Comparison, Slice, credit, differences
from trainer.grade.report import Case, Happening
from trainer.grade.scoring import Scored
from trainer.grade.sheet import Shape
from trainer.grade.tones import Sound, likeness
from trainer.grade.weights import Weights
from trainer.grade.words import bar_text

__all__ = ["CHORD_KINDS", "Finding", "find_all", "kind_of"]

HABIT_ROOTS = (2, 3, 6)
CHORD_KINDS = frozenset(
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


# A bar of either side, from 1, and what stands there: bars, or chords in them.
Place = tuple[int | None, int | None, "Bar | Sound | None", "Bar | Sound | None"]


@dataclass(slots=True)
class Finding:
    """One kind of mistake: what it cost in bars, the cases, and the sounds if it is one pair."""

    kind: str
    lost: float = 0.0
    places: list[Place] = field(default_factory=list)
    happenings: list[Happening] = field(default_factory=list)

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


def _text(thing: Bar | Sound | None) -> str:
    if isinstance(thing, Bar):
        return bar_text(thing)
    return "" if thing is None else thing.name


# Chord kinds of which each pair of chords is said by itself.
ALONE = frozenset(
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

SINGLE_BARS = frozenset(
    ("left out", "added", "doubled", "split written as two bars", "two bars written as one")
)

Key = tuple[object, ...]


def find_all(scored: Scored, happenings: tuple[Happening, ...], weights: Weights) -> list[Finding]:
    """Every mistake in the bars; happenings first, and their bars are not looked at again."""
    found: dict[Key, Finding] = {}
    song: dict[int, Happening] = {}
    own: dict[int, Happening] = {}
    for happening in happenings:
        if happening.kind == "swapped" and happening.unit != "bar":
            # The bars inside stand beside their own and have their own mistakes.
            finding = found[_key(scored, happening)] = Finding(happening.kind, weights.swapped)
            _note(finding, scored, happening)
            continue
        song |= dict.fromkeys(happening.reference, happening)
        own |= dict.fromkeys(happening.answer, happening)
    for place, ((one, other), row, comparison) in enumerate(
        zip(scored.pairs, scored.rows, scored.comparisons, strict=True)
    ):
        if row.score == 1.0:
            continue
        named = song.get(row.reference or -1) or own.get(row.answer or -1)
        if named is not None:
            finding = found.setdefault(_key(scored, named), Finding(named.kind))
            if named not in finding.happenings:
                _note(finding, scored, named)
            finding.lost += scored.loss(place, weights)
        elif one is not None and other is not None and comparison is not None:
            bars = (one, other, scored.reference.shapes[one], scored.answer.shapes[other])
            _Bar(found, weights, *bars).collect(comparison)
    return list(found.values())


def _key(scored: Scored, happening: Happening) -> Key:
    """Single bars to which the same happened are said in one breath, all else one by one."""
    stops = happening.reference[-1:] == (len(scored.reference),) and len(happening.reference) > 2
    if happening.unit == "bar" and happening.kind in SINGLE_BARS and not stops:
        return ("bars", happening.kind)
    return ("happening", happening)


def _note(finding: Finding, scored: Scored, happening: Happening) -> None:
    finding.happenings.append(happening)
    for one, other in zip_longest(happening.reference, happening.answer):
        played = None if one is None else scored.reference.bars[one - 1]
        written = None if other is None else scored.answer.bars[other - 1]
        finding.places.append((one, other, played, written))


@dataclass(slots=True)
class _Bar:
    """One bar that lost something."""

    found: dict[Key, Finding]
    weights: Weights
    one: int
    other: int
    played: Shape
    written: Shape

    def collect(self, c: Comparison) -> None:
        """Share out what the bar lost."""
        w = self.weights
        total = w.chord
        total += w.placement * c.counts_placement + w.articulation * c.counts_articulation
        total += w.meter * (1 - c.meter) + w.key_change * c.counts_key_change
        ours, theirs = self.played, self.written
        self._lose("meter", w.meter * (1 - c.meter) / total, ours.meter, theirs.meter)
        lost = w.key_change * c.counts_key_change * (1 - c.key_change) / total
        self._lose("key change", lost, ours.key_change, theirs.key_change)
        placement = w.placement * (1 - c.placement) / total
        articulation = w.articulation * (1 - c.articulation) / total
        chords = (1 - c.meter) * w.meter + (1 - c.key_change) * w.key_change
        chords = 1 - credit(c, w) - chords / total - placement - articulation
        parts = differences(self.played, self.written, w.plain_minor)
        if any(part.played.chord is None or part.written.chord is None for part in parts):
            # Silence has no articulation; that follows from the one mistake.
            chords, articulation = chords + articulation, 0.0
        shape = self._shape()
        if shape is not None:
            self._lose(shape, chords + placement, self.played, self.written)
        else:
            self._chords(parts, chords)
        self._marks(articulation)

    def _lose(self, kind: str, lost: float, *more: object, part: Slice | None = None) -> None:
        """Add to a finding; `more` keeps apart what should not be said in one breath."""
        if lost <= 1e-9:
            return
        finding = self.found.setdefault((kind, *more), Finding(kind))
        finding.lost += lost
        one, other = self.one + 1, self.other + 1
        if part is None:
            finding.places.append((one, other, self.played.bar, self.written.bar))
        else:
            finding.places.append((one, other, part.played, part.written))

    def _shape(self) -> str | None:
        """What is wrong with the way the bar is divided, if anything."""
        played, written = self.played, self.written
        if _places(played) == _places(written):
            return None
        if not played.changes:
            return "split added"
        if not written.changes:
            return "split missed"
        same = len(played.sounds) == len(written.sounds) and all(
            one.same_as(other) for one, other in zip(played.sounds, written.sounds, strict=True)
        )
        return "split misplaced" if same else "split otherwise"

    def _chords(self, parts: Sequence[Slice], lost: float) -> None:
        """Share the loss among the chords that differ, by how much of the bar each spoils."""
        spoilt = [part.share * self._loss(part) for part in parts]
        whole = sum(spoilt)
        for part, share in zip(parts, spoilt, strict=True):
            if whole <= 0:
                return
            kind = kind_of(part.played, part.written)
            alone = kind in ALONE
            more = (*_sound_key(part.played), *_sound_key(part.written)) if alone else ()
            self._lose(kind, lost * share / whole, *more, part=part)

    def _loss(self, part: Slice) -> float:
        w, played, written = self.weights, part.played, part.written
        right = w.root * (played.root == written.root)
        if not w.all_or_nothing:
            notes = likeness(played, written)
            right += w.quality * (1.0 if notes == 1.0 else w.shared_tones * notes)
            right += w.bass * (played.bass == written.bass)
        return 1.0 - right / w.chord

    def _marks(self, lost: float) -> None:
        """Share the loss among the articulations that have no partner."""
        ours = {(at / self.played.grid, mark) for at, mark in self.played.marks}
        theirs = {(at / self.written.grid, mark) for at, mark in self.written.marks}
        missing, extra = sorted(ours - theirs), sorted(theirs - ours)
        share = lost / max(1, len(missing) + len(extra))
        for place, mark in missing:
            there = [other for at, other in extra if at == place]
            if there:
                self._lose("other articulation", share, mark, there[0])
            else:
                self._lose("articulation left out", share, mark)
        for place, mark in extra:
            there = [other for at, other in missing if at == place]
            if there:
                self._lose("other articulation", share, there[0], mark)
            else:
                self._lose("articulation added", share, mark)


def _sound_key(sound: Sound) -> tuple[int, int, int]:
    return sound.root, sound.tones, sound.bass


def _places(shape: Shape) -> set[float]:
    return {at / shape.grid for at in shape.changes}


def kind_of(played: Sound, written: Sound) -> str:
    """Name the difference between two chords that do not sound the same."""
    one, other = played.chord, written.chord
    if one is None:
        return "rest missed"
    if other is None:
        return "rest written"
    if played.root != written.root:
        return "other chord"
    if played.tones == written.tones:
        return _kind(one.bass, other.bass, "bass")
    if played.bass != written.bass:
        return "other chord"
    if one.quality == other.quality:
        return _extension_kind(played, written)
    return _quality_kind(one, other)


def _kind(played: object, written: object, what: str) -> str:
    if not written:
        return f"{what} left out"
    return f"other {what}" if played else f"{what} added"


def _extension_kind(played: Sound, written: Sound) -> str:
    """An extension may add to the chord's three notes, or take the place of one."""
    common = played.tones & written.tones
    assert played.chord is not None
    assert written.chord is not None
    if not written.chord.extension and common == written.tones:
        return "extension left out"
    if not played.chord.extension and common == played.tones:
        return "extension added"
    return "other extension"


def _quality_kind(played: Chord, written: Chord) -> str:
    if {played.quality, written.quality} != {"", "-"} or played.extension != written.extension:
        return "quality"
    habit = played.quality == "-" and written.degree in HABIT_ROOTS and not written.alteration
    return "plain number" if habit else "third"
