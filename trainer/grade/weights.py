"""The weights: how much each part of an answer counts, and named schemes of weights.

A bar's credit is the weighted mean of its components. Root, quality and bass always count.
Placement counts in bars where either side changes chord inside the bar, articulation where either
side writes one, meter where the two meters differ, key change where either side changes key; a
component with nothing to hear or to write would only make the rest count less.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import NamedTuple

from trainer.errors import SettingsError

__all__ = [
    "SCHEMES",
    "WeightRow",
    "Weights",
    "weights_for",
    "weights_from",
    "weights_table",
]


@dataclass(frozen=True, slots=True)
class Weights:
    """How much each part of an answer counts. Only the ratios inside a group matter.

    Within a bar: `root`, `quality`, `bass` (together the chord), `placement`, `articulation`,
    `meter`, `key_change`. Over the chart: `bars`, `phrases`, `form`; the last two count only where
    a chart has more than one phrase or section.

    `added` (0.5 to 1) is what a bar too many takes away, in bars. At 1 it is what a bar left out
    takes away, so the alignment is the account of the answer that needs the fewest bars put right:
    four bars for four bars stand side by side unless shifting them explains more than one whole
    bar more. At half a bar or more, writing two guesses for one bar never pays. `swapped` is
    what two phrases or sections in the other order take away, in bars; the bars inside are graded
    against their own. `shared_tones` (0 to 1) is the most that a wrong chord may earn for quality;
    it is multiplied by the notes in common over all notes of both chords.
    `all_or_nothing` gives quality and bass together, and only where the chord is wholly right.
    `plain_minor` is for houses that write a plain 2, 3 or 6 for the minor chord: there the minus
    sign is not asked for on these three.
    """

    root: float = 4.0
    quality: float = 4.0
    bass: float = 2.0
    placement: float = 1.0
    articulation: float = 1.0
    meter: float = 5.0
    key_change: float = 10.0
    bars: float = 0.90
    phrases: float = 0.07
    form: float = 0.03
    added: float = 1.0
    swapped: float = 2.0
    shared_tones: float = 0.5
    all_or_nothing: bool = False
    plain_minor: bool = False

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, bool):
                continue
            low, high = RANGES.get(field.name, (0.0, 1000.0))
            if not math.isfinite(value) or not low <= value <= high:
                raise SettingsError(
                    f"weights.{field.name}", f"{value}", f"a number from {low:g} to {high:g}"
                )
        if self.chord <= 0:
            raise SettingsError(
                "weights", "root, quality and bass all 0", "at least one of them above 0"
            )

    @property
    def chord(self) -> float:
        """The weight of the chord as a whole."""
        return self.root + self.quality + self.bass


RANGES = {
    "added": (0.5, 1.0),
    "swapped": (1.0, 1000.0),
    "shared_tones": (0.0, 1.0),
    "bars": (0.01, 1000.0),
}

SCHEMES: dict[str, Weights] = {
    "standard": Weights(),
    # A chord is right or wrong; nothing for a chord that is nearly right.
    "strict": Weights(root=0.0, all_or_nothing=True, shared_tones=0.0),
    # Only where the roots are, and when they change.
    "roots": Weights(quality=0.0, bass=0.0, placement=0.0, articulation=0.0, all_or_nothing=True),
    # College Board, AP Music Theory Scoring Guidelines 2016 question 3: a chord symbol is worth one
    # point, half of it where the numeral is right and the figures are wrong or missing. The case of
    # numerals is ignored there: here the minus of a 2, 3 or 6.
    "symbols": Weights(
        root=1.0,
        quality=1.0,
        bass=0.0,
        placement=0.0,
        articulation=0.0,
        meter=0.0,
        key_change=0.0,
        bars=1.0,
        phrases=0.0,
        form=0.0,
        shared_tones=0.0,
        all_or_nothing=True,
        plain_minor=True,
    ),
}

ASKED = {
    "roots": SCHEMES["roots"],
    "chords": Weights(articulation=0.0),
    "everything": SCHEMES["standard"],
}


class WeightRow(NamedTuple):
    """A line of the table that learners see.

    `part` is a field of `Weights` (or "chord", where quality and bass are given together),
    `weight` what it weighs, `meaning` what that means in words.
    """

    part: str
    weight: float
    meaning: str


MEANINGS = {
    "root": "of a bar: the number",
    "quality": "of a bar: minor, diminished, sevenths; in part for notes in common",
    "bass": "of a bar: the lowest note, under the slash",
    "placement": "of a bar with a change inside: on which beat the chord changes",
    "articulation": "of a bar with a hold, a push or a stop: which, and on which chord",
    "meter": "of a bar of another length: how many beats it has",
    "key_change": "of a bar where the key moves: that it moves, and how far",
    "bars": "of the chart: the bars, each as above",
    "phrases": "of a chart with several phrases: where they end",
    "form": "of a chart with several sections: which, in which order",
    "added": "bars that a bar too many takes away; a bar left out takes away itself",
    "swapped": "bars that two phrases or sections in the other order take away",
}
WHOLE_CHORD = "of a bar: the chord, only where it is wholly right"


def weights_table(weights: Weights) -> tuple[WeightRow, ...]:
    """Return what counts how much, in words for learners. Parts that do not count are left out."""
    rows = [
        WeightRow(name, getattr(weights, name), meaning)
        for name, meaning in MEANINGS.items()
        if getattr(weights, name) > 0
    ]
    if weights.all_or_nothing:
        rest = weights.quality + weights.bass
        rows = [row for row in rows if row.part not in ("quality", "bass")]
        if rest:
            rows.insert(int(weights.root > 0), WeightRow("chord", rest, WHOLE_CHORD))
    if weights.plain_minor:
        rows.append(
            WeightRow("plain_minor", 1.0, "a plain 2, 3 or 6 may stand for the minor chord")
        )
    return tuple(rows)


def weights_for(ask: str) -> Weights:
    """Return the weights for what an exercise asks: "roots", "chords" or "everything".

    Raises SettingsError for anything else.
    """
    if ask not in ASKED:
        raise SettingsError("ask", repr(ask), "one of " + ", ".join(ASKED))
    return ASKED[ask]


def weights_from(settings: dict[str, object]) -> Weights:
    """Return weights from plain settings, such as a table in a TOML file.

    `scheme` names the starting point (default "standard"); any field of `Weights` changes it.
    Raises SettingsError naming the key and what is allowed.
    """
    rest = dict(settings)
    name = rest.pop("scheme", "standard")
    if not isinstance(name, str) or name not in SCHEMES:
        raise SettingsError("weights.scheme", repr(name), "one of " + ", ".join(SCHEMES))
    base = {field.name: getattr(SCHEMES[name], field.name) for field in fields(Weights)}
    for key, value in rest.items():
        if key not in base:
            raise SettingsError("weights", f"unknown key {key!r}", "scheme, " + ", ".join(base))
        kind = "true or false" if isinstance(base[key], bool) else "a number"
        right = isinstance(value, bool) == isinstance(base[key], bool)
        if not right or not isinstance(value, bool | int | float):
            raise SettingsError(f"weights.{key}", repr(value), kind)
        base[key] = value
    return Weights(**base)
