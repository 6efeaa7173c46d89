"""The two sentences of a summary: what was good, and what to work on."""

from __future__ import annotations

import re
from collections import Counter

from trainer.chart import Articulation, Bar

from .facts import BARS, CHORD, Reading, demand, listed, name_of, phrases, root, sounds, text_of

__all__ = ["check_summary"]

FORM, LENGTHS, ROOTS = "the form", "every phrase length", "all roots"
SIGNS = {
    "every hold": Articulation.HOLD,
    "every push": Articulation.PUSH,
    "every choke": Articulation.CHOKE,
}
WORK = (
    "There's nothing to fix. Try something harder next.",
    "Write down one phrase: count its bars, and find the 1.",
    "Work on one phrase at a time: count its bars, find the 1, then follow the bass.",
    "Agree with the band on which 1 to count a minor song from.",
    "Work on key changes: find the new 1, mark the change, and count from there.",
    "Work on finding the 1 before you write: it's where the song comes to rest.",
)
TOPIC = re.compile(
    rf"Work on (?P<topic>telling (?P<played>{CHORD}) from (?P<written>{CHORD})|[a-z, ]+?)"
    rf"(?:: (?P<own>your )?(?P<at>b{BARS[4:]}))?\."
)


def check_summary(summary: tuple[str, ...], reading: Reading) -> None:
    """Both sentences are known, and so. `reading` has all cases of all advice."""
    demand(len(summary) == 2, f"{len(summary)} sentences")
    good, work = summary
    kept = re.fullmatch(r"You kept going: you wrote (\d+) bars?\.", good)
    found = re.fullmatch(
        r"(?P<one>Counted from the song's 1, you|With the bars counted as the band plays them, you"
        r"|You) got (?P<what>.+) right\.",
        good,
    )
    if kept:
        demand(int(kept[1]) == len(reading.own), good)
    else:
        demand(found, f"not known: {good}")
        if found:
            demand(reading.is_shifted or "song's 1" not in found["one"], good)
            demand(reading.is_recounted or "bars counted" not in found["one"], good)
            for what in named(found["what"]):
                check_good(what, reading)
    if work not in WORK:
        topic = TOPIC.fullmatch(work)
        demand(topic, f"not known: {work}")
        cited = {one.reference for one in reading.all_cases} - {None}
        own = {one.answer for one in reading.all_cases} - {None}
        if topic and topic["at"]:
            numbers = set(map(int, re.findall(r"\d+", topic["at"])))
            if topic["played"]:
                pairs = {(one.played, one.written) for one in reading.all_cases}
                demand((topic["played"], topic["written"]) in pairs, work)
            demand(numbers <= (own if topic["own"] else cited), f"{work}: {cited}")


def named(text: str) -> list[str]:
    """The things that are right; "all roots in Verse and Chorus" is one of them."""
    found = re.findall(
        r"the form|every phrase length|every bass note under a slash|every split bar|every hold"
        r"|every push|every choke|all \d+ bars|the bar|\d+ of \d+ bars"
        r"|all roots(?: in .+?(?=$|, every | and every ))?",
        text,
    )
    demand(re.sub(r", | and ", "", "".join(found)) == re.sub(r", | and ", "", text), f"{text}")
    return found


def check_good(what: str, r: Reading) -> None:
    """What is said to be right is right."""
    if what == FORM:
        demand(len(r.reference.sections) > 1, "one section")
    elif what == LENGTHS:
        spans, own = phrases(r.reference), phrases(r.answer)
        demand(spans == own or r.is_recounted, f"{spans}, {own}")
    elif what.startswith(ROOTS):
        if not r.is_shifted and not r.is_recounted:
            check_roots(what, r)
    elif what in SIGNS:
        check_sign(SIGNS[what], r)
    elif count := re.fullmatch(r"(\d+) of (\d+) bars", what):
        demand(int(count[2]) == len(r.song), what)
        if not r.is_shifted and not r.is_recounted:
            ours, theirs = (Counter(map(as_heard, bars)) for bars in (r.song, r.own))
            demand(
                (ours & theirs).total() >= int(count[1]) > 0, f"{what}: {(ours & theirs).total()}"
            )
    elif what in ("the bar", f"all {len(r.song)} bars"):
        demand(len(r.song) == len(r.own) or r.is_recounted, what)


def as_heard(bar: Bar) -> tuple[object, ...]:
    """The roots of a bar, without its meter, key and articulations, a root that goes on once."""
    roots = [(None, 0) if one is None else (one.root.semitones, 1) for one in sounds(bar)]
    return tuple(one for k, one in enumerate(roots) if not k or one != roots[k - 1])


def check_roots(what: str, r: Reading) -> None:
    """In all of the song, or in sections, the roots come in the answer just as they were played."""
    own = [[root(one) for one in sounds(bar)] for bar in r.own]
    if what == ROOTS:
        wanted = [list(r.song)]
    else:
        names = what.removeprefix("all roots in ")
        wanted = [
            [bar for phrase in section.phrases for bar in phrase.bars]
            for section in r.reference.sections
            if section.name and section.name in names
            and (section.name in listed(names) or section.name == names)
        ]  # fmt: skip
        demand(wanted, f"no section {names}")
    for bars in wanted:
        ours = [[root(one) for one in sounds(bar)] for bar in bars]
        starts = range(len(own) - len(ours) + 1)
        demand(
            any(all(map(same_roots, ours, own[at:])) for at in starts),
            f"{what}: {[text_of(bar) for bar in bars]}",
        )


def same_roots(ours: list[int], theirs: list[int]) -> bool:
    """Whether the roots are the same, a root that goes on counted once."""
    return [a for k, a in enumerate(ours) if not k or a != ours[k - 1]] == [
        a for k, a in enumerate(theirs) if not k or a != theirs[k - 1]
    ]


def check_sign(what: Articulation, r: Reading) -> None:
    """As many articulations of a kind are in the answer as in the song, at least."""
    ours, theirs = (
        Counter(
            name_of(event) if not r.is_shifted else ""
            for bar in bars
            for event in bar.events
            if event.articulation is what
        )
        for bars in (r.song, r.own)
    )
    demand(ours.total(), f"no {what} was played")
    demand(theirs.total() >= ours.total(), f"{what}: {theirs.total()} of {ours.total()}")
