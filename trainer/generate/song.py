"""Songs: form, phrases, harmony, returns, decoration, in this order, and the finished chart."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import lru_cache

from trainer.chart import Chart, Key, Meter, Phrase, Section
from trainer.chart.keys import USUAL_MAJOR, USUAL_MINOR
from trainer.generate.bass import add_basses
from trainer.generate.blues import LETTERS as BLUES_LETTERS
from trainer.generate.blues import blues_chorus
from trainer.generate.check import check_settings, tempo_range
from trainer.generate.colour import blues_palette, make_palette
from trainer.generate.compose import MODEST, Composer, chords_in
from trainer.generate.dice import Wheel, chance
from trainer.generate.draft import DraftPhrase, render_phrase
from trainer.generate.form import Material, draw_lengths, draw_material, draw_order, name_parts
from trainer.generate.harmony import harmony, mode_name, usual_chords
from trainer.generate.layout import Played, own_endings, spots
from trainer.generate.marks import add_marks, shorten
from trainer.generate.returns import come_back, come_home, prepare_key, tag_on
from trainer.generate.rhythm import song_rhythm
from trainer.generate.settings import Features, Settings
from trainer.generate.styles import STYLES, Style
from trainer.generate.tables import table
from trainer.generate.titles import draw_title
from trainer.generate.words import token_of

__all__ = ["GENERATOR_VERSION", "generate"]

GENERATOR_VERSION = "1"
# What an intro or a break may need to come out without a chord of its own.
TRIES = 3
# Songs of more chords than this were counted over several homes; one that mostly changes within
# the bar gets by on fewer.
MOST_CHORDS, MOST_CROWDED = 13, 9
CROWDED = 0.4
# Two chords from the bright side of the key and two from the dark rarely meet in such a song.
BRIGHT, DARK = frozenset(("2", "3", "6")), frozenset(("b3", "b6", "b7", "4-", "5-"))
MIXED = 0.25
# How much more gladly a phrase or section that stands alone begins at home.
HOMEWARD = 3.0
BORROWERS = ("intro", "solo", "interlude", "turnaround", "outro")
LENDERS = ("verse", "chorus", "bridge")


def generate(settings: Settings, rng: random.Random) -> Chart:
    """Invent a song: the same chart for the same settings, seed and `GENERATOR_VERSION`.

    Raises SettingsError, as `check_settings` does.
    """
    check_settings(settings)
    return _Maker(settings, rng).chart()


@lru_cache(maxsize=256)
def _styles(settings: Settings) -> Wheel[str]:
    weights = settings.style_weights or (1.0,) * len(settings.styles)
    return Wheel(zip(settings.styles, weights, strict=True))


@lru_cache(maxsize=256)
def _spelt(settings: Settings) -> dict[str, tuple[str, ...]]:
    """Forms by token of the chords a recipe names."""
    forms: dict[str, tuple[str, ...]] = {}
    for name in settings.chords:
        forms[token_of(name)] = (*forms.get(token_of(name), ()), name)
    return forms


@lru_cache(maxsize=128)
def _vocabularies(mode: str, style: str, most: int) -> Wheel[str]:
    """The sets of at most so many chords that songs keep to, leaning to a style."""
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
        # Songs rarely get round to all of a large set; leaning to those evens it out.
        weight = float(count) * len(tokens) * len(tokens) * (len(tokens) + 8)
        if most < MOST_CHORDS and min(len(BRIGHT & set(tokens)), len(DARK & set(tokens))) > 1:
            weight *= MIXED
        for token in tokens:
            weight *= tilt.get(token, 1.0)
        weights[" ".join(tokens)] = weights.get(" ".join(tokens), 0.0) + weight
    return Wheel(weights.items())


@lru_cache(maxsize=256)
def _features(features: Features, style: str, variety: float) -> Features:
    """The rates of a style: those asked, scaled by its own as far as songs may vary."""
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


@dataclass(slots=True)
class _Plan:
    """What is settled before any phrase is: order of sections, and each kind's material."""

    parts: list[Played]
    materials: dict[str, Material]


class _Maker:
    """Makes one song."""

    def __init__(self, settings: Settings, rng: random.Random) -> None:
        self.settings, self.rng = settings, rng
        self.style: Style = STYLES[_styles(settings).spin(rng)]
        self.minor = self.style.minor or chance(rng, settings.minor)
        self.home = "1-" if self.minor else "1"
        self.features = _features(settings.features, self.style.name, settings.variety)
        self.spelt: Mapping[str, tuple[str, ...]] = _spelt(settings)
        mode = mode_name(self.minor)
        rhythm = song_rhythm(
            rng, self.style.meter, self._splits(), self.features.uneven_splits, settings.variety
        )
        tokens = self._tokens(mode, MOST_CROWDED if rhythm.splits > CROWDED else MOST_CHORDS)
        tilt = tuple(self.style.tilt.get(token, 1.0) for token in tokens)
        self.composer = Composer(
            rng,
            harmony(mode, tokens, tilt),
            rhythm,
            tuple(token_of(name) for name in settings.favour),
            1.0 if settings.size == "phrase" else 0.9,
            1.0 if settings.size == "song" else HOMEWARD,
        )

    def _splits(self) -> float:
        """Rate of splits, less those that basses walking to the next chord will add."""
        return self.features.splits - min(
            0.3 * self.features.slash_chords, 0.5 * self.features.splits
        )

    def _tokens(self, mode: str, most: int) -> tuple[str, ...]:
        """The song's vocabulary, of at most so many chords unless a recipe names them."""
        if self.spelt:
            return tuple(sorted(self.spelt))
        if self.style.blues:
            return ("1-", "4-", "5", "b6") if self.minor else ("1", "2-", "4", "5", "6-")
        return tuple(_vocabularies(mode, self.style.name, most).spin(self.rng).split(" "))

    def chart(self) -> Chart:
        """The finished chart."""
        settings, rng = self.settings, self.rng
        sections = self._song() if settings.size == "song" else [self._piece()]
        self._decorate(sections)
        low, high = tempo_range(settings, self.style)
        return Chart(
            title=draw_title(rng),
            meter=self.style.meter,
            tempo=float(min(high, max(low, round(low + (high - low) * rng.random())))),
            feel=self.style.feel,
            key=self._key(),
            sections=_render(sections, self.style.meter),
        )

    def _key(self) -> Key:
        names = self.settings.keys or (USUAL_MINOR if self.minor else USUAL_MAJOR)
        key = Key.parse(names[int(self.rng.random() * len(names))])
        return Key(key.letter, key.alteration, self.minor)

    def _piece(self) -> Played:
        """One phrase, or one section of two to four phrases."""
        kind = "chorus" if chance(self.rng, 0.4) else "verse"
        if self.settings.size == "phrase":
            material = Material("verse", ["A"])
        else:
            material = draw_material(self.rng, kind, 2 + int(self.rng.random() * 3))
        last = (self.home,) if chance(self.rng, 0.75) else ("5", "5-", "b7", self.home)
        draw_lengths(self.rng, self.settings, [material])
        if self.style.blues and self.settings.size == "section":
            phrases = self._blues()
        else:
            phrases = self.composer.section(material, "", last, least=3)
        name = "" if self.settings.size == "phrase" else kind.title()
        return Played(name, kind, phrases)

    def _blues(self) -> list[DraftPhrase]:
        return blues_chorus(self.rng, self.composer.rhythm, self.composer.model.chords, self.minor)

    def _song(self) -> list[Played]:
        """A whole song, before decoration."""
        rng, features = self.rng, self.features
        order = draw_order(rng, self.style)
        tagged = chance(rng, features.tag)
        if tagged:
            while order[-1] not in ("verse", "chorus"):
                order.pop()
        parts = name_parts(order)
        made = self._sections([part.kind for part in parts])
        sections = [Played(part.name, part.kind, list(made[part.kind])) for part in parts]
        self._returns(sections)
        if tagged:
            sections.append(
                tag_on(rng, self.composer, sections, self.home, features.odd_phrases > 0)
            )
        else:
            last = sections[-1]
            last.phrases[-1] = come_home(
                self.composer,
                last.phrases[-1],
                last.kind,
                self.home,
                same=not features.later_changes,
            )
        if chance(rng, features.key_change):
            self._change_key(sections)
        return sections

    def _sections(self, order: list[str]) -> dict[str, list[DraftPhrase]]:
        """The phrases of every kind of section, each composed once or borrowed."""
        materials, sources = self._materials(order)
        made: dict[str, list[DraftPhrase]] = {}
        before = ""
        for kind in sorted(dict.fromkeys(order), key=MODEST.__contains__):
            if kind in sources:
                continue
            closing = kind == order[-1] and (
                order.count(kind) == 1 or not chance(self.rng, self.features.later_changes)
            )
            last = (self.home,) if closing else ()
            if self.style.blues and kind == "verse":
                made[kind] = self._blues()
            elif kind in MODEST:
                made[kind] = self._modest(materials[kind], made, last)
            else:
                made[kind] = self.composer.section(materials[kind], before, last)
            before = made[kind][-1].last_chord
        for kind, source in sources.items():
            phrases = made[source]
            count = len(materials[kind].letters)
            if kind == "solo" or count >= len(phrases):
                made[kind] = list(phrases)
            else:
                ending = kind == "outro" or self.style.blues
                still = len(chords_in(phrases[:count])) < 2
                made[kind] = phrases[-count:] if ending or still else phrases[:count]
        return made

    def _modest(
        self, material: Material, made: dict[str, list[DraftPhrase]], last: tuple[str, ...]
    ) -> list[DraftPhrase]:
        """A section nobody sings: of the chords that are sung, or else taken from what is sung."""
        heard = chords_in(phrase for phrases in made.values() for phrase in phrases)
        for _ in range(TRIES):
            phrases = self.composer.section(material, "", last)
            if chords_in(phrases) <= heard:
                return phrases
        sung = made["chorus" if "chorus" in made else "verse"]
        return sung[-len(material.letters) :]

    def _materials(self, order: list[str]) -> tuple[dict[str, Material], dict[str, str]]:
        """Number, letters and lengths of each kind's phrases, and which kinds borrow from which."""
        materials: dict[str, Material] = {}
        sources: dict[str, str] = {}
        for kind in dict.fromkeys(order):
            materials[kind] = draw_material(self.rng, kind)
            materials[kind].copies = order.count(kind)
            if self.style.blues:
                materials[kind].letters = list(BLUES_LETTERS if kind == "verse" else "A")
        for kind in dict.fromkeys(order):
            source = self._source(kind, order, sources)
            if source:
                sources[kind] = source
                materials[source].copies += materials[kind].copies
        draw_lengths(
            self.rng,
            self.settings,
            [material for kind, material in materials.items() if kind not in sources],
        )
        return materials, sources

    def _source(self, kind: str, order: list[str], sources: dict[str, str]) -> str:
        """The kind whose phrases this kind borrows, "" for none."""
        if kind not in BORROWERS:
            return ""
        if self.style.blues:
            return "verse"
        row = table("form")["borrowed"].get(kind, {})
        # An intro that comes back as a turnaround counts as its own; they borrow it then.
        own = [other for other in row if other not in LENDERS] if kind == "intro" else ["own"]
        weights = {"own": 0.0}
        for other in own:
            weights["own"] += row.get(other, 0)
        for other in dict.fromkeys(order):
            if other != kind and other not in sources and other in (*LENDERS, "intro"):
                weights[other] = float(row.get(other, 0))
        source = Wheel(weights.items()).spin(self.rng)
        return "" if source == "own" else source

    def _returns(self, sections: list[Played]) -> None:
        """Let sections that come back differ, the more of them the higher the rate."""
        seen: set[str] = set()
        coming = []
        for section in sections:
            if section.kind in seen and section.kind not in MODEST:
                coming.append(section)
            seen.add(section.kind)
        rate = self.features.later_changes
        if not coming or rate <= 0 or not chance(self.rng, rate):
            return
        each = 1.0 if rate >= 1 else 0.35
        changing = [section for section in coming if chance(self.rng, each)]
        for section in changing or [coming[int(self.rng.random() * len(coming))]]:
            come_back(self.rng, self.composer, section, self.features)

    def _change_key(self, sections: list[Played]) -> None:
        """Move the key up into the last chorus or verse, if it has been heard before."""
        kinds = [section.kind for section in sections]
        again = [
            at
            for at, kind in enumerate(kinds)
            if kind in ("verse", "chorus") and kind in kinds[:at]
        ]
        if not again:
            return
        place = again[-1]
        counts = table("form")["key_changes"]
        rise = 1 if chance(self.rng, counts["1"] / (counts["1"] + counts["2"])) else 2
        sections[place].key_change = rise
        five = "b6" if rise == 1 else "6"
        if (not self.settings.chords or five in self.spelt) and chance(self.rng, 0.4):
            prepare_key(sections[place - 1], five, self.features.splits > 0)

    def _decorate(self, sections: list[Played]) -> None:
        """Short bars, basses, spellings and marks."""
        rng, features, model = self.rng, self.features, self.composer.model
        if features.holds or features.stops:
            own_endings(sections)
        heard = spots(sections)
        shorten(rng, heard, features.short_bars)
        add_basses(rng, model.mode, heard, features.slash_chords, features.splits > 0)
        leaning = 1 + (self.style.extensions - 1) * self.settings.variety
        rate = min(1.0, self.settings.extensions * leaning)
        if self.style.blues and not self.spelt:
            palette = blues_palette(rng, model.chords, rate)
        else:
            palette = make_palette(rng, model, rate, self.style.sevenths, self.spelt)
        palette.paint(heard)
        add_marks(rng, heard, features)


def _render(sections: list[Played], meter: Meter) -> tuple[Section, ...]:
    """The sections as they stand in the chart."""
    short = Meter(meter.beats // 2, meter.unit) if meter.beats % 2 == 0 else meter
    known: dict[int, Phrase] = {}
    rendered = []
    for section in sections:
        phrases = []
        for at, phrase in enumerate(section.phrases):
            if section.key_change and not at:
                phrases.append(render_phrase(phrase, meter, short, section.key_change))
                continue
            made = known.get(id(phrase))
            if made is None:
                made = known[id(phrase)] = render_phrase(phrase, meter, short)
            phrases.append(made)
        rendered.append(Section(section.name, tuple(phrases)))
    return tuple(rendered)
