"""Find what is wrong in the bars, and charge what each of them lost to a mistake.

Every loss of every bar goes to exactly one mistake (`bar_losses`), so the costs of all mistakes add
up to what the bars lost. Mistakes that have one cause are then put together
(`joined_mistakes`).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import zip_longest

from trainer.chart.model import Articulation, Bar
from trainer.grade.aligned import AlignedCharts
from trainer.grade.bar_losses import CHORD_MISTAKES, SPLIT_MISTAKES, BarLosses, Place
from trainer.grade.compare import Comparison, bar_credit
from trainer.grade.joined_mistakes import exchanged_roots, join_mistakes
from trainer.grade.known_bars import KnownBars, known_bars
from trainer.grade.mistakes import Key, Mistake
from trainer.grade.report import AlignmentEdit
from trainer.grade.weights import ROUNDING, Weights

__all__ = ["find_mistakes"]

# Edits of these kinds are put together where each is of single bars.
SINGLE_BAR_EDITS = frozenset(
    ("left out", "added", "doubled", "split written as two bars", "two bars written as one")
)
# Edits that say how a whole stretch is written. The bars inside stand beside their own and have
# their own mistakes.
EDITS_OF_STRETCHES = frozenset(("swapped", "counted double", "counted half"))
KINDS = frozenset(kind.value for kind in Articulation)


def find_mistakes(
    aligned: AlignedCharts, edits: Sequence[AlignmentEdit], weights: Weights
) -> list[Mistake]:
    """Return every mistake in the bars. Bars that an edit is about lost what they lost by it."""
    found: dict[Key, Mistake] = {}
    by_song_bar: dict[int, AlignmentEdit] = {}
    by_answer_bar: dict[int, AlignmentEdit] = {}
    stretches: list[AlignmentEdit] = []
    exchanged, known = exchanged_roots(aligned), known_bars(weights)
    for edit in _edits_to_tell(aligned, edits, exchanged):
        if edit.kind in EDITS_OF_STRETCHES and edit.unit != "bar":
            lost = weights.swap_of(len(edit.reference)) if edit.kind == "swapped" else 0.0
            mistake = found[_edit_key(aligned, edit)] = Mistake(edit.kind, lost)
            _add_edit(mistake, aligned, edit)
            stretches.append(edit)
        else:
            by_song_bar |= dict.fromkeys(edit.reference, edit)
            by_answer_bar |= dict.fromkeys(edit.answer, edit)
    for number, row in enumerate(aligned.rows):
        if row.score == 1.0:
            continue
        named = by_song_bar.get(row.reference or -1) or by_answer_bar.get(row.answer or -1)
        if named is None:
            lost = aligned.lost[number] - _charge_row(found, aligned, known, number, exchanged)
            if stretches or lost > ROUNDING:
                _charge_stretch(found, aligned, stretches, number, lost)
            continue
        mistake = found.setdefault(_edit_key(aligned, named), Mistake(named.kind))
        if named not in mistake.edits:
            _add_edit(mistake, aligned, named)
        mistake.lost_bars += aligned.lost[number]
    _spare_slips(aligned, list(found.values()))
    return join_mistakes(aligned, list(found.values()), exchanged)


def _spare_slips(aligned: AlignedCharts, found: Sequence[Mistake]) -> None:
    """Take off what one slip made throughout is spared, from the mistakes on most of its bars."""
    for slip in aligned.slips:
        bars, spared = set(slip.bars), slip.spared
        in_chords = not KINDS.intersection(f"{slip.played} {slip.written}".split())
        on_them = [
            mistake
            for mistake in found
            if not mistake.edits
            and (mistake.kind in CHORD_MISTAKES | SPLIT_MISTAKES or not in_chords)
            and ("articulation" in mistake.kind or in_chords)
        ]
        for mistake in sorted(on_them, key=lambda one: -len(bars.intersection(one.bars))):
            if not bars.intersection(mistake.bars):
                continue
            taken = min(spared, mistake.lost_bars)
            mistake.is_spared = True
            mistake.lost_bars -= taken
            spared -= taken


def _edits_to_tell(
    aligned: AlignedCharts,
    edits: Sequence[AlignmentEdit],
    exchanged: Collection[frozenset[int]],
) -> list[AlignmentEdit]:
    """Return the edits, a phrase or section that is written several times too many as one.

    Bars said to be swapped that are in their order are left out: in those a hold has moved, or two
    chords are exchanged throughout.
    """
    told: list[AlignmentEdit] = []
    for edit in edits:
        if (
            edit.kind == "swapped"
            and edit.unit == "bar"
            and (_have_the_same_chords(aligned, edit) or _roots(aligned, edit) in exchanged)
        ):
            continue
        if told and _goes_on(told[-1], edit):
            told[-1] = replace(edit, answer=told[-1].answer + edit.answer)
        else:
            told.append(edit)
    return told


def _goes_on(edit: AlignmentEdit, following: AlignmentEdit) -> bool:
    """Whether two edits are one phrase, or section, that is written again and again."""
    return (
        edit.kind == following.kind == "doubled"
        and edit.unit == following.unit != "bar"
        and edit.answer[-1] + 1 == following.answer[0]
        and len(edit.answer) % len(following.answer) == 0
    )


def _charge_row(
    found: dict[Key, Mistake],
    aligned: AlignedCharts,
    known: KnownBars,
    row: int,
    exchanged: Collection[frozenset[int]],
) -> float:
    """Share out what stands in a row's bars, and return what they lost by it, in bars.

    What the reading takes away is not lost by that.
    """
    comparison = aligned.comparisons[row]
    if comparison is None or aligned.pairs[row][0] is None:
        return 0.0
    if aligned.counted and _is_recounted(aligned, row):
        comparison = _with_articulations_of_both(aligned, row, comparison)
    credit = bar_credit(comparison, known.weights)
    lost = min(aligned.lost[row], (1.0 - credit) * aligned.keeps[row])
    _bar_losses(found, aligned, known, row, exchanged).collect(comparison, credit, lost)
    return lost


def _charge_stretch(
    found: dict[Key, Mistake],
    aligned: AlignedCharts,
    stretches: Sequence[AlignmentEdit],
    row: int,
    lost: float,
) -> None:
    """Charge what a row lost besides to the stretch that it stands in, or beside."""
    grade = aligned.rows[row]
    for edit in stretches:
        if grade.reference in edit.reference or grade.answer in edit.answer:
            found[_edit_key(aligned, edit)].lost_bars += lost
            return
    _charge_recount(found, aligned, row, lost)


def _charge_recount(
    found: dict[Key, Mistake], aligned: AlignedCharts, row: int, lost: float
) -> None:
    """Charge what a row lost beside a stretch that is counted double or half to that stretch.

    A bar at its end may have no second bar, or no second half.
    """
    counted = [one for one in found.values() if one.kind in ("counted double", "counted half")]
    one, other = aligned.pairs[row]
    if lost <= ROUNDING or not counted or one is None or other is None:
        return
    nearest = min(counted, key=lambda mistake: min(abs(bar - one) for bar in mistake.bars))
    nearest.lost_bars += lost
    bars = aligned.reference.bars[one], aligned.answer.bars[other]
    nearest.places.append((one + 1, other + 1, *bars))


def _is_recounted(aligned: AlignedCharts, row: int) -> bool:
    """Whether a row holds two bars of the answer, or half of one."""
    return any(row in rows for rows in aligned.counted)


def _with_articulations_of_both(
    aligned: AlignedCharts, row: int, comparison: Comparison
) -> Comparison:
    """Return the comparison of a recounted bar without what its articulations lost by the count.

    A hold that is written in both of two bars counts as one, and one that stands over two bars of
    the song counts in either.
    """
    group = next(rows for rows in aligned.counted if row in rows)
    ours: set[Articulation] = set()
    theirs: set[Articulation] = set()
    for each in group:
        one, written = aligned.pairs[each][0], aligned.written[each]
        if one is not None:
            ours |= {what for _, what in aligned.reference.contents[one].articulations}
        if written is not None:
            theirs |= {what for _, what in written.articulations}
    return comparison._replace(articulation=1.0) if ours == theirs else comparison


def _bar_losses(
    found: dict[Key, Mistake],
    aligned: AlignedCharts,
    known: KnownBars,
    row: int,
    exchanged: Collection[frozenset[int]],
) -> BarLosses:
    """Return what shares out the losses of the pair of bars in a row."""
    one, other = aligned.pairs[row][0], aligned.sources[row]
    written = aligned.written[row]
    assert one is not None
    assert other is not None
    assert written is not None
    bar = aligned.answer.bars[other]
    if (
        written.bar is not bar
        and written.bar.meter != bar.meter
        and not _is_recounted(aligned, row)
    ):
        # A bar in another meter was scaled to be compared; it is shown as it is written.
        written = replace(written, bar=bar)
    song = aligned.reference.contents
    contents = song[one], written

    def charge(kind: str, lost: float, place: Place, detail: Key) -> None:
        mistake = found.setdefault((kind, *detail), Mistake(kind, detail=detail))
        mistake.lost_bars += lost
        mistake.places.append(place)
        mistake.contents.append(contents)

    follows = None
    if row + 1 < len(aligned.pairs) and aligned.pairs[row + 1][0] == one + 1:
        follows = aligned.written[row + 1]
    return BarLosses(
        charge,
        known,
        one + 1,
        other + 1,
        *contents,
        song[one - 1].sonorities[-1] if one else None,
        song[one + 1].sonorities[0] if one + 1 < len(song) else None,
        None if follows is None else follows.sonorities[0],
        exchanged,
    )


def _have_the_same_chords(aligned: AlignedCharts, edit: AlignmentEdit) -> bool:
    """Whether bars said to be swapped have the same chords: then a hold or a bar's length moved."""
    song = [_chords(aligned.reference.bars[bar - 1]) for bar in edit.reference]
    own = [_chords(aligned.answer.bars[bar - 1]) for bar in edit.answer]
    return song == own


def _roots(aligned: AlignedCharts, edit: AlignmentEdit) -> frozenset[int]:
    """Return the roots of the song's bars of an edit."""
    bars = [aligned.reference.contents[bar - 1] for bar in edit.reference]
    return frozenset(one.root for bar in bars for one in bar.sonorities)


def _chords(bar: Bar) -> list[tuple[object, object]]:
    """Return the chords of a bar, each with its share of the bar."""
    return [(event.chord, event.beats / bar.meter.beats) for event in bar.events]


def _edit_key(aligned: AlignedCharts, edit: AlignmentEdit) -> Key:
    """Put single bars with the same edit together, keep all else apart."""
    if edit.kind == "not written":
        return ("stretches", edit.kind)
    stops = edit.reference[-1:] == (len(aligned.reference),) and len(edit.reference) > 2
    if edit.unit == "bar" and edit.kind in SINGLE_BAR_EDITS and not stops:
        return ("bars", edit.kind)
    return ("edit", edit)


def _add_edit(mistake: Mistake, aligned: AlignedCharts, edit: AlignmentEdit) -> None:
    mistake.edits.append(edit)
    if edit.kind in EDITS_OF_STRETCHES:
        mistake.places += _rows_of(aligned, edit)
        return
    for one, other in zip_longest(edit.reference, edit.answer):
        played = None if one is None else aligned.reference.bars[one - 1]
        written = None if other is None else aligned.answer.bars[other - 1]
        mistake.places.append((one, other, played, written))


def _rows_of(aligned: AlignedCharts, edit: AlignmentEdit) -> list[Place]:
    """Return the rows that have bars of an edit, as places."""
    song, own = aligned.reference.bars, aligned.answer.bars
    return [
        (
            None if one is None else one + 1,
            None if other is None else other + 1,
            None if one is None else song[one],
            None if other is None else own[other],
        )
        for one, other in aligned.pairs
        if (one is not None and one + 1 in edit.reference)
        or (other is not None and other + 1 in edit.answer)
    ]
