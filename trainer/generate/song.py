"""Songs: form, phrases, harmony, returns and decoration are drawn in this order.

`generate` makes one song. `_SongBuilder` settles the style, the mode and the vocabulary. A song
that varies then takes the plan of a real one (`planned_song`). Any other has its sections planned,
each kind of section composed once and those that come back changed, and at the end short bars,
basses, extensions and articulations are added.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import fields, replace
from functools import lru_cache

from trainer.chart import Chart, Key
from trainer.chart.keys import USUAL_MAJOR, USUAL_MINOR
from trainer.generate.articulations import add_articulations, shorten_bars
from trainer.generate.bass import add_basses
from trainer.generate.blues import LETTERS as BLUES_LETTERS
from trainer.generate.blues import blues_chorus, later_blues_chorus
from trainer.generate.check import check_settings, tempo_range
from trainer.generate.compose import CONNECTING_KINDS, Composer, chords_in
from trainer.generate.extensions import blues_spellings, draw_spellings
from trainer.generate.finish import finish_sections
from trainer.generate.form import (
    SectionPlan,
    draw_lengths,
    draw_section_order,
    draw_section_plan,
    name_sections,
)
from trainer.generate.harmony import chord_model, mode_name, usual_chords
from trainer.generate.planned_song import planned_sections
from trainer.generate.returns import change_key, end_at_home, make_tag, vary_return
from trainer.generate.rhythm import draw_harmonic_rhythm
from trainer.generate.settings import Features, Settings
from trainer.generate.sketch import (
    PhraseSketch,
    SectionSketch,
    render_sections,
    separate_all_endings,
    separate_endings,
    shared_bars,
)
from trainer.generate.styles import STYLES, Style
from trainer.generate.tables import table
from trainer.generate.titles import draw_title
from trainer.generate.tokens import token_of
from trainer.generate.weighted_choice import WeightedChoice, happens

__all__ = ["GENERATOR_VERSION", "generate"]

GENERATOR_VERSION = "3"
# Plans have phrases of this length as a rule.
USUAL_BARS = 4
# How often a connecting section is drawn until it has no chord of its own.
TRIES = 3
# Songs of more chords than this were counted over several keys in the tables. A song that splits
# more than a share of `CROWDED` of its bars has fewer.
MOST_CHORDS, MOST_CROWDED = 13, 9
CROWDED = 0.4
# Two major chords from outside the key and two borrowed from minor rarely meet in such a song: the
# factor on the weight of a vocabulary with both.
BRIGHT, DARK = frozenset(("2", "3", "6")), frozenset(("b3", "b6", "b7", "4-", "5-"))
MIXED = 0.25
# A factor on the weight of the 1 as the first chord of a phrase or section that stands alone.
HOMEWARD = 3.0
BORROWERS = ("intro", "solo", "interlude", "turnaround", "outro")
LENDERS = ("verse", "chorus", "bridge")


def generate(settings: Settings, rng: random.Random) -> Chart:
    """Invent a song: the same chart for the same settings, seed and `GENERATOR_VERSION`.

    Raises SettingsError, as `check_settings` does.
    """
    check_settings(settings)
    return _SongBuilder(settings, rng).chart()


@lru_cache(maxsize=256)
def _styles(settings: Settings) -> WeightedChoice[str]:
    weights = settings.style_weights or (1.0,) * len(settings.styles)
    return WeightedChoice(zip(settings.styles, weights, strict=True))


@lru_cache(maxsize=256)
def _named_forms(settings: Settings) -> dict[str, tuple[str, ...]]:
    """The forms of the chords that a recipe names, by token."""
    forms: dict[str, tuple[str, ...]] = {}
    for name in settings.chords:
        forms[token_of(name)] = (*forms.get(token_of(name), ()), name)
    return forms


@lru_cache(maxsize=128)
def _vocabularies(mode: str, style: str, most: int) -> WeightedChoice[str]:
    """The sets of at most `most` chords that songs keep to, weighted by the tables and a style."""
    tilt = STYLES[style].tilt
    # A song drawn from the tables has one home, major or minor, not both.
    home, other = ("1-", "1") if mode == "minor" else ("1", "1-")
    weights: dict[str, float] = {}
    for chords, count in table("chords")[mode]["sets"].items():
        tokens = [token for token in chords.split(" ") if token != other]
        usual = usual_chords(mode) | tilt.keys()
        tokens = [token for token in tokens if token in usual]
        if home not in tokens or not 2 <= len(tokens) <= most:
            continue
        # Songs rarely play all chords of a large set; more weight on those corrects that.
        weight = float(count) * len(tokens) * len(tokens) * (len(tokens) + 8)
        if most < MOST_CHORDS and min(len(BRIGHT & set(tokens)), len(DARK & set(tokens))) > 1:
            weight *= MIXED
        for token in tokens:
            weight *= tilt.get(token, 1.0)
        weights[" ".join(tokens)] = weights.get(" ".join(tokens), 0.0) + weight
    return WeightedChoice(weights.items())


@lru_cache(maxsize=256)
def _features(features: Features, style: str, variety: float) -> Features:
    """The rates that are asked for, scaled by those of a style as far as songs may vary."""
    scales = STYLES[style].rates
    return Features(
        **{
            field.name: min(
                1.0,
                getattr(features, field.name) * (1 + (scales.get(field.name, 1.0) - 1) * variety),
            )
            for field in fields(features)
        }
    )


class _SongBuilder:
    """Builds one song."""

    def __init__(self, settings: Settings, rng: random.Random) -> None:
        self.settings, self.rng = settings, rng
        self.style: Style = STYLES[_styles(settings).choose(rng)]
        self.minor = self.style.minor or happens(rng, settings.minor)
        self.home = "1-" if self.minor else "1"
        self.features = _features(settings.features, self.style.name, settings.variety)
        self.named_forms: Mapping[str, tuple[str, ...]] = _named_forms(settings)
        mode = mode_name(self.minor)
        rhythm = draw_harmonic_rhythm(
            rng, self.style.meter, self._splits(), self.features.uneven_splits, settings.variety
        )
        tokens = self._tokens(mode, MOST_CROWDED if rhythm.splits > CROWDED else MOST_CHORDS)
        tilt = tuple(self.style.tilt.get(token, 1.0) for token in tokens)
        self.composer = Composer(
            rng,
            chord_model(mode, tokens, tilt),
            rhythm,
            tuple(token_of(name) for name in settings.favour),
            1.0 if settings.size == "phrase" else 0.9,
            1.0 if settings.size == "song" else HOMEWARD,
        )

    def _splits(self) -> float:
        """The rate of splits, less those that passing basses will add."""
        return self.features.splits - min(
            0.3 * self.features.slash_chords, 0.5 * self.features.splits
        )

    def _tokens(self, mode: str, most: int) -> tuple[str, ...]:
        """The song's vocabulary, of at most `most` chords unless a recipe names them."""
        if self.named_forms:
            return tuple(sorted(self.named_forms))
        if self.style.blues:
            return ("1-", "4-", "5", "b6") if self.minor else ("1", "2-", "4", "5", "6-")
        return tuple(_vocabularies(mode, self.style.name, most).choose(self.rng).split(" "))

    def chart(self) -> Chart:
        """The finished chart."""
        settings, rng = self.settings, self.rng
        planned = self._takes_plan()
        sections = self._planned() if planned else self._composed()
        low, high = tempo_range(settings, self.style)
        return Chart(
            title=draw_title(rng),
            meter=self.style.meter,
            tempo=float(min(high, max(low, round(low + (high - low) * rng.random())))),
            feel=self.style.feel,
            key=self._key(),
            sections=finish_sections(
                rng,
                render_sections(sections, self.style.meter),
                replace(self.features, silent_bars=0.0, fade=0.0) if planned else self.features,
            ),
        )

    def _takes_plan(self) -> bool:
        """Whether the song takes the plan of a real one, as songs that vary do."""
        settings = self.settings
        return (
            settings.size == "song"
            and not self.style.blues
            and settings.phrase_bars == USUAL_BARS
            and happens(self.rng, settings.variety)
        )

    def _planned(self) -> list[SectionSketch]:
        """The sections of a song with a plan."""
        return planned_sections(
            self.rng, self.settings, self.style, self.features, self.minor, self.named_forms
        )

    def _composed(self) -> list[SectionSketch]:
        """The sections of a song, a section or a phrase composed step by step."""
        sections = self._song() if self.settings.size == "song" else [self._piece()]
        self._decorate(sections)
        return sections

    def _key(self) -> Key:
        names = self.settings.keys or (USUAL_MINOR if self.minor else USUAL_MAJOR)
        key = Key.parse(names[int(self.rng.random() * len(names))])
        return Key(key.letter, key.alteration, self.minor)

    def _piece(self) -> SectionSketch:
        """One phrase, or one section of two to four phrases."""
        kind = "chorus" if happens(self.rng, 0.4) else "verse"
        if self.settings.size == "phrase":
            plan = SectionPlan("verse", ["A"])
        else:
            plan = draw_section_plan(self.rng, kind, 2 + int(self.rng.random() * 3))
        last = (self.home,) if happens(self.rng, 0.75) else ("5", "5-", "b7", self.home)
        draw_lengths(self.rng, self.settings, [plan])
        if self.style.blues and self.settings.size == "section":
            phrases = self._blues()
        else:
            phrases = self.composer.section(plan, "", last, least=3)
        name = "" if self.settings.size == "phrase" else kind.title()
        return SectionSketch(name, kind, phrases)

    def _blues(self) -> list[PhraseSketch]:
        return blues_chorus(self.rng, self.composer.rhythm, self.composer.model.chords, self.minor)

    def _song(self) -> list[SectionSketch]:
        """A whole song, before decoration."""
        rng, features = self.rng, self.features
        order = draw_section_order(rng, self.style)
        tagged = happens(rng, features.tag)
        if tagged:
            while order[-1] not in ("verse", "chorus"):
                order.pop()
        made = self._sections(order)
        sections = [
            SectionSketch(name, kind, list(made[kind]))
            for name, kind in zip(name_sections(order), order, strict=True)
        ]
        self._vary_returns(sections)
        if tagged:
            sections.append(
                make_tag(rng, self.composer, sections, self.home, features.odd_phrases > 0)
            )
        else:
            last = sections[-1]
            last.phrases[-1] = end_at_home(
                self.composer,
                last.phrases[-1],
                last.kind,
                self.home,
                same=not features.later_changes,
            )
        if happens(rng, features.key_change):
            change_key(rng, sections, self.named_forms.keys(), features.splits > 0)
        return sections

    def _sections(self, order: list[str]) -> dict[str, list[PhraseSketch]]:
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
            last = (self.home,) if closing else ()
            if self.style.blues and kind == "verse":
                made[kind] = self._blues()
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

    def _decorate(self, sections: list[SectionSketch]) -> None:
        """Add short bars, basses, extensions and articulations."""
        rng, features, model = self.rng, self.features, self.composer.model
        if features.holds or features.chokes:
            separate_endings(sections)
        heard = shared_bars(sections)
        shorten_bars(rng, heard, features.short_bars)
        allowed = frozenset(self.settings.basses)
        add_basses(rng, model.mode, heard, features.slash_chords, features.splits > 0, allowed)
        leaning = 1 + (self.style.extensions - 1) * self.settings.variety
        rate = min(1.0, self.settings.extensions * leaning)
        if self.style.blues and not self.named_forms:
            spellings = blues_spellings(rng, model.chords, rate)
        else:
            spellings = draw_spellings(rng, model, rate, self.style.sevenths, self.named_forms)
        spellings.apply(heard)
        if self.style.blues and features.later_changes:
            separate_all_endings(sections)
            heard = shared_bars(sections)
        add_articulations(rng, heard, features)
