"""What a classifier sees of a whole song: features of its harmony, and of its form and labels."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby, pairwise
from math import log2

from tests.benchmarks.written_songs import Bar, Line, Section, WrittenSong

__all__ = ["form_features", "harmony_features"]

CHORDS = (
    "1", "4", "5", "6-", "2-", "3-", "b7", "2", "3", "6", "b3", "b6", "4-", "5-", "1-", "b2", "7",
)  # fmt: skip
PAIRS = (
    "1 4", "4 1", "1 5", "5 1", "4 5", "5 4", "1 6-", "6- 4", "6- 5", "6- 2-", "2- 5", "b7 4",
    "1 b7", "b7 1", "3- 4", "3- 6-", "5 6-", "4 b7", "1 2-", "2- 1", "b6 b7", "b7 1-",
)  # fmt: skip
KINDS = ("intro", "verse", "pre-chorus", "chorus", "bridge", "solo", "interlude", "outro")
Features = dict[str, float]


def share(flags: Iterable[bool]) -> float:
    """Return the share of true values, 0 where there are none."""
    values = list(flags)
    return sum(values) / len(values) if values else 0.0


def mean(values: Iterable[float]) -> float:
    """Return the mean, 0 of nothing."""
    found = list(values)
    return sum(found) / len(found) if found else 0.0


def entropy(counts: Mapping[str, float]) -> float:
    """Return the entropy of a distribution in bits."""
    total = sum(counts.values())
    return -sum(n / total * log2(n / total) for n in counts.values()) if total else 0.0


def likeness(a: Line, b: Line) -> float:
    """Return the share of bars at the same place that are the same."""
    return sum(x == y for x, y in zip(a, b, strict=False)) / max(len(a), len(b))


def opening(line: Line) -> str:
    """Return the first chord of a line."""
    return line[0][0].chord


def closing(line: Line) -> str:
    """Return the last chord of a line."""
    return line[-1][-1].chord


def is_home(chord: str) -> bool:
    """Return whether a chord is the 1, major or minor."""
    return chord in ("1", "1-")


def harmony_features(song: WrittenSong) -> Features:
    """Return the features of a song's harmony: no labels, no lengths."""
    found: Features = {"minor": float(song.minor)}
    for part in (_vocabulary, _extensions, _basses, _rhythm, _cadences, _lines, _changes, _worlds):
        found |= part(song)
    return found


def _vocabulary(song: WrittenSong) -> Features:
    time: defaultdict[str, float] = defaultdict(float)
    for bar in song.bars():
        for event in bar:
            time[event.chord] += event.share
    total = sum(time.values())
    sounded = {chord: bars for chord, bars in time.items() if chord}
    ranked = sorted(sounded.values(), reverse=True)
    found = {f"share of {chord}": time[chord] / total for chord in CHORDS}
    found["share of diminished"] = sum(n for c, n in time.items() if c.endswith("o")) / total
    found["distinct chords"] = float(len(sounded))
    found["nine or more chords"] = float(len(sounded) >= 9)
    found["entropy of chords"] = entropy(sounded)
    found["share of the second chord"] = ranked[1] / total if len(ranked) > 1 else 0.0
    found["share of the third chord"] = ranked[2] / total if len(ranked) > 2 else 0.0
    written = Counter(event.written for bar in song.bars() for event in bar if event.chord)
    found["distinct chords as written"] = float(len(written))
    found["entropy as written"] = entropy(written)
    found["written once"] = share(n == 1 for n in written.values())
    found["written per chord"] = len(written) / max(1, len(sounded))
    found["distinct bars"] = len(set(song.bars())) / len(song.bars())
    return found


def _extensions(song: WrittenSong) -> Features:
    events = [event for bar in song.bars() for event in bar if event.chord]
    found = {"extended": share(bool(e.extension) for e in events)}
    for chord in ("1", "4", "5", "6-", "2-", "1-", "b7", "2"):
        mine = [event for event in events if event.chord == chord]
        found[f"{chord} extended"] = share(bool(e.extension) for e in mine)
    for name in ("7", "maj7", "6", "9", "add9", "sus"):
        found[f"extension {name}"] = share(e.extension == name for e in events)
    forms: dict[str, set[str]] = {}
    for event in events:
        forms.setdefault(event.chord, set()).add(event.extension)
    found["chords plain and seventh"] = float(sum({"", "7"} <= each for each in forms.values()))
    found["chords in two forms"] = float(sum(len(each) > 1 for each in forms.values()))
    found["kinds of extension"] = float(len({e.extension for e in events}))
    pairs = [pair for line in song.lines() for pair in pairwise(e for bar in line for e in bar)]
    found["form changes on a chord"] = share(
        a.chord == b.chord and a.extension != b.extension for a, b in pairs
    )
    return found


def _basses(song: WrittenSong) -> Features:
    bars = song.bars()
    events = [event for bar in bars for event in bar if event.chord]
    slashes = Counter(f"{e.chord}/{e.bass}" for e in events if e.bass)
    found = {
        "bars with a slash": share(any(e.bass for e in bar) for bar in bars),
        "any slash": float(bool(slashes)),
        "distinct slashes": float(len(slashes)),
        "lines opening on a slash": share(bool(line[0][0].bass) for line in song.lines()),
        "bars all on a slash": share(len(bar) == 1 and bool(bar[0].bass) for bar in bars),
    }
    for name in ("4/1", "5/7", "1/3", "1/5", "5/1", "4/5", "2-/5", "b7/1", "6-/5"):
        found[f"has {name}"] = float(name in slashes)
    pairs = [pair for line in song.lines() for pair in pairwise(e for bar in line for e in bar)]
    found["bass changes on a chord"] = share(
        a.chord == b.chord and a.bass != b.bass for a, b in pairs
    )
    return found


def _rhythm(song: WrittenSong) -> Features:
    bars = song.bars()
    sizes = [len([e for e in bar if e.chord]) for bar in bars]
    runs = [sum(1 for _ in group) for _, group in groupby(bars)]
    flat = [event for bar in bars for event in bar]
    stretches = [
        (chord, sum(e.share for e in group))
        for chord, group in groupby(flat, key=lambda e: e.chord)
    ]
    lengths = [length for chord, length in stretches if chord]
    uneven = [bar for bar in bars if len(bar) == 2]
    last = [line[-1] for line in song.lines()]
    return {
        "split": share(size > 1 for size in sizes),
        "three or more": share(size > 2 for size in sizes),
        "four or more": share(size > 3 for size in sizes),
        "uneven of two": share(abs(bar[0].share - 0.5) > 0.01 for bar in uneven),
        "long then short": share(bar[0].share > 0.6 for bar in uneven),
        "last bars split": share(len(bar) > 1 for bar in last),
        "silent bars": share(not any(e.chord for e in bar) for bar in bars),
        "any silent bar": float(any(not any(e.chord for e in bar) for bar in bars)),
        "silence within a bar": share(
            any(not e.chord for e in bar) and any(e.chord for e in bar) for bar in bars
        ),
        "like the bar before": share(a == b for a, b in pairwise(bars)),
        "like the bar before but one": share(a == b for a, b in zip(bars, bars[2:], strict=False)),
        "like the bar four before": share(a == b for a, b in zip(bars, bars[4:], strict=False)),
        "longest run of a bar": float(max(runs)),
        "longest stretch": max(lengths, default=0.0),
        "mean stretch": mean(lengths),
        "stretches of a bar": share(0.9 < length < 1.1 for length in lengths),
        "stretches of two bars": share(1.9 < length < 2.1 for length in lengths),
        "stretches over four bars": share(length > 4 for length in lengths),
        "changes over bar lines": share(a[-1].chord != b[0].chord for a, b in pairwise(bars)),
    }


def _cadences(song: WrittenSong) -> Features:
    lines = list(song.lines())
    sections = [section.lines for section in song.sections]
    found = {
        "lines opening at home": share(is_home(opening(line)) for line in lines),
        "lines ending at home": share(is_home(closing(line)) for line in lines),
        "lines home to home": share(
            is_home(opening(line)) and is_home(closing(line)) for line in lines
        ),
        "sections opening at home": share(is_home(opening(s[0])) for s in sections),
        "sections ending at home": share(is_home(closing(s[-1])) for s in sections),
        "first chord is home": float(is_home(opening(lines[0]))),
        "last chord is home": float(is_home(closing(lines[-1]))),
    }
    for chord in ("5", "4", "b7", "6-", "2-"):
        found[f"lines ending on {chord}"] = share(closing(line) == chord for line in lines)
        found[f"sections ending on {chord}"] = share(closing(s[-1]) == chord for s in sections)
        found[f"lines opening on {chord}"] = share(opening(line) == chord for line in lines)
    for chord in ("5", "4", "b7"):
        found[f"last bars at home after {chord}"] = share(
            is_home(closing(line)) and len(line) > 1 and line[-2][-1].chord == chord
            for line in lines
        )
    return found


def _lines(song: WrittenSong) -> Features:
    lines = list(song.lines())
    pairs = [pair for section in song.sections for pair in pairwise(section.lines)]
    known: dict[Line, int] = {}
    near: list[float] = []
    again = last_seen = 0
    for at, line in enumerate(lines):
        if line in known:
            again += 1
        else:
            near.append(max((likeness(line, other) for other in known), default=0.0))
            last_seen = at
        known[line] = known.get(line, 0) + 1
    fours = [line for line in lines if len(line) == 4]
    changed = [[x != y for x, y in zip(a, b, strict=True)] for a, b in pairs if len(a) == len(b)]
    partly = [row for row in changed if 0 < sum(row) < len(row)]
    end = song.sections[-1].lines
    final = lines[-1]
    return {
        "lines repeated": again / len(lines),
        "last new line": last_seen / len(lines),
        "likeness of a new line": mean(near),
        "new lines unlike any": share(value == 0 for value in near),
        "new lines half like one": share(0.4 < value < 0.8 for value in near),
        "most frequent line": max(known.values()) / len(lines),
        "lines played once": share(n == 1 for n in known.values()),
        "neighbours the same": share(a == b for a, b in pairs),
        "likeness of neighbours": mean(likeness(a, b) for a, b in pairs),
        "second line changes the last bar": share(
            row[-1] and not any(row[:-1]) for row in changed if len(row) > 1
        ),
        "second line changes the end": share(not row[0] and row[-1] for row in partly),
        "second line changes the start": share(row[0] and not row[-1] for row in partly),
        "line of two bars twice": share(
            line[:2] == line[2:] and line[0] != line[1] for line in fours
        ),
        "line of one bar": share(len(set(line)) == 1 for line in fours),
        "line of four bars": share(len(set(line)) == 4 for line in fours),
        "line of two pairs": share(
            line[0] == line[1] and line[2] == line[3] and line[1] != line[2] for line in fours
        ),
        "line that comes back": share(
            line[0] == line[3] and line[0] not in line[1:3] for line in fours
        ),
        "closing line heard before": float(known[final] > 1),
        "closing line with its end changed to home": float(
            known[final] == 1
            and is_home(closing(final))
            and any(
                len(o) == len(final) > 1 and o[:-1] == final[:-1] and o[-1] != final[-1]
                for o in known
            )
        ),
        "end is one line again": float(len(set(end)) == 1 and len(end) > 1),
        "end of four equal lines": float(len(set(end)) == 1 and len(end) >= 4),
        "equal lines at the end": sum(1 for _ in next(groupby(lines[::-1]))[1]) / len(lines),
    }


def _changes(song: WrittenSong) -> Features:
    counts: Counter[str] = Counter()
    motions: Counter[str] = Counter()
    turns = back = 0
    for line in song.lines():
        chords = [c for c, _ in groupby(e.chord for bar in line for e in bar if e.chord)]
        for a, b in pairwise(chords):
            counts[f"{a} {b}"] += 1
            motions[_motion(a, b)] += 1
        for a, _, c in zip(chords, chords[1:], chords[2:], strict=False):
            turns += 1
            back += a == c
    total = max(1, counts.total())
    found = {f"change {pair}": counts[pair] / total for pair in PAIRS}
    found |= {
        f"motion by {name}": motions[name] / total for name in ("fourth", "fifth", "step", "third")
    }
    found["distinct changes"] = len(counts) / total
    found["changes made once"] = share(n == 1 for n in counts.values())
    found["entropy of changes"] = entropy(counts)
    found["back to the chord before"] = back / max(1, turns)
    return found


def _motion(a: str, b: str) -> str:
    """Return the class of the root's motion."""
    place = {
        name: at
        for at, name in enumerate(("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7"))
    }
    up = (place[b.rstrip("-o")] - place[a.rstrip("-o")]) % 12
    names = {5: "fourth", 7: "fifth", 1: "step", 2: "step", 10: "step", 11: "step"}
    return names.get(up, "third" if up in (3, 4, 8, 9) else "other")


def _chord_set(lines: Sequence[Line]) -> frozenset[str]:
    return frozenset(e.chord for line in lines for bar in line for e in bar if e.chord)


def _overlap(a: frozenset[str], b: frozenset[str]) -> float:
    return len(a & b) / len(a | b) if a | b else 0.0


def _worlds(song: WrittenSong) -> Features:
    """What each section uses of the song's chords."""
    sets = [_chord_set(section.lines) for section in song.sections]
    whole = frozenset[str]().union(*sets)
    different = {section.lines: made for section, made in zip(song.sections, sets, strict=True)}
    seen: frozenset[str] = frozenset()
    new_at = 0
    for at, each in enumerate(sets):
        if each - seen:
            new_at = at
        seen |= each
    return {
        "chords of a section": mean(map(len, sets)),
        "share of the vocabulary in a section": mean(len(s) for s in sets) / max(1, len(whole)),
        "overlap of neighbouring sections": mean(_overlap(a, b) for a, b in pairwise(sets)),
        "chords in one section only": share(
            sum(chord in made for made in different.values()) == 1 for chord in whole
        ),
        "sections of one chord": share(len(made) == 1 for made in sets),
        "sections away from home": share(not made & {"1", "1-"} for made in sets),
        "last section with a new chord": new_at / len(sets),
        "bars seen by a third": _seen_early(song.bars()),
        "distinct sections": len({s.lines for s in song.sections}) / len(sets),
    }


def _seen_early(bars: list[Bar]) -> float:
    """Return the share of the last two thirds whose bars occur in the first third."""
    cut = len(bars) // 3
    early = set(bars[:cut])
    return share(bar in early for bar in bars[cut:])


def form_features(song: WrittenSong) -> Features:
    """Return the features of a song's labels, lengths, order and returns."""
    kinds = [section.kind for section in song.sections]
    lines = list(song.lines())
    found: Features = {
        "sections": float(len(kinds)),
        "lines": float(len(lines)),
        "bars": float(len(song.bars())),
        "irregular bars": float(sum(s.irregular for s in song.sections)),
        "keys": float(len({s.shift for s in song.sections})),
    }
    for length in (1, 2, 3, 4, 5, 6, 7, 8):
        found[f"lines of {length}"] = share(len(line) == length for line in lines)
    found["lines longer than 8"] = share(len(line) > 8 for line in lines)
    for kind in KINDS:
        found |= _kind(song, kind)
    found["first is intro"] = float(kinds[0] == "intro")
    found["first is verse"] = float(kinds[0] == "verse")
    found["last is outro"] = float(kinds[-1] == "outro")
    found["last is chorus"] = float(kinds[-1] == "chorus")
    found["two alike in a row"] = share(a == b for a, b in pairwise(kinds))
    instrumental = ("intro", "solo", "interlude", "outro")
    found["two instrumental in a row"] = share(
        a in instrumental and b in instrumental for a, b in pairwise(kinds)
    )
    for a in ("verse", "chorus", "bridge", "solo"):
        for b in ("verse", "chorus", "bridge", "interlude", "solo"):
            found[f"{a} then {b}"] = share(pair == (a, b) for pair in pairwise(kinds))
    return found | _between_kinds(song)


def _kind(song: WrittenSong, kind: str) -> Features:
    """Return the features of the sections of one kind."""
    mine = [section for section in song.sections if section.kind == kind]
    sizes = [sum(map(len, section.lines)) for section in mine]
    pairs = list(pairwise(mine))
    return {
        f"{kind}s": float(len(mine)),
        f"{kind}: bars": mean(sizes),
        f"{kind}: lines": mean(len(section.lines) for section in mine),
        f"{kind} opens at home": share(is_home(opening(s.lines[0])) for s in mine),
        f"{kind} ends at home": share(is_home(closing(s.lines[-1])) for s in mine),
        f"{kind} ends on 5": share(closing(s.lines[-1]) == "5" for s in mine),
        f"{kind} returns as long": share(_bars(a) == _bars(b) for a, b in pairs),
        f"{kind} returns the same": share(a.lines == b.lines for a, b in pairs),
        f"{kind}: chords": mean(len(_chord_set(s.lines)) for s in mine),
        f"{kind}: lines repeated": mean(1 - len(set(s.lines)) / len(s.lines) for s in mine),
        f"{kind}: split": share(len(bar) > 1 for s in mine for line in s.lines for bar in line),
    }


def _bars(section: Section) -> int:
    return sum(map(len, section.lines))


def _between_kinds(song: WrittenSong) -> Features:
    """Return how the sections of one kind stand to those of another."""
    of = {
        kind: [line for s in song.sections if s.kind == kind for line in s.lines] for kind in KINDS
    }
    sets = {kind: _chord_set(lines) for kind, lines in of.items()}
    firsts = {kind: next((s for s in song.sections if s.kind == kind), None) for kind in KINDS}
    found = {
        "chords new in the chorus": float(len(sets["chorus"] - sets["verse"]))
        if of["chorus"]
        else 0.0,
        "chords new in the bridge": float(len(sets["bridge"] - sets["verse"] - sets["chorus"])),
        "overlap of verse and chorus": _overlap(sets["verse"], sets["chorus"]),
        "chorus opens with the verse's chord": 0.0,
    }
    verse, chorus, intro = firsts["verse"], firsts["chorus"], firsts["intro"]
    if verse and chorus:
        same = opening(verse.lines[0]) == opening(chorus.lines[0])
        found["chorus opens with the verse's chord"] = float(same)
        found["chorus against verse, bars"] = _bars(chorus) / _bars(verse)
    found["intro against verse, bars"] = _bars(intro) / _bars(verse) if intro and verse else 0.0
    for kind in ("intro", "solo", "interlude", "outro", "bridge"):
        for other in ("verse", "chorus", "intro"):
            if kind != other:
                found[f"{kind} lines of the {other}"] = share(
                    line in of[other] for line in of[kind]
                )
    end = song.sections[-1]
    found["outro of four equal lines"] = float(
        end.kind == "outro" and len(end.lines) >= 4 and len(set(end.lines)) == 1
    )
    found["last section against verse, bars"] = _bars(end) / _bars(verse) if verse else 0.0
    return found
