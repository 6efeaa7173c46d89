"""Whole songs as varied as real ones: a plan and a world are drawn, filled and decorated."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from trainer.generate.articulations import add_rare_articulations
from trainer.generate.assign import Assignment
from trainer.generate.bass import add_basses, add_planned_basses, drop_unexplained, spell_slash
from trainer.generate.crossed_plans import crossed_plan
from trainer.generate.form import name_sections
from trainer.generate.harmony import mode_name
from trainer.generate.likelihood import odds
from trainer.generate.plan_changes import Kept, changed_plan
from trainer.generate.planned import LONGEST_COPY, PlannedSong
from trainer.generate.plans import Plan, World, draw_plan, draw_world
from trainer.generate.returns import change_key, one_chord_bar
from trainer.generate.settings import Features, Settings
from trainer.generate.sketch import (
    BarSketch,
    SectionSketch,
    SharedBar,
    separate_all_endings,
    shared_bars,
)
from trainer.generate.styles import Style
from trainer.generate.weighted_choice import WeightedChoice, happens

__all__ = ["WORLDS", "best_of", "planned_sections"]

# The rates of real songs, as the settings state them; a recipe that asks for them gets the plans
# and worlds as they are.
SPLITS, UNEVEN, ODD, SILENT_BARS, RETURNS = 0.26, 0.235, 0.28, 0.02, 0.75
SHORT_BARS = 0.005
EXTENSIONS, SLASH_CHORDS = 0.27, 0.065
# The share of songs whose outro could be called a tag, and the longest tag in bars.
TAGS, LONGEST_TAG = 0.15, 8
LEAST_FADE_BARS = 4
# Where less than this part of the real share of splits is asked for, plans lose some.
LEAST_TILT = 0.3
# The same for extensions: worlds lose some.
LEAST_EXTENDED = 0.4
# More chords than any plan has.
MOST_CHORDS = 99
# So many worlds are tried; where a recipe names the chords, they are assigned so many times.
WORLDS, LIMITED_WORLDS = 5, 3


def planned_sections(
    rng: random.Random,
    settings: Settings,
    style: Style,
    features: Features,
    minor: bool,
    named_forms: Mapping[str, Sequence[str]],
) -> list[SectionSketch]:
    """The decorated sections of one song.

    `features` are the rates with the style's own factors; `named_forms` the forms of the chords
    that a recipe names, by token.
    """
    maker = _Maker(rng, settings, style, features, minor, named_forms)
    fades = happens(rng, features.fade)
    splits = features.splits / SPLITS
    home = style.tilt.get("1-" if minor else "1", 1.0)
    most = len(named_forms) or MOST_CHORDS
    slash = max(1.0, features.slash_chords / SLASH_CHORDS)
    plan = draw_plan(rng, minor, fades, max(splits, LEAST_TILT), slash, home, most)
    plan = changed_plan(rng, crossed_plan(rng, plan), maker.kept(splits))
    song = maker.song(plan)
    world = song.world
    sections = song.sections(name_sections([kind for kind, _ in plan.sections]))
    maker.end(sections, fades)
    if happens(rng, features.key_change):
        change_key(rng, sections, set(world.forms), features.splits > 0)
    maker.decorate(sections, world)
    return sections


@dataclass(frozen=True, slots=True)
class _Maker:
    """The steps of making one song."""

    rng: random.Random
    settings: Settings
    style: Style
    features: Features
    minor: bool
    named_forms: Mapping[str, Sequence[str]]

    def kept(self, splits: float) -> Kept:
        """How much of what a plan holds the recipe asks for."""
        features = self.features
        return Kept(
            splits=1.0 if splits >= LEAST_TILT else splits / LEAST_TILT,
            uneven=min(1.0, features.uneven_splits / UNEVEN),
            odd=min(1.0, features.odd_phrases / ODD),
            silent=min(1.0, features.silent_bars / SILENT_BARS),
            short=min(1.0, features.short_bars / SHORT_BARS),
            returns=min(1.0, features.later_changes / RETURNS),
            odd_lengths=frozenset(self.settings.odd_lengths),
        )

    def song(self, plan: Plan) -> PlannedSong:
        """The song with chords assigned, from one of several worlds, by how well its chords fit the
        plan; of those with which no long run of bars is as in the plan's source."""
        adds_forms = not self.named_forms and happens(self.rng, self._extended())
        made: list[tuple[PlannedSong, Assignment]] = []
        for _ in range(WORLDS if not self.named_forms else LIMITED_WORLDS):
            song = PlannedSong(
                self.rng,
                plan,
                self.world(plan),
                self.style.meter,
                limited=bool(self.named_forms),
                adds_forms=adds_forms,
                tilt=self.style.tilt,
            )
            made.append((song, song.assign_chords()))
        while made:
            assignment = best_of(self.rng, [each for _, each in made])
            song = next(song for song, each in made if each is assignment)
            song.take(assignment)
            if song.copied_bars() <= LONGEST_COPY:
                return song
            made = [pair for pair in made if pair[0] is not song]
        song.near_source = True
        return song

    def world(self, plan: Plan) -> World:
        """The chords of the song: those that a recipe names, or those of a world that fits."""
        if self.named_forms:
            return self._named_world(plan)
        slash = self.features.slash_chords / SLASH_CHORDS
        tilt = tuple(sorted(self.style.tilt.items()))
        extended = self._extended()
        world = draw_world(self.rng, plan, tilt, extended, slash)
        if extended >= LEAST_EXTENDED:
            return world
        return replace(world, forms=self._plainer(world, extended / LEAST_EXTENDED))

    def _plainer(self, world: World, keep: float) -> dict[str, dict[str, int]]:
        """The forms of a world, those with an extension kept with a probability."""
        return {
            token: {form: n for form, n in forms.items() if not form or happens(self.rng, keep)}
            or {"": 1}
            for token, forms in world.forms.items()
        }

    def _extended(self) -> float:
        """The wanted share of extended chords against that of real songs."""
        leaning = 1 + (self.style.extensions - 1) * self.settings.variety
        return self.settings.extensions * leaning / EXTENSIONS

    def _named_world(self, plan: Plan) -> World:
        """A world of the chords that a recipe names."""
        home = "1-" if self.minor else "1"
        others = [token for token in self.named_forms if token != home]
        order = [home]
        while others:
            order.append(others.pop(int(self.rng.random() * len(others))))
        forms = {
            token: {
                name.partition("^")[1] + name.partition("^")[2]: 1
                for name in self.named_forms[token]
            }
            for token in order
        }
        return World(self.minor, plan.half, forms, 0.1, frozenset(), 0.0, 0)

    def end(self, sections: list[SectionSketch], fades: bool) -> None:
        """Settle how the song ends: on a vamp that fades, or at home, as a tag where the outro is
        one."""
        last = sections[-1]
        if fades:
            last.fades_from = _fade_start(last)
            return
        home = "1-" if self.minor else "1"
        if last.phrases[-1].last_chord != home:
            last.phrases[-1] = last.phrases[-1].with_last(one_chord_bar(last.phrases[-1], home))
        if _is_tag(sections) and happens(self.rng, min(1.0, self.features.tag / TAGS)):
            last.name, last.kind = "Tag", "tag"

    def decorate(self, sections: list[SectionSketch], world: World) -> None:
        """Add short bars, basses and articulations."""
        rng, features = self.rng, self.features
        heard = shared_bars(sections)
        if features.slash_chords:
            rate = features.slash_chords / SLASH_CHORDS
            allowed = frozenset(self.settings.basses)
            mode = mode_name(self.minor)
            wanted = add_planned_basses(rng, mode, heard, rate, world.basses, allowed)
            drop_unexplained(mode, heard)
            own = frozenset(spell_slash(name) for name in world.basses)
            for names in (own & allowed if allowed and own else own, allowed):
                missing = wanted - _slash_bars(heard)
                if missing > 0:
                    bars = sum(shared.copies for shared in heard)
                    add_basses(rng, mode, heard, missing / bars, features.splits > 0, names)
        for shared in heard:
            _settle(shared.bar)
        if features.holds or features.chokes:
            separate_all_endings(sections)
        heard = shared_bars(sections)
        add_rare_articulations(rng, heard, features)


def best_of(rng: random.Random, made: Sequence[Assignment]) -> Assignment:
    """One of the assignments of a plan, by how well their chords fit."""
    best = max(each.worth for each in made)
    return WeightedChoice((each, odds(best - each.worth)) for each in made).choose(rng)


def _slash_bars(heard: list[SharedBar]) -> int:
    """How many of the bars heard have a slash chord."""
    return sum(shared.copies for shared in heard if any(shared.bar.basses))


def _settle(bar: BarSketch) -> None:
    """Leave slash chords their seventh at most, and join chords that have come out the same."""
    forms = [
        form.split("^")[0] if bass and not form.endswith("^7") else form
        for form, bass in zip(bar.forms, bar.basses, strict=True)
    ]
    kept = [
        at
        for at in range(len(forms))
        if not at or (forms[at], bar.basses[at]) != (forms[at - 1], bar.basses[at - 1])
    ]
    ends = [*kept[1:], len(forms)]
    bar.beats = tuple(sum(bar.beats[a:b]) for a, b in zip(kept, ends, strict=True))
    bar.forms = [forms[at] for at in kept]
    bar.chords = [bar.chords[at] for at in kept]
    bar.basses = [bar.basses[at] for at in kept]
    bar.articulations = [bar.articulations[at] for at in kept]


def _fade_start(section: SectionSketch) -> int:
    """The phrase of the last section from which the band fades: its second half, of at least
    `LEAST_FADE_BARS` bars."""
    at, bars = len(section.phrases), 0
    while at > 0 and (bars < LEAST_FADE_BARS or at > (len(section.phrases) + 1) // 2):
        at -= 1
        bars += len(section.phrases[at].bars)
    return at


def _is_tag(sections: list[SectionSketch]) -> bool:
    """Whether the last section is a few bars that begin on a chord of the one before and move."""
    last = sections[-1]
    if last.kind != "outro" or len(sections) < 2:
        return False
    bars = [bar for phrase in last.phrases for bar in phrase.bars]
    sung = {c for phrase in sections[-2].phrases for bar in phrase.bars for c in bar.chords}
    moves = len({chord for bar in bars for chord in bar.chords}) > 1
    return len(bars) <= LONGEST_TAG and bars[0].chords[0] in sung and moves
