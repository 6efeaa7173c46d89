"""Abstract the songs of the corpus into plans without chords, and collect what chords songs mix.

A plan says how a song is built: its sections, their lines, which bars are alike, how long chords
last, where home is, where nothing is played, whether it fades. Its chords are numbers: 0 is home,
the others are ranked by how long they last in the song. A world is the unordered set of chords of
one song as written, with shares. Plans and worlds are listed apart and in no common order.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from itertools import pairwise
from typing import Any

from corpus import Bar, Event, Section, Song
from form_tables import LETTERS

__all__ = ["collect_plans", "collect_worlds"]

QUARTERS = 4
METERS = {"4/4": "4/4", "12/8": "4/4", "3/4": "3/4", "6/8": "6/8"}
# The corpus's names of what stands above a triad, as our notation spells it; others count as plain.
FORMS = {
    "6": "^6", "7": "^7", "9": "^9", "add9": "^add9", "maj7": "^maj7", "maj9": "^maj7",
    "7alt": "^7", "+ 7": "^7", "5 7": "^7", "sus4": "^sus4", "sus4 7": "^7sus4",
    "sus4 9": "^9sus4", "o 7": "^7", "h 7": "h",
}  # fmt: skip
LEAST_BARS, MOST_BARS = 28, 200
LONGEST_LINE = 8
LONGEST_SILENCE = 2
SILENT = "-"
FORM_LETTERS = ("", *"abcdefgh")
DEGREES = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
# A line is derived from an earlier one if at least this share of its bars are the same.
DERIVED = 0.25
# Forms and basses, which do not count there.
NOT_CHORDS = re.compile(r"[a-h]|/\w")


def written(event: Event) -> tuple[str, str, str]:
    """Return a chord as written: token, extension in our spelling, bass."""
    bass = "" if event.bass == event.chord.rstrip("-o") else event.bass
    return event.chord, FORMS.get(event.extension, ""), bass


def is_usable(song: Song) -> bool:
    """Return whether a song has one mode, a common meter and a usual length."""
    modes = {section.mode for section in song.sections}
    bars = sum(len(line) for line in song.lines())
    return len(modes) == 1 and song.meter in METERS and LEAST_BARS <= bars <= MOST_BARS


def home_of(song: Song) -> str:
    """Return the token of a song's home chord."""
    return "1-" if song.sections[0].mode == "minor" else "1"


def ranked_chords(song: Song) -> list[str]:
    """Return the tokens of a song: home, then the others by how long they last."""
    time: Counter[str] = Counter()
    for line in song.lines():
        for bar in line:
            total = sum(event.beats for event in bar.events)
            for event in bar.events:
                time[event.chord] += round(1000 * event.beats / total)
    home = home_of(song)
    others = sorted((c for c in time if c and c != home), key=lambda c: (-time[c], c))
    return [home, *others]


def half_of(at: int) -> int:
    """Return the half of the corpus that a song belongs to, 0 or 1, shuffled."""
    return hashlib.sha256(f"half {at}".encode()).digest()[0] % 2


def shuffled(rows: list[dict[str, Any]], name: str) -> list[dict[str, Any]]:
    """Return rows in an order that says nothing of where they come from."""
    return [
        row
        for _, row in sorted(
            (
                (hashlib.sha256(f"{name} {at}".encode()).hexdigest(), row)
                for at, row in enumerate(rows)
            ),
            key=lambda pair: pair[0],
        )
    ]


def quarters(bar: Bar) -> list[int]:
    """Return how many quarters of its bar each chord lasts, none for one that is too short.

    A bar of 2/4 among others of 4/4 has two quarters.
    """
    total = sum(event.beats for event in bar.events)
    whole = QUARTERS // 2 if not bar.regular and total == QUARTERS // 2 else QUARTERS
    starts, at = [], 0.0
    for event in bar.events:
        starts.append(round(whole * at / total))
        at += event.beats
    ends = [*starts[1:], whole]
    return [end - start for start, end in zip(starts, ends, strict=True)]


def ranked_forms(song: Song) -> dict[str, list[str]]:
    """Return the forms of each token of a song, the most heard first, without basses."""
    time: dict[str, Counter[str]] = {}
    for line in song.lines():
        for bar in line:
            total = sum(event.beats for event in bar.events)
            for event in bar.events:
                token, form, _ = written(event)
                if token:
                    time.setdefault(token, Counter())[form] += round(1000 * event.beats / total)
    return {
        token: sorted(forms, key=lambda form: (-forms[form], form)) for token, forms in time.items()
    }


def bass_class(token: str, bass: str) -> str:
    """Return the class of a bass: h for the 1, t for the third, f for the fifth, o for others."""
    if bass == "1":
        return "h"
    above = (DEGREES.index(bass) - DEGREES.index(token.rstrip("-o"))) % 12
    return {3: "t", 4: "t", 7: "f"}.get(above, "o")


def bar_text(bar: Bar, names: dict[tuple[str, str], str]) -> str:
    """Return the text of a bar in a plan.

    An event is the number of its chord, a letter for its form (none for the song's usual one), the
    class of its bass after a slash, or - for silence; then * and its quarters where the bar is not
    divided evenly or is half as long.
    """
    events: list[tuple[str, int]] = []
    for event, length in zip(bar.events, quarters(bar), strict=True):
        if not length:
            continue
        token, form, bass = written(event)
        name = names[token, form] if token else SILENT
        if bass:
            name += "/" + bass_class(token, bass)
        if events and name == events[-1][0]:
            events[-1] = (name, events[-1][1] + length)
        else:
            events.append((name, length))
    even = len({length for _, length in events}) == 1 and sum(n for _, n in events) == QUARTERS
    return " ".join(name if even else f"{name}*{length}" for name, length in events)


def event_names(song: Song) -> dict[tuple[str, str], str]:
    """Return the name in a plan of every token and form of a song."""
    forms = ranked_forms(song)
    return {
        (token, form): f"{number}{FORM_LETTERS[at]}"
        for number, token in enumerate(ranked_chords(song))
        for at, form in enumerate(forms.get(token, [""]))
    }


def labelled_sections(song: Song) -> list[tuple[str, list[list[Bar]]]]:
    """Return the letters and lines of the sections that are played.

    Intros and outros stand at the ends only; those in a row are one section, as are pre-choruses
    and turnarounds.
    """
    found: list[tuple[str, list[list[Bar]]]] = []
    sections = [(LETTERS[section.kind], played(section.lines)) for section in song.sections]
    sections = [(letter, lines) for letter, lines in sections if lines]
    letters = "".join(letter for letter, _ in sections)
    for at, (letter, lines) in enumerate(sections):
        if letter in "IO" and set(letters[: at + 1] if letter == "I" else letters[at:]) != {letter}:
            letter = "N"
        if letter in "NT" and at == 0:
            letter = "I"
        if letter in "NT" and at == len(sections) - 1:
            letter = "O"
        pieces = [piece for line in lines for piece in cut(line)]
        if found and found[-1][0] == letter and letter in "IOPT":
            found[-1][1].extend(pieces)
        else:
            found.append((letter, pieces))
    return found


def is_odd(sections: list[tuple[str, list[list[Bar]]]]) -> bool:
    """Return whether nobody would write the sections so: a verse or a chorus of less than three
    bars, an intro at the end, a pre-chorus to anything but a chorus."""
    letters = [letter for letter, _ in sections]
    return (
        any(letter in "VC" and sum(map(len, lines)) < 3 for letter, lines in sections)
        or letters[-1] in "IP"
        or any(a == "P" and b != "C" for a, b in pairwise(letters))
    )


def played(lines: list[list[Bar]]) -> list[list[Bar]]:
    """Return the lines with at most `LONGEST_SILENCE` silent bars in a row, none where all bars are
    silent, as a record's drum breaks are."""
    if not any(event.chord for line in lines for bar in line for event in bar.events):
        return []
    run = 0
    made = []
    for line in lines:
        kept = []
        for bar in line:
            run = 0 if any(event.chord for event in bar.events) else run + 1
            if run <= LONGEST_SILENCE:
                kept.append(bar)
        if kept:
            made.append(kept)
    return made


def cut(line: list[Bar]) -> list[list[Bar]]:
    """Return a line in pieces of at most `LONGEST_LINE` bars."""
    if len(line) <= LONGEST_LINE:
        return [line]
    return [line[at : at + 4] for at in range(0, len(line), 4)]


def reference(line: str, known: list[str]) -> int:
    """Return the earlier line that a line is derived from, -1 for none."""
    best, at = 0.0, -1
    bars = NOT_CHORDS.sub("", line).split("|")
    for number, other in enumerate(known):
        theirs = NOT_CHORDS.sub("", other).split("|")
        alike = sum(a == b for a, b in zip(bars, theirs, strict=False))
        share = alike / max(len(bars), len(theirs))
        if share >= DERIVED and share > best:
            best, at = share, number
    return at


def tokens_of(line: list[Bar]) -> list[str]:
    """Return the chords of a line, none twice in a row."""
    tokens: list[str] = []
    for bar in line:
        for event in bar.events:
            if event.chord and (not tokens or tokens[-1] != event.chord):
                tokens.append(event.chord)
    return tokens


def line_mark(tokens: list[str]) -> int:
    """Return a number by which the generator sees that it would write a line as its source has it;
    the chords cannot be read from it."""
    return int.from_bytes(hashlib.sha256(" ".join(tokens).encode()).digest()[:2], "big")


def plan_of(song: Song, half: int) -> dict[str, Any] | None:
    """Return the plan of a song, or None for one that nobody would write."""
    sections = labelled_sections(song)
    if is_odd(sections):
        return None
    names = event_names(song)
    known: list[str] = []
    derived: list[int] = []
    marks: list[int] = []
    order = []
    for letter, lines in sections:
        numbers = []
        for line in lines:
            text = "|".join(bar_text(bar, names) for bar in line)
            if text not in known:
                derived.append(reference(text, known))
                marks.append(line_mark(tokens_of(line)))
                known.append(text)
            numbers.append(known.index(text))
        order.append([letter, numbers])
    return {
        "meter": METERS[song.meter],
        "minor": int(song.sections[0].mode == "minor"),
        "half": half,
        "chords": len(ranked_chords(song)),
        "fades": int(fades(song.sections)),
        "lines": known,
        "from": derived,
        "marks": marks,
        "sections": order,
    }


def fades(sections: list[Section]) -> bool:
    """Return whether the recording of a song fades out."""
    return any(section.fades for section in sections)


def collect_plans(songs: list[Song]) -> dict[str, Any]:
    """Return the plans of all usable songs."""
    plans = [plan_of(song, half_of(at)) for at, song in enumerate(songs) if is_usable(song)]
    return {"plans": shuffled([plan for plan in plans if plan is not None], "plan")}


def world_of(song: Song, half: int) -> dict[str, Any]:
    """Return the chords of a song as written, in thousandths of its time."""
    chords: dict[str, Counter[str]] = {}
    basses: Counter[str] = Counter()
    for line in song.lines():
        for bar in line:
            total = sum(event.beats for event in bar.events)
            for event in bar.events:
                token, form, bass = written(event)
                if not token:
                    continue
                part = round(1000 * event.beats / total)
                chords.setdefault(token, Counter())[form] += part
                if bass:
                    basses[f"{token}/{bass}"] += 1
    bars = [bar for line in song.lines() for bar in line]
    slash = sum(any(written(event)[2] for event in bar.events) for bar in bars) / len(bars)
    whole = sum(sum(forms.values()) for forms in chords.values())
    rows = {}
    for token in ranked_chords(song):
        forms = chords.get(token, Counter({"": 0}))
        rows[token] = {
            form: max(1, round(1000 * part / whole))
            for form, part in sorted(forms.items(), key=lambda pair: (-pair[1], pair[0]))
        }
    return {
        "minor": int(song.sections[0].mode == "minor"),
        "half": half,
        "chords": rows,
        "slash": round(slash, 3),
        "basses": dict(sorted(basses.items())),
    }


def collect_worlds(songs: list[Song]) -> dict[str, Any]:
    """Return the worlds of all usable songs."""
    worlds = [world_of(song, half_of(at)) for at, song in enumerate(songs) if is_usable(song)]
    return {"worlds": shuffled(worlds, "world")}
