"""Count the form and the harmonic rhythm of the corpus: sections, phrases, split bars."""

from __future__ import annotations

import re
from collections import Counter
from typing import Any

from corpus import Bar, CountsByContext, Song

__all__ = ["count_form", "count_rhythm"]

LETTERS = {
    "intro": "I",
    "verse": "V",
    "pre-chorus": "P",
    "chorus": "C",
    "bridge": "B",
    "solo": "S",
    "interlude": "N",
    "turnaround": "T",
    "outro": "O",
}
MOST_PHRASES = 6


def bar_type(bar: Bar, before: str) -> tuple[str, str]:
    """Return the type of a bar and its last chord.

    H holds the chord before, N is a new chord, S a split, T a split that starts on the old chord.
    """
    chords = [event.chord + "/" + event.bass for event in bar.events]
    distinct = [chord for at, chord in enumerate(chords) if not at or chord != chords[at - 1]]
    if len(distinct) == 1:
        return ("H" if distinct[0] == before else "N"), distinct[-1]
    return ("T" if distinct[0] == before else "S"), distinct[-1]


def split_shape(bar: Bar) -> str:
    """Return the quarters of the bar that each chord lasts ("2+2"), "" if they are not whole."""
    merged: list[list[Any]] = []
    for event in bar.events:
        name = event.chord + "/" + event.bass
        if merged and merged[-1][0] == name:
            merged[-1][1] += event.beats
        else:
            merged.append([name, event.beats])
    total = sum(beats for _, beats in merged)
    parts = [4 * beats / total for _, beats in merged]
    return "+".join(f"{part:g}" for part in parts) if all(p.is_integer() for p in parts) else ""


def rhythm_place(index: int, count: int) -> str:
    """Return the class of a bar's place in its line: 0 first, 1 odd, 2 even, 3 last."""
    if index == 0:
        return "0"
    return "3" if index == count - 1 else "12"[(index + 1) % 2]


def count_rhythm(songs: list[Song]) -> dict[str, Any]:
    """Return bar types in order by the songs' share of splits, split shapes, and those shares."""
    chain, shapes = CountsByContext(), CountsByContext()
    shares: list[float] = []
    for song in songs:
        types = [line_types(line) for line in song.lines()]
        flat = [kind for kinds in types for kind in kinds]
        share = sum(kind in "ST" for kind in flat) / len(flat)
        group = split_group(share)
        shares.append(share)
        for kinds in types:
            for at, kind in enumerate(kinds):
                past = "".join(kinds[max(0, at - 2) : at])
                chain[f"{group} {rhythm_place(at, len(kinds))} {past}"][kind] += 1
        for line in song.lines():
            for at, bar in enumerate(line):
                shape = split_shape(bar)
                if song.meter in ("4/4", "12/8") and bar.regular and "+" in shape:
                    shapes[rhythm_place(at, len(line))][shape] += 1
    shares.sort()
    steps = [round(shares[(2 * step + 1) * len(shares) // 40], 3) for step in range(20)]
    return {"chain": chain.table(3), "shape": shapes.table(5), "split_shares": steps}


def line_types(line: list[Bar]) -> list[str]:
    """Return the bar types of a line; its first bar never counts as held over."""
    types, before = [], ""
    for bar in line:
        kind, before = bar_type(bar, before)
        types.append(kind)
    return types


def split_group(share: float) -> str:
    """Return the group of a song by its share of split bars, from a (none) to d (most)."""
    return "a" if share < 0.03 else "b" if share < 0.2 else "c" if share < 0.45 else "d"


def line_key(line: list[Bar]) -> tuple[str, ...]:
    """Return what makes two lines the same: the chords of each bar."""
    return tuple(" ".join(event.chord for event in bar.events) for bar in line)


def form_of(keys: list[tuple[str, ...]]) -> str:
    """Return letters of the phrases, a prime where only the first two bars agree with another."""
    seen: dict[tuple[str, ...], str] = {}
    letters = 0
    for key in keys:
        if key in seen:
            continue
        head = next(
            (
                name
                for other, name in seen.items()
                if len(key) > 2 and other[:2] == key[:2] and "'" not in name
            ),
            "",
        )
        if head:
            primes = sum(name.startswith(head) for name in seen.values())
            seen[key] = head + "'" * primes
        else:
            seen[key] = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[letters % 26]
            letters += 1
    return " ".join(seen[key] for key in keys)


def count_form(songs: list[Song]) -> dict[str, Any]:
    """Return section orders, phrase counts, lengths and forms, borrowed sections, key changes."""
    phrases, lengths, forms = CountsByContext(), CountsByContext(), CountsByContext()
    borrowed, loops = CountsByContext(), CountsByContext()
    orders, keys = Counter[str](), Counter[str]()
    for song in songs:
        order = order_of(song)
        orders[order] += is_usual(order)
        for at, section in enumerate(song.sections):
            if at and section.key_shift != song.sections[at - 1].key_shift:
                moved = section.key_shift - song.sections[at - 1].key_shift
                keys[str((moved + 6) % 12 - 6)] += 1
            count_borrowed(song, at, borrowed)
            if section.fades:
                continue
            kind, lines = section.kind, section.lines
            phrases[kind][str(min(len(lines), MOST_PHRASES))] += 1
            for number, line in enumerate(lines):
                lengths[f"{kind} {phrase_place(number, len(lines))}"][str(len(line))] += 1
                if len(line) == 4:
                    loops[kind][loop_of(line_key(line))] += 1
            if 1 < len(lines) <= MOST_PHRASES:
                forms[f"{kind} {len(lines)}"][form_of([line_key(line) for line in lines])] += 1
    return {
        "orders": {order: count for order, count in sorted(orders.items()) if count},
        "phrases": phrases.table(2),
        "lengths": lengths.table(3),
        "forms": forms.table(2),
        "borrowed": borrowed.table(3),
        "loops": loops.table(),
        "key_changes": dict(keys.most_common(8)),
    }


def order_of(song: Song) -> str:
    """Return the kinds of a song's sections as letters.

    Several of a kind in a row are one, but for verses and choruses.
    """
    letters = "".join(LETTERS[section.kind] for section in song.sections)
    return re.sub(r"([IPBSNTO])\1+", r"\1", letters)


def is_usual(order: str) -> bool:
    """Return whether a leader would write an order down as it stands.

    Annotators split long verses and call much an interlude. Kept are orders of two to four verses
    (five without choruses), never three alike in a row, two verses in a row only before the first
    chorus, two choruses only at the end, at most two solos, bridges and interludes, three
    turnarounds, and no order that ends on a section that leads to another.
    """
    verses, choruses = order.count("V"), order.count("C")
    if not 6 <= len(order) <= 15:
        return False
    if not 2 <= verses <= (4 if choruses else 5) or order.count("T") > 3:
        return False
    if max(map(order.count, "SBN")) > 2:
        return False
    if choruses and "VV" in order[order.index("C") :]:
        return False
    return not re.search(r"VVV|CCC|CC(?!O?$)|.I|O.|P(?!C)|^[^IVC]|^I[SNTOBP]|[INTPB]$", order)


def loop_of(key: tuple[str, ...]) -> str:
    """Return whether a line repeats "one" bar or "two" bars over and over, or "no"."""
    if len(set(key)) == 1:
        return "one"
    return "two" if key[:2] == key[2:] else "no"


def phrase_place(number: int, count: int) -> str:
    """Return the class of a phrase's place in its section."""
    if count == 1:
        return "only"
    return "first" if number == 0 else "last" if number == count - 1 else "inner"


def count_borrowed(song: Song, at: int, borrowed: CountsByContext) -> None:
    """Count with which other kind the first section of a kind shares its letter."""
    kind, letter = song.sections[at].kind, song.sections[at].letter.rstrip("'")
    if any(section.kind == kind for section in song.sections[:at]):
        return
    pool = song.sections[:at] if at else song.sections[1:]
    same = [s.kind for s in pool if s.letter.rstrip("'") == letter and s.kind != kind]
    borrowed[kind][(same[-1] if at else same[0]) if same else "own"] += 1
