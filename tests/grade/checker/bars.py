"""Sentences about what was done to whole bars."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from operator import eq

from trainer.chart import Bar

from .common import WHERE, Check, where
from .facts import (
    BAR,
    BARS,
    RUN,
    Reading,
    bars_in,
    demand,
    listed,
    number,
    phrases,
    same_sound,
    sounds,
    text_of,
)

__all__ = ["BAR_SENTENCES"]

SHOWN = rf"{BAR}(?: {BAR})*(?: …)?"
YOUR = rf"[Yy]our (?P<own>b{BARS[4:]})"
GAP = (
    r"(?:after bar (?P<before>\d+) comes (?P<next>\([^()]+\)|[^ ;]+?)"
    r"|the song ends after bar (?P<end>\d+)|the song starts with (?P<start>\([^()]+\)|[^ ;]+?))"
)


def shown(text: str, bars: Sequence[Bar]) -> None:
    """The first bars of a run are as shown: "1 4 (5 1) 2- …"."""
    named = bars_in(text.removesuffix(" …"))
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


def left_out_here_and_there(r: Reading, m: re.Match[str]) -> None:
    """Bars of the song that are not in the answer, each with what it was and its phrase."""
    where(r, m)
    all_gone(r, r.bars)
    r.more_bars -= len(r.bars)
    named: list[int] = []
    each = (
        rf"(?:, | and )?(?P<played>{BAR})"
        r"(?:, a (?P<length>short|long) bar of (?P<meter>\d+/\d+),)? "
        rf"in (?P<at>b{BARS[4:]}) \((?:a phrase|phrases) of (?P<count>\w+) bars?\)"
    )
    alike = re.fullmatch(r"(.+) in each (\(.+\))", m["each"])
    text = m["each"]
    if alike:
        # One chord in phrases of one length: the bars are those that the sentence begins with.
        comma = "," if ", a " in alike[1] else ""
        text = f"{alike[1]}{comma} in {m['at']} {alike[2]}"
    while text:
        found = re.match(each, text)
        demand(found, f"not known: {text}")
        if found is None:
            return
        text = text[found.end() :]
        for number_ in runs(found["at"]):
            bar = r.song_bar(number_)
            named.append(number_)
            demand(text_of(bar) == found["played"], f"bar {number_} is {text_of(bar)}")
            lengths = [b - a + 1 for a, b in phrases(r.reference) if a <= number_ <= b]
            demand(lengths == [number(found["count"])], f"bar {number_}: {lengths}")
            if found["length"]:
                demand(str(bar.meter) == found["meter"], f"bar {number_}: {bar.meter}")
                short = bar.meter.quarters < usual_length(r)
                demand(found["length"] == ("short" if short else "long"), found["length"])
    demand(sorted(named) == r.bars, f"{named} are not {r.bars}")


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
    if text := groups.get("shown") or groups.get("shown2"):
        shown(text, [r.own_bar(bar) for bar in own])
    gap(r, groups)
    if groups.get("like"):
        here, like = (
            [text_of(r.own_bar(bar)) for bar in bars] for bars in (own, runs(groups["like"]))
        )
        demand(len(here) == len(like), f"{groups['like']}: {len(here)} bars")
        demand(2 * sum(map(eq, here, like)) >= len(here), f"{here} are not much like {like}")


def gap(r: Reading, groups: Mapping[str, str | None]) -> None:
    """What comes next in the song, where it starts, where it ends."""
    if before := groups.get("before"):
        bar = r.song_bar(int(before) + 1)
        demand(text_of(bar) == groups["next"], f"after bar {before} comes {text_of(bar)}")
    if end := groups.get("end"):
        demand(int(end) == len(r.song), end)
    if start := groups.get("start"):
        demand(text_of(r.song_bar(1)) == start, f"the song starts with {text_of(r.song_bar(1))}")


def runs(text: str) -> list[int]:
    """The bars of a list, in order."""
    bars: list[int] = []
    for first, last in re.findall(r"(\d+)(?:–(\d+))?", text):
        bars += range(int(first), int(last or first) + 1)
    return bars


def times(word: str) -> int:
    """How often: "once", "twice", "three times", "three"."""
    return {"once": 1, "twice": 2}.get(word) or number(word.removesuffix(" times"))


def again_and_again(bars: Sequence[Bar], first: int, size: int) -> tuple[int, int]:
    """How often some bars (the first from 1) come without a break, and the last bar of them."""
    texts = [(text_of(bar), bar.meter, bar.key_change) for bar in bars]
    block = texts[first - 1 : first - 1 + size]
    start = stop = first - 1
    while start >= size and texts[start - size : start] == block:
        start -= size
    while texts[stop : stop + size] == block:
        stop += size
    return (stop - start) // size, stop


def repeated(r: Reading, m: re.Match[str]) -> None:
    """Bars of the answer repeat those before them, which were played fewer times on end."""
    own = own_bars(r, m)
    none_played(r, own)
    r.more_bars += len(own)
    shown(m["shown"], [r.own_bar(bar) for bar in own])
    gap(r, m.groupdict())
    played, written = times(m["played"]), times(m["written"])
    size, rest = divmod(len(own), written - played)
    demand(not rest and size, f"{len(own)} bars are {written - played} times as many")
    demand((size == 1) == bool(m["chord"]), f"{size} bars")
    found, stop = again_and_again(r.own, own[0], size)
    demand(found == written and stop >= own[-1], f"written {found} times up to bar {stop}")
    end = int(m["before"] or m["end"] or 0)
    demand(end >= size, f"nothing was played before bar {end}")
    found, stop = again_and_again(r.song, end - size + 1, size)
    demand(found == played and stop == end, f"played {found} times up to bar {stop}")
    if m["chord"]:
        demand(text_of(r.song_bar(end)) == m["chord"], m["chord"])


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
    named = bars_in(m["shown"].removesuffix(" …"))
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
    other_lengths(r, m["others"] or "", r.bars)
    same_row(r, song, own)
    if "played" in m.groupdict():
        shown(m["played"], song)
        shown(m["written"], own)


def other_lengths(r: Reading, text: str, bars: Sequence[int]) -> None:
    """Of some bars, those that are not as long as most are said to be: "bar 3 is a bar of 2/4"."""
    said = {
        bar: found[2]
        for found in re.finditer(rf"({BARS}) (?:is a bar|are bars) of (\d+/\d+)", text)
        for bar in runs(found[1])
    }
    meters = [bar.meter for bar in r.song]
    usual = max(set(meters), key=meters.count)
    lengths = {bar: str(r.song_bar(bar).meter) for bar in bars if r.song_bar(bar).meter != usual}
    demand(said == lengths or meters.count(usual) * 2 <= len(meters), f"{text}: {lengths}")


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
            r"Your chart stops after bar (?P<after>\d+) of the song: bars "
            r"(?P<first>\d+)–(?P<last>\d+)"
            rf"(?: \(|, )(?P<shown>{SHOWN})(?:\)|,) are missing\."
        ),
        stops,
    ),
    (
        (
            rf"You left out the whole of (?P<names>.+?) \((?P<at>{BARS})\): the band played "
            rf"(?P<shown>{SHOWN}) there\."
        ),
        whole_sections,
    ),
    (
        (
            rf"You left out {WHERE}(?:, a (?P<length>short|long) bar of (?P<meter>\d+/\d+))?"
            rf"(?:, (?P<phrases>a whole phrase|\w+ whole phrases))?: the band played "
            rf"(?P<shown>{SHOWN}) there\."
        ),
        left_out,
    ),
    (
        rf"You left out {WHERE}: the band played (?P<each>[^:]+?\))\.",
        left_out_here_and_there,
    ),
    (
        (
            rf"{WHERE} (?:is|are) missing"
            r"(?:: your chart goes up to bar (?P<upto>\d+) of the song"
            r"|: your chart begins at bar (?P<begins>\d+) of the song)?\."
        ),
        not_written,
    ),
    (
        (
            rf"The phrase is (?P<length>\w+) bars? long \((?P<at>{RUN})\), and you wrote "
            r"(?P<written>\w+)\. Count until the vocal starts over\."
        ),
        phrase_length,
    ),
    (
        (
            rf"The band didn't play {YOUR}(?: \((?P<shown>{SHOWN})\)|, (?P<shown2>{SHOWN})):"
            rf"(?: (?:it's|they're) much like your (?P<like>b{BARS[4:]}), and)? {GAP}\."
        ),
        added,
    ),
    (
        (
            rf"{YOUR}(?: \(|, )(?P<shown>{SHOWN})(?:\)|,) repeats? the "
            rf"(?:bar before: the band played (?P<chord>{BAR}) for"
            r"|(?:phrase|section|bars) before: the band played (?:it|them)) "
            rf"(?P<played>\w+(?: times)?)(?: bars?)? and you wrote (?:it|them) (?:for )?"
            rf"(?P<written>\w+(?: times)?); {GAP}\."
        ),
        repeated,
    ),
    (
        rf"{YOUR} repeat earlier bars, but the band didn't repeat them there\.",
        repeats_here_and_there,
    ),
    (rf"The band didn't play {YOUR}\.", added),
    (
        (
            rf"{WHERE}: you wrote these bars in the wrong order\. The band played "
            r"(?P<played>[^.]+?), and you wrote (?P<written>[^.]+?)\."
        ),
        swapped_bars,
    ),
    (
        (
            rf"{WHERE}: you swapped two (?:phrase|section)s\. The one that starts "
            r"(?P<shown>[^.]+?) came first\."
        ),
        swapped_phrases,
    ),
    (
        (
            rf"(?P<at>{BARS}): (?:you swapped (?P<one>.+) and (?P<other>.+)\. "
            r"(?P<first>.+) came first|you wrote (?P<early>.+) after (?P<late>.+), but "
            r"(?:it|they) came first)\."
        ),
        swapped_sections,
    ),
    (
        rf"{WHERE} is one bar, (?P<played>{BAR}), and you wrote two, (?P<written>[^.]+)\.",
        split_in_two,
    ),
    (rf"You wrote {WHERE} as two bars each\.", split_in_two),
    (
        (
            rf"{WHERE}: you counted the beats differently\. The band played (?P<played>[^.]+?), "
            r"and you wrote (?P<written>[^.]+?)\."
        ),
        counted_otherwise,
    ),
    (
        (
            rf"{WHERE} are two bars, (?P<played>[^;,]+?)(?: \((?P<others>bars? [^)]+)\))?, and you "
            rf"wrote one, (?P<written>{BAR})\."
        ),
        two_in_one,
    ),
    (
        (
            rf"You wrote {WHERE} two to a bar, as split bars(?: \((?P<others>[^)]+)\))?\. Each one "
            r"is a bar of its own\."
        ),
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
