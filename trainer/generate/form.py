"""Form: which sections come in which order, of how many phrases, of what form and lengths."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from trainer.generate.dice import Wheel, chance, draw, scatter
from trainer.generate.settings import Settings
from trainer.generate.styles import Style
from trainer.generate.tables import table

__all__ = [
    "LETTERS",
    "Material",
    "Part",
    "draw_lengths",
    "draw_material",
    "draw_order",
    "name_parts",
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
# Repeats of a loop that nobody would write out as an intro or outro are left off.
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
# A section of more different phrases than this is not remembered as one.
MOST_LETTERS = 3


@dataclass(slots=True)
class Material:
    """What a section is made of: a letter a phrase ("A", "B", "A'"), a length in bars a letter."""

    kind: str
    letters: list[str]
    lengths: dict[str, int] = field(default_factory=dict)
    copies: int = 1
    source: str = ""


@dataclass(slots=True)
class Part:
    """A section of the song: its name, kind and how many of its kind came before."""

    name: str
    kind: str
    turn: int


@cache
def _orders() -> Wheel[str]:
    """Orders of sections, as letters.

    The tables had to leave out more of the long orders than of the short; the weight makes up.
    """
    return Wheel((order, n * len(order) ** 2) for order, n in table("form")["orders"].items())


def draw_order(rng: random.Random, style: Style) -> list[str]:
    """Kinds of the sections of a song: one of the style's own orders, or one of the tables'."""
    if style.forms and chance(rng, style.form_share):
        letters = draw(rng, style.forms).replace(" ", "")
    else:
        letters = _orders().spin(rng)
    return [LETTERS[letter] for letter in letters]


def name_parts(order: Sequence[str]) -> list[Part]:
    """Name sections as on a sheet: verses are numbered where there are several."""
    parts, seen = [], dict.fromkeys(LETTERS.values(), 0)
    for kind in order:
        name = NAMES.get(kind, kind.title())
        if kind == "verse" and order.count("verse") > 1:
            name += f" {seen[kind] + 1}"
        parts.append(Part(name, kind, seen[kind]))
        seen[kind] += 1
    return parts


@cache
def _phrase_counts(kind: str) -> Wheel[int]:
    counts = table("form")["phrases"][kind]
    least, most = 1 if kind in SHORT else 2, MOST_PHRASES.get(kind, 6)
    return Wheel((int(name), n) for name, n in counts.items() if least <= int(name) <= most)


@cache
def _forms(kind: str, count: int) -> Wheel[str]:
    forms = table("form")["forms"]
    rows = forms.get(f"{kind} {count}") or forms[f"verse {count}"]
    return Wheel((form, n) for form, n in rows.items() if _different(form) <= MOST_LETTERS)


def _different(form: str) -> int:
    """How many different phrases a form has, those that begin alike counted once."""
    return len({letter.rstrip("'") for letter in form.split(" ")})


def draw_material(rng: random.Random, kind: str, count: int = 0) -> Material:
    """Number of phrases (or `count`) and their letters."""
    count = count or _phrase_counts(kind).spin(rng)
    letters = _forms(kind, count).spin(rng).split() if count > 1 else ["A"]
    return Material(kind, letters)


def _odd_row(kind: str, place: str) -> dict[str, int]:
    lengths = table("form")["lengths"]
    row: dict[str, int] = lengths.get(f"{kind} {place}") or lengths[f"verse {place}"]
    return row


def _place(at: int, count: int) -> str:
    if count == 1:
        return "only"
    return "first" if at == 0 else "last" if at == count - 1 else "inner"


class _Slot(NamedTuple):
    """A letter of a material that gets a length."""

    material: Material
    letter: str
    place: str

    @property
    def copies(self) -> int:
        """How often the phrase is heard in the song."""
        return self.material.copies * self.material.letters.count(self.letter)


def _slots(materials: Sequence[Material]) -> list[_Slot]:
    found = []
    for material in materials:
        letters = material.letters
        for letter in dict.fromkeys(letters):
            at = len(letters) - 1 - letters[::-1].index(letter)
            found.append(_Slot(material, letter, _place(at, len(letters))))
    return found


def draw_lengths(rng: random.Random, settings: Settings, materials: Sequence[Material]) -> None:
    """Give every letter its length: `phrase_bars`, or odd as often as asked over the whole song."""
    slots = _slots(materials)
    for slot in slots:
        slot.material.lengths[slot.letter] = settings.phrase_bars
    choices = [_odd_lengths(settings, slot) for slot in slots]
    weights = [
        1 - _usual_share(slot) if lengths else 0.0
        for slot, lengths in zip(slots, choices, strict=True)
    ]
    copies = [slot.copies for slot in slots]
    expected = settings.features.odd_phrases * sum(copies)
    for at in scatter(rng, weights, copies, expected):
        slots[at].material.lengths[slots[at].letter] = draw(rng, choices[at])
    for material in materials:
        if material.kind in SUNG:
            _fill_out(material, settings.phrase_bars)


def _fill_out(material: Material, usual: int) -> None:
    """Lengthen short phrases until a section of several has two usual phrases' worth of bars."""
    lengths = material.lengths
    while len(material.letters) > 1 and (
        sum(lengths[letter] for letter in material.letters) < 2 * usual
    ):
        shortest = min(lengths, key=lambda letter: lengths[letter])
        lengths[shortest] = usual


def _usual_share(slot: _Slot) -> float:
    """Share of phrases in such a place that have four bars."""
    row = _odd_row(slot.material.kind, slot.place)
    return row.get("4", 0) / sum(row.values())


def _odd_lengths(settings: Settings, slot: _Slot) -> dict[int, float]:
    """The lengths other than the usual one that a phrase may have, with weights."""
    usual = settings.phrase_bars
    row = _odd_row(slot.material.kind, slot.place)
    weighted: dict[int, float] = {}
    for length in settings.odd_lengths:
        if length == usual or not _long_enough(slot, length, usual):
            continue
        if settings.variety and usual == 4:
            # Short phrases are kept to few places; there they make up for the others.
            scale = {1: 24.0, 2: 1.6, 5: 0.4}.get(length, 0.75)
            weighted[length] = row.get(str(length), 0) * scale + 0.1
        else:
            weighted[length] = 1 / abs(length - usual)
    return weighted


def _long_enough(slot: _Slot, length: int, usual: int) -> bool:
    """Whether a section stays one: a bar alone only ends it, and it keeps two usual phrases.

    What leads into a verse has no odd bar, or nobody would know where to come in.
    """
    letters = slot.material.letters
    times = letters.count(slot.letter)
    if length == 1 and (times > 1 or slot.place != "last"):
        return False
    if slot.material.kind in COUNTED_IN and usual % 2 == 0:
        return length % 2 == 0
    if slot.material.kind == "outro" and usual % 2 == 0:
        return length % 2 == 0 or length == 1
    if length >= usual:
        return True
    least = 2 if slot.material.kind in SUNG else 1 if slot.material.kind == "pre-chorus" else 0
    return length * times + usual * (len(letters) - times) >= least * usual
