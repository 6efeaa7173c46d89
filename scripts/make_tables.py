#!/usr/bin/env python3
"""Count the corpus of chord annotations into the generator's tables.

Usage: scripts/make_tables.py CORPUS, where CORPUS is a folder with `sequences.json`: anonymous
bar-by-bar sequences of the McGill Billboard annotations 2.0. Writes trainer/generate/tables/*.json.
"""

from __future__ import annotations

import json
import re
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

CITATION = (
    "Counted from the McGill Billboard annotations 2.0: J. A. Burgoyne, J. Wild and I. Fujinaga, "
    "An expert ground-truth set for audio chord recognition and music analysis, ISMIR 2011. CC0."
)
TABLES = Path(__file__).resolve().parent.parent / "trainer" / "generate" / "tables"
KINDS = {
    "intro": "intro",
    "verse": "verse",
    "refrain": "chorus",
    "chorus": "chorus",
    "pre-chorus": "pre-chorus",
    "bridge": "bridge",
    "solo": "solo",
    "instrumental": "solo",
    "interlude": "interlude",
    "transition": "turnaround",
    "pre-verse": "turnaround",
    "outro": "outro",
}
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
CHORD = re.compile(r"([b#]?[1-7])(sus|[-oh+p]?)(?:\^([^/]+))?(?:/([b#]?[1-7]))?$")
MOST_PHRASES = 6


class Event(NamedTuple):
    """A chord of the corpus: simple token, extension, bass, beats; `chord` "" is no chord."""

    chord: str
    extension: str
    bass: str
    beats: float


class Bar(NamedTuple):
    """A bar: its events and whether its meter is the song's own."""

    events: tuple[Event, ...]
    regular: bool


def read_event(text: str, beats: float, minor: bool) -> Event:
    """One chord token; sevenths, sus, power chords and augmented fold into degree and -/o.

    A power chord takes its third from the mode: minor on 1, 4 and 5 of a minor region.
    """
    found = CHORD.match(text)
    if not found:
        return Event("", "", "", beats)
    degree, quality, extension, bass = found.groups()
    if quality == "p" and minor and degree in ("1", "4", "5"):
        quality = "-"
    simple = degree + {"-": "-", "o": "o", "h": "o"}.get(quality, "")
    name = {"sus": "sus4", "p": "5", "h": "h", "+": "+", "o": "o", "-": ""}.get(quality, "")
    return Event(simple, f"{name} {extension or ''}".strip(), bass or "", beats)


def read_bar(text: str, metre: str, minor: bool) -> Bar:
    """One bar of a line."""
    own = re.match(r"\((\S+)\) ", text)
    beats = float((own.group(1) if own else metre).split("/")[0])
    parts = text[own.end() :].split() if own else text.split()
    events = []
    for part in parts:
        token, _, written = part.partition("*")
        events.append(read_event(token, float(written) if written else beats / len(parts), minor))
    return Bar(tuple(events), own is None)


class Song(NamedTuple):
    """A song: meter, sections as (kind, mode, key shift, letter, fades, lines of bars)."""

    metre: str
    sections: list[tuple[str, str, int, str, bool, list[list[Bar]]]]


def read_songs(corpus: Path) -> Iterator[Song]:
    """All songs of the corpus."""
    for song in json.loads((corpus / "sequences.json").read_text())["songs"]:
        sections = []
        for section in song["sections"]:
            mode = section.get("mode", song["mode"])
            shift = section.get("key_shift_semitones", 0)
            sections.append(
                (
                    KINDS.get(section["type"], "verse"),
                    "minor" if mode == "minor" else "major",
                    shift[0] if isinstance(shift, list) else shift,
                    section["letter"],
                    bool(section.get("fade")),
                    [
                        [read_bar(bar, song["metre"], mode == "minor") for bar in line]
                        for line in section["lines"]
                    ],
                )
            )
        yield Song(song["metre"], sections)


class Change(NamedTuple):
    """A chord change: where in its line, how long until the next change, in bars."""

    chord: str
    place: str
    bars: float


def place_of(index: int, count: int, at: float) -> str:
    """Class of a place in a phrase: s start, o odd bar, e even bar, l last bar, m and n inside."""
    if at > 0:
        return "n" if index == count - 1 else "m"
    if index == 0:
        return "s"
    return "l" if index == count - 1 else "oe"[(index + 1) % 2]


def changes_of(line: list[Bar]) -> list[Change]:
    """The distinct consecutive chords of a line."""
    found: list[list[Any]] = []
    for index, bar in enumerate(line):
        at = 0.0
        total = sum(event.beats for event in bar.events)
        for event in bar.events:
            if event.chord and (not found or found[-1][0] != event.chord):
                found.append([event.chord, place_of(index, len(line), at), 0.0])
            if found:
                found[-1][2] += event.beats / total
            at += event.beats
    return [Change(*entry) for entry in found]


def length_class(bars: float) -> str:
    """Class of a duration: 0 under a bar, 1 a bar, 2 two bars or more."""
    return "0" if bars < 0.99 else "1" if bars < 1.99 else "2"


class Count(defaultdict[str, Counter[str]]):
    """Counters by context."""

    def __init__(self) -> None:
        super().__init__(Counter)

    def kept(self, least: int = 1) -> dict[str, dict[str, int]]:
        """Plain dictionaries, rarest entries left out, most frequent first."""
        plain = {}
        for key in sorted(self):
            ranked = sorted(self[key].items(), key=lambda item: (-item[1], item[0]))
            row = {name: count for name, count in ranked if count >= least}
            if row:
                plain[key] = row
        return plain


def lines_in_order(song: Song) -> Iterator[tuple[int, int, list[Bar]]]:
    """Section number, line number, line."""
    for number, section in enumerate(song.sections):
        for index, line in enumerate(section[5]):
            yield number, index, line


def count_chords(songs: list[Song]) -> dict[str, Any]:
    """Chord counts by mode: n-grams by place, phrase starts and ends, sets, extensions, basses."""
    tables: dict[str, Any] = {}
    for mode in ("major", "minor"):
        grams = {
            name: Count()
            for name in (
                "unigram",
                "bigram",
                "placed",
                "trigram",
                "start",
                "section_start",
                "phrase_end",
                "section_end",
                "extension",
                "bass_from",
                "bass_to",
                "bass",
            )
        }
        sets: Counter[str] = Counter()
        for song in songs:
            count_song(song, mode, grams, sets)
        tables[mode] = {
            "unigram": grams["unigram"].kept()["all"],
            "bigram": grams["bigram"].kept(),
            "placed": grams["placed"].kept(2),
            "trigram": grams["trigram"].kept(2),
            "start": grams["start"].kept(2),
            "section_start": grams["section_start"].kept(2),
            "phrase_end": grams["phrase_end"].kept(3),
            "section_end": grams["section_end"].kept(2),
            "extension": grams["extension"].kept(8),
            "bass": grams["bass"].kept(6),
            "bass_from": grams["bass_from"].kept(3),
            "bass_to": grams["bass_to"].kept(3),
            "sets": dict(sorted(sets.items())),
        }
    return tables


def count_song(song: Song, mode: str, grams: dict[str, Count], sets: Counter[str]) -> None:
    """Add one song's chords in `mode` to the counts."""
    before: list[str] = []
    used: Counter[str] = Counter()
    key: tuple[str, int] | None = None
    for number, index, line in lines_in_order(song):
        kind, its_mode, shift, _, _, lines = song.sections[number]
        if (its_mode, shift) != key:
            before, key = [], (its_mode, shift)
        changes = changes_of(line)
        if its_mode != mode or not changes:
            continue
        first = changes[0].chord
        grams["section_start" if index == 0 else "start"][
            kind if index == 0 else (before[-1] if before else "none")
        ][first] += 1
        if index == 0 and before:
            grams["start"]["section " + before[-1]][first] += 1
        for change in changes:
            used[change.chord] += 1
            if before and before[-1] == change.chord:
                continue
            grams["unigram"]["all"][change.chord] += 1
            if before:
                grams["bigram"][before[-1]][change.chord] += 1
                if change.place != "s":
                    context = change.place + length_class(change.bars)
                    grams["placed"][f"{context} {before[-1]}"][change.chord] += 1
            if len(before) > 1:
                grams["trigram"][f"{before[-2]} {before[-1]}"][change.chord] += 1
            before = [*before[-1:], change.chord]
        last = changes[-1].chord
        if index == len(lines) - 1:
            grams["section_end"][kind][last] += 1
        else:
            grams["phrase_end"][kind][last] += 1
        count_events(line, grams)
    if used:
        sets[" ".join(sorted(chord for chord, times in used.items()))] += 1


def count_events(line: list[Bar], grams: dict[str, Count]) -> None:
    """Count extensions by time and basses by where they come from and go to."""
    events = [event for bar in line for event in bar.events if event.chord]
    for at, event in enumerate(events):
        grams["extension"][event.chord][event.extension or "plain"] += round(4 * event.beats)
        if not event.bass:
            continue
        name = f"{event.chord}/{event.bass}"
        grams["bass"][event.chord][event.bass] += 1
        if at:
            grams["bass_from"][name][bass_of(events[at - 1])] += 1
        if at + 1 < len(events):
            grams["bass_to"][name][bass_of(events[at + 1])] += 1


def bass_of(event: Event) -> str:
    """The bass degree of an event."""
    return event.bass or event.chord.rstrip("-o")


def bar_type(bar: Bar, before: str) -> tuple[str, str]:
    """H holds the chord before, N a new chord, S a split, T a split that starts on the old one."""
    chords = [event.chord + "/" + event.bass for event in bar.events]
    distinct = [chord for at, chord in enumerate(chords) if not at or chord != chords[at - 1]]
    if len(distinct) == 1:
        return ("H" if distinct[0] == before else "N"), distinct[-1]
    return ("T" if distinct[0] == before else "S"), distinct[-1]


def shape_of(bar: Bar) -> str:
    """Beats of each chord of a bar in quarters of it ("2+2"), "" where they are not whole."""
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
    """Place of a bar for the rhythm: 0 first, 1 odd, 2 even, 3 last."""
    if index == 0:
        return "0"
    return "3" if index == count - 1 else "12"[(index + 1) % 2]


def count_rhythm(songs: list[Song]) -> dict[str, Any]:
    """Bar types in order by how split the song is, split shapes by place, song split shares."""
    chain, shapes = Count(), Count()
    shares: list[float] = []
    for song in songs:
        types = [song_types(line) for _, _, line in lines_in_order(song)]
        flat = [kind for kinds in types for kind in kinds]
        share = sum(kind in "ST" for kind in flat) / len(flat)
        group = split_group(share)
        shares.append(share)
        for kinds in types:
            for at, kind in enumerate(kinds):
                past = "".join(kinds[max(0, at - 2) : at])
                chain[f"{group} {rhythm_place(at, len(kinds))} {past}"][kind] += 1
        for _, _, line in lines_in_order(song):
            for at, bar in enumerate(line):
                shape = shape_of(bar)
                if song.metre in ("4/4", "12/8") and bar.regular and "+" in shape:
                    shapes[rhythm_place(at, len(line))][shape] += 1
    shares.sort()
    steps = [round(shares[(2 * step + 1) * len(shares) // 40], 3) for step in range(20)]
    return {"chain": chain.kept(3), "shape": shapes.kept(5), "split_shares": steps}


def song_types(line: list[Bar]) -> list[str]:
    """The bar types of a line; its first bar never counts as held over."""
    types, before = [], ""
    for bar in line:
        kind, before = bar_type(bar, before)
        types.append(kind)
    return types


def split_group(share: float) -> str:
    """Songs by their share of split bars: a none to d most."""
    return "a" if share < 0.03 else "b" if share < 0.2 else "c" if share < 0.45 else "d"


def line_key(line: list[Bar]) -> tuple[str, ...]:
    """What makes two lines the same: the simple chords of each bar."""
    return tuple(" ".join(event.chord for event in bar.events) for bar in line)


def form_of(keys: list[tuple[str, ...]]) -> str:
    """Letters of the phrases, a prime where the first two bars agree and the rest differs."""
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
    """Section orders, phrase counts, lengths and forms, borrowed sections, key changes."""
    phrases, lengths, forms, borrowed, loops = Count(), Count(), Count(), Count(), Count()
    orders, keys = Counter[str](), Counter[str]()
    for song in songs:
        order = order_of(song)
        orders[order] += singable(order)
        for at, (kind, _, shift, _, fades, lines) in enumerate(song.sections):
            if at and shift != song.sections[at - 1][2]:
                keys[str((shift - song.sections[at - 1][2] + 6) % 12 - 6)] += 1
            count_borrowed(song, at, borrowed)
            if fades:
                continue
            phrases[kind][str(min(len(lines), MOST_PHRASES))] += 1
            for number, line in enumerate(lines):
                lengths[f"{kind} {phrase_place(number, len(lines))}"][str(len(line))] += 1
                if len(line) == 4:
                    loops[kind][loop_of(line_key(line))] += 1
            if 1 < len(lines) <= MOST_PHRASES:
                forms[f"{kind} {len(lines)}"][form_of([line_key(line) for line in lines])] += 1
    return {
        "orders": {order: count for order, count in sorted(orders.items()) if count},
        "phrases": phrases.kept(2),
        "lengths": lengths.kept(3),
        "forms": forms.kept(2),
        "borrowed": borrowed.kept(3),
        "loops": loops.kept(),
        "key_changes": dict(keys.most_common(8)),
    }


def order_of(song: Song) -> str:
    """The kinds of a song's sections as letters, one for several of a kind but verse and chorus."""
    letters = "".join(LETTERS[section[0]] for section in song.sections)
    return re.sub(r"([IPBSNTO])\1+", r"\1", letters)


def singable(order: str) -> bool:
    """Whether a leader would write an order down as it stands.

    Annotators split long verses and call much an interlude. Kept are orders of two to four verses
    (five without choruses), never three alike in a row, two verses in a row only before the first
    chorus, two choruses only at the end, at most two solos, bridges and interludes, three
    turnarounds, and nothing that leads nowhere.
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
    """Whether a line is one bar or two bars over and over."""
    if len(set(key)) == 1:
        return "one"
    return "two" if key[:2] == key[2:] else "no"


def phrase_place(number: int, count: int) -> str:
    """Place of a phrase in its section."""
    if count == 1:
        return "only"
    return "first" if number == 0 else "last" if number == count - 1 else "inner"


def count_borrowed(song: Song, at: int, borrowed: Count) -> None:
    """Where the first section of a kind has the same letter as another kind."""
    kind, letter = song.sections[at][0], song.sections[at][3].rstrip("'")
    if any(section[0] == kind for section in song.sections[:at]):
        return
    pool = song.sections[:at] if at else song.sections[1:]
    same = [s[0] for s in pool if s[3].rstrip("'") == letter and s[0] != kind]
    borrowed[kind][(same[-1] if at else same[0]) if same else "own"] += 1


def main() -> None:
    """Write the tables of the corpus folder named on the command line."""
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    songs = list(read_songs(Path(sys.argv[1])))
    made = {"chords": count_chords(songs), "rhythm": count_rhythm(songs), "form": count_form(songs)}
    for name, table in made.items():
        text = json.dumps({"source": CITATION, **table}, separators=(",", ":"), sort_keys=True)
        (TABLES / f"{name}.json").write_text(text + "\n")
        print(f"{name}.json: {len(text)} bytes from {len(songs)} songs")


if __name__ == "__main__":
    main()
