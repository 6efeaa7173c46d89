"""Form: the order of the sections, and the number, likeness and lengths of their phrases."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from trainer.generate.settings import Settings
from trainer.generate.styles import Style
from trainer.generate.tables import table
from trainer.generate.weighted_choice import WeightedChoice, choose, happens, poisson_sample

__all__ = [
    "LETTERS",
    "SectionPlan",
    "draw_lengths",
    "draw_section_order",
    "draw_section_plan",
    "name_sections",
]

LETTERS = {
    "I": "intro",
    "V": "verse",
    "P": "pre-chorus",
    "C": "chorus",
    "B": "bridge",
    "S": "solo",
    "N": "interlude",
    "T": "turnaround",
    "O": "outro",
}
NAMES = {"pre-chorus": "Pre-Chorus"}
# Longer intros and outros in the tables are loops that nobody would write out.
MOST_PHRASES = {
    "intro": 4,
    "interlude": 4,
    "turnaround": 2,
    "outro": 4,
    "pre-chorus": 3,
    "bridge": 4,
}
COUNTED_IN = ("intro", "turnaround", "interlude")
SHORT = (*COUNTED_IN, "pre-chorus", "bridge", "solo")
SUNG = ("verse", "chorus", "bridge", "solo")
# The most different phrases in a section: with more it is not heard as one.
MOST_LETTERS = 3


@dataclass(slots=True)
class SectionPlan:
    """The plan of all sections of a kind.

    `letters` has one letter for each phrase ("A", "B", "A'"): equal letters are the same phrase,
    a letter with a stroke begins alike. `lengths` has the number of bars for each letter; `copies`
    is how often a section of this plan is played.
    """

    kind: str
    letters: list[str]
    lengths: dict[str, int] = field(default_factory=dict)
    copies: int = 1


@cache
def _orders() -> WeightedChoice[str]:
    """Orders of sections as letters, weighted.

    The tables leave out more of the long orders than of the short ones; the weight corrects that.
    """
    return WeightedChoice(
        (order, n * len(order) ** 2) for order, n in table("form")["orders"].items()
    )


def draw_section_order(rng: random.Random, style: Style) -> list[str]:
    """The kinds of a song's sections in order, from the style's own orders or those of the
    tables."""
    if style.forms and happens(rng, style.form_share):
        letters = choose(rng, style.forms).replace(" ", "")
    else:
        letters = _orders().choose(rng)
    return [LETTERS[letter] for letter in letters]


def name_sections(order: Sequence[str]) -> list[str]:
    """The names of sections by their kinds; verses are numbered where there are several."""
    names, verses = [], 0
    for kind in order:
        name = NAMES.get(kind, kind.title())
        if kind == "verse" and order.count("verse") > 1:
            verses += 1
            name += f" {verses}"
        names.append(name)
    return names


@cache
def _phrase_counts(kind: str) -> WeightedChoice[int]:
    counts = table("form")["phrases"][kind]
    least, most = 1 if kind in SHORT else 2, MOST_PHRASES.get(kind, 6)
    return WeightedChoice(
        (int(name), n) for name, n in counts.items() if least <= int(name) <= most
    )


@cache
def _forms(kind: str, count: int) -> WeightedChoice[str]:
    forms = table("form")["forms"]
    rows = forms.get(f"{kind} {count}") or forms[f"verse {count}"]
    return WeightedChoice((form, n) for form, n in rows.items() if _different(form) <= MOST_LETTERS)


def _different(form: str) -> int:
    """The number of different phrases in a form; those that begin alike count once."""
    return len({letter.rstrip("'") for letter in form.split(" ")})


def draw_section_plan(rng: random.Random, kind: str, count: int = 0) -> SectionPlan:
    """Draw the number of phrases of a kind of section (unless `count` gives it) and their
    letters."""
    count = count or _phrase_counts(kind).choose(rng)
    letters = _forms(kind, count).choose(rng).split() if count > 1 else ["A"]
    return SectionPlan(kind, letters)


def _odd_row(kind: str, place: str) -> dict[str, int]:
    lengths = table("form")["lengths"]
    row: dict[str, int] = lengths.get(f"{kind} {place}") or lengths[f"verse {place}"]
    return row


def _place(at: int, count: int) -> str:
    if count == 1:
        return "only"
    return "first" if at == 0 else "last" if at == count - 1 else "inner"


class _Slot(NamedTuple):
    """A letter of a plan that gets a length, and its place in the section."""

    plan: SectionPlan
    letter: str
    place: str

    @property
    def copies(self) -> int:
        """How often the phrase is played in the song."""
        return self.plan.copies * self.plan.letters.count(self.letter)


def _slots(plans: Sequence[SectionPlan]) -> list[_Slot]:
    found = []
    for plan in plans:
        letters = plan.letters
        for letter in dict.fromkeys(letters):
            at = len(letters) - 1 - letters[::-1].index(letter)
            found.append(_Slot(plan, letter, _place(at, len(letters))))
    return found


def draw_lengths(rng: random.Random, settings: Settings, plans: Sequence[SectionPlan]) -> None:
    """Set the length of every letter: `phrase_bars`, or an odd one at the rate that is asked
    for."""
    slots = _slots(plans)
    for slot in slots:
        slot.plan.lengths[slot.letter] = settings.phrase_bars
    choices = [_odd_lengths(settings, slot) for slot in slots]
    weights = [
        1 - _usual_share(slot) if lengths else 0.0
        for slot, lengths in zip(slots, choices, strict=True)
    ]
    copies = [slot.copies for slot in slots]
    expected = settings.features.odd_phrases * sum(copies)
    for at in poisson_sample(rng, weights, copies, expected):
        slots[at].plan.lengths[slots[at].letter] = choose(rng, choices[at])
    for plan in plans:
        if plan.kind in SUNG:
            _fill_out(plan, settings.phrase_bars)


def _fill_out(plan: SectionPlan, usual: int) -> None:
    """Lengthen the shortest phrases until a section of several has as many bars as two usual
    ones."""
    lengths = plan.lengths
    while len(plan.letters) > 1 and (sum(lengths[letter] for letter in plan.letters) < 2 * usual):
        shortest = min(lengths, key=lambda letter: lengths[letter])
        lengths[shortest] = usual


def _usual_share(slot: _Slot) -> float:
    """The share of phrases in such a place that have four bars."""
    row = _odd_row(slot.plan.kind, slot.place)
    return row.get("4", 0) / sum(row.values())


def _odd_lengths(settings: Settings, slot: _Slot) -> dict[int, float]:
    """The odd lengths that a phrase may have, with weights."""
    usual = settings.phrase_bars
    row = _odd_row(slot.plan.kind, slot.place)
    weighted: dict[int, float] = {}
    for length in settings.odd_lengths:
        if length == usual or not _long_enough(slot, length, usual):
            continue
        if settings.variety and usual == 4:
            # Short phrases are allowed in few places; higher weights there make up for the others.
            scale = {1: 24.0, 2: 1.6, 5: 0.4}.get(length, 0.75)
            weighted[length] = row.get(str(length), 0) * scale + 0.1
        else:
            weighted[length] = 1 / abs(length - usual)
    return weighted


def _long_enough(slot: _Slot, length: int, usual: int) -> bool:
    """Whether a phrase of this length leaves its section long enough.

    A phrase of one bar only ends a section, and a sung section keeps the bars of two usual phrases.
    A section that leads into a verse has an even number of bars, so that singers know where to come
    in.
    """
    letters = slot.plan.letters
    times = letters.count(slot.letter)
    if length == 1 and (times > 1 or slot.place != "last"):
        return False
    if slot.plan.kind in COUNTED_IN and usual % 2 == 0:
        return length % 2 == 0
    if slot.plan.kind == "outro" and usual % 2 == 0:
        return length % 2 == 0 or length == 1
    if length >= usual:
        return True
    least = 2 if slot.plan.kind in SUNG else 1 if slot.plan.kind == "pre-chorus" else 0
    return length * times + usual * (len(letters) - times) >= least * usual
