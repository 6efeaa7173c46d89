"""Find the reading that explains an answer best.

Where an answer is poor as it is written it is read in other ways: counted double or half, counted
from another 1 (a minor song: from its relative major, or from its own 1), with a key change counted
that is not written, or the other way round; throughout, or in a section. A reading has the credit
that `Weights` declares for it. Of those that are believed the one that leaves least unexplained is
taken; for a part, the one with the best grade. Which are believed is told in `belief`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from trainer.chart.model import Chart, Meter
from trainer.grade.aligned import AlignedCharts, bars_score
from trainer.grade.belief import (
    SHARE_EXPLAINED,
    explained_bars,
    is_believed_count,
    is_believed_shift,
    mean_agreement,
)
from trainer.grade.content import ChartContent, in_first_key
from trainer.grade.home_shift import describe_shift, kind_of_shift
from trainer.grade.readings import Reading, as_written
from trainer.grade.regions import poor_regions
from trainer.grade.report import HomeShift
from trainer.grade.rows import as_meant
from trainer.grade.scoring import align_reading
from trainer.grade.weights import Weights
from trainer.grade.whole_chart import Timing

__all__ = ["HomeReading", "find_reading"]

# Up to this score of the bars other readings of the whole are tried: a chart with three bars of
# four right is meant as it is written, and trying others takes time.
MOST_SCORE_TO_TRY = 0.75
# The same for parts: where more is right, too little is lost to be a part read in another way.
MOST_SCORE_OF_PARTS = 0.96
# What a reading must gain, in bars: less than one bar may be won by chance.
LEAST_GAIN = 1.0
# How many parts of a song may be read in another way; more are a chart that is wrong all over.
MOST_PARTS = 4
# How many times as long as the song an answer is that may be counted double, and half: not quite
# twice and half as long, since bars may be missing or too many besides.
DOUBLE, HALF = 1.4, 0.72
# What share of the bars must come twice in a row where an answer may be counted double at any
# length; and how many bars must be there to tell that, of the longer and of the shorter side.
SHARE_TWICE, FEWEST_BARS, FEWEST_HALF_BARS = 0.75, 4, 2
# How many shifts are tried for the roots they share: those of the tonic and of its relative often
# share as many.
CANDIDATES = 2
# How many bars must share their roots before a shift is tried: fewer share them under most shifts.
FEWEST_SHARED = 3
# A reading in another count or from another 1 is taken, whatever its grade, if it explains at least
# this share of the bars, and this much more than the reading before.
LEAST_EXPLAINED, EXPLAINED_MORE = 0.85, 0.15
# At least this share of what a part gains from another 1 must remain in the whole chart, since the
# bars beside the part are then aligned again and may lose.
PART_OF_GAIN = 0.5
# How many cells all alignments of an answer may have in total.
MOST_CELLS = 2_500_000


@dataclass(frozen=True, slots=True, eq=False)
class HomeReading:
    """An answer as it is explained best: the charts aligned, and what to say of its tonic.

    `meter_renamed` is whether the answer's meter, `written_meter`, is read as the song's,
    `same_pulse` whether that is another name for as many pulses.
    """

    aligned: AlignedCharts
    shift: HomeShift | None = None
    meter_renamed: bool = False
    same_pulse: bool = False
    written_meter: str = ""


def find_reading(
    chart: Chart,
    answer: Chart,
    reference: ChartContent,
    content: ChartContent,
    weights: Weights,
    timing: Timing | None = None,
) -> HomeReading:
    """Return the reading that explains an answer best.

    `reference` and `content` are the contents of the song, `chart`, and of the answer. When bars
    were written (`timing`) helps to find which bars they stand for; it is not needed.
    """
    return _Search(chart, answer, reference, content, weights, timing).run()


class _Search:
    """The search for the best reading of one answer."""

    def __init__(
        self,
        chart: Chart,
        answer: Chart,
        reference: ChartContent,
        content: ChartContent,
        weights: Weights,
        timing: Timing | None,
    ) -> None:
        self.timing = timing
        self.chart, self.answer = chart, answer
        self.reference, self.content, self.weights = reference, content, weights
        self.cells = 0

    def run(self) -> HomeReading:
        base = as_written(self.content)
        renamed = same_pulse = False
        if self.answer.meter != self.chart.meter and self.weights.meter:
            same_pulse = _same_pulse(self.answer.meter, self.chart.meter)
            keep = self.weights.other_pulse if same_pulse else self.weights.other_meter
            read = base.in_meters(_renamed(self.answer, self.chart), keep, same_pulse=same_pulse)
            plain, other = self._aligned(base), self._aligned(read)
            renamed = self._score(other) > self._score(plain)
            best = other if renamed else plain
            if self._count_explains_meter():
                base = base.in_meters(_renamed(self.answer, self.chart), 1.0, same_pulse=True)
            else:
                base = best.reading
        else:
            best = self._aligned(base)
        if self._score(best) <= MOST_SCORE_TO_TRY:
            best = self._of_the_whole(best, base)
        best = self._of_keys(best)
        for _ in range(MOST_PARTS):
            if self._score(best) > MOST_SCORE_OF_PARTS:
                break
            better = self._of_a_part(best)
            if better is best:
                break
            best = better
        shift = describe_shift(best, self.chart, self.content, self.weights)
        if best.counted and self._count_explains_meter():
            renamed = False
        return HomeReading(best, shift, renamed, same_pulse, str(self.answer.meter))

    def _count_explains_meter(self) -> bool:
        """Whether the answer's meter follows from bars that are counted double or half.

        So it is with 2/4 for 4/4 and 6/8 for 12/8, and with 3/4 for 6/8, whose eighths are counted.
        """
        one, other = self.chart.meter.beats, self.answer.meter.beats
        return one == 2 * other or other == 2 * one

    def _aligned(self, reading: Reading) -> AlignedCharts:
        """Align the charts; where that is doubtful, again with what the page knows as anchors."""
        # numpy is loaded only once something is graded.
        from trainer.grade.anchors import best_anchored, is_doubtful, written_too_early

        early = None
        if self.timing is not None and reading.is_bar_for_bar:
            early = written_too_early(self.timing)
        self.cells += len(self.reference) * len(reading.content)
        plain = align_reading(self.reference, reading, self.weights)
        if not self._may_try() or not is_doubtful(plain, self.weights, early):
            return plain
        self.cells += 2 * len(self.reference) * len(reading.content)
        return best_anchored(plain, self.weights, early)

    def _score(self, aligned: AlignedCharts) -> float:
        return bars_score(aligned, self.weights)

    def _may_try(self) -> bool:
        return self.cells < MOST_CELLS

    def _better(self, best: AlignedCharts, tried: AlignedCharts) -> bool:
        gain = (self._score(tried) - self._score(best)) * len(self.reference)
        return gain >= LEAST_GAIN

    def _counts_better(self, best: AlignedCharts, tried: AlignedCharts) -> bool:
        """Whether a reading in another count is graded better, or leaves far less unexplained."""
        if self._better(best, tried):
            return True
        meant, other = self._explained(tried), self._explained(best)
        part = len(tried.counted) - len(best.counted)
        more = EXPLAINED_MORE * min(1.0, max(1, part) / len(self.reference))
        return meant >= LEAST_EXPLAINED and meant >= other + more

    def _explains_more(self, best: AlignedCharts, tried: AlignedCharts, bars: range) -> bool:
        """Whether a reading of some bars explains far more, though it is not graded better.

        The bars must agree nearly all, and by much more than they did.
        """
        right, other = (mean_agreement(one, bars, self.weights) for one in (tried, best))
        gained = self._explained(tried) - self._explained(best)
        share = len(bars) / max(len(self.content), len(self.reference))
        return (
            right >= LEAST_EXPLAINED
            and right >= other + EXPLAINED_MORE
            and gained >= EXPLAINED_MORE * share * PART_OF_GAIN
        )

    def _of_the_whole(self, best: AlignedCharts, base: Reading) -> AlignedCharts:
        """Return the best reading of the whole answer in another count, from another 1, or both.

        Parameters: `base` is the reading in which bars are counted double or half.
        """
        bars = range(len(self.content))
        believed = []
        for reading in (best.reading, *self._other_counts(base, bars, len(self.reference))):
            if reading is not best.reading and self._may_try():
                tried = self._aligned(reading)
                if is_believed_count(tried, bars) and self._counts_better(best, tried):
                    believed.append(tried)
            for semitones in self._likely_shifts(reading, bars, range(len(self.reference))):
                if not self._may_try():
                    break
                tried = self._aligned(reading.shifted(bars, semitones, self._keep(semitones)))
                if is_believed_shift(tried, bars) and (
                    self._better(best, tried) or self._explains_more(best, tried, bars)
                ):
                    believed.append(tried)
        return max(believed, key=self._explained, default=best)

    def _explained(self, tried: AlignedCharts) -> float:
        """Return the score of the bars as they were meant."""
        return bars_score(as_meant(tried, self.weights), self.weights)

    def _keep(self, semitones: int, bars: range | None = None) -> float:
        """Return what is kept of an answer, or some of its bars, read that many semitones up."""
        kind = self._kind(-semitones % 12, bars)
        w = self.weights
        return w.other_home if kind == "another home" else w.relative_home

    def _kind(self, semitones: int, bars: range | None = None) -> str:
        own = self.content.contents[slice(bars.start, bars.stop) if bars else slice(None)]
        return kind_of_shift(semitones, self.chart, self.reference, own)

    def _other_counts(self, base: Reading, bars: range, song_bars: int) -> Iterator[Reading]:
        """Give the readings of some bars in another count that are likely by their number."""
        contents = [one.content for one in base.of_bars(bars)]
        twice = sum(a == b for a, b in zip(contents[::2], contents[1::2], strict=False))
        if len(bars) >= FEWEST_BARS and (
            len(bars) >= DOUBLE * song_bars or twice >= SHARE_TWICE * (len(bars) // 2)
        ):
            yield base.counted_double(bars, self.weights.other_count)
        if song_bars >= FEWEST_BARS and FEWEST_HALF_BARS <= len(bars) <= HALF * song_bars:
            yield base.counted_half(bars, self.weights.other_count)

    def _likely_shifts(self, reading: Reading, bars: range, song_bars: range) -> list[int]:
        """Return the shifts, in semitones up, under which most bars could agree.

        They are judged by how often each root comes first in a bar of either side.
        """
        ours = Counter([self.reference.contents[bar].sonorities[0].root for bar in song_bars])
        theirs = Counter([one.content.sonorities[0].root for one in reading.of_bars(bars)])
        del ours[-1], theirs[-1]
        number = min(ours.total(), theirs.total())
        overlap = {
            shift: sum(min(count, theirs[(root - shift) % 12]) for root, count in ours.items())
            for shift in range(12)
        }
        # One bar more may agree once the bars are aligned.
        least = max(FEWEST_SHARED, SHARE_EXPLAINED * number - 1)
        ranked = sorted(range(1, 12), key=lambda shift: (-overlap[shift], shift))
        return [shift for shift in ranked[:CANDIDATES] if overlap[shift] >= least]

    def _of_keys(self, best: AlignedCharts) -> AlignedCharts:
        """Return the answer read in the song's keys, where both sound alike and that is better."""
        reference, answer = self.reference, best.reading.answer
        if not (any(reference.key_shifts) or any(answer.key_shifts)):
            return best
        if not best.reading.is_bar_for_bar or not self._may_try():
            return best
        sounding = align_reading(
            in_first_key(reference), as_written(in_first_key(answer)), self.weights
        )
        shifts, changes = [0] * len(answer), [0] * len(answer)
        before = 0
        for one, other in sounding.pairs:
            if other is None:
                continue
            if one is not None:
                before = reference.key_shifts[one]
                changes[other] = reference.contents[one].key_change
            shifts[other] = answer.key_shifts[other] - before
        if not any(shift % 12 for shift in shifts):
            return best
        tried = self._aligned(best.reading.in_keys(shifts, changes, self.weights.other_home))
        moved = [k for k, shift in enumerate(shifts) if shift % 12]
        explained = explained_bars(tried)
        if sum(bar in explained for bar in moved) < SHARE_EXPLAINED * len(moved):
            return best
        return tried if self._better(best, tried) else best

    def _of_a_part(self, best: AlignedCharts) -> AlignedCharts:
        """Return the best reading with one more part of the answer read in another way."""
        found = best
        for region in poor_regions(best):
            reading, bars = best.reading, region.bars
            candidates = [
                (other, None)
                for other in self._other_counts(reading, bars, len(region.song_bars))
                if region.may_be_counted
            ] + [
                (reading.shifted(bars, semitones, self._keep(semitones, bars)), semitones)
                for semitones in self._likely_shifts(reading, bars, region.song_bars)
                if not region.is_shifted
            ]
            for candidate, semitones in candidates:
                if not self._may_try():
                    return found
                tried = self._aligned(candidate)
                if semitones is None:
                    believed = is_believed_count(tried, bars) and self._counts_better(found, tried)
                else:
                    believed = is_believed_shift(tried, bars) and (
                        self._better(found, tried) or self._explains_more(found, tried, bars)
                    )
                if believed:
                    found = tried
        return found


def _same_pulse(one: Meter, other: Meter) -> bool:
    """Whether bars of two meters have as many pulses, or are one simple meter in other units."""
    pulses = [meter.quarters / meter.pulse_quarters for meter in (one, other)]
    simple = all(meter.pulse_quarters.denominator == 1 for meter in (one, other))
    return pulses[0] == pulses[1] or (simple and one.quarters == other.quarters)


def _renamed(answer: Chart, chart: Chart) -> dict[Meter, Meter]:
    """Return the song's name for each meter of the answer that has one."""
    named = {}
    for meter in {bar.meter for bar in answer.bars()}:
        beats = meter.beats * chart.meter.beats
        if meter.unit == answer.meter.unit and not beats % answer.meter.beats:
            named[meter] = Meter(beats // answer.meter.beats, chart.meter.unit)
    return named
