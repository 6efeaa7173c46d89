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
WRITTEN = rf"{BAR}(?: \([^()]+ in your numbers\))?"
WRITTEN_LIST = rf"{WRITTEN}(?:, {WRITTEN})*(?: and {WRITTEN})?(?: and \d+ others)?"
HELD = r"(?P<held>[Tt]he band played [^;:.]+?, [^;:.]+)"


def held(bar: Bar, text: str) -> bool:
    """Whether the chords of a bar and their lengths are as said."""
    found = re.fullmatch(
        r"[Tt]he band played (?P<chords>.+), (?:(?P<even>dividing the bar evenly)|(?P<each>\w+) "
        r"(?P<noun>\w+?)s? each|for (?P<all>.+) (?P<noun3>\w+?)s"
        r"|(?P<first>\w+) (?P<noun2>\w+?)s? and then (?P<rest>\w+))",
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
    said = listed(found["all"]) if found["all"] else [found["first"], found["rest"]]
    return (found["noun2"] or found["noun3"]) == noun and list(map(number, said)) == beats


def split_missed(r: Reading, m: re.Match[str]) -> None:
    """A split bar was played, one chord is written."""
    where(r, m)
    for one, song, own in r.rows():
        demand(held(song, m["held"]), f"bar {one.reference}: {text_of(song)}, not {m['held']}")
        demand(len(sounds(song)) > 1, f"bar {one.reference} is not split")
        demand(len(sounds(own)) == 1, f"your bar {one.answer} is split")
    writings(r, m["written"])


def as_bar(found: re.Match[str]) -> str:
    """What stands before "in your numbers", as a bar: several chords are in brackets."""
    return f"({found[1]})" if " " in found[1] else found[1]


def writings(r: Reading, text: str) -> None:
    """The bars written are those that are named, perhaps only the first few."""
    text = re.sub(rf"{BAR} \(([^()]+) in your numbers\)", as_bar, text)
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
        if m["when"] == "on the downbeat, which is too early":
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


def left_open(r: Reading, m: re.Match[str]) -> None:
    """Bars that the writer left open, and what was played there."""
    where(r, m)
    played = ["nothing" if text_of(bar) == "0" else text_of(bar) for _, bar, _ in r.rows()]
    some(m["played"], list(dict.fromkeys(played)))
    for one, _, own in r.rows():
        demand(own.is_open, f"your bar {one.answer} is {text_of(own)}")


SPLIT_SENTENCES: tuple[tuple[str, Check], ...] = (
    (rf"You left {WHERE} open: the band played (?P<played>{BARLIST})\.", left_open),
    (
        (
            rf"{WHERE}: you have the right two chords in the wrong order\. The band played "
            rf"(?P<played>{BAR}), and you wrote (?P<written>{WRITTEN})\."
        ),
        other_order,
    ),
    (
        (
            rf"{WHERE} are split, (?P<played>{BARLIST}), and you wrote only the first chord of "
            r"each\."
        ),
        first_chords,
    ),
    (
        (
            rf"{WHERE}: you have the right chords on the wrong beats\. {HELD}, and you wrote "
            rf"(?P<written>{WRITTEN})\."
        ),
        other_beats,
    ),
    (
        rf"{WHERE}: {HELD}, and you wrote (?P<written>{WRITTEN_LIST}) for the whole bar\.",
        split_missed,
    ),
    (
        (
            rf"{WHERE}: {HELD}, and you wrote (?P<written>{WRITTEN})\. Count the beats until the "
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
            rf"{WHERE}: the band is silent for the whole bar, and you wrote "
            rf"(?P<written>{WRITTEN_LIST})\."
        ),
        split_added,
    ),
    (
        rf"{WHERE} have one chord each, and you wrote split bars: (?P<written>{WRITTEN_LIST})\.",
        split_added,
    ),
    (
        (
            rf"{WHERE}: the band played (?P<played>{BARLIST}) for (?:the whole bar|a whole bar "
            rf"each), and you wrote (?P<written>{WRITTEN_LIST})\."
        ),
        split_added,
    ),
    (
        (
            rf"{WHERE}: you wrote (?P<chord>{CHORD}) too early, (?P<written>{WRITTEN}) instead of "
            rf"(?P<played>{BAR})\. It comes on the next downbeat, so wait for it\."
        ),
        too_early,
    ),
    (
        (
            rf"{WHERE}: you wrote (?P<played>{BAR}) too late, (?P<written>{WRITTEN})\. The band "
            r"plays it on the downbeat\."
        ),
        too_late,
    ),
    (
        (
            rf"{WHERE}: (?P<chord>{CHORD}) comes inside the bar, (?P<played>{BAR}), but you wrote "
            r"it (?P<when>on the next downbeat, which is too late|on the downbeat, which is too "
            r"early)\."
        ),
        on_the_bar_line,
    ),
)
