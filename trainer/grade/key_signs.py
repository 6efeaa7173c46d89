"""Advise on signs for a change of key that are missing, made up, misplaced or by a wrong interval.

From a sign that is wrong to where both charts are in one key again is one act: a sign written a bar
late is a sign that is missing in one bar and made up in the next. Numbers that are counted from
another 1 are another matter (`home_advice`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from trainer.chart.format import format_key_change
from trainer.grade.aligned import AlignedCharts, starts_of_moved_blocks
from trainer.grade.mistakes import Mistake, bar_text
from trainer.grade.report import Advice, Case
from trainer.grade.text_pieces import bars_text, count_text, interval_text, location_text

__all__ = ["advise_on_signs"]


@dataclass(frozen=True, slots=True)
class _Sign:
    """A row whose signs differ: semitones that the key moves there, played and written."""

    row: int
    bar: int
    played: int
    written: int


@dataclass(slots=True)
class _Span:
    """The rows from a wrong sign to where both charts are in one key again.

    `rows` are those without a wrong sign. A span that does not end `is_open`; one that a bar on
    one side only opens or closes is not `is_plain`.
    """

    signs: list[_Sign] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    is_open: bool = True
    is_plain: bool = True


def advise_on_signs(
    aligned: AlignedCharts,
    of_keys: Sequence[Mistake],
    lost_by_key: Sequence[float],
    cost_of_bar: float,
) -> tuple[list[Advice], list[Mistake]]:
    """Return the advice on signs, and the mistakes in key changes that it does not speak of.

    `of_keys` are the mistakes in key changes; `lost_by_key` is what each row lost, in bars, by
    standing in another key.
    """
    advice, left = [], list(of_keys)
    for span in _spans(aligned):
        text = _span_text(aligned, span)
        is_in_key = _is_in_key(aligned, span)
        if text is None:
            if span.rows:
                bars = [(aligned.pairs[row][0] or 0) + 1 for row in span.rows]
                text = _elsewhere_text(aligned, span) if is_in_key else _unclear_text(bars)
                lost = sum(lost_by_key[row] for row in span.rows)
                kind = "home: key sign wrong"
                named = [sign.row for sign in span.signs] if is_in_key else []
                cases = _cases(aligned, sorted([*span.rows, *named]))
                advice.append(Advice(kind, text, lost * cost_of_bar, cases))
            continue
        if is_in_key:
            text = _elsewhere_text(aligned, span)
        signs = {sign.bar for sign in span.signs}
        lost = sum(lost_by_key[row] for row in span.rows)
        for mistake in list(left):
            inside = [place for place in mistake.places if place[0] in signs]
            if not inside:
                continue
            share = mistake.lost_bars * len(inside) / len(mistake.places)
            lost += share
            mistake.lost_bars -= share
            mistake.places = [place for place in mistake.places if place not in inside]
            if not mistake.places:
                left.remove(mistake)
        rows = sorted([*span.rows, *(sign.row for sign in span.signs)])
        kind = f"home: key sign {_kind(span)}" if span.rows else "key change"
        advice.append(Advice(kind, text, lost * cost_of_bar, _cases(aligned, rows)))
    return [one for one in advice if one.cost > 0], left


def _spans(aligned: AlignedCharts) -> list[_Span]:
    """Return the spans in which the charts are in two keys, in the answer's order.

    A span ends where a phrase or section ends that was swapped with another.
    """
    found: list[_Span] = []
    off = 0
    moved = starts_of_moved_blocks(aligned.pairs)
    for row, (one, other) in enumerate(aligned.pairs):
        if row in moved:
            off = 0
        written = aligned.written[row]
        gap = one is None or written is None
        if one is None:
            played, own = 0, 0 if other is None else aligned.answer.bars[other].key_change
        elif written is None:
            # A bar left out takes its change of key with it.
            played = own = 0
        else:
            played, own = aligned.reference.contents[one].key_change, written.key_change
        changed = (played - own) % 12
        if changed and not off:
            found.append(_Span())
        if changed and one is not None and not gap:
            found[-1].signs.append(_Sign(row, one + 1, played, own))
        elif changed:
            found[-1].is_plain = False
        elif off and not gap:
            found[-1].rows.append(row)
        off = (off + changed) % 12
        if changed and not off:
            found[-1].is_open = False
    return found


def _kind(span: _Span) -> str:
    """Say what is wrong with the signs of a span: they are missing, wrong or misplaced."""
    if all(not sign.written for sign in span.signs):
        return "missing"
    return "wrong" if len(span.signs) == 1 else "misplaced"


def _span_text(aligned: AlignedCharts, span: _Span) -> str | None:
    """Word a span, or return None if it is no one act."""
    if not span.is_plain or len(span.signs) > 2:
        return None
    first, last = span.signs[0], span.signs[-1]
    moves = [(bool(sign.played), bool(sign.written)) for sign in span.signs]
    at = location_text(aligned.reference, [first.bar])
    written = format_key_change(first.written)
    if moves == [(True, True)]:
        return (
            f"At {at} the key moves {_moves(first.played)}, and you wrote {written}. "
            f"Write {format_key_change(first.played)} before bar {first.bar}."
        )
    if moves == [(False, True)]:
        return (
            f"You wrote a key change, {written}, at {at}, but the key stays the same. "
            "Sing the 1 across the bar line."
        )
    if moves == [(False, True)] * 2:
        return (
            f"You wrote key changes at {bars_text([first.bar, last.bar])} "
            f"({written} and {format_key_change(last.written)}), but the key stays the same. "
            "Sing the 1 across the bar line."
        )
    if moves in ([(True, False), (False, True)], [(False, True), (True, False)]):
        return _misplaced_text(aligned, span)
    if any(sign.written for sign in span.signs) or not span.rows:
        return None
    return _missing_text(span, _end_of_block(aligned, span), len(aligned.reference))


def _end_of_block(aligned: AlignedCharts, span: _Span) -> int:
    """Return the last bar, from 1, up to which the song goes on in its order after a span."""
    first = span.signs[0].row
    after = min(
        (row for row in starts_of_moved_blocks(aligned.pairs) if row > first),
        default=len(aligned.pairs),
    )
    return max(one for one, _ in aligned.pairs[first:after] if one is not None) + 1


def _is_in_key(aligned: AlignedCharts, span: _Span) -> bool:
    """Whether some bar of a span is written in the key that it was played in, by all the signs.

    That is so where the key moved in bars that were left out, and the sign is written later.
    """
    last = span.signs[-1].row if span.signs and not span.is_open else None
    rows = [*span.rows, *(sign.row for sign in span.signs if sign.row != last)]
    for row in rows:
        one, other = aligned.pairs[row][0], aligned.sources[row]
        if one is not None and other is not None:
            played, written = aligned.reference.key_shifts[one], aligned.answer.key_shifts[other]
            if (played - written) % 12 == 0:
                return True
    return False


def _elsewhere_text(aligned: AlignedCharts, span: _Span) -> str:
    """Word signs that differ where the keys do not: the key moved in bars that were left out."""
    bars = [(aligned.pairs[row][0] or 0) + 1 for row in span.rows]
    signs = [sign.bar for sign in span.signs]
    first = min(signs or bars)
    where = f"at {bars_text(signs)}" if signs else f"before bar {first}"
    gone = [
        one + 1
        for one, other in aligned.pairs
        if one is not None
        and other is None
        and one + 1 < first
        and aligned.reference.bars[one].key_change
    ]
    moved = f": the key moves in {bars_text(gone)}, which you left out" if gone else ""
    return (
        f"Your key changes don't match the song's {where}{moved}. Check how far the key moves, and "
        "where."
    )


def _misplaced_text(aligned: AlignedCharts, span: _Span) -> str | None:
    """Word a sign that is written in another bar."""
    played, written = sorted(span.signs, key=lambda sign: not sign.played)
    if played.played != written.written:
        return None
    distance = written.bar - played.bar
    late = "late" if distance > 0 else "early"
    return (
        f"The key moves {_moves(played.played)} at {location_text(aligned.reference, [played.bar])}"
        f", but you marked it at bar {written.bar}, {count_text(abs(distance), 'bar')} {late}. "
        "Mark it before the first bar that sounds higher or lower."
    )


def _missing_text(span: _Span, end: int, songs_end: int) -> str:
    """Word a change of key that is not marked, and perhaps the change back.

    Parameters: `end` is the last bar of the part of the song in its own order that the span stands
    in, `songs_end` the song's last bar, both from 1.
    """
    first, last = span.signs[0], span.signs[-1]
    signs = f"{format_key_change(first.played)} before bar {first.bar}"
    last_bar = end if end < songs_end else None
    if last is not first:
        signs += f" and {format_key_change(last.played)} before bar {last.bar}"
        if not span.is_open:
            last_bar = last.bar - 1
    where = f"From bar {first.bar} {'on' if last_bar is None else f'to bar {last_bar}'}"
    if (last_bar or songs_end) == first.bar:
        where = f"In bar {first.bar}"
    return (
        f"{where}, your numbers are right in the new key, but you didn't mark "
        f"the change: the band would stay in the old key. Write {signs}."
    )


def _unclear_text(bars: Sequence[int]) -> str:
    return (
        f"In {bars_text(bars)} the key you marked isn't the one the band plays in. Check how far "
        "the key moves, and where."
    )


def _moves(semitones: int) -> str:
    return f"{'up' if semitones > 0 else 'down'} {interval_text(abs(semitones))}"


def _cases(aligned: AlignedCharts, rows: Sequence[int]) -> tuple[Case, ...]:
    found = []
    for row in rows:
        one, other = aligned.pairs[row][0], aligned.sources[row]
        if one is not None and other is not None:
            bars = aligned.reference.bars[one], aligned.answer.bars[other]
            found.append(Case(one + 1, other + 1, *map(bar_text, bars)))
    return tuple(found)
