"""Align a song with an answer as it is read, grade each row, and add up what was lost.

Bars count from 0 in alignments and from 1 in grades.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from trainer.grade.compare import (
    ChordAgreement,
    Comparison,
    bar_credit,
    compare,
    quality_credit,
)
from trainer.grade.content import BarContent, ChartContent, Sonority
from trainer.grade.readings import ReadBar, Reading
from trainer.grade.report import BarGrade, RepeatedSlip
from trainer.grade.slips import find_slips, total_weight
from trainer.grade.weights import Weights

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from trainer.grade.align import Alignment, Pair
    from trainer.grade.reordering import BlockSwap

__all__ = [
    "AlignedCharts",
    "align_reading",
    "as_meant",
    "bars_score",
    "different_bars",
    "in_song_order",
    "lost_bars",
]

# From so many pairs of different bars on, arrays are faster than comparing them one by one, though
# they remember nothing from the last grade.
MANY_PAIRS = 2_500
# The scores of a row.
SCORES = (
    "score",
    "root",
    "quality",
    "bass",
    "placement",
    "articulation",
    "meter",
    "key_change",
    "strict",
)


@dataclass(frozen=True, slots=True, eq=False)
class AlignedCharts:
    """A song and an answer aligned: rows of equal length, in the answer's order.

    `pairs` are the bars of each row, those of the answer as it is written; `comparisons` their
    comparisons, None beside a gap; `written` what was compared of the answer, as it is read, and
    `sources` the bar of the answer that it comes from, the first of two; `rows` their grades;
    `lost` what each row takes away, in bars; `keeps` the share of its credit that is kept. `answer`
    is the content of the answer as it is written, or with its numbers moved where it is counted
    from another 1.

    `reordered` is the reference in the answer's order, the reference itself unless something is
    swapped; `bar_order` holds the bars of the reference as they stand there, and `reordered_pairs`
    the pairs counted there, with the bars of the reading. `two_to_one` are the rows, two by two, in
    which two bars stand for one, `repeated` runs of rows with a phrase or section written again.
    `surcharge` is what is lost besides the rows, `slips` the chords that were taken for another
    more than once; what they are spared is not lost.
    """

    reference: ChartContent
    answer: ChartContent
    reading: Reading
    reordered: ChartContent
    bar_order: Sequence[int]
    reordered_pairs: Sequence[Pair]
    pairs: Sequence[Pair]
    comparisons: list[Comparison | None]
    written: list[BarContent | None]
    sources: list[int | None]
    rows: list[BarGrade]
    lost: list[float]
    keeps: list[float]
    two_to_one: Sequence[tuple[int, int]]
    repeated: Sequence[range]
    counted: Sequence[tuple[int, ...]]
    swaps: Sequence[BlockSwap]
    surcharge: float = 0.0
    slips: Sequence[RepeatedSlip] = ()
    keys_off: Sequence[int] = ()

    def lost_bars(self, row: int) -> float:
        """Return what a row takes away, in bars."""
        return self.lost[row]

    def repeated_bars(self) -> set[int]:
        """Return the bars of the answer that were written again, from 0."""
        return {
            other
            for rows in self.repeated
            for row in rows
            if (other := self.pairs[row][1]) is not None
        }

    def shifts(self) -> list[int | None]:
        """Return by how many semitones each row's bar was moved up, None beside a gap."""
        shift_of = {bar: one.shift for one in self.reading.read_bars for bar in one.bars}
        return [
            None if one is None or other is None else shift_of[other] for one, other in self.pairs
        ]

    @property
    def spared_bars(self) -> float:
        """How much of what the rows lost is not counted, in bars."""
        return math.fsum(slip.spared for slip in self.slips)


def bars_score(aligned: AlignedCharts, weights: Weights) -> float:
    """Return the credit of all bars over the reference's, 0 to 1.

    What bars too many and swaps take away is taken off.
    """
    return max(0.0, 1.0 - lost_bars(aligned, weights) / len(aligned.reference))


def lost_bars(aligned: AlignedCharts, weights: Weights) -> float:
    """Return what the answer lost in all, in bars."""
    lost = math.fsum(aligned.lost) + aligned.surcharge - aligned.spared_bars
    if aligned.swaps:
        from trainer.grade.reordering import swap_cost

        lost += sum(swap_cost(swap, weights) for swap in aligned.swaps)
    # What is left of sums and differences of the same numbers is a rounding.
    return 0.0 if lost < 1e-9 else lost


def as_meant(aligned: AlignedCharts, weights: Weights) -> AlignedCharts:
    """Return the charts with every bar graded as it was meant, in full, whatever it was read as."""
    rows, lost = list(aligned.rows), list(aligned.lost)
    off = set(aligned.keys_off)
    for row, (c, (one, other)) in enumerate(zip(aligned.comparisons, aligned.pairs, strict=True)):
        if c is not None and one is not None and (aligned.keeps[row] < 1.0 or row in off):
            rows[row] = _grade(one, other, c, None, weights)
            lost[row] = 1.0 - rows[row].score
    return replace(aligned, rows=rows, lost=lost, slips=())


def in_song_order(rows: Sequence[BarGrade]) -> tuple[BarGrade, ...]:
    """Sort rows by bars of the reference; a bar too many stays after the bar before it."""
    last, keys = 0, []
    for row in rows:
        last = row.reference or last
        keys.append(last)
    return tuple([rows[place] for place in sorted(range(len(rows)), key=keys.__getitem__)])


def align_reading(
    reference: ChartContent,
    reading: Reading,
    weights: Weights,
    favour: NDArray[np.float64] | None = None,
    *,
    unfinished: bool = False,
) -> AlignedCharts:
    """Align a song with an answer as it is read and grade the rows.

    A bar without a partner scores 0. Two bars that stand for one share what that takes away.

    `favour[i, j]` is what pairing two bars is preferred by, `unfinished` whether the answer is read
    as a chart that stops early, see `trainer.grade.align.align`.
    """
    content = reading.content
    if reference.contents == content.contents:
        same: list[Pair] = [(bar, bar) for bar in range(len(reference))]
        builder = _Rows(reference, reading, weights)
        return builder.build(reference, range(len(reference)), same, (), (), (), float("nan"))
    # numpy is loaded only once something is graded.
    from trainer.grade.reordering import align_in_best_order

    bar_credits = _bar_credits(reference, content, weights)
    keeps = [one.keep for one in reading.read_bars]
    if min(keeps) < 1.0:
        bar_credits = bar_credits * keeps
    best = align_in_best_order(
        reference, content, bar_credits, weights, favour, unfinished=unfinished
    )
    order = best.order.bars() if best.swaps else range(len(reference))
    alignment: Alignment = best.alignment
    return _Rows(reference, reading, weights).build(
        best.content,
        order,
        alignment.pairs,
        alignment.two_to_one,
        alignment.repeated,
        best.swaps,
        alignment.lost,
    )


@dataclass(slots=True)
class _Rows:
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
    is_plain: bool = False
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
        self.is_plain = len(self.reading.read_bars) == len(self.reading.answer)
        row_of: list[int] = []
        for one, other in reordered_pairs:
            rows = len(self.rows)
            self._add(None if one is None else bar_order[one], other)
            row_of.append(min(rows, len(self.rows) - 1))
        two_to_one = [(row_of[first], row_of[second]) for first, second in two_to_one]
        repeated = [range(row_of[rows[0]], row_of[rows[-1]] + 1) for rows in repeated]
        for first, second in two_to_one:
            half = self.weights.split / 2
            self.in_step |= {first, second}
            for row in {first, second}:
                self.lost[row] = half
                if self.pairs[row][0] is not None:
                    self.rows[row] = replace(self.rows[row], score=1.0 - half)
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
            self._answer(),
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
            0.0 if abs(surcharge) < 1e-9 else surcharge,
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

    def _answer(self) -> ChartContent:
        """Return the answer as it is written, with its numbers moved as the reading has them."""
        return self.reading.answer

    def _add(self, one: int | None, read: int | None) -> None:
        """Add the row or rows of a bar of the reference and one of the reading."""
        if one is not None and read is not None and self.is_plain:
            bar = self.reading.read_bars[read]
            c = compare(self.reference.contents[one], bar.content, self.weights.plain_minor)
            grade = _grade(one, read, c, bar, self.weights)
            self._append((one, read), c, bar.content, grade, bar.keep)
            self.lost[-1] = 1.0 - grade.score
            return
        read_bar = None if read is None else self.reading.read_bars[read]
        bars = () if read_bar is None else read_bar.bars
        again = read_bar is not None and read_bar.half == 1 and self._has_row(bars[0])
        other = None if read_bar is None or again else bars[0]
        if one is None and other is None:
            # The second half of a bar whose first half has its row: nothing more to show.
            self.lost[-1] += self.weights.added
            return
        start = len(self.rows)
        if one is None or read_bar is None:
            self._append((one, other), None, None, BarGrade(_up(one), _up(other)), 1.0)
            self.lost[-1] = 1.0 if one is not None else self.weights.added / len(bars or (0,))
        else:
            written = read_bar.content
            c = compare(self.reference.contents[one], written, self.weights.plain_minor)
            grade = _grade(one, other, c, read_bar, self.weights)
            self._append((one, other), c, written, grade, read_bar.keep)
            self.sources[-1] = bars[0]
            self.lost[-1] = 1.0 - grade.score
        for further in bars[1:]:
            self._append((None, further), None, None, BarGrade(None, further + 1), 1.0)
            self.lost[-1] = self.weights.added / len(bars) if one is None else 0.0
        if one is not None and (len(bars) > 1 or (read_bar is not None and read_bar.half == 1)):
            self.counted.append(tuple(range(start - (len(bars) == 1), len(self.rows))))

    def _has_row(self, bar: int) -> bool:
        return any(other == bar for _, other in self.pairs[-2:])

    def _append(
        self,
        pair: Pair,
        c: Comparison | None,
        written: BarContent | None,
        grade: BarGrade,
        keep: float,
    ) -> None:
        self.pairs.append(pair)
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
        for row, c in enumerate(self.comparisons):
            written, (one, _) = self.written[row], self.pairs[row]
            if c is None or written is None or one is None or c.same_chord == 1.0:
                continue
            if row in self.in_step:
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
                self.rows[row] = replace(self.rows[row], score=score)
                self.lost[row] = 1.0 - score

    def _misplaced_articulations(self) -> float:
        """Return what is charged twice, in bars, for an articulation in the bar beside its own."""
        spared, before = 0.0, 0.0
        for row in range(1, len(self.rows)):
            here = min(self._lost_articulation(row - 1), self._lost_articulation(row)) - before
            before = 0.0
            if here > 0 and self._kinds(row - 1, 0) == self._kinds(row, 1) != self._kinds(
                row, 0
            ) == self._kinds(row - 1, 1):
                spared, before = spared + here, here
        return spared

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
        takes its key change with it, which is not charged to other bars.
        """
        w = self.weights
        if not w.key_change:
            return []
        off, charged, keep = 0, [], 1.0
        for row, (one, other) in enumerate(self.pairs):
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
                self.rows[row] = _scaled(self.rows[row], keep)
                self.lost[row] = 1.0 - self.rows[row].score
                charged.append(row)
        return charged

    def _added_key_change(self, other: int) -> int:
        return next(
            (one.bar.key_change for one in self.reading.read_bars if one.bars[0] == other), 0
        )


def _scaled(row: BarGrade, keep: float) -> BarGrade:
    """Return a row that keeps a share of each of its scores."""
    return replace(row, **{name: getattr(row, name) * keep for name in SCORES})


def _up(bar: int | None) -> int | None:
    return None if bar is None else bar + 1


def _all_same(one: Sequence[Sonority], other: Sequence[Sonority]) -> bool:
    return len(one) == len(other) and all(
        a.same_chord_as(b) for a, b in zip(one, other, strict=True)
    )


def _grade(
    one: int, other: int | None, c: Comparison, read_bar: ReadBar | None, weights: Weights
) -> BarGrade:
    """Return the grade of a bar of the reference, both from 0, with what its reading keeps."""
    keep, meter = (1.0, 1.0) if read_bar is None else (read_bar.keep, read_bar.meter)
    chords: ChordAgreement = c.chords(weights)
    return BarGrade(
        one + 1,
        _up(other),
        bar_credit(c, weights) * keep,
        chords.root * keep,
        quality_credit(chords, weights) * keep,
        chords.bass * keep,
        c.placement * keep,
        c.articulation * keep,
        c.meter * meter * keep,
        c.key_change * keep,
        c.over_time.strict * keep,
    )


def _bar_credits(
    reference: ChartContent, answer: ChartContent, weights: Weights
) -> NDArray[np.float64]:
    """Return the credit of each reference bar written as each answer bar; shape (n, m)."""
    import numpy as np

    rows, ours = different_bars(reference.contents)
    columns, theirs = different_bars(answer.contents)
    if len(ours) * len(theirs) > MANY_PAIRS:
        from trainer.grade.credits import credit_table

        table = credit_table(ours, theirs, weights)
    else:
        house = weights.plain_minor
        table = np.array(
            [[bar_credit(compare(one, other, house), weights) for other in theirs] for one in ours]
        )
    bar_credits: NDArray[np.float64] = table[np.ix_(rows, columns)]
    return bar_credits


def different_bars(contents: Sequence[BarContent]) -> tuple[list[int], list[BarContent]]:
    """Return each bar's number among the different bars, and those bars."""
    seen: dict[BarContent, int] = {}
    numbers = [seen.setdefault(content, len(seen)) for content in contents]
    return numbers, list(seen)
