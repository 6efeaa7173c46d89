"""From graded bars to evidence: for each skill of a bar, how right the part was that it is about.

====================  ===========================================================
skill                 its credit in a bar, 0 to 1
====================  ===========================================================
chord                 that chord's root (half) and quality (half)
extension             that chord was written with the extension, over the right root
bass                  that chord was written over the right bass
no chord              the silence was written
even, uneven split    placement
hold, push, choke      articulation
short, long bar,      meter
meter
key change            key change
odd phrase            the answer has a phrase of just these bars
section start         a section starts here in the answer too
minor home, away      the answer was not counted from another home
opening, relative home
pickup                meter
feel                  the bar's score: it is heard in all of it
twelve-bar form,      the bar's score
vamp
tag                   the bar's score, half of it where no section starts with the tag
changed return        1 for a bar that is entirely right, else half its score; less a share for each
                      bar of the section that was left out or added: as many as changed take all
====================  ===========================================================

What a bar is worth may depend on its neighbours, so `attempt_credits` takes all bars of an attempt.
A bar left out has credit 0 for each of its skills but meter, feel and home, which one bar cannot
show. What was not asked is no evidence: qualities and articulations when roots are asked,
articulations when chords are. Where the answer was counted from another home, throughout or in some
bars, the chords, extensions and basses there say nothing about hearing them.

The weights of the credits are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from trainer.practice.catalogue import kind_of, name_of
from trainer.practice.graded import GradedBar
from trainer.practice.situation import Situation, bar_features

__all__ = [
    "WHOLLY_RIGHT",
    "BarEvidence",
    "Evidence",
    "attempt_credits",
    "gather",
    "is_added",
    "is_asked",
    "sections_of",
]

CHORD_NAME = re.compile(
    r"(?P<root>[b#]?[1-7])(?P<quality>[-o+ø]?)(?:\^(?P<extension>[^/]+))?(?:/(?P<bass>[b#]?[1-7]))?"
)
_DEGREES = dict(zip("1234567", (0, 2, 4, 5, 7, 9, 11), strict=True))
WHOLLY_RIGHT = 1 - 1e-9
_FROM_HOME = frozenset(("chord", "extension", "bass"))
# The kinds of home shifts that are about the whole answer, and those about the bars of a part whose
# numbers are moved. With a missing or wrong key sign the numbers themselves are right.
_WHOLLY_FROM_HOME = frozenset(("relative major", "own minor 1", "another home"))
_PARTLY_FROM_HOME = frozenset(
    (
        "section from another home",
        "numbers of the old key",
        "key change not written",
        "key change not played",
        "key change elsewhere",
    )
)
_HOMES = frozenset(("minor home", "away opening", "relative home"))
_BEYOND_ONE_BAR = frozenset(("meter", "feel")) | _HOMES
_COMPONENTS = {
    "even split": "placement",
    "uneven split": "placement",
    "hold": "articulation",
    "push": "articulation",
    "choke": "articulation",
    "short bar": "meter",
    "long bar": "meter",
    "meter": "meter",
    "key change": "key_change",
    "odd phrase": "phrase_end",
    "section start": "section_start",
    "feel": "score",
    "tag": "score",
    "changed return": "score",
    "twelve-bar form": "score",
    "vamp": "score",
    "pickup": "meter",
}
# Skills that are about the same part of a bar: what is wrong there may be about another of them.
_ARTICULATIONS, _LENGTHS = (
    frozenset(("hold", "push", "choke")),
    frozenset(("short bar", "long bar")),
)
_SAME_PART = dict.fromkeys(_ARTICULATIONS, _ARTICULATIONS) | dict.fromkeys(_LENGTHS, _LENGTHS)
_NOT_ASKED = {
    "roots": frozenset(
        ("extension", "bass", "even split", "uneven split", "hold", "push", "choke")
    ),
    "chords": frozenset(("hold", "push", "choke")),
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
    graded = tuple(bars)
    for bar, shown in zip(graded, attempt_credits(graded, ask, home_shift), strict=True):
        if shown:
            features = bar_features(frozenset(bar.skills), situation)
            found.append(BarEvidence(features, tuple(sorted(shown.items()))))
    return Evidence(at, tuple(found))


def attempt_credits(
    bars: Sequence[GradedBar], ask: str = "everything", home_shift: str | None = None
) -> tuple[dict[str, float], ...]:
    """The credit of each skill that a bar is evidence for, for each bar of an attempt in order."""
    found = tuple(_bar_credits(bar, ask, home_shift) for bar in bars)
    for section in sections_of(bars):
        _rate_tag(bars, found, section)
        _rate_return(bars, found, section)
    whole_before = True
    for phrase in _stretches(bars, "phrase_end", opens=False):
        last = phrase[-1]
        is_whole = bars[last].phrase_end == 1 and all(
            bars[at].reference is not None and not bars[at].is_missing for at in phrase
        )
        if "odd phrase" in found[last]:
            found[last]["odd phrase"] = float(is_whole and whole_before)
        whole_before = bars[last].phrase_end == 1
    return found


def is_asked(skill: str, ask: str, home_shift: str | None) -> bool:
    """Whether an answer to what `ask` names can show a skill; one counted from another home
    throughout shows nothing of chords."""
    kind = kind_of(skill)
    asked = kind not in _NOT_ASKED.get(ask, frozenset())
    return asked and (home_shift not in _WHOLLY_FROM_HOME or kind not in _FROM_HOME)


def is_added(skill: str, bar: GradedBar) -> bool:
    """Whether the answer has a skill in a bar of the song that has it not.

    It tells slashes and extensions by the chord, and splits, articulations, bar lengths and key
    changes by the part of the bar that they are about; of other skills it says no.
    """
    if bar.reference is None or bar.answer is None or skill in bar.skills:
        return False
    kind, name = kind_of(skill), name_of(skill)
    if kind in ("bass", "extension"):
        return any(_is_about(kind, name, chord) for chord in bar.written)
    if kind in ("even split", "uneven split"):
        return len(bar.written) > 1 and len(bar.played) == 1
    if kind in ("hold", "push", "choke", "short bar", "long bar", "key change"):
        others = _SAME_PART.get(kind, frozenset()) & frozenset(bar.skills)
        return getattr(bar, _COMPONENTS[kind]) == 0 and not others
    return False


def sections_of(bars: Sequence[GradedBar]) -> Iterator[list[int]]:
    """The bars of each section of the song, as positions in `bars`; those added after its last bar
    are with it."""
    return _stretches(bars, "section_start", opens=True)


def _stretches(bars: Sequence[GradedBar], boundary: str, *, opens: bool) -> Iterator[list[int]]:
    """The bars of an attempt in sections or phrases of the song, each as a list of positions.

    `boundary` names the field that is None but where the song has a boundary; `opens` says that it
    stands at the first bar of a stretch, not at the last. Bars that were added before a boundary
    belong to the stretch before a section, and to the phrase that they lengthen.
    """
    stretch: list[int] = []
    for at, bar in enumerate(bars):
        is_boundary = getattr(bar, boundary) is not None
        if opens and is_boundary and stretch:
            yield stretch
            stretch = []
        stretch.append(at)
        if not opens and is_boundary:
            yield stretch
            stretch = []
    if stretch:
        yield stretch


def _rate_tag(
    bars: Sequence[GradedBar], found: Sequence[dict[str, float]], section: Sequence[int]
) -> None:
    """Halve the credits of a tag that was not given its own name."""
    start = next((bars[at].section_start for at in section if bars[at].reference is not None), None)
    for at in section:
        if "tag" in found[at] and start == 0:
            found[at]["tag"] /= 2


def _rate_return(
    bars: Sequence[GradedBar], found: Sequence[dict[str, float]], section: Sequence[int]
) -> None:
    """Halve the credits of bars that are not entirely right, for much of a bar may be as it was the
    last time, and take off what the length of the section was missed by."""
    changed = [at for at in section if "changed return" in found[at]]
    missed = sum(bars[at].reference is None or bars[at].is_missing for at in section)
    for at in changed:
        half = 1 if found[at]["changed return"] >= WHOLLY_RIGHT else 2
        found[at]["changed return"] *= max(0.0, 1 - missed / len(changed)) / half


def _bar_credits(bar: GradedBar, ask: str, home_shift: str | None) -> dict[str, float]:
    """The credit of each skill that a bar is evidence for, by itself."""
    found: dict[str, float] = {}
    for skill in bar.skills:
        kind = kind_of(skill)
        if not is_asked(skill, ask, home_shift):
            continue
        if kind in _FROM_HOME and home_shift in _PARTLY_FROM_HOME and _is_from_home(bar):
            continue
        if bar.is_missing and kind in _BEYOND_ONE_BAR:
            continue
        credit = 0.0 if bar.is_missing else _credit(bar, kind, skill, ask, home_shift)
        if credit is not None:
            found[skill] = credit
    return found


def _is_from_home(bar: GradedBar) -> bool:
    """Whether a bar of an answer that is counted from another home in part is counted so.

    Its chords are right as it is read, and their roots have lost credit all the same.
    """
    return not bar.confusions and bar.root is not None and 0 < bar.root < 1


def _credit(
    bar: GradedBar, kind: str, skill: str, ask: str, home_shift: str | None
) -> float | None:
    """The credit of one skill in a bar that was answered; None if the bar cannot tell."""
    if kind in _HOMES:
        return 0.0 if home_shift in _WHOLLY_FROM_HOME else 1.0
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
