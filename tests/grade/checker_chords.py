"""Sentences about chords, splits, beats, articulations, meters and key changes."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from operator import ne

from trainer.chart import Articulation, Bar, Chord

from .checker_facts import (
    BARS,
    CHORD,
    NOTES,
    Reading,
    at_once,
    bass,
    chord,
    demand,
    listed,
    notes,
    number,
    root,
    same_sound,
    sounds,
    text_of,
)

__all__ = ["CHORD_SENTENCES"]

Check = Callable[[Reading, "re.Match[str]"], None]
READ = rf"{CHORD}(?: \(you wrote {CHORD}\))?"
NAMES = rf"{READ}(?:, {READ})*(?: and {READ})?(?: and \d+ other chords)?"
NOTE = r"(?:#4|b?[1-7])"
NOTE_LIST = rf"{NOTE}(?:, {NOTE})*(?: and {NOTE})?"
WHERE = rf"(?P<at>{BARS})(?: \((?P<section>[^:]*)\))?"
ARTICULATIONS = {
    "hold (diamond)": Articulation.HOLD,
    "push": Articulation.PUSH,
    "stop": Articulation.STOP,
    "holds (diamonds)": Articulation.HOLD,
    "pushes": Articulation.PUSH,
    "stops": Articulation.STOP,
}
ARTICULATION = r"hold \(diamond\)|push|stop"
ARTICULATED = r"holds \(diamonds\)|pushes|stops"
SOUNDS = {
    Articulation.HOLD: "a held chord rings and nothing is struck after it",
    Articulation.PUSH: "a pushed chord comes an eighth before its beat",
    Articulation.STOP: "a stopped chord is choked and leaves silence",
}
INTERVALS = (
    *("nothing", "a half step", "a whole step", "a minor third", "a major third", "a fourth"),
    *("a tritone", "a fifth", "a minor sixth", "a major sixth", "a minor seventh"),
    "a major seventh",
)


def where(r: Reading, m: re.Match[str]) -> None:
    """The bars at the start of a sentence are those cited, in the section that is named."""
    r.bars = r.read_bars(m["at"], r.cited)
    r.check_section(m["section"])


def read_as(name: str) -> tuple[str, str]:
    """A chord as read and as written: "4 (you wrote b7)"."""
    found = re.fullmatch(rf"({CHORD}) \(you wrote ({CHORD})\)", name)
    return (found[1], found[2]) if found else (name, name)


def names(text: str) -> list[str]:
    """The chords of a list."""
    return re.findall(READ, re.sub(r" and \d+ other chords$", "", text))


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
    played = ["0"] if m["played"] == "nothing" else names(m["played"])
    written = [("0", "0")] if m["written"] == "silence" else list(map(read_as, names(m["written"])))
    cut = "other chords" in m["played"] or "other chords" in m["written"]
    if not cut:
        demand(set(played) == {one.played for one in r.cases}, f"{played} were not played")
        demand({other for _, other in written} == {one.written for one in r.cases}, f"{written}")
    same_shift(written)
    as_read = {other: read for read, other in written}
    for one, song, own in r.rows():
        demand(at_once(song, own, one.played, one.written), f"{one} do not sound together")
    r.pairs = [(one.played, as_read.get(one.written, one.written)) for one in r.cases]
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
    demand(number(m["times"]) == len(r.bars), f"{m['times']} of {r.bars}")
    wanted, given = chord(m["played"]), chord(m["written"])
    for one, song, own in r.rows():
        demand((one.played, one.written) == (m["played"], m["written"]), f"{one}")
        for share, ours, theirs in laid_over(song, own):
            if same_sound(ours, wanted):
                demand(same_sound(theirs, given), f"{share} of bar {one.reference} is right")
    r.pairs = [(m["played"], m["written"])]


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
    demand(r.pairs, "no chords were named")
    found = []
    for played, written in r.pairs:
        one, other = chord(played), chord(written)
        demand(one is not None and other is not None, f"{played}, {written}: silence")
        if one is not None and other is not None:
            found.append((one, other))
    return found


def note_set(text: str) -> set[int]:
    """The notes of a list of names."""
    return {NOTES.index(name) for name in listed(text)}


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
        demand(notes(one) - notes(other) == note_set(m["third"]), f"{one}: not {m['third']}")
        demand(notes(other) - notes(one) == note_set(m["not"]), f"{other}: not {m['not']}")
        minor = (NOTES.index(m["third"]) - root(one)) % 12 == 3
        demand(m["sound"] == ("dark (minor)" if minor else "bright (major)"), m["sound"])


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
            demand(
                notes(one) - notes(other) == note_set(groups.get(played) or ""), f"{one} {other}"
            )
            demand(
                notes(other) - notes(one) == note_set(groups.get(written) or ""), f"{one} {other}"
            )

    return check


def only_more(r: Reading, m: re.Match[str]) -> None:
    """The chord played has all that is written, and more."""
    for one, other in pairs(r):
        demand(root(one) == root(other) and bass(one) == bass(other), f"{one} {other}: not right")
        demand(notes(one) > notes(other), f"{one} has not more than {other}")
        if m["more"]:
            demand(notes(one) - notes(other) == note_set(m["more"]), f"{one}: {m['more']}")


def only_less(r: Reading, m: re.Match[str]) -> None:
    """The chord played is a triad, and what is written has more than it."""
    for one, other in pairs(r):
        demand(root(one) == root(other) and bass(one) == bass(other), f"{one} {other}: not right")
        demand(notes(one) < notes(other), f"{one} is not plainer than {other}")
        demand(not one.extension, f"{one} has something added")
        if m["less"]:
            demand(notes(other) - notes(one) == note_set(m["less"]), f"{other}: {m['less']}")


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
            demand(NOTES[bass(one)] == m["bass"], f"{one}: {m['bass']}")
            demand(NOTES[bass(other)] == m["not"], f"{other}: {m['not']}")


def no_slash(r: Reading, _: re.Match[str]) -> None:
    """Only the bass differs, and it was on the root."""
    for one, _other in same_notes(r):
        demand(bass(one) == root(one), f"{one}: the bass is not on the root")


def in_common(r: Reading, m: re.Match[str]) -> None:
    """Notes in common, and basses."""
    for one, other in pairs(r):
        both = notes(one) & notes(other)
        if m["none"]:
            demand(not both, f"{one}, {other} share {both}")
        elif m["count"]:
            demand(number(m["count"]) == len(both), f"{one}, {other} share {both}")
            demand(note_set(m["both"]) == both, f"{one}, {other} share {both}")
        if m["bass"]:
            demand(NOTES[bass(one)] == m["bass"], f"{one}: {m['bass']}")
            demand(NOTES[bass(other)] == m["not"], f"{other}: {m['not']}")
            demand(bass(one) != bass(other), f"{one}, {other}: one bass")


def same_bass(r: Reading, m: re.Match[str]) -> None:
    """One bass, and the notes above it."""
    for one, other in pairs(r):
        both = notes(one) & notes(other)
        demand(bass(one) == bass(other), f"{one}, {other}: two basses")
        if m["bass"]:
            demand(NOTES[bass(one)] == m["bass"], f"{one}: {m['bass']}")
            demand(not both, f"{one}, {other} share {both}")
        else:
            demand(number(m["count"]) == len(both), f"{one}, {other} share {both}")
            demand(note_set(m["both"]) == both, f"{one}, {other} share {both}")
    differing("more", "less")(r, m)


def exchanged(r: Reading, m: re.Match[str]) -> None:
    """Each of two roots is written for the other in the bars that are named."""
    demand({m["one"], m["other"]} == {m["a"], m["b"]}, "which chords")
    for name, other, text in ((m["one"], m["other"], m["at"]), (m["a"], m["b"], m["there"])):
        here, there = root(chord(name)), root(chord(other))
        cited = sorted(
            {
                one.reference
                for one in r.cases
                if one.reference is not None and root(chord(one.played)) == here
            }
        )
        r.read_bars(text, cited)
        for one in r.cases:
            if root(chord(one.played)) == here:
                demand(root(chord(one.written)) == there, f"{one}: not {other}")
    r.bars = r.cited
    r.pairs = [(one.played, one.written) for one in r.cases]


def the_one_tells(r: Reading, m: re.Match[str]) -> None:
    """The note 1 is in one of two exchanged chords and not in the other."""
    for one, _other in pairs(r):
        inside = root(one) == root(chord(m["in"]))
        demand((0 in notes(one)) == inside, f"{one}: is 1 in it?")
        demand(inside or root(one) == root(chord(m["out"])), f"{one}")


def held(bar: Bar, text: str) -> bool:
    """Whether the chords of a bar and their lengths are as said."""
    found = re.fullmatch(
        r"(?P<chords>.+) were played, (?:(?P<even>the bar divided evenly)|(?P<each>\w+) "
        r"(?P<noun>\w+?)s? each|(?P<first>\w+) (?P<noun2>\w+?)s?(?P<rest>(?:, | and then ).+))",
        text,
    )
    if not found:
        return False
    named = listed(found["chords"].replace(" (silence)", ""))
    beats = [event.beats for event in bar.events]
    if named != ["0" if event.chord is None else str(event.chord) for event in bar.events]:
        return False
    noun = {8: "eighth", 16: "sixteenth"}.get(bar.meter.unit, "beat")
    if found["even"]:
        return bar.is_even
    if found["each"]:
        return found["noun"] == noun and set(beats) == {number(found["each"])}
    said = [found["first"], *listed(found["rest"].replace(" and then ", " and "))]
    return found["noun2"] == noun and list(map(number, said)) == beats


def split_missed(r: Reading, m: re.Match[str]) -> None:
    """A split bar was played, one chord is written."""
    where(r, m)
    for one, song, own in r.rows():
        demand(held(song, m["held"]), f"bar {one.reference}: {text_of(song)}, not {m['held']}")
        demand(len(sounds(song)) > 1, f"bar {one.reference} is not split")
        demand(len(sounds(own)) == 1, f"your bar {one.answer} is split")
    writings(r, m["written"])


def writings(r: Reading, text: str) -> None:
    """The bars written are those that are named, perhaps only the first few."""
    text = re.sub(r"\S+ \(you wrote (\S+)\)", r"\1", text)
    own = list(dict.fromkeys(text_of(bar) for _, _, bar in r.rows()))
    some(text, own)


def some(text: str, bars: list[str]) -> None:
    """Bars are listed, the last perhaps only counted."""
    cut = re.fullmatch(r"(.+) and (\d+) others", text)
    named = listed(cut[1] if cut else text)
    demand(named == bars[: len(named)], f"{text}: {bars}")
    demand(len(bars) - len(named) == (int(cut[2]) if cut else 0), f"{text}: {bars}")


def first_chords(r: Reading, m: re.Match[str]) -> None:
    """Split bars, of which only the first chord is written."""
    where(r, m)
    some(m["played"], list(dict.fromkeys(text_of(bar) for _, bar, _ in r.rows())))
    for one, song, own in r.rows():
        demand(len(sounds(song)) > 1, f"bar {one.reference} is not split")
        if not r.is_shifted:
            demand(len(sounds(own)) == 1, f"your bar {one.answer} is split")
            demand(same_sound(sounds(own)[0], sounds(song)[0]), f"your bar {one.answer}")


def moves_inside(r: Reading, m: re.Match[str]) -> None:
    """The bass moves inside the bars, or the chord does, or the band stops."""
    for bar in r.bars:
        chords = sounds(r.song_bar(bar))
        low = [bass(one) for one in chords]
        if m["what"] == "the bass moving inside the bar":
            demand(len(set(low)) > 1 and all(map(ne, low, low[1:])), f"{low}")
        elif m["what"].startswith("where the band stops"):
            demand(None in chords, f"bar {bar} has no silence")
        else:
            demand(len(chords) > 1, f"bar {bar} has one chord")


def split_added(r: Reading, m: re.Match[str]) -> None:
    """One chord was played, a split is written."""
    where(r, m)
    played = list(dict.fromkeys(text_of(bar) for _, bar, _ in r.rows()))
    if "played" in m.groupdict():
        some(m["played"], played)
    silent = "silent" in m[0]
    for one, song, own in r.rows():
        demand(len(sounds(song)) == 1, f"bar {one.reference} is split")
        demand((sounds(song) == [None]) == silent, f"bar {one.reference}: silence")
        demand(len(sounds(own)) > 1, f"your bar {one.answer} is not split")
    writings(r, m["written"])


def other_beats(r: Reading, m: re.Match[str]) -> None:
    """The right chords, changing elsewhere."""
    where(r, m)
    for one, song, own in r.rows():
        demand(held(song, m["held"]), f"bar {one.reference}: {text_of(song)}, not {m['held']}")
        if not r.is_shifted:
            ours, theirs = sounds(song), sounds(own)
            demand(len(ours) == len(theirs) and all(map(same_sound, ours, theirs)), "other chords")
        demand(changes(song) != changes(own), f"bar {one.reference}: changes where it was played")
    writings(r, m["written"])


def changes(bar: Bar) -> set[Fraction]:
    """Where the chord changes, as shares of the bar."""
    starts = list(zip(bar.starts(), bar.events, strict=True))
    return {
        at / bar.meter.beats
        for (_, before), (at, event) in pairwise(starts)
        if not same_sound(before.chord, event.chord)
    }


def otherwise(r: Reading, m: re.Match[str]) -> None:
    """A bar is split into other chords, or elsewhere."""
    where(r, m)
    for one, song, own in r.rows():
        demand(held(song, m["held"]), f"bar {one.reference}: {text_of(song)}, not {m['held']}")
        demand(changes(song) != changes(own), f"bar {one.reference}: changes where it was played")
    writings(r, m["written"])
    demand(m["moves"] == "bass moves" or len(sounds(r.song_bar(r.bars[0]))) > 1, m["moves"])


def too_early(r: Reading, m: re.Match[str]) -> None:
    """The next bar's chord stands at the end of the bar before."""
    where(r, m)
    for one, song, own in r.rows():
        demand(text_of(song) == m["played"], f"bar {one.reference} is {text_of(song)}")
        demand(len(sounds(song)) == 1 and len(sounds(own)) == 2, f"{one}: split")
        demand(str(own.events[-1].chord or 0) == m["chord"], f"{one}: {m['chord']}")
        after = r.song_bar((one.reference or 0) + 1).events[0].chord
        if not r.is_shifted:
            demand(same_sound(sounds(own)[1], after), f"{one}: {after} comes next")
            demand(same_sound(sounds(own)[0], sounds(song)[0]), f"{one}: first chord")
    writings(r, m["written"])


def too_late(r: Reading, m: re.Match[str]) -> None:
    """The chord before goes on into the bar."""
    where(r, m)
    for one, song, own in r.rows():
        demand(text_of(song) == m["played"], f"bar {one.reference} is {text_of(song)}")
        before = r.song_bar((one.reference or 0) - 1).events[-1].chord
        if not r.is_shifted:
            demand([bass(one) for one in sounds(own)] == [bass(before), bass(sounds(song)[0])], "")
            demand(same_sound(sounds(own)[1], sounds(song)[0]), f"{one}: the chord")
    writings(r, m["written"])


def on_the_bar_line(r: Reading, m: re.Match[str]) -> None:
    """A change inside the bar is written on a bar line."""
    where(r, m)
    for one, song, own in r.rows():
        demand(text_of(song) == m["played"], f"bar {one.reference} is {text_of(song)}")
        demand(len(sounds(song)) == 2 and len(sounds(own)) == 1, f"{one}: split")
        demand(str(song.events[-1].chord or 0) == m["chord"], f"{one}: {m['chord']}")
        if r.is_shifted:
            continue
        if m["when"] == "from the first beat, too early":
            demand(same_sound(sounds(own)[0], sounds(song)[1]), f"{one}: early")
        else:
            demand(same_sound(sounds(own)[0], sounds(song)[0]), f"{one}: late")
            follows = r.own_bar((one.answer or 0) + 1).events[0].chord
            demand(same_sound(follows, sounds(song)[1]), f"{one}: not with the next bar line")


def articulated(bar: Bar, what: Articulation) -> list[Fraction]:
    """Where a bar has an articulation, as shares of it."""
    return [
        at / bar.meter.beats
        for at, event in zip(bar.starts(), bar.events, strict=True)
        if event.articulation is what
    ]


def not_written(r: Reading, m: re.Match[str]) -> None:
    """An articulation of the song that is not in the answer."""
    where(r, m)
    what = ARTICULATIONS[m["what"]]
    for one, song, own in r.rows():
        demand(set(articulated(song, what)) - set(articulated(own, what)), f"{one}: {what}")
    having = [k + 1 for k, bar in enumerate(r.song) if articulated(bar, what)]
    if m["played"]:
        demand(text_of(r.song_bar(r.bars[0])) == m["played"], m["played"])
    else:
        demand(int(m["wrong"]) == len(r.bars), f"{m['wrong']} of {r.bars}")
        demand(int(m["having"]) == len(having), f"{having} have one")
    r.pairs = [(what, "")]


def none_written(r: Reading, m: re.Match[str]) -> None:
    """None of the song's articulations of a kind is in the answer."""
    r.bars = r.read_bars(m["at"], r.cited)
    what = ARTICULATIONS[m["what"]]
    demand(
        r.bars == [k + 1 for k, bar in enumerate(r.song) if articulated(bar, what)], "all of them"
    )
    for one, song, own in r.rows():
        demand(not set(articulated(song, what)) & set(articulated(own, what)), f"{one}: {what}")
    r.pairs = [(what, "")]


def not_played(r: Reading, m: re.Match[str]) -> None:
    """An articulation of the answer that was not played there."""
    where(r, m)
    what = ARTICULATIONS[m["what"]]
    for one, song, own in r.rows():
        demand(set(articulated(own, what)) - set(articulated(song, what)), f"{one}: {what}")
    r.pairs = [(what, "")]


def another(r: Reading, m: re.Match[str]) -> None:
    """One articulation for another, in the same place."""
    where(r, m)
    one, other = ARTICULATIONS[m["what"]], ARTICULATIONS[m["written"]]
    for case, song, own in r.rows():
        demand(set(articulated(song, one)) & set(articulated(own, other)), f"{case}: {one}")
    r.pairs = [(one, "")]


def other_place(r: Reading, m: re.Match[str]) -> None:
    """An articulation is on another chord of the same bar."""
    where(r, m)
    what = ARTICULATIONS[m["what"]]
    first = True
    for one, song, own in r.rows():
        ours, theirs = set(articulated(song, what)), set(articulated(own, what))
        demand(ours - theirs and theirs - ours, f"{one}: {what}")
        demand(not first or text_of(song) == m["played"], m["played"])
        demand(not first or text_of(own) == m["written"], m["written"])
        first = False
    r.pairs = [(what, "")]


def other_bar(r: Reading, m: re.Match[str]) -> None:
    """An articulation is in another bar."""
    what = ARTICULATIONS[m["what"]]
    there, here = [], []
    for one, song, own in r.rows():
        ours, theirs = set(articulated(song, what)), set(articulated(own, what))
        if ours - theirs:
            there.append(one.reference or 0)
        if theirs - ours:
            here.append(one.reference or 0)
    r.bars = r.read_bars(m["at"], sorted(set(there)))
    r.check_section(m["section"] if "section" in m.groupdict() else None)
    r.read_bars(m["there"], sorted(set(here)))
    r.pairs = [(what, "")]


def sounds_like(r: Reading, m: re.Match[str]) -> None:
    """What the articulation that was spoken of sounds like."""
    demand(m["how"] == SOUNDS[Articulation(r.pairs[0][0])], f"{r.pairs[0][0]}: {m['how']}")


def meter_of_song(r: Reading, m: re.Match[str]) -> None:
    """All bars of the song are in one meter, all cited bars of the answer in another."""
    demand({str(bar.meter) for bar in r.song} == {m["played"]}, f"the song is not in {m['played']}")
    demand(r.cited == list(range(1, len(r.song) + 1)), "not all bars")
    demand({str(own.meter) for _, _, own in r.rows()} == {m["written"]}, f"not {m['written']}")


def bar_length(r: Reading, m: re.Match[str]) -> None:
    """Bars of another length than most of the song's."""
    where(r, m)
    for one, song, own in r.rows():
        demand(str(song.meter) == m["played"], f"bar {one.reference} is {song.meter}")
        demand(str(own.meter) == m["written"], f"your bar {one.answer} is {own.meter}")
        short = song.meter.quarters < own.meter.quarters
        if m.groupdict().get("long"):
            demand(song.meter.quarters != own.meter.quarters, "equally long")
            demand(m["long"] == ("short" if short else "long"), m["long"])
            demand(m["when"] == ("sooner" if short else "later"), m["when"])
            noun = {8: "eighth", 16: "sixteenth"}.get(song.meter.unit, "beat")
            count = song.meter.beats
            demand(number(m["beats"]) == count, m["beats"])
            demand(m["noun"] == noun + "s" * (count != 1), m["noun"])


def key_moves(r: Reading, m: re.Match[str]) -> None:
    """The key moves as said, and something else is written."""
    where(r, m)
    for one, song, own in r.rows():
        move = song.key_change
        demand(move, f"bar {one.reference}: the key stays")
        demand(m["way"] == ("up" if move > 0 else "down"), m["way"])
        demand(m["interval"] == INTERVALS[abs(move)], m["interval"])
        demand(f"{move:+d}" == m["sign"], m["sign"])
        if m["wrong"] == "that is not written":
            demand(not own.key_change, f"{own.key_change:+d} is written")
        else:
            demand(m["wrong"] == f"{own.key_change:+d} is written", m["wrong"])


def key_stays(r: Reading, m: re.Match[str]) -> None:
    """A key change is written where there is none."""
    where(r, m)
    for one, song, own in r.rows():
        demand(not song.key_change and own.key_change, f"{one}: the key moves")


BAR = r"\S+"
BARLIST = rf"{BAR}(?:, {BAR})*(?: and {BAR})?(?: and \d+ others)?"
WRITTEN = rf"{BAR}(?: \(you wrote {BAR}\))?"
WRITTEN_LIST = rf"{WRITTEN}(?:, {WRITTEN})*(?: and {WRITTEN})?(?: and \d+ others)?"
SHARE = rf"They share (?:(?P<none>no note)|(?P<count>\w+) notes? \((?P<both>{NOTE_LIST})\))"
HELD = r"(?P<held>[^;:]+ were played, [^;:]+)"

CHORD_SENTENCES: tuple[tuple[str, Check], ...] = (
    (
        rf"{WHERE}: (?P<played>\d+/\d+) was played, (?P<written>\d+/\d+) is written\.",
        bar_length,
    ),
    (
        (
            rf"{WHERE}: (?P<part>in the bar, )?(?P<played>{NAMES}|nothing) w(?:as|ere) played, "
            rf"(?P<written>{NAMES}|silence) (?:is|are) written"
            rf"(?: \((?P<wrong>\d+) of the (?P<having>\d+) bars with (?P<which>{CHORD})\))?\."
        ),
        played_and_written,
    ),
    (
        (
            rf"Every (?P<played>{CHORD}) is written as (?P<written>{CHORD}): (?P<times>\w+) bars? "
            rf"\((?P<at>{BARS})\)\."
        ),
        every,
    ),
    (
        r"A plain number is a major chord; write the minus where the chord is minor\.",
        minus_left_out,
    ),
    (
        (
            r"The root is right; only the third differs\. Listen to the third: it is "
            rf"(?P<third>{NOTE}), (?P<sound>dark \(minor\)|bright \(major\)), not (?P<not>{NOTE})\."
        ),
        only_third,
    ),
    (r"The root is right\.", same_root),
    (
        (
            rf"Listen inside the chord: the notes? (?P<more>{NOTE_LIST}) sounds?, not "
            rf"(?P<less>{NOTE_LIST})\."
        ),
        differing("more", "less"),
    ),
    (
        rf"Listen inside the chord for the notes? (?P<more>{NOTE_LIST})\.",
        differing("more", "less"),
    ),
    (
        rf"Listen inside the chord: the notes? (?P<less>{NOTE_LIST}) do(?:es)? not sound\.",
        differing("more", "less"),
    ),
    (
        (
            r"The chord is right but there is more in it: listen for the notes? "
            rf"(?:(?P<more>{NOTE_LIST})|that colours it)\."
        ),
        only_more,
    ),
    (
        (
            r"The chord is right, but plainer than you wrote it: (?:the notes? "
            rf"(?P<less>{NOTE_LIST}) (?:is|are) not in it|nothing is added to the triad)\."
        ),
        only_less,
    ),
    (
        (
            r"The chord is right, but not its bass: listen to the lowest note(?: and write it "
            r"after "
            rf"the slash|\. It is (?P<bass>{NOTE}), not (?P<not>{NOTE}))\."
        ),
        basses,
    ),
    (r"The chord is right, and the bass is on its root: no slash\.", no_slash),
    (
        rf"The chord is right; the lowest note is (?P<bass>{NOTE}), not (?P<not>{NOTE})\.",
        basses,
    ),
    (
        rf"{SHARE}; listen to the bass: it is on (?P<bass>{NOTE}), not (?P<not>{NOTE})\.",
        in_common,
    ),
    (
        (
            rf"(?:They share (?P<count>\w+) notes? \((?P<both>{NOTE_LIST})\) and the bass"
            rf"|The bass is right: (?P<bass>{NOTE})); listen above it: "
            rf"(?:(?P<more>{NOTE_LIST}) sounds?(?: too|, not (?P<less>{NOTE_LIST}))"
            rf"|(?P<less_>{NOTE_LIST}) (?:is|are) not there)\."
        ),
        same_bass,
    ),
    (
        (
            rf"(?P<one>{CHORD}) and (?P<other>{CHORD}) are exchanged: {CHORD} was played and "
            rf"{CHORD} "
            rf"is written in (?P<at>{BARS}), (?P<a>{CHORD}) was played and (?P<b>{CHORD}) is "
            rf"written "
            rf"in (?P<there>{BARS})\."
        ),
        exchanged,
    ),
    (
        rf"Sing the 1 over them: it belongs to (?P<in>{CHORD}), not to (?P<out>{CHORD})\.",
        the_one_tells,
    ),
    (
        (
            rf"{WHERE} are split \((?P<played>{BARLIST})\), and only the first chord of each is "
            r"written\."
        ),
        first_chords,
    ),
    (
        (
            rf"{WHERE}: the chords are right, but not where they change\. {HELD}; "
            rf"(?P<written>{WRITTEN}) is written\."
        ),
        other_beats,
    ),
    (
        rf"{WHERE}: {HELD}; (?P<written>{WRITTEN_LIST}) is written for the whole bar\.",
        split_missed,
    ),
    (
        (
            rf"{WHERE}: {HELD}; (?P<written>{WRITTEN}) is written\. Count the beats to where the "
            r"(?P<moves>bass moves|chord changes)\."
        ),
        otherwise,
    ),
    (
        (
            r"Listen for (?P<what>the bass moving inside the bar|the chord changing inside the bar|"
            r"where the band stops inside the bar)\."
        ),
        moves_inside,
    ),
    (
        (
            rf"{WHERE}: the band is silent all through the bar, (?P<written>{WRITTEN_LIST}) is "
            r"written\."
        ),
        split_added,
    ),
    (
        rf"{WHERE} have one chord each, and a split is written \((?P<written>{WRITTEN_LIST})\)\.",
        split_added,
    ),
    (
        (
            rf"{WHERE}: (?P<played>{BARLIST}) was played all through the bar, "
            rf"(?P<written>{WRITTEN_LIST}) is written\."
        ),
        split_added,
    ),
    (
        (
            rf"{WHERE}: (?P<chord>{CHORD}) is written too early \((?P<written>{WRITTEN}) for "
            rf"(?P<played>{BAR})\)\. It comes with the next bar line: wait for it\."
        ),
        too_early,
    ),
    (
        (
            rf"{WHERE}: (?P<played>{BAR}) is written too late \((?P<written>{WRITTEN})\)\. It is "
            rf"there "
            r"on the first beat\."
        ),
        too_late,
    ),
    (
        (
            rf"{WHERE}: (?P<chord>{CHORD}) comes inside the bar \((?P<played>{BAR})\); you wrote "
            rf"it "
            r"(?P<when>with the next bar line, too late|from the first beat, too early)\."
        ),
        on_the_bar_line,
    ),
    (
        rf"{WHERE}: a (?P<what>{ARTICULATION}) was played and is not written: (?P<played>{BAR})\.",
        not_written,
    ),
    (
        (
            rf"{WHERE}: a (?P<what>{ARTICULATION}) was played in each and is not written"
            r"(?P<played>) \((?P<wrong>\d+) of the (?P<having>\d+) bars with one\)\."
        ),
        not_written,
    ),
    (rf"None of the (?P<what>{ARTICULATED}) is written: (?P<at>{BARS})\.", none_written),
    (rf"{WHERE}: a (?P<what>{ARTICULATION}) is written where none was played\.", not_played),
    (
        (
            rf"{WHERE}: a (?P<what>{ARTICULATION}) was played, a (?P<written>{ARTICULATION}) is "
            r"written\."
        ),
        another,
    ),
    (
        (
            rf"{WHERE}: the (?P<what>{ARTICULATION}) is in another place in the bar; "
            rf"(?P<played>{BAR}) "
            rf"was played, (?P<written>{BAR}) is written\."
        ),
        other_place,
    ),
    (
        rf"The (?P<what>{ARTICULATION}) is on {WHERE}; you put it on (?P<there>{BARS})\.",
        other_bar,
    ),
    (
        rf"The (?P<what>{ARTICULATED}) are on (?P<at>{BARS}); you put them on (?P<there>{BARS})\.",
        other_bar,
    ),
    (rf"Listen: (?P<how>{'|'.join(SOUNDS.values())})\.", sounds_like),
    (r"The song is in (?P<played>\S+), your chart in (?P<written>\S+)\.", meter_of_song),
    (
        (
            rf"{WHERE} (?:is a|are) (?P<long>short|long) bars? of (?P<played>\S+) \((?P<beats>\w+) "
            r"(?P<noun>\w+)\); (?P<written>\S+) is written\. Count the beats: the next bar line "
            r"comes "
            r"(?P<when>sooner|later)\."
        ),
        bar_length,
    ),
    (
        (
            rf"{WHERE}: the key moves (?P<way>up|down) (?P<interval>[a-z ]+) here, and "
            rf"(?P<wrong>that "
            r"is not written|[-+]\d+ is written)\. Write \(key (?P<sign>[-+]\d+)\) before the bar\."
        ),
        key_moves,
    ),
    (rf"{WHERE}: a key change is written, but the key stays\.", key_stays),
)
