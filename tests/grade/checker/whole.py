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
    signs_elsewhere,
)
from .labels import copied, labels

__all__ = ["HINTS", "WHOLE_SENTENCES"]

# What to do or to listen for, which claims nothing about the charts.
HINTS = (
    "Write [fade] before the bar where the fade begins.",
    "Write 0 when the band is silent.",
    "A guess costs no more than an open bar.",
    "A chord lasts until the next one unless the band stops.",
    "If you left a gap there, listen to just these bars again and fill it.",
    "Count the beats up to the change.",
    "Count the beats from one downbeat to the next.",
    "Count the beats: the chord changes inside the bar.",
    "Count the beats: the chord changes inside.",
    "Count the beats: each chord lasts a bar.",
    "Count the beats.",
    "The chord doesn't change before the next downbeat.",
    "Check whether the chord really changes before the next downbeat.",
    "Sing the root of each with the bass before you write it.",
    "Sing the 1 across the bar line.",
    "Count the bars of each phrase until the vocal starts over.",
    (
        "Tap your foot to the drums: a bar goes from one downbeat to the next, however long a "
        "chord lasts."
    ),
    "Count the bars as they go by.",
    "Count the bars, not the chord changes.",
    "Write the section labels down first, in the order they come.",
    "Listen for each time the vocal starts over.",
    "Listen for where the vocal starts over.",
    "Listen for how the next phrase begins before you write it.",
    "Listen for how the next section begins before you write it.",
    "Listen for which comes first.",
    "Listen to how each one begins.",
    "Listen to just these bars again and fill the gap.",
    "When you lose your place, leave a gap and carry on with the song.",
    "Write the first section label before the count-off, and leave a gap for what you miss.",
    "When that happens, let those bars go, stay with the song and fill the gap afterwards.",
    "Start again with one phrase: count its bars, find the 1, then follow just the bass.",
    "Count the bars of the first phrase, and start with the ones where the bass is on 1.",
    "Musicians do it both ways, so agree on one with the band.",
    "Before you write, find the note where the song comes to rest. That's 1.",
    "After the change, count from the new 1, and mark the change where it happens.",
    "Find the note that feels like home, and mark a key change only when home moves.",
    "Find the note where the song comes to rest. That's 1.",
    "Listen for what's new when a section comes back.",
    "Leave the key change out and keep counting from the same 1.",
    "Mark it before the first bar that sounds higher or lower.",
    "After the change, count from the new 1.",
    "Check how far the key moves, and where.",
    "Ask the band which meter they call it.",
    "You got everything right that was asked for.",
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


def fade_missing(r: Reading, m: re.Match[str]) -> None:
    """The band fades out from that bar on, and the answer has no fade."""
    demand(r.song_bar(int(m["bar"])).fades, f"no fade before bar {m['bar']}")
    demand(not any(bar.fades for bar in r.own), "the fade is marked")


def fade_made_up(r: Reading, m: re.Match[str]) -> None:
    """The answer has a fade before that bar, and the band does not fade."""
    demand(r.own[int(m["bar"]) - 1].fades, f"no [fade] before bar {m['bar']} of the answer")
    demand(not any(bar.fades for bar in r.song), "the band fades")


def nothing(r: Reading, m: re.Match[str]) -> None:
    """The answer is empty."""
    demand(r.cited == list(range(1, len(r.song) + 1)), "all bars are missing")
    demand("the bar" in m[0] if len(r.song) == 1 else int(m["bars"]) == len(r.song), m[0])


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
    sounding = [one for one, song, _ in r.rows() if any(event.chord for event in song.events)]
    demand(right <= compared == len(sounding), f"{right} of {len(sounding)}")
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
            rf"(?:You didn't mark the phrase ends? after (?P<missed>{BARS}) of the song)?"
            r"(?:(?:, and y|Y)ou marked (?:a phrase end|phrase ends) after your "
            rf"(?P<extra>{BARS}), where there (?:is|are) none)?\."
        ),
        phrase_ends,
    ),
    (r"Section labels: (?P<parts>.+)\.$", labels),
    (
        (
            rf"You wrote (?P<name>.+?) \((?P<here>{BARS})\) the same as (?P<before>.+?) "
            rf"\((?P<there>{BARS})\), but the song differs in (?P<bars>{BARS})\."
        ),
        copied,
    ),
    (
        (
            r"Of the (?P<written>\d+) bars you wrote, (?P<right>none|\d+) ha(?:s|ve) the right root"
            rf"(?: \((?P<bars>{BARS})\))?\."
        ),
        far_off,
    ),
    (
        r"You haven't written (?:the bar|any of the (?P<bars>\d+) bars) yet\.",
        nothing,
    ),
    (r"Every bar matches what the band played\.", all_right),
    (
        (
            r"You counted from the wrong 1: your numbers are (?P<up>[a-z ]+) above what the band "
            r"played, (?P<one>\S+) for 1\."
        ),
        from_another_one,
    ),
    (
        (
            r"From bar (?P<first>\d+) on, you counted in the old key: your numbers are "
            r"(?P<up>[a-z ]+) above those of the new key\."
        ),
        from_another_one,
    ),
    (
        (
            rf"{WHERE}: you counted from (?:another 1|the relative (?P<relative>major|minor)), so "
            r"your numbers are (?P<up>[a-z ]+) above what the band played\."
        ),
        from_another_one,
    ),
    (
        (
            r"(?P<only>In|From) bar (?P<first>\d+)(?: on| to bar (?P<to>\d+))?, your numbers are "
            r"right in the new key, but you didn't mark the change: the band would stay in the old "
            r"key\. Write \["
            rf"(?P<sign>{KEY_MOVE})\] before bar (?P<before>\d+)(?: and \[(?P<sign2>{KEY_MOVE})\] "
            r"before bar (?P<before2>\d+))?\."
        ),
        sign_missing,
    ),
    (
        (
            rf"At {WHERE} the key moves (?P<way>up|down) (?P<interval>[a-z ]+), and "
            rf"you wrote \[(?P<written>{KEY_MOVE})\]\. Write \[(?P<sign>{KEY_MOVE})\] before bar "
            r"(?P<before>\d+)\."
        ),
        sign_by_another_interval,
    ),
    (
        (
            rf"You wrote (?:a key change, \[(?P<sign>{KEY_MOVE})\], at {WHERE}|key changes at "
            rf"(?P<both>{BARS}) \(\[(?P<one>{KEY_MOVE})\] and \[(?P<other>{KEY_MOVE})\]\)), but "
            r"the key stays the same\."
        ),
        sign_made_up,
    ),
    (
        (
            rf"The key moves (?P<way>up|down) (?P<interval>[a-z ]+) at {WHERE}, but you marked it "
            r"at bar (?P<there>\d+), (?P<distance>\w+) bars? (?P<late>late|early)\."
        ),
        sign_elsewhere,
    ),
    (
        (
            r"You moved the key at (?P<where>bar \d+)(?: \((?P<section>[^:]*)\))?: the chords "
            r"sound right, but the song stays in its key, so your numbers are (?P<up>[a-z ]+) "
            r"above the song's\."
        ),
        key_not_moved,
    ),
    (
        (
            r"The key moves at (?P<where>bar \d+)(?: \((?P<section>[^:]*)\))?, but you moved it at "
            r"bar (?P<later>\d+)\. Until then you counted in the old key: your numbers are "
            r"(?P<up>[a-z ]+) above those of the new key\."
        ),
        key_moved_late,
    ),
    (
        r"The 1 stays where it was: keep singing it into (?:the section|bar (?P<bar>\d+))\.",
        one_goes_on,
    ),
    (
        (
            r"From bar (?P<first>\d+) on, you marked the key change but still counted in the old "
            r"key: your numbers are (?P<up>[a-z ]+) above those of the new key\."
        ),
        from_another_one,
    ),
    (
        rf"In (?P<at>b{BARS[4:]}) the key you marked isn't the one the band plays in\.",
        sign_wrong,
    ),
    (
        (
            rf"Your key changes don't match the song's (?:at (?P<at>{BARS})|before bar "
            rf"(?P<before>\d+))(?:: the key moves in (?P<gone>{BARS}), which you left out)?\."
        ),
        signs_elsewhere,
    ),
    (
        r"The song is in (?P<played>\S+), and you wrote the whole chart in (?P<written>\S+)\.",
        respelled,
    ),
    (
        r"From bar \d+ on, your numbers fit another key than the one you marked\.",
        nothing_to_check,
    ),
    (
        (
            r"You counted this minor song from its relative major: you wrote its home chord as 6-, "
            r"and here it's 1-\.|You counted from the minor chord as 1-, but here the song is "
            r"counted from its relative major, and that chord is 6-\."
        ),
        relative,
    ),
    (
        (
            r"Counted from the song's 1, (?P<right>\d+) of (?P<compared>\d+) bars? ha(?:ve|s) the "
            r"right root(?:, and your bars score (?P<percent>\d+)%)?\."
        ),
        evidence,
    ),
    (r"You fell behind at bar (?P<bar>\d+)\.", fell_behind),
    (
        r"The band fades out from bar (?P<bar>\d+) on, and you didn't mark it\.",
        fade_missing,
    ),
    (
        (
            r"You wrote \[fade\] before your bar (?P<bar>\d+), but the band doesn't fade: it plays "
            r"to the last bar\."
        ),
        fade_made_up,
    ),
    (
        (
            r"The song is in (?P<played>\S+), and you wrote it in (?P<written>\S+): the pulse is "
            r"the same, so your bars still line up\."
        ),
        respelled,
    ),
)
