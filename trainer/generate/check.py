"""The check of settings before anything is drawn; an error names what is allowed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from functools import lru_cache

from trainer.chart import Key
from trainer.errors import ChartError, SettingsError
from trainer.generate.settings import SIZES, Settings
from trainer.generate.styles import STYLES, Style
from trainer.generate.tokens import parse_chord, token_of

__all__ = ["check_settings", "tempo_range"]

# Chords that lead home: with a 1 they make a cadence.
LEADING = {False: ("5", "4", "b7", "2-", "5-", "4-"), True: ("5", "5-", "b7", "4", "4-", "b6")}
BLUES = {False: ("1", "4", "5"), True: ("1-", "4-", "5")}
LONGEST_PHRASE = 16


@lru_cache(maxsize=256)
def check_settings(settings: Settings) -> None:
    """Raise SettingsError for the first setting that is unknown, out of range or contradictory."""
    _one_of("size", settings.size, SIZES)
    _check_styles(settings)
    _check_tempo(settings)
    for name in settings.keys:
        try:
            Key.parse(name)
        except ChartError as error:
            raise SettingsError("keys", repr(name), error.expected) from error
    for field in fields(settings.features):
        _rate(f"features.{field.name}", getattr(settings.features, field.name))
    for name in ("extensions", "minor", "variety"):
        _rate(name, getattr(settings, name))
    for name, length in (
        ("phrase_bars", settings.phrase_bars),
        *(("odd_lengths", length) for length in settings.odd_lengths),
    ):
        if not 1 <= length <= LONGEST_PHRASE:
            raise SettingsError(name, str(length), f"1 to {LONGEST_PHRASE} bars")
    _check_chords(settings)


def _one_of(where: str, found: str, allowed: Sequence[str]) -> None:
    if found not in allowed:
        raise SettingsError(where, repr(found), "one of " + ", ".join(allowed))


def _rate(where: str, rate: float) -> None:
    if not 0 <= rate <= 1:
        raise SettingsError(where, f"{rate}", "a rate from 0 to 1")


def _check_styles(settings: Settings) -> None:
    """Check that the styles are known, have a weight each, and agree with the meters."""
    if not settings.styles:
        raise SettingsError("styles", "none", "at least one of " + ", ".join(STYLES))
    for name in settings.styles:
        _one_of("styles", name, tuple(STYLES))
    weights = settings.style_weights
    if weights and (len(weights) != len(settings.styles) or min(weights) < 0 or not any(weights)):
        raise SettingsError(
            "style_weights",
            str(weights),
            f"one weight for each of the {len(settings.styles)} styles, none below 0, not all 0",
        )
    known = sorted({str(style.meter) for style in STYLES.values()})
    for meter in settings.meters:
        _one_of("meters", meter, known)
    for name in settings.styles:
        style = STYLES[name]
        if settings.meters and str(style.meter) not in settings.meters:
            raise SettingsError(
                "styles",
                f"{name!r} with meters " + ", ".join(settings.meters),
                f"a meter that {name} is played in ({style.meter}), or one of the styles "
                + ", ".join(s.name for s in STYLES.values() if str(s.meter) in settings.meters),
            )


def tempo_range(settings: Settings, style: Style) -> tuple[float, float]:
    """The tempos of a style within those asked for; low above high where they do not meet."""
    low, high = settings.tempo_bpm or style.tempo_bpm
    return max(low, style.tempo_bpm[0]), min(high, style.tempo_bpm[1])


def _check_tempo(settings: Settings) -> None:
    if settings.tempo_bpm is None:
        return
    low, high = settings.tempo_bpm
    if not 20 <= low <= high <= 400:
        raise SettingsError(
            "tempo_bpm", f"{low:g} to {high:g}", "low, then high, both from 20 to 400"
        )
    for name in settings.styles:
        narrowed = tempo_range(settings, STYLES[name])
        if narrowed[0] > narrowed[1]:
            own = STYLES[name].tempo_bpm
            raise SettingsError(
                "tempo_bpm",
                f"{low:g} to {high:g} with the style {name!r}",
                f"a range that meets the style's {own[0]:g} to {own[1]:g}",
            )


def _check_chords(settings: Settings) -> None:
    """Check that the chords can be read and allow a cadence in every style and mode asked for."""
    tokens = []
    for where, names in (("chords", settings.chords), ("favour", settings.favour)):
        for name in names:
            if "/" in name:
                raise SettingsError(
                    where,
                    repr(name),
                    "chords without a bass; slash chords come with features.slash_chords",
                )
            try:
                parse_chord(name)
            except ChartError as error:
                raise SettingsError(where, repr(name), error.expected) from error
            if where == "chords":
                tokens.append(token_of(name))
            elif settings.chords and name not in settings.chords:
                raise SettingsError(
                    "favour", repr(name), "one of the chords allowed: " + ", ".join(settings.chords)
                )
    if not settings.chords:
        return
    for name in settings.styles:
        style = STYLES[name]
        for minor in (True, False):
            asked = (
                settings.minor > 0 or style.minor
                if minor
                else (settings.minor < 1 and not style.minor)
            )
            if asked:
                _check_cadence(tokens, style, minor)


def _check_cadence(tokens: Sequence[str], style: Style, minor: bool) -> None:
    """Raise SettingsError naming the chord that is missing for a cadence."""
    have = ", ".join(tokens)
    home = "1-" if minor else "1"
    mode = "minor" if minor else "major"
    if style.blues:
        for chord in BLUES[minor]:
            if chord not in tokens:
                raise SettingsError(
                    "chords",
                    f"{have} without {chord}",
                    f"{chord}: a twelve-bar blues in {mode} needs {', '.join(BLUES[minor])}",
                )
    if home not in tokens:
        raise SettingsError(
            "chords",
            f"{have} without {home}",
            f"{home}: a cadence in {mode} ({style.name}) rests on it",
        )
    if not any(chord in tokens for chord in LEADING[minor]):
        raise SettingsError(
            "chords",
            f"{have} without {LEADING[minor][0]}",
            f"one of {', '.join(LEADING[minor])}: something must lead to {home}",
        )
