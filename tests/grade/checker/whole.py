"""Sentences about the chart as a whole, and hints that claim nothing."""

from __future__ import annotations

import re
from collections.abc import Sequence

from .common import INTERVALS, WHERE, Check, where
from .facts import (
    BARS,
    NOTES,
    Reading,
    demand,
    phrases,
    root,
    same_sound,
    sounds,
    text_of,
)

__all__ = ["HINTS", "WHOLE_SENTENCES"]

# What to do or to listen for, which claims nothing about the charts.
HINTS = (
    "Write 0 where the band is silent.",
    "A chord lasts until the next one unless the band stops.",
    "Count the beats up to the change.",
    "Count the beats from one bar line to the next.",
    "Count the beats from one 1 to the next.",
    "Count the beats: the chord changes inside the bar.",
    "Count the beats: the chord changes inside.",
    "Count the beats: each of them lasts a bar.",
    "Count the beats.",
    "One chord sounds from its first beat to its last.",
    "Listen whether anything changes before the next bar line.",
    "Sing the root of each with the bass before you write it.",
    "Sing the 1 across the bar line.",
    "Count the bars of each phrase until the vocal starts over.",
    "Tap your foot to the drums: from one 1 to the next is one bar, however long a chord goes on.",
    "Count the bars as they go by.",
    "Count the bars, not the changes.",
    "Write the labels down first, in the order they come.",
    "Listen for each time the vocal starts over.",
    "Listen for where the vocal starts over.",
    "Listen for how the next phrase begins before you write it.",
    "Listen for how the next section begins before you write it.",
    "Listen for which of them comes first.",
    "Listen to how each of them begins.",
    "Listen once more to these bars alone, and fill the gap.",
    "When you lose your place, leave those bars and go on with the song.",
    "Have the first label on the sheet before the count-off, and leave a gap for what you miss.",
    "When that happens let those bars go, stay with the song, and fill the gap afterwards.",
    "Start again with one phrase: count its bars, find the 1, then follow the bass alone.",
    "Count the bars of the first phrase, and start with those where the bass sits on 1.",
    "Both ways are in use; agree on one with the band.",
    "Before you write, find the note where the song comes to rest: that is 1.",
    "After the change, count from the new 1, and mark the change where it happens.",
    "Find the note that feels like home, and mark a change of key only where home moves.",
    "Find where the 1 is there, and count from it.",
    "After the change, count from the new 1.",
    "Check how far the key moves, and where.",
    "Ask the band which name they use.",
    "Everything that was asked for is right.",
)


def phrase_ends(r: Reading, m: re.Match[str]) -> None:
    """Phrases of the song end where no end is marked, and the other way round."""
    if m["missed"]:
        ends = {last for _, last in phrases(r.reference)}
        demand(set(r.read_bars(m["missed"], r.cited)) <= ends, f"{r.cited}: {ends}")
    if m["extra"]:
        ends = {last for _, last in phrases(r.answer)}
        demand(set(r.read_bars(m["extra"], r.cited_own)) <= ends, f"{r.cited_own}: {ends}")
        demand(len(r.own) not in r.cited_own, "the end of the answer")
    demand(bool(m["missed"]) == bool(r.cited) and bool(m["extra"]) == bool(r.cited_own), "cited")


def labels(r: Reading, m: re.Match[str]) -> None:
    """Sections that have no label, and labels without a section."""
    ours = [section.name for section in r.reference.sections]
    theirs = [section.name for section in r.answer.sections]
    if m["missing"]:
        named(m["missing"], ours)
    for text in (m["instead"], m["extra"]):
        if text:
            named(text, theirs)


def named(text: str, known: Sequence[str]) -> None:
    """A list consists of known names (which may hold commas themselves)."""
    rest = text
    while rest:
        found = max((name for name in known if name and rest.startswith(name)), key=len, default="")
        demand(found, f"{rest!r}: known are {known}")
        rest = re.sub(r"^(?:, | and )", "", rest.removeprefix(found))


def far_off(r: Reading, m: re.Match[str]) -> None:
    """Few of the bars written have the right root."""
    demand(int(m["written"]) == len(r.own), f"{len(r.own)} bars written")
    wrong = 0
    for _, song, own in r.rows():
        share = sum(
            ours.beats / song.meter.beats
            for ours in song.events
            for theirs in own.events
            if root(ours.chord) == root(theirs.chord)
        )
        wrong += not share
    right = 0 if m["right"] == "none" else int(m["right"])
    demand(right <= len(r.own) - wrong, f"{wrong} of {len(r.own)} have wrong roots throughout")


def nothing(r: Reading, m: re.Match[str]) -> None:
    """The answer is empty."""
    demand(r.cited == list(range(1, len(r.song) + 1)), "all bars are missing")
    demand("the bar is" in m[0] if len(r.song) == 1 else int(m["bars"]) == len(r.song), m[0])


def all_right(r: Reading, _: re.Match[str]) -> None:
    """Every bar sounds as it was played."""
    demand(len(r.song) == len(r.own), "not all bars")
    for one, other in zip(r.song, r.own, strict=True):
        demand(list(map(str, sounds(one))) and len(sounds(one)) == len(sounds(other)), "chords")
        demand(
            all(map(same_sound, sounds(one), sounds(other))), f"{text_of(one)}, {text_of(other)}"
        )


def from_another_one(r: Reading, m: re.Match[str]) -> None:
    """Numbers stand an interval above those played in the bars that have the right root."""
    shift = INTERVALS.index(m["up"])
    groups = m.groupdict()
    if groups.get("one"):
        demand(NOTES[shift] == groups["one"], f"{groups['one']} for 1")
    if groups.get("first"):
        demand(min(r.cited) == int(groups["first"]), f"from bar {min(r.cited)}")
    if groups.get("at"):
        where(r, m)
    right = sum(
        (root(own.events[0].chord) - root(song.events[0].chord)) % 12 == shift
        for _, song, own in r.rows()
        if song.events[0].chord and own.events[0].chord
    )
    r.pairs = [(str(right), str(shift))]


def relative(r: Reading, m: re.Match[str]) -> None:
    """A minor song counted from its relative major, or the other way round."""
    shift = 9 if "relative major: the" in m[0] else 3
    rows = [
        (root(own.events[0].chord) - root(song.events[0].chord)) % 12
        for _, song, own in r.rows()
        if song.events[0].chord and own.events[0].chord
    ]
    demand(2 * rows.count(shift) > len(rows), f"{rows.count(shift)} of {len(rows)}")


def sign_missing(r: Reading, m: re.Match[str]) -> None:
    """The key moves there in the song, and no move is written."""
    first = int(m["first"])
    move = r.song_bar(first).key_change
    if m["sign"]:
        demand(f"{move:+d}" == m["sign"] and int(m["before"]) == first, f"{move:+d}")
    for one, _, _ in r.rows():
        ours = sum(bar.key_change for bar in r.song[: one.reference])
        theirs = sum(bar.key_change for bar in r.own[: one.answer])
        demand((ours - theirs) % 12, f"bar {one.reference} is in the key that is marked")


def sign_wrong(r: Reading, m: re.Match[str]) -> None:
    """The key that holds, by the signs of either side, is not the same in the bars."""
    bars = r.read_bars(m["at"], r.cited)
    for one, _, _ in r.rows():
        ours = sum(bar.key_change for bar in r.song[: one.reference])
        theirs = sum(bar.key_change for bar in r.own[: one.answer])
        demand((ours - theirs) % 12, f"bar {one.reference} of {bars} is in the key that is marked")


def sign_misplaced(r: Reading, m: re.Match[str]) -> None:
    """The key does not change in the same bars, or not by the same intervals."""
    bars = r.read_bars(m["at"], r.cited)
    for one, _, _ in r.rows():
        ours = [(k, bar.key_change) for k, bar in enumerate(r.song[: one.reference])]
        theirs = [(k, bar.key_change) for k, bar in enumerate(r.own[: one.answer])]
        changes = [[place for place in side if place[1]] for side in (ours, theirs)]
        demand(changes[0] != changes[1], f"{bars}: {changes}")


def evidence(r: Reading, m: re.Match[str]) -> None:
    """Of the bars cited so many have the right root once their numbers are moved back."""
    right, compared = int(m["right"]), int(m["compared"])
    demand(right <= compared == len(list(r.rows())), f"{right} of {len(list(r.rows()))}")
    if r.pairs:
        demand(right <= int(r.pairs[0][0]), f"{right} bars, of which {r.pairs[0][0]} stand so")
    if m["percent"]:
        demand(int(m["percent"]) < 100 or right == compared, f"{right} of {compared} are 100%")


def fell_behind(r: Reading, m: re.Match[str]) -> None:
    """The bar is one of the song."""
    r.song_bar(int(m["bar"]))


def respelled(r: Reading, m: re.Match[str]) -> None:
    """Two meters of one pulse."""
    meters = {str(bar.meter) for bar in r.song}, {str(bar.meter) for bar in r.own}
    demand(m["played"] in meters[0] and m["written"] in meters[1], f"{meters}")
    demand(m["played"] != m["written"], "one meter")


def nothing_to_check(_: Reading, __: re.Match[str]) -> None:
    """What claims nothing."""


WHOLE_SENTENCES: tuple[tuple[str, Check], ...] = (
    ("|".join(map(re.escape, HINTS)), nothing_to_check),
    (
        (
            rf"(?:(?:A phrase ends|Phrases end) after (?P<missed>{BARS}) of the song, where no end "
            rf"is "
            rf"marked)?(?:; )?(?:(?:[Aa] phrase end is|[Pp]hrase ends are) marked after your "
            rf"(?P<extra>{BARS}), "
            r"where none was heard)?\."
        ),
        phrase_ends,
    ),
    (
        (
            r"Section labels: (?:(?P<missing>.+?) (?:was|were) played and ha(?:s|ve) no label)?"
            r"(?:; (?P<instead>.+?) (?:is|are) written instead)?"
            r"(?P<extra>(?<=labels: ).+?(?= (?:was|were) not played))?(?: (?:was|were) not "
            r"played)?\."
        ),
        labels,
    ),
    (
        r"Of the (?P<written>\d+) bars written, (?P<right>none|\d+) ha(?:s|ve) the right root\.",
        far_off,
    ),
    (
        r"Nothing is written; (?:the bar is|all (?P<bars>\d+) bars are) still to come\.",
        nothing,
    ),
    (r"Every bar agrees with what was played\.", all_right),
    (
        (
            r"The chart is counted from another home: the numbers stand (?P<up>[a-z ]+) above what "
            r"was "
            r"played, (?P<one>\S+) for 1\."
        ),
        from_another_one,
    ),
    (
        (
            r"From bar (?P<first>\d+) on the numbers are counted in the old key: they stand "
            r"(?P<up>[a-z ]+) above those of the new one\."
        ),
        from_another_one,
    ),
    (
        (
            rf"{WHERE}: the numbers are counted from another 1, (?P<up>[a-z ]+) above what was "
            rf"played\."
        ),
        from_another_one,
    ),
    (
        (
            r"From bar (?P<first>\d+) on the numbers are right in the new key, but the change is "
            r"not "
            r"marked: the band would go on in the old key\.(?: Write \(key (?P<sign>[-+]\d+)\) "
            r"before "
            r"bar "
            r"(?P<before>\d+)\.)?"
        ),
        sign_missing,
    ),
    (
        (
            r"From bar (?P<first>\d+) on the change of key is marked, but the numbers are still "
            r"counted "
            r"in the old key: they stand (?P<up>[a-z ]+) above those of the new one\."
        ),
        from_another_one,
    ),
    (
        rf"A change of key before (?P<at>b{BARS[4:]}) is not marked as it was played\.",
        sign_misplaced,
    ),
    (
        (
            rf"In (?P<at>b{BARS[4:]}) the numbers are right, but the key that is marked is not the "
            rf"one "
            r"that is played\."
        ),
        sign_wrong,
    ),
    (
        r"The song is in (?P<played>\S+), your chart in (?P<written>\S+) throughout\.",
        respelled,
    ),
    (
        r"From bar \d+ on the numbers fit another key than the one they are written in\.",
        nothing_to_check,
    ),
    (
        (
            r"This minor song is counted from its relative major: the minor home is written as 6-, "
            r"the "
            r"chart calls it 1-\.|The numbers are counted from the minor home as 1-, the chart "
            r"counts "
            r"from its relative major and calls it 6-\."
        ),
        relative,
    ),
    (
        (
            r"(?P<right>\d+) of (?P<compared>\d+) bars? ha(?:ve|s) the right root once that is "
            r"undone(?:; counted so, the bars score (?P<percent>\d+)%)?\."
        ),
        evidence,
    ),
    (r"You fell behind at bar (?P<bar>\d+)\.", fell_behind),
    (
        (
            r"The song is in (?P<played>\S+), your chart in (?P<written>\S+): the pulse is the "
            r"same, "
            r"and the bars are compared by it\."
        ),
        respelled,
    ),
)
