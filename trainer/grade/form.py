"""Grade the form: which sections a chart has, and in which order.

Sections are compared by what their labels stand for. "Verse 2", "Verse" and "V" are all verses, and
a short name of several kinds ("Int") agrees with each of them (`trainer.chart.section_names`).

A single letter is read as the short name that it may be ("B" for a bridge) or, from A to H, as a
letter of the form, as in A A B A. A number ("Part 2", "Section 2") is such a letter, too. A
letter of the form stands for one label of the other chart, whatever that is, and no other label
stands for the same: the map is one to one. A chart that calls every verse A and every chorus B is
right, and one that calls one of the verses B has one section wrong. Of all readings the one counts
that agrees best, so that a wrong label gains nothing by how the others are read.

Sections are matched in order by the longest common subsequence of labels that agree; of the
longest, the one with the most names in common.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from trainer.chart.section_names import form_letter, possible_kinds
from trainer.grade.content import ChartContent
from trainer.grade.report import FormGrade, SectionPair

if TYPE_CHECKING:
    from trainer.grade.align_table import Pair

__all__ = ["grade_form"]

# The search for the best reading of letters stops after this many readings and takes the best one.
# Charts of up to four letters are read exactly.
MOST_READINGS = 2_000
FORM_LETTERS = frozenset("ABCDEFGH123456789")


def grade_form(reference: ChartContent, answer: ChartContent) -> FormGrade:
    """Grade the answer's sections."""
    ours = [section.name for section in reference.sections]
    theirs = [section.name for section in answer.sections]
    matches: Sequence[Pair] = [(k, k) for k in range(len(ours))]
    if ours != theirs:
        matches = _match_sections(ours, theirs, _agreement(ours, theirs))
    our_bars, their_bars = _section_lengths(reference), _section_lengths(answer)
    rows = tuple(
        SectionPair(
            None if one is None else ours[one],
            None if other is None else theirs[other],
            0 if one is None else our_bars[one],
            0 if other is None else their_bars[other],
        )
        for one, other in matches
    )
    lengths = [
        our_bars[one] == their_bars[other]
        for one, other in matches
        if one is not None and other is not None
    ]
    order = 2 * len(lengths) / (len(ours) + len(theirs))
    return FormGrade(order, order, sum(lengths) / len(ours), rows)


def _section_lengths(chart: ChartContent) -> list[int]:
    return [end - start for start, end in pairwise(chart.section_boundaries)]


class _Label(NamedTuple):
    """What a section's name says: a letter or number, or None, and the kinds it may stand for."""

    letter: str | None
    kinds: tuple[str, ...]

    def agrees_with(self, other: _Label) -> bool:
        """Whether both stand for the same as names usually do, apart from any letter scheme."""
        if self.letter and other.letter:
            return self.letter == other.letter
        return not set(self.kinds).isdisjoint(other.kinds)


def _label(name: str) -> _Label:
    return _Label(form_letter(name), possible_kinds(name))


def _agreement(ours: Sequence[str], theirs: Sequence[str]) -> list[int]:
    """Return for each section of the answer which sections of the reference its label fits.

    Sets are integers: bit k stands for section k of the reference.
    """
    sections: dict[_Label, int] = {}
    for k, name in enumerate(ours):
        label = _label(name)
        sections[label] = sections.get(label, 0) | 1 << k
    labels = [_label(name) for name in theirs]
    different = list(dict.fromkeys(labels))
    usual, scheme = [], []
    for label in different:
        agrees = [label.agrees_with(other) for other in sections]
        usual.append(sum(yes << r for r, yes in enumerate(agrees)))
        letters = [not FORM_LETTERS.isdisjoint((label.letter, other.letter)) for other in sections]
        scheme.append(sum(yes << r for r, yes in enumerate(letters)) & ~usual[-1])
    search = _ReadingSearch(
        tuple(sections.values()), tuple(map(different.index, labels)), usual, scheme
    )
    return search.best()


class _ReadingSearch:
    """The search for the reading of letters that agrees best: branch and bound.

    A reading says for each label of the answer which labels of the reference it stands for, as an
    integer in which bit r is label r. In `usual` these are the labels that agree by themselves, in
    `scheme` those of which it may stand for one, if no other label stands for that. `sections` are
    the sections of each of the reference's labels, `order` the labels of the answer's sections.
    """

    def __init__(
        self, sections: tuple[int, ...], order: tuple[int, ...], usual: list[int], scheme: list[int]
    ) -> None:
        self.sections, self.order, self.usual, self.scheme = sections, order, usual, scheme
        self.everywhere = sum(sections)
        self.readings = 0
        self.best_length, self.best_reading = self._length(usual), usual

    def best(self) -> list[int]:
        """Return the sections of the reference that each section of the answer fits."""
        widest = [one | other for one, other in zip(self.usual, self.scheme, strict=True)]
        self._branch(widest, self._length(widest), 0)
        masks = self._masks(self.best_reading)
        return [masks[label] for label in self.order]

    def _branch(self, reading: list[int], length: int, at: int) -> None:
        """Decide the labels of the answer from number `at` on; no reading gets above `length`."""
        if length <= self.best_length or self.readings > MOST_READINGS:
            return
        if at == len(reading):
            self.best_length, self.best_reading = length, reading
            return
        options = [[*reading[:at], reading[at] & self.usual[at], *reading[at + 1 :]]]
        for r in range(len(self.sections)):
            if reading[at] & self.scheme[at] & 1 << r:
                option = [labels & ~(1 << r) for labels in reading]
                option[at] = 1 << r
                options.append(option)
        rated = [(self._length(option), option) for option in options]
        for bound, option in sorted(rated, key=lambda pair: -pair[0]):
            self._branch(option, bound, at + 1)

    def _masks(self, reading: list[int]) -> list[int]:
        return [
            sum(section for r, section in enumerate(self.sections) if labels >> r & 1)
            for labels in reading
        ]

    def _length(self, reading: list[int]) -> int:
        """Return the length of the longest common subsequence (Hyyrö 2004, bit-parallel)."""
        self.readings += 1
        masks, unmatched = self._masks(reading), self.everywhere
        for label in self.order:
            fits = unmatched & masks[label]
            unmatched = (unmatched + fits | unmatched - fits) & self.everywhere
        return self.everywhere.bit_count() - unmatched.bit_count()


def _match_sections(ours: Sequence[str], theirs: Sequence[str], fits: Sequence[int]) -> list[Pair]:
    """Match by the longest common subsequence; of the longest, by most names in common.

    `fits` has for each of `theirs` the set of `ours` that it fits. Returns pairs of their numbers,
    None beside one without a match.
    """
    n, m = len(ours), len(theirs)
    best = [[(0, 0)] * (m + 1) for _ in range(n + 1)]
    for i in range(n - 1, -1, -1):
        for j in range(m - 1, -1, -1):
            skip = max(best[i + 1][j], best[i][j + 1])
            if fits[j] >> i & 1:
                matched, names = best[i + 1][j + 1]
                skip = max(skip, (matched + 1, names + (ours[i] == theirs[j])))
            best[i][j] = skip
    return _trace_sections(best, ours, theirs, fits)


def _trace_sections(
    best: list[list[tuple[int, int]]],
    ours: Sequence[str],
    theirs: Sequence[str],
    fits: Sequence[int],
) -> list[Pair]:
    """Walk through the table of `_match_sections` from its start."""
    pairs: list[Pair] = []
    i = j = 0
    while i < len(ours) or j < len(theirs):
        if i < len(ours) and j < len(theirs) and fits[j] >> i & 1:
            matched, names = best[i + 1][j + 1]
            if best[i][j] == (matched + 1, names + (ours[i] == theirs[j])):
                pairs.append((i, j))
                i, j = i + 1, j + 1
                continue
        if i < len(ours) and (j == len(theirs) or best[i][j] == best[i + 1][j]):
            pairs.append((i, None))
            i += 1
        else:
            pairs.append((None, j))
            j += 1
    return pairs
