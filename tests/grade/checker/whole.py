"""Sentences about the chart as a whole, and hints that claim nothing."""

from __future__ import annotations

import re
from collections.abc import Sequence

from trainer.chart import Bar, Chart

from .common import INTERVALS, WHERE, Check, where
from .facts import (
    BARS,
    CitedPlace,
    Reading,
    demand,
    note,
    number,
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


def labels(r: Reading, m: re.Match[str]) -> None:
    """What is wrong with the labels, part by part."""
    for part in m["parts"].split("; "):
        for pattern, check in LABEL_PARTS:
            found = re.fullmatch(pattern, part)
            if found:
                check(r, found)
                break
        else:
            demand(False, f"not known: {part}")


def starts(chart: Chart) -> list[tuple[str, int]]:
    """The names of a chart's sections, each with its first bar."""
    found, at = [], 1
    for section in chart.sections:
        found.append((section.name, at))
        at += sum(len(phrase.bars) for phrase in section.phrases)
    return found


def label_at(r: Reading, bar: int) -> str | None:
    """The label that a bar of the song stands under in the answer; None where bars have moved."""
    here = slice(bar - 1, bar + 3)
    if len(r.song) != len(r.own) or r.song[here] != r.own[here]:
        return None
    return [name for name, first in starts(r.answer) if first <= bar][-1]


def no_label(r: Reading, m: re.Match[str]) -> None:
    """Sections of the song that have none in the answer."""
    named(m["names"], [name for name, _ in starts(r.reference)])
    for name, first in starts(r.reference):
        if first in r.cited and m["names"] == name:
            demand(not label_at(r, first), f"bar {first}: {label_at(r, first)}")
    demand(any(not name for name, _ in starts(r.answer)), "all sections of the answer have a label")


def other_label(r: Reading, m: re.Match[str]) -> None:
    """A section under a label that is not its own, or not the one it had before."""
    known, own = starts(r.reference), starts(r.answer)
    demand((m["name"], int(m["bar"])) in known, f"{m['name']} at {m['bar']}: {known}")
    demand(m["label"] in [name for name, _ in own], m["label"])
    demand(label_at(r, int(m["bar"])) in (None, m["label"]), f"{label_at(r, int(m['bar']))}")
    groups = m.groupdict()
    if groups["before"]:
        demand((groups["before"], int(groups["where"])) in known, groups["before"])
        demand(int(groups["where"]) < int(groups["bar"]), "before")
        at = label_at(r, int(groups["where"]))
        demand(groups["first"] != groups["label"], groups["first"])
        demand(at in (None, groups["first"]), f"{at}")
    if groups["like"]:
        demand((groups["like"], int(groups["there"])) in known, groups["like"])
        demand(label_at(r, int(groups["there"])) in (None, groups["label"]), groups["label"])
        demand(groups["like"] != groups["name"], "one section")
    if not groups["before"] and not groups["like"]:
        demand(groups["name"] != groups["label"], "the right label")


def under_another(r: Reading, m: re.Match[str]) -> None:
    """A section without a label of its own, under that of another."""
    first, last = (int(one) for one in (re.findall(r"\d+", m["at"]) * 2)[:2])
    known = starts(r.reference)
    demand((m["name"], first) in known, f"{m['name']} at {first}: {known}")
    after = [start for _, start in known if start > first]
    demand(last == (after[0] - 1 if after else len(r.song)), f"to bar {last}")
    demand(m["label"] in [name for name, _ in starts(r.answer)], m["label"])
    demand(label_at(r, first) in (None, m["label"]), f"{label_at(r, first)}")
    if m["next"]:
        demand((m["next"], int(m["begins"])) in known, f"{m['next']} at {m['begins']}: {known}")


def all_labels(r: Reading, m: re.Match[str]) -> None:
    """The sections of both charts in order."""
    for text, chart, none in (
        (m["played"], r.reference, "no name"),
        (m["written"], r.answer, "no label"),
    ):
        names = [name or none for name, _ in starts(chart)]
        demand(text == " and ".join([", ".join(names[:-1]), names[-1]][len(names) < 2 :]), text)


def copied(r: Reading, m: re.Match[str]) -> None:
    """A section of the answer is there twice, and the song's are alike but for the bars named."""
    here, there = (tuple(map(int, re.findall(r"\d+", m[key]))) for key in ("here", "there"))
    known = starts(r.reference)
    if m["name"] != "The section":
        demand((m["name"], here[0]) in known, f"{m['name']}: {known}")
    if m["before"] != "the section":
        demand((m["before"], there[0]) in known, f"{m['before']}: {known}")
    demand(there[-1] < here[0], "before")
    bars = r.read_bars(m["bars"], r.cited)
    demand(here[0] <= bars[0] and bars[-1] <= here[-1], f"{bars} are not in {here}")
    ours = iter([text_of(r.song_bar(bar)) for bar in range(there[0], there[-1] + 1)])
    for bar in range(here[0], here[-1] + 1):
        if bar not in bars:
            demand(text_of(r.song_bar(bar)) in ours, f"bar {bar} is new")
    sections = [
        tuple(text_of(bar) for phrase in section.phrases for bar in phrase.bars)
        for section in r.answer.sections
    ]
    demand(len(set(sections)) < len(sections), "no section of the answer is there twice")


LABEL_PARTS = (
    (r"(?P<names>.+) ha(?:s|ve) no label in your chart", no_label),
    (
        (
            r"(?P<name>.+?) at bar (?P<bar>\d+) is labelled (?P<label>.+?)(?:, but (?P<before>.+) "
            r"at bar (?P<where>\d+) is your (?P<first>.+)|, as (?P<like>.+) at bar (?P<there>\d+) "
            r"is)?"
        ),
        other_label,
    ),
    (
        (
            rf"(?P<name>.+) \((?P<at>{BARS})\) stands under your (?P<label>.+?)"
            r"(?:, and (?P<next>.+) begins at bar (?P<begins>\d+))?"
        ),
        under_another,
    ),
    (r"the sections are (?P<played>.+), and yours are (?P<written>.+)", all_labels),
)


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


def from_another_one(r: Reading, m: re.Match[str]) -> None:
    """Numbers stand an interval above those played in the bars that have the right root."""
    shift = INTERVALS.index(m["up"])
    groups = m.groupdict()
    if groups.get("one"):
        demand(note(groups["one"]) == shift, f"{groups['one']} for 1")
    if groups.get("first"):
        demand(min(r.cited) == int(groups["first"]), f"from bar {min(r.cited)}")
    if groups.get("at"):
        where(r, m)
    r.bars = r.cited
    if groups.get("relative"):
        minor = sum(root(bar.events[0].chord) == 0 and "1-" in text_of(bar) for bar in r.song)
        major = sum(root(bar.events[0].chord) == 0 and "1-" not in text_of(bar) for bar in r.song)
        wanted = ("major", 9) if minor > major else ("minor", 3)
        demand((groups["relative"], shift) == wanted, f"{wanted}")
    right = sum(
        (root(own.events[0].chord) - root(song.events[0].chord)) % 12 == shift
        for _, song, own in r.rows()
        if song.events[0].chord and own.events[0].chord
    )
    r.pairs = [(str(right), str(shift))]


def relative(r: Reading, m: re.Match[str]) -> None:
    """A minor song counted from its relative major, or the other way round."""
    shift = 9 if "minor song" in m[0] else 3
    rows = [
        (root(own.events[0].chord) - root(song.events[0].chord)) % 12
        for _, song, own in r.rows()
        if song.events[0].chord and own.events[0].chord
    ]
    demand(2 * rows.count(shift) > len(rows), f"{rows.count(shift)} of {len(rows)}")


def keys(r: Reading, one: CitedPlace) -> tuple[int, int]:
    """How far the key has moved up to a case, in the song and in the answer."""
    return (
        sum(bar.key_change for bar in r.song[: one.reference]),
        sum(bar.key_change for bar in r.own[: one.answer]),
    )


def other_key(r: Reading) -> None:
    """In all bars cited the key that holds, by the signs, is not the one that was played."""
    for one, _, _ in r.rows():
        ours, theirs = keys(r, one)
        demand((ours - theirs) % 12, f"bar {one.reference} is in the key that is marked")


def sign_missing(r: Reading, m: re.Match[str]) -> None:
    """The key moves there in the song, and no move is written."""
    first = int(m["first"])
    demand(r.cited[0] == first and int(m["before"]) == first, f"cited are {r.cited}")
    moves = [(m["sign"], first)]
    if m["sign2"]:
        moves.append((m["sign2"], int(m["before2"])))
        demand(not m["to"] or int(m["to"]) == int(m["before2"]) - 1, m[0])
    for sign, bar in moves:
        demand(f"{r.song_bar(bar).key_change:+d}" == sign, f"{r.song_bar(bar).key_change:+d}")
        own = [other for case, _, other in r.rows() if case.reference == bar]
        demand(own and not own[0].key_change, f"a sign is written at bar {bar}")
    for one, _, _ in r.rows():
        ours, theirs = keys(r, one)
        back = m["to"] and one.reference == int(m["before2"])
        demand(bool((ours - theirs) % 12) != bool(back), f"bar {one.reference}")


def sign_wrong(r: Reading, m: re.Match[str]) -> None:
    """The key that holds, by the signs of either side, is not the same in the bars."""
    r.read_bars(m["at"], r.cited)
    other_key(r)


def sign_by_another_interval(r: Reading, m: re.Match[str]) -> None:
    """The key moves there, and is marked to move by another interval."""
    song, own = sign_bar(r, m["at"], m["section"])
    demand(f"{song.key_change:+d}" == m["sign"] and m["before"] == m["at"].split()[1], m["sign"])
    demand(own.key_change and f"{own.key_change:+d}" == m["written"], m["written"])
    demand(m["way"] == ("up" if song.key_change > 0 else "down"), m["way"])
    demand(m["interval"] == INTERVALS[abs(song.key_change)], m["interval"])
    other_key(r)


def sign_bar(r: Reading, at: str, section: str | None) -> tuple[Bar, Bar]:
    """The bars of a sign, the first of those cited."""
    r.bars = [int(at.split()[1])]
    demand(r.cited[0] == r.bars[0], f"cited are {r.cited}")
    r.check_section(section)
    return next((song, own) for one, song, own in r.rows() if one.reference == r.bars[0])


def sign_made_up(r: Reading, m: re.Match[str]) -> None:
    """The key is marked to move where it stays."""
    if m["both"]:
        first, last = map(int, re.findall(r"\d+", m["both"]))
        demand(r.cited[0] == first and r.cited[-1] == last, f"cited are {r.cited}")
        bars = [(bar, sign) for bar, sign in ((first, m["one"]), (last, m["other"]))]
    else:
        sign_bar(r, m["at"], m["section"])
        bars = [(r.bars[0], m["sign"])]
        other_key(r)
    for bar, sign in bars:
        own = next(own for one, _, own in r.rows() if one.reference == bar)
        demand(not r.song_bar(bar).key_change, f"the key moves at bar {bar}")
        demand(f"{own.key_change:+d}" == sign, f"{own.key_change:+d}")


def sign_elsewhere(r: Reading, m: re.Match[str]) -> None:
    """The key moves in one bar, and is marked to move by the same interval in another."""
    there, here = int(m["at"].split()[1]), int(m["there"])
    demand({there, here} == {r.cited[0], r.cited[-1]}, f"cited are {r.cited}")
    r.bars = [there]
    r.check_section(m["section"])
    move = r.song_bar(there).key_change
    demand(m["way"] == ("up" if move > 0 else "down"), m["way"])
    demand(m["interval"] == INTERVALS[abs(move)], m["interval"])
    demand(not r.song_bar(here).key_change, f"the key moves at bar {here}")
    for one, _, own in r.rows():
        if one.reference in (there, here):
            wanted = move if one.reference == here else 0
            demand(own.key_change == wanted, f"bar {one.reference}: {own.key_change:+d}")
    demand(number(m["distance"]) == abs(here - there), m["distance"])
    demand(m["late"] == ("late" if here > there else "early"), m["late"])


def key_not_moved(r: Reading, m: re.Match[str]) -> None:
    """Numbers and signs together sound as the song does, and one key change too many is written."""
    from_another_one(r, m)
    song, own = sign_bar(r, m["where"], m["section"])
    demand(own.key_change and not song.key_change, "the key moves")
    sounds_right(r, INTERVALS.index(m["up"]))


def sounds_right(r: Reading, shift: int) -> None:
    """The bars whose numbers stand `shift` higher sound as played, by their signs."""
    for one, _, _ in r.rows():
        ours, theirs = keys(r, one)
        demand((theirs + shift - ours) % 12 == 0, f"bar {one.reference} sounds in another key")


def key_moved_late(r: Reading, m: re.Match[str]) -> None:
    """The key is marked to move some bars late, with the old numbers until then."""
    from_another_one(r, m)
    song, own = sign_bar(r, m["where"], m["section"])
    demand(song.key_change and not own.key_change, "the key moves there in both")
    sounds_right(r, INTERVALS.index(m["up"]))
    demand(int(m["later"]) == r.cited[-1] + 1, m["later"])
    after = r.own_bar(r.cited_own[-1] + 1)
    demand(after.key_change == song.key_change, f"{after.key_change:+d} there")


def one_goes_on(r: Reading, m: re.Match[str]) -> None:
    """The bars spoken of are in one section, or begin where it is said."""
    sections = {place.section for place in r.reference.placed_bars() if place.number in r.bars}
    demand(r.bars[0] > 1, "nothing comes before")
    if m["bar"]:
        demand(int(m["bar"]) == r.bars[0], m["bar"])
    else:
        demand(len(sections) == 1, f"{len(sections)} sections")


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
            rf"(?P<relative>major|minor)), (?P<up>[a-z ]+) above what was played\."
        ),
        from_another_one,
    ),
    (
        (
            r"From bar (?P<first>\d+) (?:on|to bar (?P<to>\d+)) the numbers are right in the new "
            r"key, but the change is not marked: the band would go on in the old key\. Write \(key "
            r"(?P<sign>[-+]\d+)\) before bar (?P<before>\d+)(?: and \(key (?P<sign2>[-+]\d+)\) "
            r"before bar (?P<before2>\d+))?\."
        ),
        sign_missing,
    ),
    (
        (
            rf"At {WHERE} the key moves (?P<way>up|down) (?P<interval>[a-z ]+), and "
            r"(?P<written>[-+]\d+) is written\. Write \(key (?P<sign>[-+]\d+)\) before bar "
            r"(?P<before>\d+)\."
        ),
        sign_by_another_interval,
    ),
    (
        (
            rf"(?:At {WHERE} a key change is written \(key (?P<sign>[-+]\d+)\)|Key changes are "
            rf"written at (?P<both>{BARS}) \(key (?P<one>[-+]\d+) and (?P<other>[-+]\d+)\)), but "
            r"the key stays\."
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
