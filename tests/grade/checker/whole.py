"""Sentences about the chart as a whole, and hints that claim nothing."""

from __future__ import annotations

import re

from .common import WHERE, Check
from .facts import (
    BARS,
    KEY_MOVE,
    Reading,
    demand,
    phrases,
    root,
    same_sound,
    sounds,
    text_of,
)
from .keys import (
    from_another_one,
    key_moved_late,
    key_not_moved,
    one_goes_on,
    sign_by_another_interval,
    sign_elsewhere,
    sign_made_up,
    sign_missing,
    sign_wrong,
)
from .labels import copied, labels

__all__ = ["HINTS", "WHOLE_SENTENCES"]

# What to do or to listen for, which claims nothing about the charts.
HINTS = (
    "Write 0 where the band is silent.",
    "A chord lasts until the next one unless the band stops.",
    "If you left a gap there, listen once more to these bars alone and fill it.",
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
    "Find the note where the song comes to rest: that is 1.",
    "Listen for what is new where a section comes back.",
    "Leave the sign out, and go on counting from the same 1.",
    "Write the sign before the first bar that sounds higher or lower.",
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
    named_bars = [int(one) for one in re.findall(r"\d+", m["bars"] or "")]
    if m["bars"] and "–" not in m["bars"]:
        demand(len(named_bars) == right, f"{m['bars']}: {right} bars")
    for one, song, own in r.rows():
        if one.reference in named_bars:
            roots = {root(event.chord) for event in own.events}
            demand(roots & {root(event.chord) for event in song.events}, f"bar {one.reference}")
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


def relative(r: Reading, m: re.Match[str]) -> None:
    """A minor song counted from its relative major, or the other way round."""
    shift = 9 if "minor song" in m[0] else 3
    rows = [
        (root(own.events[0].chord) - root(song.events[0].chord)) % 12
        for _, song, own in r.rows()
        if song.events[0].chord and own.events[0].chord
    ]
    demand(2 * rows.count(shift) > len(rows), f"{rows.count(shift)} of {len(rows)}")


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
    (r"Section labels: (?P<parts>.+)\.$", labels),
    (
        (
            rf"(?P<name>.+?) \((?P<here>{BARS})\) is your (?P<before>.+?) \((?P<there>{BARS})\) "
            rf"written again; the song differs in (?P<bars>{BARS})\."
        ),
        copied,
    ),
    (
        (
            r"Of the (?P<written>\d+) bars written, (?P<right>none|\d+) ha(?:s|ve) the right root"
            rf"(?: \((?P<bars>{BARS})\))?\."
        ),
        far_off,
    ),
    (
        r"Nothing is written; (?:the bar is|all (?P<bars>\d+) bars are) still to come\.",
        nothing,
    ),
    (r"Every bar agrees with what was played\.", all_right),
    (
        (
            r"Your chart is counted from another home: the numbers stand (?P<up>[a-z ]+) above "
            r"what "
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
            rf"{WHERE}: the numbers are counted from (?:another 1|the relative "
            rf"(?P<relative>major|minor)): they stand (?P<up>[a-z ]+) above what was played\."
        ),
        from_another_one,
    ),
    (
        (
            r"From bar (?P<first>\d+) (?:on|to bar (?P<to>\d+)) the numbers are right in the new "
            r"key, but the change is not marked: the band would go on in the old key\. Write \["
            rf"(?P<sign>{KEY_MOVE})\] before bar (?P<before>\d+)(?: and \[(?P<sign2>{KEY_MOVE})\] "
            r"before bar (?P<before2>\d+))?\."
        ),
        sign_missing,
    ),
    (
        (
            rf"At {WHERE} the key moves (?P<way>up|down) (?P<interval>[a-z ]+), and "
            rf"\[(?P<written>{KEY_MOVE})\] is written\. Write \[(?P<sign>{KEY_MOVE})\] before bar "
            r"(?P<before>\d+)\."
        ),
        sign_by_another_interval,
    ),
    (
        (
            rf"(?:At {WHERE} a key change is written \[(?P<sign>{KEY_MOVE})\]|Key changes are "
            rf"written at (?P<both>{BARS}) \(\[(?P<one>{KEY_MOVE})\] and \["
            rf"(?P<other>{KEY_MOVE})\]\)), but the key stays\."
        ),
        sign_made_up,
    ),
    (
        (
            rf"The key moves (?P<way>up|down) (?P<interval>[a-z ]+) at {WHERE}; you marked it at "
            r"bar (?P<there>\d+), (?P<distance>\w+) bars? (?P<late>late|early)\."
        ),
        sign_elsewhere,
    ),
    (
        (
            r"You moved the key at (?P<where>bar \d+)(?: \((?P<section>[^:]*)\))?: the chords "
            r"sound right, but home stays, and the numbers stand (?P<up>[a-z ]+) above those "
            r"played\."
        ),
        key_not_moved,
    ),
    (
        (
            r"The key moves at (?P<where>bar \d+)(?: \((?P<section>[^:]*)\))?; you moved it at bar "
            r"(?P<later>\d+), and until then the numbers are counted in the old key: they stand "
            r"(?P<up>[a-z ]+) above those of the new one\."
        ),
        key_moved_late,
    ),
    (
        r"The 1 stays where it was: sing it on into (?:the section|bar (?P<bar>\d+))\.",
        one_goes_on,
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
        rf"In (?P<at>b{BARS[4:]}) the key that is marked is not the one that is played\.",
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
            r"You counted this minor song from its relative major: your chart writes the minor "
            r"home as 6-, the song has it as 1-\.|You counted from the minor home as 1-; the song "
            r"is counted from its relative major, and that chord is 6-\."
        ),
        relative,
    ),
    (
        (
            r"(?P<right>\d+) of (?P<compared>\d+) bars? ha(?:ve|s) the right root once that is "
            r"undone(?:; counted so, all bars score (?P<percent>\d+)%)?\."
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
