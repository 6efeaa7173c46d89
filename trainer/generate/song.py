"""Songs: form, phrases, harmony, returns and decoration are drawn in this order.

`generate` makes one song. `_SongBuilder` settles the style, the mode and the vocabulary. A song
that varies then takes the plan of a real one (`planned_song`). The sections of any other are
composed (`composed_song`), and at the end short bars, basses, extensions and articulations are
added.
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
from trainer.generate.blues import blues_chorus
from trainer.generate.check import check_settings, tempo_range
from trainer.generate.compose import Composer
from trainer.generate.composed_song import ComposedSong
from trainer.generate.extensions import blues_spellings, draw_spellings
from trainer.generate.finish import finish_sections
from trainer.generate.form import (
    SectionPlan,
    draw_lengths,
    draw_section_plan,
)
from trainer.generate.harmony import chord_model, mode_name, usual_chords
from trainer.generate.planned_song import planned_sections
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
        whole = self.settings.size == "song"
        sections = self._song().sections() if whole else [self._piece()]
        self._decorate(sections)
        return sections

    def _song(self) -> ComposedSong:
        return ComposedSong(
            self.rng,
            self.settings,
            self.style,
            self.features,
            self.minor,
            self.composer,
            self.named_forms.keys(),
        )

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
