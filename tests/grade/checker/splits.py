"""Sentences about how bars are split, and about right chords on wrong beats."""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise
from operator import ne

from trainer.chart import Bar

from .common import WHERE, Check, where
from .facts import BAR, CHORD, Reading, bass, demand, listed, number, same_sound, sounds, text_of

__all__ = ["SPLIT_SENTENCES"]

BARLIST = rf"{BAR}(?:, {BAR})*(?: and {BAR})?(?: and \d+ others)?"
WRITTEN = rf"{BAR}(?: \(you wrote [^()]+\))?"
WRITTEN_LIST = rf"{WRITTEN}(?:, {WRITTEN})*(?: and {WRITTEN})?(?: and \d+ others)?"
HELD = r"(?P<held>[^;:]+ were played, [^;:]+)"


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


def as_bar(found: re.Match[str]) -> str:
    """What stands after "you wrote", as a bar: several chords are in brackets."""
    return f"({found[1]})" if " " in found[1] else found[1]


def writings(r: Reading, text: str) -> None:
    """The bars written are those that are named, perhaps only the first few."""
    text = re.sub(rf"{BAR} \(you wrote ([^()]+)\)", as_bar, text)
    own = list(dict.fromkeys(text_of(bar) for _, _, bar in r.rows()))
    some(text, own)


def some(text: str, bars: list[str]) -> None:
    """Bars are listed, the last perhaps only counted."""
    cut = re.fullmatch(r"(.+) and (\d+) others", text)
    named = list(dict.fromkeys(listed(cut[1] if cut else text)))
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
            follows = r.written_for((one.reference or 0) + 1, (one.answer or 0) + 1).events[0].chord
            demand(same_sound(follows, sounds(song)[1]), f"{one}: not with the next bar line")


def other_order(r: Reading, m: re.Match[str]) -> None:
    """Two chords were played, and the same two are written the other way round."""
    where(r, m)
    for one, song, own in r.rows():
        demand(text_of(song) == m["played"], f"bar {one.reference} is {text_of(song)}")
        ours, theirs = sounds(song), sounds(own)
        demand(len(ours) == len(theirs) == 2, f"{one}: two chords")
        if not r.is_shifted:
            demand(all(map(same_sound, ours, reversed(theirs))), f"{one}: other chords")
    writings(r, m["written"])


SPLIT_SENTENCES: tuple[tuple[str, Check], ...] = (
    (
        (
            rf"{WHERE}: the two chords in the other order; (?P<played>{BAR}) was played, "
            rf"(?P<written>{WRITTEN}) is written\."
        ),
        other_order,
    ),
    (
        (
            rf"{WHERE} are split, (?P<played>{BARLIST}), and only the first chord of each is "
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
        rf"{WHERE}: {HELD}; (?P<written>{WRITTEN_LIST}) (?:is|are) written for the whole bar\.",
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
            rf"{WHERE}: the band is silent all through the bar, (?P<written>{WRITTEN_LIST}) "
            r"(?:is|are) written\."
        ),
        split_added,
    ),
    (
        rf"{WHERE} have one chord each, and a split is written: (?P<written>{WRITTEN_LIST})\.",
        split_added,
    ),
    (
        (
            rf"{WHERE}: (?P<played>{BARLIST}) (?:was|were) played all through the bar, "
            rf"(?P<written>{WRITTEN_LIST}) (?:is|are) written\."
        ),
        split_added,
    ),
    (
        (
            rf"{WHERE}: (?P<chord>{CHORD}) is written too early, (?P<written>{WRITTEN}) for "
            rf"(?P<played>{BAR})\. It comes with the next bar line: wait for it\."
        ),
        too_early,
    ),
    (
        (
            rf"{WHERE}: (?P<played>{BAR}) is written too late, (?P<written>{WRITTEN})\. It is "
            rf"there "
            r"on the first beat\."
        ),
        too_late,
    ),
    (
        (
            rf"{WHERE}: (?P<chord>{CHORD}) comes inside the bar, (?P<played>{BAR}); you wrote "
            rf"it "
            r"(?P<when>with the next bar line, too late|from the first beat, too early)\."
        ),
        on_the_bar_line,
    ),
)
