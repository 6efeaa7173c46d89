"""Put mistakes together that have one cause.

Two chords are exchanged for each other throughout; a hold, push or choke, or a bar of another
length, is written a bar or two from where it was played.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

from trainer.grade.aligned import AlignedCharts
from trainer.grade.bar_losses import Place
from trainer.grade.content import Sonority
from trainer.grade.mistakes import Key, Mistake

__all__ = ["exchanged_roots", "join_mistakes"]

# How many bars from where it was played something may be written and still be the same.
REACH = 2
# Two chords are exchanged if each is written for the other in at least this many bars, and in at
# least this share of the bars that have it.
LEAST_EXCHANGED, LEAST_EXCHANGED_SHARE = 2, 0.8


def join_mistakes(
    aligned: AlignedCharts, found: list[Mistake], exchanged: Collection[frozenset[int]]
) -> list[Mistake]:
    """Return the mistakes, those that have one cause put together.

    `exchanged` are the pairs of roots that are written for each other.
    """
    moved = [*_articulations_elsewhere(found), *_meters_elsewhere(aligned, found)]
    return _exchanged([one for one in found if one.places] + moved, exchanged)


def _articulations_elsewhere(found: Sequence[Mistake]) -> list[Mistake]:
    """Join an articulation left out and the same one added close by: it has moved."""
    moved = []
    for missing in [one for one in found if one.kind == "articulation left out"]:
        for extra in found:
            if extra.kind == "articulation added" and extra.detail == missing.detail:
                moved += _moved(missing, extra, "articulation elsewhere", missing.detail)
    return moved


def _meters_elsewhere(aligned: AlignedCharts, found: Sequence[Mistake]) -> list[Mistake]:
    """Join a bar of another length that is missed and one made up close by: it has moved.

    The detail of the new mistake is the meter that has moved, as beats and unit.
    """
    missed = [one for one in found if one.kind == "meter"]
    meters = [bar.meter for bar in aligned.reference.contents] if missed else []
    moved = []
    for missing in missed:
        played, usual = missing.detail
        if played == usual:
            # A bar that is written in the song's meter, in a chart in another.
            continue
        if 2 * sum(meter == usual for meter in meters) < len(meters):
            continue
        for extra in found:
            if extra.kind == "meter" and extra.detail == (usual, played):
                moved += _moved(missing, extra, "meter elsewhere", (played,))
    return moved


def _moved(missing: Mistake, extra: Mistake, kind: str, detail: Key) -> list[Mistake]:
    """Return what is missing in one place and made up close by as one mistake, if anything is."""
    mistake = Mistake(kind, detail=detail)
    for place, other in _near_each_other(missing.places, extra.places):
        for source, gone in ((missing, place), (extra, other)):
            share = source.lost_bars / len(source.places)
            at = source.places.index(gone)
            mistake.contents.append(source.contents.pop(at))
            source.places.remove(gone)
            source.lost_bars -= share
            mistake.lost_bars += share
            mistake.places.append(gone)
        mistake.moves.append((place[0] or 0, other[0] or 0))
    return [mistake] if mistake.moves else []


def _near_each_other(ours: Sequence[Place], theirs: Sequence[Place]) -> list[tuple[Place, Place]]:
    """Match places at most a few bars apart, the nearest first, each once."""
    near = sorted(
        (abs((one[0] or 0) - (other[0] or 0)), i, j)
        for i, one in enumerate(ours)
        for j, other in enumerate(theirs)
    )
    matched: dict[int, int] = {}
    for distance, i, j in near:
        if distance <= REACH and i not in matched and j not in matched.values():
            matched[i] = j
    return [(ours[i], theirs[j]) for i, j in sorted(matched.items())]


def _exchanged(found: list[Mistake], exchanged: Collection[frozenset[int]]) -> list[Mistake]:
    """Put the mistakes on two chords together that are exchanged throughout."""
    by_roots: dict[frozenset[int], list[Mistake]] = {}
    for mistake in found:
        if mistake.kind in ("other chord", "accidental left out"):
            _, _, played, written = mistake.places[0]
            if isinstance(played, Sonority) and isinstance(written, Sonority):
                by_roots.setdefault(frozenset((played.root, written.root)), []).append(mistake)
    for roots in exchanged:
        both = Mistake("exchanged", detail=tuple(sorted(roots)))
        for mistake in by_roots.get(roots, ()):
            both.lost_bars += mistake.lost_bars
            both.places += mistake.places
            both.contents += mistake.contents
            both.is_spared |= mistake.is_spared
            found.remove(mistake)
        if both.places:
            found.append(both)
    return found


def exchanged_roots(aligned: AlignedCharts) -> set[frozenset[int]]:
    """Return the pairs of roots that are written for each other, each nearly wherever it was."""
    counts: Counter[tuple[int, int]] = Counter()
    wrong = [number for number, row in enumerate(aligned.rows) if row.root != 1.0]
    for number in wrong:
        one, theirs = aligned.pairs[number][0], aligned.written[number]
        if one is None or theirs is None:
            continue
        ours = aligned.reference.contents[one].sonorities
        if len(ours) == len(theirs.sonorities):
            roots = zip(ours, theirs.sonorities, strict=True)
            counts.update({(played.root, written.root) for played, written in roots})
    likely = [
        pair
        for pair, count in counts.items()
        if pair[0] < pair[1] and min(count, counts[pair[::-1]]) >= LEAST_EXCHANGED
    ]
    return {
        frozenset(pair)
        for pair in likely
        if all(
            number >= LEAST_EXCHANGED_SHARE * _bars_written_with(aligned, root)
            for number, root in ((counts[pair], pair[0]), (counts[pair[::-1]], pair[1]))
        )
    }


def _bars_written_with(aligned: AlignedCharts, root: int) -> int:
    """Return how many bars of the song that were written have a root."""
    return sum(
        one is not None
        and theirs is not None
        and any(each.root == root for each in aligned.reference.contents[one].sonorities)
        for (one, _), theirs in zip(aligned.pairs, aligned.written, strict=True)
    )
