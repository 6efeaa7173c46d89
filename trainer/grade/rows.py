"""Grade the rows of an alignment: each bar, and what several bars have in common.

A change that comes beats early or late, an articulation in the bar beside its own, a key change
whose sign is missing and a slip made throughout are seen only beside other rows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from trainer.grade.aligned import AlignedCharts, starts_of_moved_blocks
from trainer.grade.compare import Comparison, compare
from trainer.grade.content import BarContent, ChartContent, Sonority
from trainer.grade.known_bars import known_bars, row_scores
from trainer.grade.readings import ReadBar, Reading
from trainer.grade.report import BarGrade
from trainer.grade.slips import find_slips, total_weight
from trainer.grade.weights import ROUNDING, Weights

if TYPE_CHECKING:
    from trainer.grade.align_table import Pair
    from trainer.grade.reordering import BlockSwap

__all__ = ["RowBuilder", "as_meant", "is_as_meant"]


@dataclass(slots=True)
class RowBuilder:
    """The rows of an alignment, while they are graded."""

    reference: ChartContent
    reading: Reading
    weights: Weights
    pairs: list[Pair] = field(default_factory=list)
    comparisons: list[Comparison | None] = field(default_factory=list)
    written: list[BarContent | None] = field(default_factory=list)
    sources: list[int | None] = field(default_factory=list)
    rows: list[BarGrade] = field(default_factory=list)
    lost: list[float] = field(default_factory=list)
    keeps: list[float] = field(default_factory=list)
    row_of_bar: dict[int, int] = field(default_factory=dict)
    in_step: set[int] = field(default_factory=set)
    counted: list[tuple[int, ...]] = field(default_factory=list)

    def build(
        self,
        reordered: ChartContent,
        bar_order: Sequence[int],
        reordered_pairs: Sequence[Pair],
        two_to_one: Sequence[tuple[int, int]],
        repeated: Sequence[range],
        swaps: Sequence[BlockSwap],
        lost: float,
    ) -> AlignedCharts:
        """Grade the rows. `lost` is what the alignment lost, in bars; nan if nothing."""
        row_of: Sequence[int] = range(len(reordered_pairs))
        if self.reading.is_bar_for_bar:
            pairs = [*reordered_pairs]
            if swaps:
                pairs = [(None if a is None else bar_order[a], b) for a, b in pairs]
            self._add_plain(pairs)
        else:
            row_of = [
                self._add(None if one is None else bar_order[one], other)
                for one, other in reordered_pairs
            ]
        two_to_one = [(row_of[first], row_of[second]) for first, second in two_to_one]
        repeated = [range(row_of[rows[0]], row_of[rows[-1]] + 1) for rows in repeated]
        for first, second in two_to_one:
            half = self.weights.split / 2
            self.in_step |= {first, second}
            for row in {first, second}:
                self.lost[row] = half
                if self.pairs[row][0] is not None:
                    # The chords are right and in order: what is wrong is where a bar ends.
                    self.rows[row] = self.rows[row]._replace(
                        score=1.0 - half,
                        root=1.0,
                        quality=1.0,
                        bass=1.0,
                        placement=0.0,
                        articulation=self._same_articulations(first, second),
                        meter=1.0,
                        key_change=1.0,
                    )
        for run in repeated:
            for row in run:
                self.lost[row] = self.weights.repeated
        surcharge = 0.0 if math.isnan(lost) else lost - math.fsum(self.lost)
        self._forgive_early_and_late()
        surcharge -= self._misplaced_articulations()
        keys_off = self._charge_keys()
        w = self.weights
        return AlignedCharts(
            self.reference,
            self.reading.answer,
            self.reading,
            reordered,
            bar_order,
            reordered_pairs,
            self.pairs,
            self.comparisons,
            self.written,
            self.sources,
            self.rows,
            self.lost,
            self.keeps,
            two_to_one,
            repeated,
            self.counted,
            swaps,
            0.0 if abs(surcharge) < ROUNDING else surcharge,
            find_slips(
                self.reference,
                self.pairs,
                self.comparisons,
                self.written,
                self.lost,
                self.keeps,
                self.in_step,
                w,
            ),
            keys_off,
        )

    def _add_plain(self, pairs: list[Pair]) -> None:
        """Add all rows of a reading that has a bar for every bar of the answer."""
        contents, own = self.reference.contents, self.reading.content.contents
        changed = self.reading.changed
        compared, new = known_bars(self.weights).compared, tuple.__new__
        comparisons, written, rows = self.comparisons, self.written, self.rows
        lost, keeps = self.lost, self.keeps
        for one, other in pairs:
            if one is None or other is None:
                comparisons.append(None)
                written.append(None)
                rows.append(BarGrade(_up(one), _up(other)))
                lost.append(self.weights.added if one is None else 1.0)
                keeps.append(1.0)
                continue
            c, scores = compared(contents[one], own[other])
            keep = 1.0
            if changed is not None:
                keep, scores = changed[other].keep, _kept(scores, changed[other])
            comparisons.append(c)
            written.append(own[other])
            # All fields are given, so the tuple need not go through the defaults.
            rows.append(new(BarGrade, (one + 1, other + 1, *scores, None)))
            lost.append(1.0 - scores[0])
            keeps.append(keep)
        self.pairs = pairs
        self.sources = [other for _, other in pairs]

    def _add(self, one: int | None, read: int | None) -> int:
        """Add the row or rows of a bar of the reference and one of the reading.

        Returns the number of the first, or of the row that the bar has already.
        """
        read_bar = None if read is None else self.reading.read_bars[read]
        bars = () if read_bar is None else read_bar.bars
        again = read_bar is not None and read_bar.half == 1 and bars[0] in self.row_of_bar
        other = None if read_bar is None or again else bars[0]
        if one is None and other is None:
            # The second half of a bar whose first half has its row: nothing more to show.
            row = self.row_of_bar[bars[0]]
            self.lost[row] += self.weights.added
            return row
        start = len(self.rows)
        if one is None or read_bar is None:
            self._append((one, other), None, None, BarGrade(_up(one), _up(other)), 1.0)
            self.lost[-1] = 1.0 if one is not None else self.weights.added / len(bars or (0,))
        else:
            written = read_bar.content
            c = compare(self.reference.contents[one], written, self.weights.plain_minor)
            grade = _grade(one, other, _kept(row_scores(c, self.weights), read_bar))
            self._append((one, other), c, written, grade, read_bar.keep)
            self.sources[-1] = bars[0]
            self.lost[-1] = 1.0 - grade.score
        for further in bars[1:]:
            self._append((None, further), None, None, BarGrade(None, further + 1), 1.0)
            self.lost[-1] = self.weights.added / len(bars) if one is None else 0.0
        if one is not None and (len(bars) > 1 or (read_bar is not None and read_bar.half == 1)):
            first = self.row_of_bar.get(bars[0], start)
            self.counted.append((first, *range(max(first + 1, start), len(self.rows))))
        return start

    def _append(
        self,
        pair: Pair,
        c: Comparison | None,
        written: BarContent | None,
        grade: BarGrade,
        keep: float,
    ) -> None:
        self.pairs.append(pair)
        if pair[1] is not None:
            self.row_of_bar.setdefault(pair[1], len(self.pairs) - 1)
        self.comparisons.append(c)
        self.written.append(written)
        self.sources.append(pair[1])
        self.rows.append(grade)
        self.lost.append(0.0)
        self.keeps.append(keep)

    def _forgive_early_and_late(self) -> None:
        """Give bars the credit of their chords where a change comes beats early or late.

        In the first case the chord of the next bar stands at the end of a bar, in the second that
        of the bar before at the start of one, for half of the bar at most.
        """
        w = self.weights
        if not w.placement:
            # Where beats are not asked for, a wrong chord is wrong for as long as it stands.
            return
        for row, c in enumerate(self.comparisons):
            if c is None or not self.lost[row] or row in self.in_step:
                continue
            written, (one, _) = self.written[row], self.pairs[row]
            if written is None or one is None or c.same_chord == 1.0:
                continue
            played = self.reference.contents[one].sonorities
            own = written.sonorities
            if len(own) != len(played) + 1 or c.counts_key_change or not c.meter:
                continue
            early = self._neighbour(row, 1)
            late = self._neighbour(row, -1)
            half = written.grid / 2
            comes_early = (
                early is not None and written.starts[-1] >= half
                and own[-1].same_chord_as(early[0]) and _all_same(own[:-1], played)
            )  # fmt: skip
            comes_late = (
                late is not None and written.starts[1] <= half
                and own[0].same_chord_as(late[-1]) and _all_same(own[1:], played)
            )  # fmt: skip
            if comes_early or comes_late:
                total = w.chord + w.placement + w.articulation * c.counts_articulation
                right = w.chord + w.articulation * c.articulation * c.counts_articulation
                keep = self.keeps[row]
                score = max(self.rows[row].score, keep * right / total)
                self.rows[row] = self.rows[row]._replace(score=score)
                self.lost[row] = 1.0 - score

    def _misplaced_articulations(self) -> float:
        """Return what is charged twice, in bars, for an articulation in the bar beside its own."""
        if not [c for c in self.comparisons if c is not None and c.articulation < 1.0]:
            return 0.0
        spared, before = 0.0, 0.0
        for row in range(1, len(self.rows)):
            here = min(self._lost_articulation(row - 1), self._lost_articulation(row)) - before
            before = 0.0
            if here > 0 and self._kinds(row - 1, 0) == self._kinds(row, 1) != self._kinds(
                row, 0
            ) == self._kinds(row - 1, 1):
                spared, before = spared + here, here
        return spared

    def _same_articulations(self, *rows: int) -> float:
        """Return 1 if the bars of some rows have the same articulations on both sides, else 0."""
        pairs = [self.pairs[row] for row in rows]
        ours = [self.reference.contents[one] for one, _ in pairs if one is not None]
        theirs = [self.reading.answer.contents[own] for _, own in pairs if own is not None]
        played, written = (
            [kind for bar in side for _, kind in bar.articulations] for side in (ours, theirs)
        )
        return float(played == written)

    def _lost_articulation(self, row: int) -> float:
        c = self.comparisons[row]
        if c is None or not c.counts_articulation:
            return 0.0
        lost = self.weights.articulation * (1 - c.articulation) / total_weight(c, self.weights)
        return min(lost * self.keeps[row], self.lost[row])

    def _kinds(self, row: int, side: int) -> list[str]:
        """Return the kinds of articulation in a row's bar of the song (0) or of the answer (1)."""
        one, written = self.pairs[row][0], self.written[row]
        content = written if side else None if one is None else self.reference.contents[one]
        return [] if content is None else [kind.value for _, kind in content.articulations]

    def _neighbour(self, row: int, step: int) -> Sequence[Sonority] | None:
        """Return the chords of the song in the next row or the one before, in step with a row."""
        if not 0 <= row + step < len(self.pairs):
            return None
        (one, other), (beside, own) = self.pairs[row], self.pairs[row + step]
        if one is None or other is None or beside != one + step or own != other + step:
            return None
        return self.reference.contents[beside].sonorities

    def _charge_keys(self) -> list[int]:
        """Take off what bars lose whose key is not the one that was played; return their rows.

        A key change that is written with other numbers of semitones, in another bar or not at all
        leaves the bars behind it in the wrong key until both are in one key again. A bar left out
        takes its key change with it, which is not charged to other bars. A wrong sign in a phrase
        or section that was swapped with another is not charged to what stands behind it.
        """
        w = self.weights
        changes = any(self.reference.key_shifts) or any(self.reading.content.key_shifts)
        if not w.key_change or not changes:
            return []
        off, charged, keep = 0, [], 1.0
        moved = starts_of_moved_blocks(self.pairs)
        for row, (one, other) in enumerate(self.pairs):
            if row in moved:
                off = 0
            played = 0 if one is None else self.reference.contents[one].key_change
            written = self.written[row]
            if written is None:
                own = 0 if other is None or one is not None else self._added_key_change(other)
                played = 0
            else:
                own = written.key_change
            changed = (played - own) % 12
            if changed:
                # A sign by another interval is half as bad as none.
                keep = (1.0 + w.key_sign) / 2 if played and own else w.key_sign
            off = (off + changed) % 12
            if off and not changed and written is not None:
                # The numbers are right: what is lost is lost by the key.
                here = self.rows[row]
                self.rows[row] = here._replace(
                    score=here.score * keep, key_change=here.key_change * keep
                )
                self.lost[row] = 1.0 - self.rows[row].score
                charged.append(row)
        return charged

    def _added_key_change(self, other: int) -> int:
        return next(
            (one.bar.key_change for one in self.reading.read_bars if one.bars[0] == other), 0
        )


def _up(bar: int | None) -> int | None:
    return None if bar is None else bar + 1


def _all_same(one: Sequence[Sonority], other: Sequence[Sonority]) -> bool:
    return len(one) == len(other) and all(
        a.same_chord_as(b) for a, b in zip(one, other, strict=True)
    )


def _grade(one: int, other: int | None, scores: tuple[float, ...]) -> BarGrade:
    """Return the grade of a bar of the reference; both bars count from 0."""
    return BarGrade(one + 1, _up(other), *scores)


def _kept(scores: tuple[float, ...], read_bar: ReadBar) -> tuple[float, ...]:
    """Return what is kept of the scores of a row by a reading.

    What a reading takes away is taken from what is written in another way: the numbers counted from
    another 1, the beats counted double or half, or the meter.
    """
    keep = read_bar.keep
    if keep == read_bar.meter == 1.0:
        return scores
    credit, root, quality, bass, placement, articulation, meter, key_change, strict = scores
    chord_keep = keep if read_bar.shift else 1.0
    beat_keep = keep if read_bar.is_counted else 1.0
    is_in_other_meter = not read_bar.shift and not read_bar.is_counted
    meter_keep = read_bar.meter * (keep if is_in_other_meter else 1.0)
    return (
        credit * keep,
        root * chord_keep,
        quality * chord_keep,
        bass * chord_keep,
        placement * beat_keep,
        articulation,
        meter * meter_keep,
        key_change,
        strict * keep,
    )


def is_as_meant(aligned: AlignedCharts) -> bool:
    """Whether every bar is graded as it was meant; only what slips are spared may differ."""
    return not aligned.keys_off and min(aligned.keeps) == 1.0


def as_meant(aligned: AlignedCharts, weights: Weights) -> AlignedCharts:
    """Return the charts with every bar graded as it was meant, in full, whatever it was read as."""
    if is_as_meant(aligned):
        return replace(aligned, slips=()) if aligned.slips else aligned
    off = set(aligned.keys_off)
    rows, lost = list(aligned.rows), list(aligned.lost)
    for row, (c, (one, other)) in enumerate(zip(aligned.comparisons, aligned.pairs, strict=True)):
        if c is not None and one is not None and (aligned.keeps[row] < 1.0 or row in off):
            rows[row] = _grade(one, other, row_scores(c, weights))
            # What the row lost besides, by half a bar too many, stays lost.
            lost[row] += aligned.rows[row].score - rows[row].score
    return replace(aligned, rows=rows, lost=lost, slips=())
