"""Songs from plans: a plan says how a song is built, a world which chords it mixes.

The chords of the world are assigned to the numbers of the plan (`assign`). Lines that vary an
earlier line keep its chords. A line that would make a long run as in the plan's source takes others
(`other_chords`).
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from trainer.chart import Meter
from trainer.generate.assign import Assignment
from trainer.generate.harmony import mode_name
from trainer.generate.other_chords import Place, any_chord, copied_bars, other_chords, walks_of
from trainer.generate.plans import QUARTERS, SILENT, BarPlan, Plan, World, line_mark
from trainer.generate.sketch import BarSketch, PhraseSketch, SectionSketch
from trainer.generate.tables import table
from trainer.generate.tokens import spell
from trainer.generate.weighted_choice import WeightedChoice

__all__ = ["FIRST_PROPOSALS", "LONGEST_COPY", "MORE_PROPOSALS", "PlannedSong", "beats_of", "write"]

# Exchanges proposed for each chord, in each world that is tried and in the one taken.
FIRST_PROPOSALS, MORE_PROPOSALS = 1, 2
# So many bars in a row may have the chords of the plan's source; a longer run is broken where a
# line is new.
LONGEST_COPY = 14
# A chord in a form that is written plain.
LEADS_NOWHERE = ("5", "^maj7")
# The tables' names of what stands above a triad, as forms.
FORMS = {
    "plain": "", "7": "^7", "maj7": "^maj7", "6": "^6", "9": "^9", "add9": "^add9", "sus4": "^sus4",
    "sus4 7": "^7sus4", "sus4 9": "^9sus4", "o 7": "^7", "h 7": "h",
}  # fmt: skip

# Chords, forms, wanted basses and quarters.
_BarKey = tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...], tuple[int, ...]]


@dataclass(slots=True)
class _Line:
    """A finished line: its phrase, the token of each number, and its bars by what they hold, which
    lines derived from it share, and whether its source has the same chords."""

    phrase: PhraseSketch
    tokens: dict[int, str]
    bars: dict[_BarKey, BarSketch]
    copied: bool


@lru_cache(maxsize=256)
def beats_of(quarters: tuple[int, ...], meter: Meter) -> tuple[int, ...]:
    """The beats of the chords of a bar, from their quarters of the bar; in 3/4 and 6/8 there are at
    most three and two chords."""
    if len(quarters) == 1:
        return (meter.beats,)
    if meter.beats % 4 == 0:
        return tuple(part * meter.beats // 4 for part in quarters)
    if meter.beats == 6:
        return (3, 3)
    if len(quarters) > 2:
        return (1, 1, 1)
    return (1, 2) if quarters[0] < quarters[1] else (2, 1)


@dataclass(slots=True)
class PlannedSong:
    """Makes the sections of one song from a plan and a world.

    `limited` says that no chord outside the world may be played, `adds_forms` that chords may take
    forms that the world does not have; `tilt` has a factor for some
    chords, by which they are moved to more often, or less; `near_source` says that no line may have
    the chords of the plan's source where another has a choice. `tokens` are the chords of the
    plan's numbers, `forms` the forms of each chord.
    """

    rng: random.Random
    plan: Plan
    world: World
    meter: Meter
    limited: bool
    adds_forms: bool
    tilt: Mapping[str, float]
    near_source: bool = False
    tokens: dict[int, str] = field(default_factory=dict)
    forms: dict[str, list[str]] = field(default_factory=dict)
    lines: dict[int, _Line] = field(default_factory=dict)

    def copied_bars(self) -> int:
        """The longest run of bars that have the chords of the plan's source."""
        return copied_bars(self.plan, self.tokens)

    def sections(self, names: Sequence[str]) -> list[SectionSketch]:
        """The sections of the song, called by `names`."""
        made = []
        last, run = "", 0
        for (kind, numbers), name in zip(self.plan.sections, names, strict=True):
            phrases = []
            for at, number in enumerate(numbers):
                if number not in self.lines:
                    place = Place(kind, last, at == 0, at == len(numbers) - 1)
                    self.lines[number] = self._line(number, place, run)
                phrase = self.lines[number].phrase
                run = run + len(phrase.bars) if self.lines[number].copied else 0
                last = phrase.last_chord or last
                phrases.append(phrase)
            made.append(SectionSketch(name, kind, phrases))
        return made

    def assign_chords(self) -> Assignment:
        """The chords of the world for the numbers of the plan, as a first draft; `take` settles
        them."""
        self.forms = {token: list(forms) for token, forms in self.world.forms.items()}
        home, *others = self.world.forms
        while len(others) < self.plan.chords - 1 and not self.limited:
            others.append(any_chord(self.rng, mode_name(self.plan.minor), frozenset(self.forms)))
            self.forms[others[-1]] = [""]
        made = Assignment(self.plan, home, others, self.tilt)
        made.exchange(self.rng, FIRST_PROPOSALS)
        return made

    def take(self, assignment: Assignment) -> None:
        """Take the chords of an assignment."""
        assignment.exchange(self.rng, MORE_PROPOSALS)
        self.tokens = dict(enumerate(assignment.tokens[: self.plan.chords]))

    def _line(self, number: int, place: Place, run: int) -> _Line:
        """Fill a line of the plan with chords; `run` bars before it are as in the plan's source."""
        source = self.lines.get(self.plan.derived[number])
        bars = self.plan.lines[number]
        tokens = dict(source.tokens) if source else {0: self.tokens[0]}
        walk = walks_of(self.plan)[number]
        mark = self.plan.marks[number]
        unknown = [each for each in dict.fromkeys(walk) if each not in tokens]
        tokens |= {each: self.tokens[each] for each in unknown}
        copied = line_mark(tuple(tokens[each] for each in walk)) == mark
        if copied and unknown and (self.near_source or run + len(bars) > LONGEST_COPY):
            tokens = other_chords(
                self.rng,
                self.plan,
                tokens,
                unknown,
                number,
                place,
                list(self.world.forms),
                self.limited,
            )
            copied = line_mark(tuple(tokens[each] for each in walk)) == mark
        shared = dict(source.bars) if source else {}
        phrase = PhraseSketch([self._bar(bar, tokens, shared) for bar in bars], "")
        return _Line(phrase, tokens, shared, copied)

    def _bar(
        self, bar: BarPlan, tokens: dict[int, str], shared: dict[_BarKey, BarSketch]
    ) -> BarSketch:
        """A bar of a line; `shared` holds those that are known, and takes the new ones."""
        chords: list[str] = []
        forms: list[str] = []
        wanted: list[str] = []
        lengths: list[int] = []
        for event in bar:
            token = "" if event.chord == SILENT else tokens[event.chord]
            form = self._form(token, event.form) if token else ""
            if chords and (chords[-1], forms[-1], wanted[-1]) == (token, form, event.bass):
                lengths[-1] += event.quarters
                continue
            chords.append(token)
            forms.append(form)
            wanted.append(event.bass)
            lengths.append(event.quarters)
        key = tuple(chords), tuple(forms), tuple(wanted), tuple(lengths)
        if key not in shared:
            shared[key] = _sketch(chords, forms, wanted, key[3], self.meter)
        return shared[key]

    def _form(self, token: str, number: int) -> str:
        """The chord of a token in one of the forms that the song has for it."""
        forms = self.forms.setdefault(token, [""])
        while number >= len(forms) and self.adds_forms:
            more = _more_forms(mode_name(self.plan.minor), token, frozenset(forms))
            if more is None:
                break
            forms.append(more.choose(self.rng))
        return write(token, forms[min(number, len(forms) - 1)])


@lru_cache(maxsize=4096)
def _more_forms(mode: str, token: str, known: frozenset[str]) -> WeightedChoice[str] | None:
    """The forms that songs use for a chord besides those known, None if there are none."""
    row = table("chords")[mode]["extension"].get(token, {})
    spelt = {write(token, form) for form in known}
    weighted: dict[str, float] = {}
    for name, count in sorted(row.items()):
        form = FORMS.get(name)
        if form is not None and write(token, form) not in spelt:
            weighted[form] = weighted.get(form, 0.0) + count
    return WeightedChoice(weighted.items()) if weighted else None


def _sketch(
    chords: list[str],
    forms: list[str],
    wanted: list[str],
    quarters: tuple[int, ...],
    meter: Meter,
) -> BarSketch:
    """A bar of the song; where the meter has no room for all of its chords, the first and the last
    are kept. A short bar of the plan is short if half a bar of the meter can be."""
    short = sum(quarters) < QUARTERS and meter.beats % 4 == 0
    if short:
        beats = tuple(part * meter.beats // QUARTERS for part in quarters)
    else:
        beats = beats_of(quarters, meter)
    if len(beats) < len(chords):
        chords, forms, wanted = (
            [each[0], each[-1]][: len(beats)] for each in (chords, forms, wanted)
        )
        if len(beats) == 3:
            beats = (2, 1)
    if len(beats) == 2 and len(chords) == 2 and forms[0] == forms[1] and wanted[0] == wanted[1]:
        chords, forms, wanted, beats = chords[:1], forms[:1], wanted[:1], (sum(beats),)
    bar = BarSketch(beats, chords)
    bar.forms, bar.wanted, bar.short = forms, wanted, short
    return bar


@lru_cache(maxsize=1024)
def write(token: str, form: str) -> str:
    """A token in a form: the chord as it is spelt, without bass. A 5 leads home, so it takes no
    major seventh."""
    if token.endswith("o"):
        if form == "h":
            return token[:-1] + "ø"
        return spell(token) + (form if form == "^7" else "")
    if token.endswith("-"):
        return token + (form if form in ("^6", "^7", "^9", "^add9", "^maj7") else "")
    if (token, form) == LEADS_NOWHERE:
        return token
    return spell(token) + ("" if form == "h" else form)
