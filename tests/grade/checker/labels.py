"""Sentences about the labels of sections, and about sections that are written again."""

from __future__ import annotations

import re
from collections.abc import Sequence

from trainer.chart import Chart

from .facts import BARS, Reading, demand, text_of

__all__ = ["copied", "labels"]


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
    """The label that a bar of the song stands under in the answer; None if bars have moved."""
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
    if m["name"] != "the section":
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
    (r"you gave (?P<names>.+) no label", no_label),
    (
        (
            r"you labelled (?P<name>.+?) \(bar (?P<bar>\d+)\) (?P<label>.+?)(?:, but "
            r"(?P<before>.+) \(bar (?P<where>\d+)\) (?P<first>.+)|, like (?P<like>.+) \(bar "
            r"(?P<there>\d+)\))?"
        ),
        other_label,
    ),
    (
        (
            rf"you put (?P<name>.+) \((?P<at>{BARS})\) under (?P<label>.+?)"
            r"(?:, and (?P<next>.+) begins at bar (?P<begins>\d+))?"
        ),
        under_another,
    ),
    (r"the song has (?P<played>.+), and you wrote (?P<written>.+)", all_labels),
)


def named(text: str, known: Sequence[str]) -> None:
    """A list consists of known names (which may hold commas themselves)."""
    rest = text
    while rest:
        found = max((name for name in known if name and rest.startswith(name)), key=len, default="")
        demand(found, f"{rest!r}: known are {known}")
        rest = re.sub(r"^(?:, | and )", "", rest.removeprefix(found))
