"""Whole songs without a plan: each kind of section is composed once, and those that come back are
changed."""

from __future__ import annotations

import random
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from trainer.generate.blues import LETTERS as BLUES_LETTERS
from trainer.generate.blues import blues_chorus, later_blues_chorus
from trainer.generate.compose import CONNECTING_KINDS, Composer, chords_in
from trainer.generate.form import (
    SectionPlan,
    draw_lengths,
    draw_section_order,
    draw_section_plan,
    name_sections,
)
from trainer.generate.returns import change_key, end_at_home, make_tag, vary_return
from trainer.generate.settings import Features, Settings
from trainer.generate.sketch import PhraseSketch, SectionSketch
from trainer.generate.styles import Style
from trainer.generate.tables import table
from trainer.generate.weighted_choice import WeightedChoice, happens

__all__ = ["ComposedSong"]

# How often a connecting section is drawn until it has no chord of its own.
TRIES = 3
BORROWERS = ("intro", "solo", "interlude", "turnaround", "outro")
LENDERS = ("verse", "chorus", "bridge")


@dataclass(frozen=True, slots=True)
class ComposedSong:
    """Composes the sections of one song.

    `features` are the rates with the style's own factors; `allowed` the chords that a recipe names,
    by token, none if it names none.
    """

    rng: random.Random
    settings: Settings
    style: Style
    features: Features
    minor: bool
    composer: Composer
    allowed: AbstractSet[str]

    @property
    def _home(self) -> str:
        return "1-" if self.minor else "1"

    def _blues_chorus(self) -> list[PhraseSketch]:
        composer = self.composer
        return blues_chorus(self.rng, composer.rhythm, composer.model.chords, self.minor)

    def sections(self) -> list[SectionSketch]:
        """The sections of the song, before decoration."""
        rng, features = self.rng, self.features
        order = draw_section_order(rng, self.style)
        tagged = happens(rng, features.tag)
        if tagged:
            while order[-1] not in ("verse", "chorus"):
                order.pop()
        made = self._phrases(order)
        sections = [
            SectionSketch(name, kind, list(made[kind]))
            for name, kind in zip(name_sections(order), order, strict=True)
        ]
        self._vary_returns(sections)
        if tagged:
            sections.append(
                make_tag(rng, self.composer, sections, self._home, features.odd_phrases > 0)
            )
        else:
            last = sections[-1]
            last.phrases[-1] = end_at_home(
                self.composer,
                last.phrases[-1],
                last.kind,
                self._home,
                same=not features.later_changes,
            )
        if happens(rng, features.key_change):
            change_key(rng, sections, self.allowed, features.splits > 0)
        return sections

    def _phrases(self, order: list[str]) -> dict[str, list[PhraseSketch]]:
        """The phrases of every kind of section, each composed once or borrowed from another
        kind."""
        plans, sources = self._draw_plans(order)
        made: dict[str, list[PhraseSketch]] = {}
        before = ""
        for kind in sorted(dict.fromkeys(order), key=CONNECTING_KINDS.__contains__):
            if kind in sources:
                continue
            closing = kind == order[-1] and (
                order.count(kind) == 1 or not happens(self.rng, self.features.later_changes)
            )
            last = (self._home,) if closing else ()
            if self.style.blues and kind == "verse":
                made[kind] = self._blues_chorus()
            elif kind in CONNECTING_KINDS:
                made[kind] = self._connecting_section(plans[kind], made, last)
            else:
                made[kind] = self.composer.section(plans[kind], before, last)
            before = made[kind][-1].last_chord
        for kind, source in sources.items():
            phrases = made[source]
            count = len(plans[kind].letters)
            if kind == "solo" or count >= len(phrases):
                made[kind] = list(phrases)
            else:
                ending = kind == "outro" or self.style.blues
                still = len(chords_in(phrases[:count])) < 2
                made[kind] = phrases[-count:] if ending or still else phrases[:count]
        return made

    def _connecting_section(
        self, plan: SectionPlan, made: dict[str, list[PhraseSketch]], last: tuple[str, ...]
    ) -> list[PhraseSketch]:
        """A section that is not sung: of chords from the sung ones, or else phrases of a sung
        one."""
        heard = chords_in(phrase for phrases in made.values() for phrase in phrases)
        for _ in range(TRIES):
            phrases = self.composer.section(plan, "", last)
            if chords_in(phrases) <= heard:
                return phrases
        sung = made["chorus" if "chorus" in made else "verse"]
        return sung[-len(plan.letters) :]

    def _draw_plans(self, order: list[str]) -> tuple[dict[str, SectionPlan], dict[str, str]]:
        """The plan of each kind of section, and the kinds that borrow, each with its source."""
        plans: dict[str, SectionPlan] = {}
        sources: dict[str, str] = {}
        for kind in dict.fromkeys(order):
            plans[kind] = draw_section_plan(self.rng, kind)
            plans[kind].copies = order.count(kind)
            if self.style.blues:
                plans[kind].letters = list(BLUES_LETTERS if kind == "verse" else "A")
        for kind in dict.fromkeys(order):
            source = self._source(kind, order, sources)
            if source:
                sources[kind] = source
                plans[source].copies += plans[kind].copies
        draw_lengths(
            self.rng,
            self.settings,
            [plan for kind, plan in plans.items() if kind not in sources],
        )
        return plans, sources

    def _source(self, kind: str, order: list[str], sources: dict[str, str]) -> str:
        """The kind from which this kind borrows its phrases, "" for none."""
        if kind not in BORROWERS:
            return ""
        if self.style.blues:
            return "verse"
        row = table("form")["borrowed"].get(kind, {})
        # An intro that comes back as a turnaround counts as its own; the turnaround borrows it.
        own = [other for other in row if other not in LENDERS] if kind == "intro" else ["own"]
        weights = {"own": 0.0}
        for other in own:
            weights["own"] += row.get(other, 0)
        for other in dict.fromkeys(order):
            if other != kind and other not in sources and other in (*LENDERS, "intro"):
                weights[other] = float(row.get(other, 0))
        source = WeightedChoice(weights.items()).choose(self.rng)
        return "" if source == "own" else source

    def _vary_returns(self, sections: list[SectionSketch]) -> None:
        """Change sections that come back, in a song with probability `later_changes`."""
        if self.style.blues:
            self._vary_choruses(sections)
            return
        seen: set[str] = set()
        coming = []
        for section in sections:
            if section.kind in seen and section.kind not in CONNECTING_KINDS:
                coming.append(section)
            seen.add(section.kind)
        rate = self.features.later_changes
        if not coming or rate <= 0 or not happens(self.rng, rate):
            return
        each = 1.0 if rate >= 1 else 0.35
        changing = [section for section in coming if happens(self.rng, each)]
        for section in changing or [coming[int(self.rng.random() * len(coming))]]:
            vary_return(self.rng, self.composer, section, self.features)

    def _vary_choruses(self, sections: list[SectionSketch]) -> None:
        """Change a blues's choruses that come back, in a song with probability `later_changes`:
        those that are sung mostly, a solo less often."""
        if not happens(self.rng, self.features.later_changes):
            return
        coming = [section for section in sections if section.kind in ("verse", "solo")][1:]
        for section in coming:
            if happens(self.rng, 0.7 if section.kind == "verse" else 0.4):
                section.phrases = later_blues_chorus(
                    self.rng,
                    self.composer.rhythm,
                    section.phrases,
                    self.minor,
                    section is not sections[-1],
                )
