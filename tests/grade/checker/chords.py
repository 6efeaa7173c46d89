"""Sentences about chords: what was played and written, notes in common, basses, how often."""

from __future__ import annotations

import re
from fractions import Fraction

from trainer.chart import Bar, Chord

from .common import WHERE, Check, where
from .facts import (
    BARS,
    CHORD,
    Reading,
    at_once,
    bass,
    chord,
    demand,
    listed,
    note,
    notes,
    number,
    root,
    same_sound,
    sounds,
    spelled,
    with_bass,
)

__all__ = ["CHORD_SENTENCES"]

READ = rf"{CHORD}(?: \({CHORD} in your numbers\))?"
NAMES = rf"{READ}(?:, {READ})*(?: and {READ})?(?: and \d+ other chords)?"
NOTE = r"(?:[#b]?[1-7])"
NOTE_LIST = rf"{NOTE}(?:, {NOTE})*(?: and {NOTE})?"
SHARE = rf"The chords share (?:(?P<none>no notes)|(?P<count>\w+) notes? \((?P<both>{NOTE_LIST})\))"
SHARE_WITH_BASS = (
    rf"The chords share (?:(?P<count>\w+) notes \((?P<both>{NOTE_LIST})\), including the bass"
    rf"|only the bass \((?P<bass>{NOTE})\))"
)


def read_as(name: str) -> tuple[str, str]:
    """A chord as read and as written: "4 (b7 in your numbers)"."""
    found = re.fullmatch(rf"({CHORD}) \(({CHORD}) in your numbers\)", name)
    return (found[1], found[2]) if found else (name, name)


def names(text: str) -> list[str]:
    """The chords of a list."""
    return re.findall(READ, re.sub(r" and \d+ other chords$", "", text))


def moved_as_said(r: Reading, pairs: list[tuple[str, str]]) -> None:
    """Chords are read as they are written, or from another 1 if the answer is said to be."""
    for pair in pairs:
        same_shift([pair])
    demand(r.is_shifted or all(read == written for read, written in pairs), f"{pairs}")


def same_shift(pairs: list[tuple[str, str]]) -> None:
    """Chords that are read from another 1 are all moved alike, and only moved."""
    shifts = set()
    for read, written in pairs:
        one, other = chord(read), chord(written)
        if one is None or other is None:
            demand(one is other, f"{written} is not {read}")
            continue
        shift = (root(one) - root(other)) % 12
        shifts.add(shift)
        demand((bass(one) - bass(other)) % 12 == shift, f"{written} is not {read}")
        demand({(note + shift) % 12 for note in notes(other)} == notes(one), f"{written}: {read}")
    demand(len(shifts) <= 1, f"{pairs} are moved by {shifts}")


def played_and_written(r: Reading, m: re.Match[str]) -> None:
    """The chords listed are those of the cases, at the same time in their bars."""
    where(r, m)
    rest = m["written"] == "a rest (0)"
    played = names(m["played"] or "0")
    written = [("0", "0")] if rest else list(map(read_as, names(m["written"])))
    cut = "other chords" in m[0]
    if not cut:
        demand(set(played) == {one.played for one in r.cases}, f"{played} were not played")
        demand({other for _, other in written} == {one.written for one in r.cases}, f"{written}")
    moved_as_said(r, written)
    as_read = {other: read for read, other in written}
    for one, song, own in r.rows():
        demand(at_once(song, own, one.played, one.written), f"{one} do not sound together")
    # What is read in two ways, or only counted, cannot be told from the text.
    texts = [other for _, other in written]
    known = [
        one for one in r.cases if not r.is_shifted or (texts.count(one.written) == 1 and not cut)
    ]
    r.pairs = [(one.played, as_read.get(one.written, one.written)) for one in known]
    if m["part"]:
        demand(any(len(sounds(bar)) > 1 for _, *bars in r.rows() for bar in bars), "whole bars")
    if m["wrong"]:
        demand(len(set(played)) == 1 and m["which"] == played[0], "which chord is counted")
        demand(int(m["wrong"]) == len(r.bars), f"{m['wrong']} of {r.bars}")
        demand(int(m["having"]) == len(r.bars_with(played[0])), f"{m['having']} bars with it")


def every(r: Reading, m: re.Match[str]) -> None:
    """Each time the chord sounds in the song, the other is written."""
    r.bars = r.read_bars(m["at"], r.cited)
    demand(r.bars == r.bars_with(m["played"]), f"{m['played']} is in {r.bars_with(m['played'])}")
    read, text = read_as(m["written"])
    moved_as_said(r, [(read, text)])
    wanted, given = chord(m["played"]), chord(text)
    for one, song, own in r.rows():
        demand((one.played, one.written) == (m["played"], text), f"{one}")
        for share, ours, theirs in laid_over(song, own):
            if same_sound(ours, wanted):
                demand(same_sound(theirs, given), f"{share} of bar {one.reference} is right")
    r.pairs = [(m["played"], read)]


def laid_over(song: Bar, own: Bar) -> list[tuple[Fraction, Chord | None, Chord | None]]:
    """The chords of two bars that sound at once, with the share of the bar."""
    found = []
    for start, event in zip(song.starts(), song.events, strict=True):
        for other_start, other in zip(own.starts(), own.events, strict=True):
            low = max(start / song.meter.beats, other_start / own.meter.beats)
            high = min(
                (start + event.beats) / song.meter.beats,
                (other_start + other.beats) / own.meter.beats,
            )
            if low < high:
                found.append((high - low, event.chord, other.chord))
    return found


def pairs(r: Reading) -> list[tuple[Chord, Chord]]:
    """The pairs of chords that the sentence before was about."""
    demand(r.pairs or r.is_shifted, "no chords were named")
    found = []
    for played, written in r.pairs:
        one, other = chord(played), chord(written)
        demand(one is not None and other is not None, f"{played}, {written}: silence")
        if one is not None and other is not None:
            found.append((one, other))
    return found


def note_set(text: str, of: Chord) -> set[int]:
    """The notes of a list of names, each spelled as in the chord that they belong to."""
    for name in listed(text):
        demand(spelled(of, name), f"{name} is another name in {of}")
    return {note(name) for name in listed(text)}


def lowest(one: Chord) -> str:
    """The name of the lowest note."""
    return str(one.root if one.bass is None else one.bass)


def minus_left_out(r: Reading, _: re.Match[str]) -> None:
    """Minor chords written as plain numbers."""
    for one, other in pairs(r):
        demand((one.quality, other.quality) == ("-", ""), f"{one}, {other}: no minus left out")
        demand(root(one) == root(other) and bass(one) == bass(other), f"{one}, {other}: roots")


def only_third(r: Reading, m: re.Match[str]) -> None:
    """One note differs, and it is the third."""
    for one, other in pairs(r):
        demand(root(one) == root(other), f"{one}, {other}: roots differ")
        demand(bass(one) == bass(other), f"{one}, {other}: basses differ")
        third, not_it = note_set(m["third"], one), note_set(m["not"], other)
        demand(notes(one) - notes(other) == third, f"{one}: not {m['third']}")
        demand(notes(other) - notes(one) == not_it, f"{other}: not {m['not']}")
        minor = (note(m["third"]) - root(one)) % 12 == 3
        demand(m["sound"] == ("minor, darker" if minor else "major, brighter"), m["sound"])


def same_root(r: Reading, _: re.Match[str]) -> None:
    """The roots agree."""
    for one, other in pairs(r):
        demand(root(one) == root(other), f"{one}, {other}: roots differ")
        demand(bass(one) == bass(other), f"{one}, {other}: basses differ")


def differing(played: str, written: str) -> Check:
    """What sounds and is not written, and what is written and does not sound."""

    def check(r: Reading, m: re.Match[str]) -> None:
        groups = m.groupdict()
        groups[written] = groups.get(written) or groups.get("less_")
        for one, other in pairs(r):
            more, less = with_bass(one) - with_bass(other), with_bass(other) - with_bass(one)
            demand(more == note_set(groups.get(played) or "", one), f"{one} {other}: {more}")
            demand(less == note_set(groups.get(written) or "", other), f"{one} {other}: {less}")

    return check


def only_more(r: Reading, m: re.Match[str]) -> None:
    """The chord played has all that is written, and more."""
    for one, other in pairs(r):
        demand(root(one) == root(other) and bass(one) == bass(other), f"{one} {other}: not right")
        demand(notes(one) > notes(other), f"{one} has not more than {other}")
        if m["more"]:
            more = with_bass(one) - with_bass(other)
            demand(more == note_set(m["more"], one), f"{one}: {m['more']}")


def only_less(r: Reading, m: re.Match[str]) -> None:
    """The chord played is a triad, and what is written has more than it."""
    for one, other in pairs(r):
        demand(root(one) == root(other) and bass(one) == bass(other), f"{one} {other}: not right")
        demand(notes(one) < notes(other), f"{one} is not plainer than {other}")
        demand(not one.extension, f"{one} has something added")
        if m["less"]:
            less = with_bass(other) - with_bass(one)
            demand(less == note_set(m["less"], other), f"{other}: {m['less']}")


def same_notes(r: Reading) -> list[tuple[Chord, Chord]]:
    """Pairs of chords of which only the bass differs."""
    found = pairs(r)
    for one, other in found:
        demand(notes(one) == notes(other) and root(one) == root(other), f"{one}, {other}: notes")
        demand(bass(one) != bass(other), f"{one}, {other}: basses")
    return found


def basses(r: Reading, m: re.Match[str]) -> None:
    """Only the bass differs, and it is as said."""
    for one, other in same_notes(r):
        if m["bass"]:
            demand(lowest(one) == m["bass"], f"{one}: {m['bass']}")
            demand(lowest(other) == m["not"], f"{other}: {m['not']}")


def no_slash(r: Reading, _: re.Match[str]) -> None:
    """Only the bass differs, and it was on the root."""
    for one, _other in same_notes(r):
        demand(bass(one) == root(one), f"{one}: the bass is not on the root")


def in_common(r: Reading, m: re.Match[str]) -> None:
    """Notes in common, the basses among them, and basses."""
    for one, other in pairs(r):
        both = with_bass(one) & with_bass(other)
        if m["none"]:
            demand(not both, f"{one}, {other} share {both}")
        elif m["count"]:
            demand(number(m["count"]) == len(both), f"{one}, {other} share {both}")
            demand(note_set(m["both"], one) == both, f"{one}, {other} share {both}")
        demand(lowest(one) == m["bass"], f"{one}: {m['bass']}")
        demand(lowest(other) == m["not"], f"{other}: {m['not']}")
        demand(bass(one) != bass(other), f"{one}, {other}: one bass")


def same_bass(r: Reading, m: re.Match[str]) -> None:
    """One bass, and the notes above it."""
    for one, other in pairs(r):
        both = with_bass(one) & with_bass(other)
        demand(bass(one) == bass(other), f"{one}, {other}: two basses")
        if m["bass"]:
            demand(lowest(one) == m["bass"], f"{one}: {m['bass']}")
            demand(both == {bass(one)}, f"{one}, {other} share {both}")
        else:
            demand(number(m["count"]) == len(both), f"{one}, {other} share {both}")
            demand(note_set(m["both"], one) == both, f"{one}, {other} share {both}")
    differing("more", "less")(r, m)


def sign_forgotten(r: Reading, m: re.Match[str]) -> None:
    """The number is right but for its flat or sharp, and so is all else of the chord."""
    for one, other in pairs(r):
        demand(one.degree == other.degree and not other.alteration, f"{one}, {other}: numbers")
        demand(one.alteration == {"flat": -1, "sharp": 1}[m["sign"]], f"{one}: no {m['sign']}")
        demand(str(one).replace(str(one.root), str(other.root), 1) == str(other), f"{one}, {other}")
        demand(lowest(one) == m["bass"] and lowest(other) == m["not"], f"{one}, {other}: basses")


def exchanged(r: Reading, m: re.Match[str]) -> None:
    """Each of two roots is written for the other in the bars that are named."""
    one_way, other_way = (m["one"], m["other"]), (m["other"], m["one"])
    demand((m["one_here"], m["other_here"]) == one_way, "which chords")
    demand((m["other_there"], m["one_there"]) == other_way, "which chords")
    for name, other, text in ((*one_way, m["at"]), (*other_way, m["there"])):
        here, there = root(chord(name)), root(chord(other))
        cases = [one for one in r.cases if root(chord(one.played)) == here]
        cited = {one.reference for one in cases if one.reference is not None}
        r.read_bars(text, sorted(cited))
        minor = True
        for one in cases:
            demand(r.is_shifted or root(chord(one.written)) == there, f"{one}: not {other}")
            minor = minor and getattr(chord(one.played), "quality", "") == "-"
        for one in r.cases:
            if one not in cases:
                minor = minor and getattr(chord(one.written), "quality", "") == "-"
        demand(minor == name.endswith("-"), f"{name}: minor")
    r.bars = r.cited
    r.pairs = [(one.played, one.written) for one in r.cases]


def the_one_tells(r: Reading, m: re.Match[str]) -> None:
    """The note 1 is in one of two exchanged chords and not in the other."""
    for one, _other in pairs(r):
        inside = root(one) == root(chord(m["in"]))
        demand((0 in notes(one)) == inside, f"{one}: is 1 in it?")
        demand(inside or root(one) == root(chord(m["out"])), f"{one}")


CHORD_SENTENCES: tuple[tuple[str, Check], ...] = (
    (
        (
            rf"{WHERE}: (?P<part>for part of the bar, )?the band (?:played (?P<played>{NAMES})|was "
            rf"silent),? and you wrote (?P<written>{NAMES}|a rest \(0\))"
            rf"(?: \((?P<wrong>\d+) of the (?P<having>\d+) bars with (?P<which>{CHORD})\))?\."
        ),
        played_and_written,
    ),
    (
        (
            rf"You wrote (?P<written>{READ}) every time the band played (?P<played>{CHORD}): "
            rf"(?P<at>{BARS})\."
        ),
        every,
    ),
    (
        r"A plain number means a major chord\. Write the minus sign when the chord is minor\.",
        minus_left_out,
    ),
    (
        (
            r"You have the right root but not the third\. Listen to the third: it's "
            rf"(?P<third>{NOTE}) \((?P<sound>minor, darker|major, brighter)\), not "
            rf"(?P<not>{NOTE})\."
        ),
        only_third,
    ),
    (r"The root is right\.", same_root),
    (
        (
            rf"Listen inside the chord: it has (?P<more>{NOTE_LIST}), not "
            rf"(?P<less>{NOTE_LIST})\."
        ),
        differing("more", "less"),
    ),
    (
        rf"Listen inside the chord: it has (?P<more>{NOTE_LIST}) as well\.",
        differing("more", "less"),
    ),
    (
        rf"Listen inside the chord: (?P<less>{NOTE_LIST}) (?:is|are)n't in it\.",
        differing("more", "less"),
    ),
    (
        (
            r"You have the right chord, but there's more in it: listen for "
            rf"(?:(?P<more>{NOTE_LIST})|the extra note)\."
        ),
        only_more,
    ),
    (
        (
            r"You have the right chord, but the band played it plainer: "
            rf"(?:(?P<less>{NOTE_LIST}) (?:is|are)n't in it|it's just the triad)\."
        ),
        only_less,
    ),
    (
        (
            r"You have the right chord but not the bass note\. Listen to the lowest note(?: and "
            rf"write it after the slash|: it's (?P<bass>{NOTE}), not (?P<not>{NOTE}))\."
        ),
        basses,
    ),
    (
        r"You have the right chord, and the bass plays its root, so there's no slash\.",
        no_slash,
    ),
    (
        (
            rf"You forgot the (?P<sign>flat|sharp): the bass is on (?P<bass>{NOTE}), not "
            rf"(?P<not>{NOTE})\."
        ),
        sign_forgotten,
    ),
    (
        rf"{SHARE}\. Listen to the bass: it's on (?P<bass>{NOTE}), not (?P<not>{NOTE})\.",
        in_common,
    ),
    (
        (
            rf"{SHARE_WITH_BASS}\. Listen above the bass: "
            rf"(?:you hear (?P<more>{NOTE_LIST})(?: as well|, not (?P<less>{NOTE_LIST}))"
            rf"|(?P<less_>{NOTE_LIST}) (?:is|are)n't there)\."
        ),
        same_bass,
    ),
    (
        (
            rf"You swapped (?P<one>{CHORD}) and (?P<other>{CHORD}): you wrote "
            rf"(?P<other_here>{CHORD}) for (?P<one_here>{CHORD}) in (?P<at>{BARS}), and "
            rf"(?P<one_there>{CHORD}) for (?P<other_there>{CHORD}) in (?P<there>{BARS})\."
        ),
        exchanged,
    ),
    (
        rf"Sing the 1 over both: it belongs to (?P<in>{CHORD}), not to (?P<out>{CHORD})\.",
        the_one_tells,
    ),
)
