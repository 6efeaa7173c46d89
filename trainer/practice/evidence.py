"""From graded bars to evidence: for each skill of a bar, how right the part was that it is about.

====================  ===========================================================
skill                 its credit in a bar, 0 to 1
====================  ===========================================================
chord                 that chord's root (half) and quality (half)
extension             that chord was written with the extension, over the right root
bass                  that chord was written over the right bass
no chord              the silence was written
even, uneven split    placement
hold, push, stop      articulation
short, long bar,      meter
meter
key change            key change
odd phrase            a phrase ends here in the answer too
section start         a section starts here in the answer too
minor home            the answer was not counted from another home
feel, tag, changed    the bar's score: they are heard in all of it
return
====================  ===========================================================

A bar left out has credit 0 for each of its skills but meter, feel and home, which one bar cannot
show. What was not asked is no evidence: qualities and articulations when roots are asked,
articulations when chords are. Where the whole answer was counted from another home, its chords,
extensions and basses say nothing about hearing them.

The weights of the credits are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from trainer.practice.catalogue import kind_of, name_of
from trainer.practice.graded import GradedBar
from trainer.practice.situation import Situation, bar_features

__all__ = ["BarEvidence", "Evidence", "bar_credits", "gather"]

CHORD_NAME = re.compile(
    r"(?P<root>[b#]?[1-7])(?P<quality>[-o+h]?)(?:\^(?P<extension>[^/]+))?(?:/(?P<bass>[b#]?[1-7]))?"
)
_DEGREES = dict(zip("1234567", (0, 2, 4, 5, 7, 9, 11), strict=True))
_FROM_HOME = frozenset(("chord", "extension", "bass"))
_BEYOND_ONE_BAR = frozenset(("meter", "feel", "minor home"))
_COMPONENTS = {
    "even split": "placement",
    "uneven split": "placement",
    "hold": "articulation",
    "push": "articulation",
    "stop": "articulation",
    "short bar": "meter",
    "long bar": "meter",
    "meter": "meter",
    "key change": "key_change",
    "odd phrase": "phrase_end",
    "section start": "section_start",
    "feel": "score",
    "tag": "score",
    "changed return": "score",
}
_NOT_ASKED = {
    "roots": frozenset(("extension", "bass", "even split", "uneven split", "hold", "push", "stop")),
    "chords": frozenset(("hold", "push", "stop")),
    "everything": frozenset[str](),
}


class BarEvidence(NamedTuple):
    """What one bar shows: its features (`situation.FEATURES`) and (skill, credit) pairs."""

    features: tuple[float, ...]
    shown: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Evidence:
    """What one attempt shows, finished at `at` (aware, UTC)."""

    at: datetime
    bars: tuple[BarEvidence, ...]


def gather(
    bars: Iterable[GradedBar],
    situation: Situation,
    at: datetime,
    *,
    ask: str = "everything",
    home_shift: str | None = None,
) -> Evidence:
    """The evidence of an attempt; bars that show nothing are left out.

    `home_shift` is the kind of the report's home shift, None without one.
    """
    found = []
    for bar in bars:
        shown = bar_credits(bar, ask, home_shift)
        if shown:
            features = bar_features(frozenset(bar.skills), situation)
            found.append(BarEvidence(features, tuple(sorted(shown.items()))))
    return Evidence(at, tuple(found))


def bar_credits(
    bar: GradedBar, ask: str = "everything", home_shift: str | None = None
) -> dict[str, float]:
    """The credit of each skill that a bar is evidence for."""
    passed_over = _NOT_ASKED.get(ask, frozenset())
    found: dict[str, float] = {}
    for skill in bar.skills:
        kind = kind_of(skill)
        if kind in passed_over or (home_shift is not None and kind in _FROM_HOME):
            continue
        if bar.answer is None and kind in _BEYOND_ONE_BAR:
            continue
        credit = 0.0 if bar.answer is None else _credit(bar, kind, skill, ask, home_shift)
        if credit is not None:
            found[skill] = credit
    return found


def _credit(
    bar: GradedBar, kind: str, skill: str, ask: str, home_shift: str | None
) -> float | None:
    """The credit of one skill in a bar that was answered; None where the bar cannot tell."""
    if kind == "minor home":
        return 0.0 if home_shift in ("relative major", "own minor 1", "another home") else 1.0
    if kind in _COMPONENTS:
        value: float | None = getattr(bar, _COMPONENTS[kind])
        return value
    pairs = [pair for pair in bar.confusions if _is_about(kind, name_of(skill), pair[0])]
    if not pairs:
        return 1.0
    return sum(_pair_credit(kind, name_of(skill), pair, ask) for pair in pairs) / len(pairs)


@lru_cache(maxsize=4096)
def _read(name: str) -> Mapping[str, str | None]:
    """A chord's name in its parts; all None for silence."""
    match = CHORD_NAME.fullmatch(name)
    return match.groupdict() if match else dict.fromkeys(("root", "quality", "extension", "bass"))


def _is_about(kind: str, name: str, played: str) -> bool:
    """Whether a chord that was played has the skill."""
    parts = _read(played)
    plain = f"{parts['root']}{parts['quality']}"
    match kind:
        case "chord":
            return plain == name
        case "extension":
            return parts["extension"] == name
        case "bass":
            return f"{plain}/{parts['bass']}" == name
    return parts["root"] is None


def _pair_credit(kind: str, name: str, pair: tuple[str, str], ask: str) -> float:
    """The credit for one chord that was written as another."""
    played, written = map(_read, pair)
    if played["root"] is None or written["root"] is None:
        return float(played["root"] == written["root"])
    same_root = _semitones(played["root"]) == _semitones(written["root"])
    match kind:
        case "extension":
            return float(same_root and written["extension"] == name)
        case "bass":
            bass = written["bass"] or written["root"]
            return float(_semitones(played["bass"] or played["root"]) == _semitones(bass))
    if ask == "roots":
        return float(same_root)
    return 0.5 * same_root + 0.5 * (same_root and played["quality"] == written["quality"])


def _semitones(degree: str) -> int:
    """The pitch class of a degree counted from the 1."""
    return (_DEGREES[degree[-1]] + degree.count("#") - degree.count("b")) % 12
