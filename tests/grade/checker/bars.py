"""Sentences about what was done to whole bars."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from operator import eq

from trainer.chart import Bar

from .common import WHERE, Check, where
from .facts import BARS, RUN, Reading, demand, listed, number, phrases, same_sound, sounds, text_of

__all__ = ["BAR_SENTENCES"]

SHOWN = r"[^()]+"
YOUR = rf"Your (?P<own>b{BARS[4:]})"
GAP = (
    r"(?:the song goes straight from bar (?P<before>\d+) to bar (?P<after>\d+)"
    r"|the song ends after bar (?P<end>\d+)|the song starts after (?:it|them))\."
)


def shown(text: str, bars: Sequence[Bar]) -> None:
    """The first bars of a run are as shown: "1 4 5_1 2- …"."""
    named = text.removesuffix(" …").split()
    demand(
        named == [text_of(bar) for bar in bars[: len(named)]], f"{text}: {list(map(text_of, bars))}"
    )
    demand(len(named) == len(bars) or text.endswith(" …"), f"{text}: {len(bars)} bars")


def own_bars(r: Reading, m: re.Match[str]) -> list[int]:
    """The bars of the answer that a sentence begins with are those cited."""
    return r.read_bars(m["own"], r.cited_own)


def all_gone(r: Reading, bars: Sequence[int]) -> None:
    """No advice puts a bar that is said to be missing beside a bar of the answer."""
    beside = {one.reference for one in r.all_cases if one.answer is not None}
    demand(not beside & set(bars), f"{beside & set(bars)} are written")


def none_played(r: Reading, bars: Sequence[int]) -> None:
    """No advice puts a bar that is said to be too many beside a bar of the song."""
    beside = {one.answer for one in r.all_cases if one.reference is not None}
    demand(not beside & set(bars), f"{beside & set(bars)} stand for bars of the song")


def left_out(r: Reading, m: re.Match[str]) -> None:
    """Bars of the song that are not in the answer, and what was played there."""
    where(r, m)
    all_gone(r, r.bars)
    r.more_bars -= len(r.bars)
    groups = m.groupdict()
    bars = [r.song_bar(bar) for bar in r.bars]
    if groups.get("shown"):
        shown(groups["shown"], bars)
    if groups.get("length"):
        demand({str(bar.meter) for bar in bars} == {groups["meter"]}, groups["meter"])
        usual = usual_length(r)
        short = bars[0].meter.quarters < usual
        demand(groups["length"] == ("short" if short else "long"), groups["length"])
    if groups.get("phrases"):
        count = {"a whole phrase": 1}.get(groups["phrases"]) or number(groups["phrases"].split()[0])
        inside = [(a, b) for a, b in phrases(r.reference) if a in r.bars]
        demand(len(inside) == count, f"{inside}, not {count}")
        demand([bar for a, b in inside for bar in range(a, b + 1)] == r.bars, "whole phrases")
    if groups.get("others"):
        named = re.sub(r" (?:is a bar|are bars) of another length$", "", groups["others"])
        meters = [bar.meter for bar in r.song]
        usual_meter = max(set(meters), key=meters.count)
        other = [bar for bar in r.bars if r.song_bar(bar).meter != usual_meter]
        r.read_bars(named, other)


def usual_length(r: Reading) -> Fraction:
    """The length of most bars of the song, in quarters."""
    meters = [bar.meter for bar in r.song]
    return max(meters, key=meters.count).quarters


def whole_sections(r: Reading, m: re.Match[str]) -> None:
    """Whole sections of the song that are not in the answer."""
    r.bars = r.read_bars(m["at"], r.cited)
    all_gone(r, r.bars)
    r.more_bars -= len(r.bars)
    demand(
        list(dict.fromkeys(r.section_at(bar)[0] for bar in r.bars)) == listed(m["names"])
        or m["names"] in {r.section_at(bar)[0] for bar in r.bars},
        m["names"],
    )
    places = list(r.reference.placed_bars())
    inside = {places[bar - 1].section for bar in r.bars}
    demand([place.number for place in places if place.section in inside] == r.bars, "whole")
    shown(m["shown"], [r.song_bar(bar) for bar in r.bars])


def stops(r: Reading, m: re.Match[str]) -> None:
    """The answer stops before the song does."""
    r.bars = list(range(int(m["first"]), int(m["last"]) + 1))
    demand(r.bars == r.cited, f"cited are {r.cited}")
    demand(r.bars[-1] == len(r.song) and int(m["after"]) == r.bars[0] - 1, "the end")
    all_gone(r, r.bars)
    r.more_bars -= len(r.bars)
    shown(m["shown"], [r.song_bar(bar) for bar in r.bars])


def not_written(r: Reading, m: re.Match[str]) -> None:
    """Stretches of the song that are not in the answer."""
    where(r, m)
    all_gone(r, r.bars)
    r.more_bars -= len(r.bars)
    if m["upto"]:
        demand(int(m["upto"]) == r.bars[0] - 1 and r.bars[-1] == len(r.song), m["upto"])
    if m["begins"]:
        demand(int(m["begins"]) == r.bars[-1] + 1 and r.bars[0] == 1, m["begins"])


def phrase_length(r: Reading, m: re.Match[str]) -> None:
    """How long a phrase of the song is, and how many bars are written for it."""
    first, _, last = m["at"].partition("–")
    span = int(first), int(last or first)
    demand(span in phrases(r.reference), f"{span} is no phrase")
    length = span[1] - span[0] + 1
    demand(number(m["length"]) == length, f"{span}: {m['length']}")
    bars = range(span[0], span[1] + 1)
    if r.bars:
        gone = {one.reference for one in r.all_cases if one.answer is None} & set(bars)
        demand(set(r.bars) <= set(bars), f"{r.bars} are not in {span}")
        demand(number(m["written"]) <= length - len(set(r.bars)), f"{m['written']} of {length}")
        demand(number(m["written"]) >= length - len(gone), f"{m['written']} of {length}")
    else:
        inside = [(a, b) for a, b in phrases(r.answer) if a <= r.cited_own[0] <= b]
        a, b = inside[0]
        demand(r.cited_own[-1] <= b and b - a + 1 == number(m["written"]), f"{inside}")


def added(r: Reading, m: re.Match[str]) -> None:
    """Bars of the answer that were not played."""
    own = own_bars(r, m)
    none_played(r, own)
    r.more_bars += len(own)
    groups = m.groupdict()
    if groups.get("shown"):
        shown(groups["shown"], [r.own_bar(bar) for bar in own])
    if groups.get("before"):
        demand(int(groups["after"]) == int(groups["before"]) + 1, "straight on")
        r.song_bar(int(groups["after"]))
    if groups.get("end"):
        demand(int(groups["end"]) == len(r.song), groups["end"])
    if "repeat" in m[0] and "repeat bars before" not in m[0]:
        repeats(r, own, len(own) / 2 if groups.get("unit") else len(own))


def repeats(r: Reading, own: Sequence[int], least: float) -> None:
    """Of the bars of the answer, so many are those right before them once more."""
    size = len(own)
    demand(own[0] > size, f"nothing is before {own}")
    texts = [(text_of(bar), bar.meter) for bar in r.own]
    here = texts[own[0] - 1 : own[-1]]
    # A phrase may be written again behind a bar too many.
    starts = [own[0] - 1 - size] if least == size else range(own[0] - 1)
    again = max(sum(map(eq, texts[start:], here)) for start in starts)
    demand(again >= least, f"{again} of {own} are as before")


def repeats_here_and_there(r: Reading, m: re.Match[str]) -> None:
    """Each of the bars is one of those before it once more."""
    own = own_bars(r, m)
    none_played(r, own)
    r.more_bars += len(own)
    for bar in own:
        before = [r.own_bar(k) for k in range(1, bar)]
        demand(any(text_of(one) == text_of(r.own_bar(bar)) for one in before), f"{bar} is new")


def swapped_bars(r: Reading, m: re.Match[str]) -> None:
    """The same bars in another order."""
    where(r, m)
    song, own = [r.song_bar(bar) for bar in r.bars], [r.own_bar(bar) for bar in r.cited_own]
    shown(m["played"], song)
    shown(m["written"], own)
    demand(
        sorted(map(text_of, song)) == sorted(map(text_of, own)) or len(song) == len(own), "order"
    )
    demand(list(map(text_of, song)) != list(map(text_of, own)), "the order is the same")


def swapped_sections(r: Reading, m: re.Match[str]) -> None:
    """Two runs of sections in the other order; both stand among the bars cited, in the song's."""
    r.bars = r.read_bars(m["at"], r.cited)
    names = list(dict.fromkeys(r.section_at(bar)[0] for bar in r.bars))
    if m["first"]:
        demand(set(names) >= {m["one"], m["other"]}, f"{names}")
        demand(m["first"] == names[0] == m["one"], f"{m['first']} came first")
    else:
        demand(set(listed(m["early"])) | set(listed(m["late"])) <= set(names), f"{names}")
        demand(listed(m["early"])[0] == names[0], f"{names[0]} came first")


def swapped_phrases(r: Reading, m: re.Match[str]) -> None:
    """Two phrases (or sections of one name) in the other order."""
    r.bars = r.read_bars(m["at"], r.cited)
    r.check_section(m["section"])
    named = m["shown"].removesuffix(" …").split()
    demand(named == [text_of(r.song_bar(bar)) for bar in r.bars[: len(named)]], m["shown"])


def split_in_two(r: Reading, m: re.Match[str]) -> None:
    """One bar of the song is written as two."""
    where(r, m)
    r.more_bars += len(r.bars)
    song, own = [r.song_bar(bar) for bar in r.bars], [r.own_bar(bar) for bar in r.cited_own]
    demand(len(own) == 2 * len(song) or r.recounted, f"{r.bars} as {r.cited_own}")
    same_row(r, song, own)
    if "played" in m.groupdict():
        shown(m["played"], song)
        shown(m["written"], own)


def two_in_one(r: Reading, m: re.Match[str]) -> None:
    """Two bars of the song are written as one."""
    where(r, m)
    song, own = [r.song_bar(bar) for bar in r.bars], [r.own_bar(bar) for bar in r.cited_own]
    demand(len(song) == 2 * len(own) or r.recounted, f"{r.bars} as {r.cited_own}")
    r.more_bars -= len(own)
    same_row(r, song, own)
    if "played" in m.groupdict():
        shown(m["played"], song)
        shown(m["written"], own)


def counted_otherwise(r: Reading, m: re.Match[str]) -> None:
    """What was played and what is written."""
    where(r, m)
    shown(m["played"], [r.song_bar(bar) for bar in r.bars])
    shown(m["written"], [r.own_bar(bar) for bar in r.cited_own])


def same_row(r: Reading, song: Sequence[Bar], own: Sequence[Bar]) -> None:
    """The chords of some bars are those of others, in order."""
    if r.is_shifted or r.recounted:
        return
    ours = [one for bar in song for one in sounds(bar)]
    theirs = [one for bar in own for one in sounds(bar)]
    demand(len(ours) == len(theirs) and all(map(same_sound, ours, theirs)), "other chords")


def counted(r: Reading, m: re.Match[str]) -> None:
    """A song or section is counted double or half."""
    r.bars = r.cited
    if m["at"]:
        r.bars = r.read_bars(m["at"], r.cited)
        names = list(dict.fromkeys(r.section_at(bar)[0] for bar in r.bars))
        demand(m["names"] in names or listed(m["names"]) == names, f"{names}")
    song, own = len(r.bars), len(r.cited_own)
    demand(own > song if "two bars for every bar" in m[0] else own < song, "count")
    r.more_bars += own - song


BAR_SENTENCES: tuple[tuple[str, Check], ...] = (
    (
        (
            r"Your chart stops after the song's bar (?P<after>\d+): bars "
            r"(?P<first>\d+)–(?P<last>\d+) "
            rf"\((?P<shown>{SHOWN})\) are not written\."
        ),
        stops,
    ),
    (
        (
            rf"The whole of (?P<names>.+?), (?P<at>{BARS}), is left out: (?P<shown>{SHOWN}) was "
            rf"played "
            r"there\."
        ),
        whole_sections,
    ),
    (
        (
            rf"{WHERE}(?:, a (?P<length>short|long) bar of (?P<meter>\d+/\d+),)? (?:is|are) left "
            rf"out"
            rf"(?:, (?P<phrases>a whole phrase|\w+ whole phrases))?: (?P<shown>{SHOWN}) was played "
            r"there\."
        ),
        left_out,
    ),
    (
        rf"{WHERE} are left out(?:; (?P<others>{BARS} (?:is a bar|are bars) of another length))?\.",
        left_out,
    ),
    (
        (
            rf"{WHERE} (?:is|are) not written"
            r"(?:; your chart goes up to the song's bar (?P<upto>\d+)"
            r"|; your chart begins at the song's bar (?P<begins>\d+))?\."
        ),
        not_written,
    ),
    (
        (
            rf"The phrase has (?P<length>\w+) bars? \((?P<at>{RUN})\), and you wrote "
            rf"(?P<written>\w+): "
            r"count until the vocal starts over\."
        ),
        phrase_length,
    ),
    (
        rf"{YOUR} \((?P<shown>{SHOWN})\) (?:was|were) not played: {GAP}",
        added,
    ),
    (
        (
            rf"{YOUR} \((?P<shown>{SHOWN})\) repeats? (?:the bars? before and (?:was|were) not "
            rf"played "
            rf"again|a (?P<unit>phrase|section) that was played once): {GAP}"
        ),
        added,
    ),
    (rf"{YOUR} repeat bars before them and were not played again\.", repeats_here_and_there),
    (rf"{YOUR} were not played\.", added),
    (
        (
            rf"{WHERE}: the same bars in another order\. (?P<played>[^.]+?) was played, "
            r"(?P<written>[^.]+?) is written\."
        ),
        swapped_bars,
    ),
    (
        (
            rf"(?P<at>{BARS}): (?:(?P<one>.+) and (?P<other>.+) are written in the other order; "
            r"(?P<first>.+) came first|(?P<early>.+) (?:is|are) written after (?P<late>.+); "
            r"(?:it|they) came before)\."
        ),
        swapped_sections,
    ),
    (
        (
            rf"{WHERE}: two (?:phrase|section)s are written in the other order; the one that "
            rf"starts "
            r"(?P<shown>[^.]+?) came first\."
        ),
        swapped_phrases,
    ),
    (
        rf"{WHERE} is one bar, (?P<played>\S+); it is written as two, (?P<written>[^.]+)\.",
        split_in_two,
    ),
    (rf"{WHERE} are written as two bars each\.", split_in_two),
    (
        (
            rf"{WHERE}: the beats are counted otherwise; (?P<played>[^.]+?) was played, "
            r"(?P<written>[^.]+?) is written\."
        ),
        counted_otherwise,
    ),
    (
        rf"{WHERE} are two bars, (?P<played>[^;]+); they are written as one, (?P<written>\S+)\.",
        two_in_one,
    ),
    (
        rf"{WHERE} are written two in one, as splits: each of them is a bar of its own\.",
        two_in_one,
    ),
    (
        (
            rf"(?:In (?P<names>.+?) \((?P<at>{BARS})\) y|Y)ou wrote (?:two bars for every bar|one "
            rf"bar "
            r"for every two bars) the band played\."
        ),
        counted,
    ),
)
