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
    "ROUNDING",
    "SCHEMES",
    "WeightRow",
    "Weights",
    "weights_for",
    "weights_from",
    "weights_table",
]


# By so much, in bars or as a share, sums of the same fractions may differ: it is nothing.
ROUNDING = 1e-9
# A swap of up to this many bars takes away `Weights.swapped`; a longer swap takes away more.
BARS_OF_A_SWAP = 20


@dataclass(frozen=True, slots=True)
class Weights:
    """How much each part of an answer counts. Only the ratios inside a group matter.

    Within a bar: `root`, `quality`, `bass` (together the chord), `placement`, `articulation`,
    `meter`, `key_change`. Over the chart: `bars`, `phrases`, `form`; the last two count only where
    a chart has more than one phrase or section.

    A wrong chord (0 to 1, credit of the whole chord): `nearly_same` for another chord on the same
    bass with the same notes but one more or less, `one_note_off` where one of the notes is another,
    `related` for another chord that shares at least half
    of the notes; in other cases `shared_tones` is the most that it may earn for quality, multiplied
    by the notes in common over all notes of both chords. `all_or_nothing` gives quality and bass
    together, and only if the whole chord is right, and neither of these. `plain_minor` is for
    houses that write a plain 2, 3 or 6 for the minor chord: there the minus sign is not asked for
    on these three. `slip` is the most that one slip made throughout takes away (the same chord
    written for the same chord, of those that are easily confused), in losses of one bar.

    What is done to whole bars, in bars: a bar left out takes away 1, a bar too many `added` (0.5 to
    1), or `repeated` where a whole phrase or section is written again; two bars written as one, or
    one as two, take away `split`. `moved` is taken for each bar left out that a bar too many makes
    good elsewhere, and again where both are in one phrase: equal numbers of bars are taken bar for
    bar unless shifting them is clearly better. `lost_place` is taken for each
    further place where bars are left out, and for each end of a lost stretch of three bars or more
    that is not the end of a phrase, so that a chart is not scattered over a song.
    `swapped` is for two phrases or sections in the other order, or a twentieth of it for each bar
    in them if that is more; the bars inside are graded against their own.

    What an answer keeps that is right in another way (0 to 1, of the bars it is about):
    `other_count` where two bars are written for one or one for two, `other_home` where it is
    counted from another 1, `relative_home` where a minor song is counted from its relative major or
    the other way, `key_sign` where a key change is counted but its sign is not written,
    `other_pulse` where the meter has another name with as many pulses, and `other_meter` where it
    is another meter throughout.
    """

    root: float = 4.0
    quality: float = 4.0
    bass: float = 2.0
    placement: float = 2.0
    articulation: float = 4.3
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
    nearly_same: float = 0.9
    one_note_off: float = 0.6
    related: float = 0.25
    slip: float = 1.5
    repeated: float = 0.5
    split: float = 0.75
    moved: float = 0.5
    lost_place: float = 0.25
    other_count: float = 0.52
    other_home: float = 0.47
    relative_home: float = 0.88
    key_sign: float = 0.55
    other_pulse: float = 0.97
    other_meter: float = 0.8

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

    def __hash__(self) -> int:
        # Some of the numbers tell most weights apart; all of them would take long.
        return hash((self.root, self.quality, self.bass, self.placement, self.phrases))

    def swap_of(self, bars: int) -> float:
        """Return what swapping two phrases or sections of `bars` bars takes away, in bars."""
        return self.swapped * max(1.0, bars / BARS_OF_A_SWAP)

    @property
    def chord(self) -> float:
        """The weight of the chord as a whole."""
        return self.root + self.quality + self.bass


RANGES = {
    "added": (0.5, 1.0),
    "swapped": (1.0, 1000.0),
    "shared_tones": (0.0, 1.0),
    "bars": (0.01, 1000.0),
    "slip": (1.0, 1000.0),
    "repeated": (0.1, 1.0),
    "split": (0.1, 1.0),
    "moved": (0.0, 10.0),
    "lost_place": (0.0, 10.0),
}
RANGES |= dict.fromkeys(
    (
        "nearly_same",
        "one_note_off",
        "related",
        "other_count",
        "other_home",
        "relative_home",
        "key_sign",
        "other_pulse",
        "other_meter",
    ),
    (0.0, 1.0),
)

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
        slip=1000.0,
        repeated=1.0,
        split=1.0,
        moved=0.0,
        lost_place=0.0,
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
    "root": "in every bar: the number",
    "quality": "in every bar: minor, diminished, sevenths; part of it for notes in common",
    "bass": "in every bar: the lowest note, after the slash",
    "placement": "in a split bar: the beat each chord comes on",
    "articulation": "in a bar with a hold, push or choke: which one, and on which chord",
    "meter": "in a bar of another length: how many beats it has",
    "key_change": "in a bar where the key moves: that it moves, and how far",
    "bars": "in the whole chart: the bars, each scored as above",
    "phrases": "in a chart with several phrases: where they end",
    "form": "in a chart with several sections: which ones, in which order",
    "nearly_same": "share of the chord you keep: another chord on the same bass, one note more or "
    "less",
    "one_note_off": "share of the chord you keep: another chord on the same bass, one note changed",
    "related": "share of the chord you keep: another chord with at least half of the notes",
    "shared_tones": "share of the quality you keep when the notes differ, times the share of notes "
    "in common",
    "slip": "times its usual cost: the most you lose for making one mistake all through the song "
    "(your costliest one); three times that for a hold, push or choke",
    "added": "bars you lose for an extra bar; a bar you leave out costs just that bar",
    "repeated": "share of its bars you lose for writing a phrase or section again",
    "split": "bars you lose for writing a split bar as two bars, or two bars as one",
    "moved": "more bars you lose when an extra bar elsewhere makes up for one you left out",
    "lost_place": "more bars you lose for each further place where you left bars out, and for each "
    "end of a lost stretch that isn't the end of a phrase",
    "swapped": "bars you lose for swapping two phrases or sections; from 20 bars on, a twentieth "
    "of it for each bar",
    "other_count": "share of the bars you keep: all right, but counted double or half",
    "other_home": "share of the bars you keep: all right, but counted from another 1",
    "relative_home": "share of the bars you keep: all right, but counted from the relative major "
    "or minor",
    "key_sign": "share you keep of the bars in a new key that you didn't mark; you lose half as "
    "much if you marked another interval",
    "other_pulse": "share of the bars you keep: all right, in another meter with the same pulse",
    "other_meter": "share of the bars you keep: all right, but the whole chart in another meter",
}
WHOLE_CHORD = "in every bar: the chord, only if all of it is right"


def weights_table(weights: Weights) -> tuple[WeightRow, ...]:
    """Return the weight of each part, in words for learners, without parts that do not count."""
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
        rows.append(WeightRow("plain_minor", 1.0, "a plain 2, 3 or 6 may mean the minor chord"))
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
