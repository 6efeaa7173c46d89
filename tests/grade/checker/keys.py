"""Sentences about numbers that are counted from another 1, and signs for a change of key."""

from __future__ import annotations

import re

from trainer.chart import Bar

from .common import INTERVALS, where
from .facts import CitedPlace, Reading, demand, move_text, note, number, root, text_of

__all__ = [
    "from_another_one",
    "key_moved_late",
    "key_not_moved",
    "one_goes_on",
    "sign_by_another_interval",
    "sign_elsewhere",
    "sign_made_up",
    "sign_missing",
    "sign_wrong",
    "signs_elsewhere",
]


def from_another_one(r: Reading, m: re.Match[str]) -> None:
    """Numbers stand an interval above those played in the bars that have the right root."""
    shift = INTERVALS.index(m["up"])
    groups = m.groupdict()
    if groups.get("one"):
        demand(note(groups["one"]) == shift, f"{groups['one']} for 1")
    if groups.get("first"):
        demand(min(r.cited) == int(groups["first"]), f"from bar {min(r.cited)}")
    if groups.get("at"):
        where(r, m)
    r.bars = r.cited
    if groups.get("relative"):
        minor = sum(root(bar.events[0].chord) == 0 and "1-" in text_of(bar) for bar in r.song)
        major = sum(root(bar.events[0].chord) == 0 and "1-" not in text_of(bar) for bar in r.song)
        wanted = ("major", 9) if minor > major else ("minor", 3)
        demand((groups["relative"], shift) == wanted, f"{wanted}")
    right = sum(
        (root(own.events[0].chord) - root(song.events[0].chord)) % 12 == shift
        for _, song, own in r.rows()
        if song.events[0].chord and own.events[0].chord
    )
    r.pairs = [(str(right), str(shift))]


def keys(r: Reading, one: CitedPlace) -> tuple[int, int]:
    """How far the key has moved up to a case, in the song and in the answer."""
    return (
        sum(bar.key_change for bar in r.song[: one.reference]),
        sum(bar.key_change for bar in r.own[: one.answer]),
    )


def other_key(r: Reading) -> None:
    """In all bars cited the key that holds, by the signs, is not the one that was played."""
    for one, _, _ in r.rows():
        ours, theirs = keys(r, one)
        demand((ours - theirs) % 12, f"bar {one.reference} is in the key that is marked")


def sign_missing(r: Reading, m: re.Match[str]) -> None:
    """The key moves there in the song, and no move is written."""
    first = int(m["first"])
    demand(r.cited[0] == first and int(m["before"]) == first, f"cited are {r.cited}")
    to = first if m["only"] == "In" else int(m["to"] or 0)
    demand(not to or to > first or m["only"] == "In", m[0])
    moves = [(m["sign"], first)]
    if m["sign2"]:
        moves.append((m["sign2"], int(m["before2"])))
        demand(not to or to >= int(m["before2"]) - 1, m[0])
    for sign, bar in moves:
        demand(move_text(r.song_bar(bar).key_change) == sign, move_text(r.song_bar(bar).key_change))
        own = [other for case, _, other in r.rows() if case.reference == bar]
        demand(own and not own[0].key_change, f"a sign is written at bar {bar}")
    demand(not to or r.cited[-1] <= to + 1, f"cited are {r.cited}")
    for one, _, _ in r.rows():
        ours, theirs = keys(r, one)
        here = one.reference or 0
        back = to and m["sign2"] and to < here == int(m["before2"])
        if back and _left_out_moves(r, here):
            # That bar took its own change of key with it, which is said of it.
            continue
        demand(bool((ours - theirs) % 12) != bool(back), f"bar {one.reference}")


def _left_out_moves(r: Reading, end: int) -> bool:
    """Whether the key moves in a bar that is said to be left out, before a bar of the song."""
    beside = {one.reference for one in r.all_cases if one.answer is not None}
    gone = {one.reference for one in r.all_cases if one.answer is None} - beside
    return any(bar and bar < end and r.song_bar(bar).key_change for bar in gone)


def sign_wrong(r: Reading, m: re.Match[str]) -> None:
    """The key that holds, by the signs of either side, is not the same in the bars."""
    r.read_bars(m["at"], r.cited)
    other_key(r)


def signs_elsewhere(r: Reading, m: re.Match[str]) -> None:
    """The key changes of both charts differ in the bars; it moved in bars that are left out."""
    if m["before"]:
        bar = int(m["before"])
        own = r.own[: r.cited_own[0]]
        demand(r.cited[0] == bar, f"cited are {r.cited}")
        demand(any(one.key_change for one in (*r.song[: bar - 1], *own)), "the key never moves")
    else:
        named = _bars(m["at"])
        for one, song, own_bar in r.rows():
            if one.reference in named:
                named.remove(one.reference)
                demand(song.key_change != own_bar.key_change, f"{one}: the same key change")
        demand(not named, f"{named} are not cited")
    gone = _bars(m["gone"] or "")
    beside = {one.reference for one in r.all_cases if one.answer is not None}
    for bar in gone:
        demand(r.song_bar(bar).key_change, f"bar {bar}: the key stays")
        demand(bar not in beside, f"bar {bar} is written")


def _bars(text: str) -> list[int]:
    """The bars of a list, in order."""
    bars: list[int] = []
    for first, last in re.findall(r"(\d+)(?:–(\d+))?", text):
        bars += range(int(first), int(last or first) + 1)
    return bars


def sign_by_another_interval(r: Reading, m: re.Match[str]) -> None:
    """The key moves there, and is marked to move by another interval."""
    song, own = sign_bar(r, m["at"], m["section"])
    demand(move_text(song.key_change) == m["sign"] and m["before"] == m["at"].split()[1], m["sign"])
    demand(own.key_change and move_text(own.key_change) == m["written"], m["written"])
    demand(m["way"] == ("up" if song.key_change > 0 else "down"), m["way"])
    demand(m["interval"] == INTERVALS[abs(song.key_change)], m["interval"])
    other_key(r)


def sign_bar(r: Reading, at: str, section: str | None) -> tuple[Bar, Bar]:
    """The bars of a sign, the first of those cited."""
    r.bars = [int(at.split()[1])]
    demand(r.cited[0] == r.bars[0], f"cited are {r.cited}")
    r.check_section(section)
    return next((song, own) for one, song, own in r.rows() if one.reference == r.bars[0])


def sign_made_up(r: Reading, m: re.Match[str]) -> None:
    """The key is marked to move where it stays."""
    if m["both"]:
        first, last = map(int, re.findall(r"\d+", m["both"]))
        demand(r.cited[0] == first and last in r.cited, f"cited are {r.cited}")
        if r.cited[-1] != last:
            # The second sign does not lead back: what follows stands in another key, too.
            other_key(r)
        bars = [(bar, sign) for bar, sign in ((first, m["one"]), (last, m["other"]))]
    else:
        sign_bar(r, m["at"], m["section"])
        bars = [(r.bars[0], m["sign"])]
        other_key(r)
    for bar, sign in bars:
        own = next(own for one, _, own in r.rows() if one.reference == bar)
        demand(not r.song_bar(bar).key_change, f"the key moves at bar {bar}")
        demand(move_text(own.key_change) == sign, move_text(own.key_change))


def sign_elsewhere(r: Reading, m: re.Match[str]) -> None:
    """The key moves in one bar, and is marked to move by the same interval in another."""
    there, here = int(m["at"].split()[1]), int(m["there"])
    demand({there, here} == {r.cited[0], r.cited[-1]}, f"cited are {r.cited}")
    r.bars = [there]
    r.check_section(m["section"])
    move = r.song_bar(there).key_change
    demand(m["way"] == ("up" if move > 0 else "down"), m["way"])
    demand(m["interval"] == INTERVALS[abs(move)], m["interval"])
    demand(not r.song_bar(here).key_change, f"the key moves at bar {here}")
    for one, _, own in r.rows():
        if one.reference in (there, here):
            wanted = move if one.reference == here else 0
            demand(own.key_change == wanted, f"bar {one.reference}: {own.key_change:+d}")
    demand(number(m["distance"]) == abs(here - there), m["distance"])
    demand(m["late"] == ("late" if here > there else "early"), m["late"])


def key_not_moved(r: Reading, m: re.Match[str]) -> None:
    """Numbers and signs together sound as the song does, and one key change too many is written."""
    from_another_one(r, m)
    song, own = sign_bar(r, m["where"], m["section"])
    demand(own.key_change and not song.key_change, "the key moves")
    sounds_right(r, INTERVALS.index(m["up"]))


def sounds_right(r: Reading, shift: int) -> None:
    """The bars whose numbers stand `shift` higher sound as played, by their signs."""
    for one, _, _ in r.rows():
        ours, theirs = keys(r, one)
        demand((theirs + shift - ours) % 12 == 0, f"bar {one.reference} sounds in another key")


def key_moved_late(r: Reading, m: re.Match[str]) -> None:
    """The key is marked to move some bars late, with the old numbers until then."""
    from_another_one(r, m)
    song, own = sign_bar(r, m["where"], m["section"])
    demand(song.key_change and not own.key_change, "the key moves there in both")
    sounds_right(r, INTERVALS.index(m["up"]))
    demand(int(m["later"]) == r.cited[-1] + 1, m["later"])
    after = r.own_bar(r.cited_own[-1] + 1)
    demand(after.key_change == song.key_change, f"{move_text(after.key_change)} there")


def one_goes_on(r: Reading, m: re.Match[str]) -> None:
    """The bars spoken of are in one section, or begin where it is said."""
    sections = {place.section for place in r.reference.placed_bars() if place.number in r.bars}
    demand(r.bars[0] > 1, "nothing comes before")
    if m["bar"]:
        demand(int(m["bar"]) == r.bars[0], m["bar"])
    else:
        demand(len(sections) == 1, f"{len(sections)} sections")
