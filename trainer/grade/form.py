"""Form: which sections in which order, and how long.

Sections are compared by kind (verse, chorus …), so "Verse 2" may be called "Verse". They are
matched in order by the longest common subsequence of kinds, sections of the same name first.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from trainer.grade.alignment import Pair
from trainer.grade.report import FormGrade, SectionPair
from trainer.grade.sheet import Sheet

__all__ = ["grade_form"]


def grade_form(reference: Sheet, answer: Sheet) -> FormGrade:
    """Grade the answer's sections."""
    ours, theirs = reference.parts, answer.parts
    matches = _match(
        [(kind, part.name) for kind, part in zip(reference.kinds, ours, strict=True)],
        [(kind, part.name) for kind, part in zip(answer.kinds, theirs, strict=True)],
    )
    paired = [pair for pair in matches if None not in pair]
    long, written = _lengths(reference), _lengths(answer)
    rows = tuple(
        SectionPair(
            None if one is None else ours[one].name,
            None if other is None else theirs[other].name,
            0 if one is None else long[one],
            0 if other is None else written[other],
        )
        for one, other in matches
    )
    right = sum(
        one is not None and other is not None and long[one] == written[other]
        for one, other in paired
    )
    order = 2 * len(paired) / (len(ours) + len(theirs))
    return FormGrade(order, order, right / len(ours), rows)


def _lengths(sheet: Sheet) -> list[int]:
    return [end - start for start, end in pairwise(sheet.section_limits)]


def _match(ours: Sequence[tuple[str, str]], theirs: Sequence[tuple[str, str]]) -> list[Pair]:
    """Longest common subsequence of kinds; of the longest, the one with most names in common."""
    n, m = len(ours), len(theirs)
    best = [[(0, 0)] * (m + 1) for _ in range(n + 1)]
    for i in range(n - 1, -1, -1):
        for j in range(m - 1, -1, -1):
            skip = max(best[i + 1][j], best[i][j + 1])
            if ours[i][0] == theirs[j][0]:
                kinds, names = best[i + 1][j + 1]
                skip = max(skip, (kinds + 1, names + (ours[i][1] == theirs[j][1])))
            best[i][j] = skip
    return _follow(best, ours, theirs)


def _follow(
    best: list[list[tuple[int, int]]],
    ours: Sequence[tuple[str, str]],
    theirs: Sequence[tuple[str, str]],
) -> list[Pair]:
    pairs: list[Pair] = []
    i = j = 0
    while i < len(ours) or j < len(theirs):
        if i < len(ours) and j < len(theirs) and ours[i][0] == theirs[j][0]:
            kinds, names = best[i + 1][j + 1]
            if best[i][j] == (kinds + 1, names + (ours[i][1] == theirs[j][1])):
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
