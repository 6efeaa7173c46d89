"""What a generator can be asked for. A recipe (trainer.exercise) is turned into this."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Features", "Settings"]


@dataclass(frozen=True, slots=True)
class Features:
    """How often each thing happens, 0 never, 1 wherever it can.

    Per bar: splits, uneven_splits (share of the splits), slash_chords, holds, pushes, stops,
    short_bars (2/4). Per phrase: odd_phrases. Per song: key_change, tag, later_changes (a section
    that comes back differs).
    """

    splits: float = 0.0
    uneven_splits: float = 0.0
    slash_chords: float = 0.0
    odd_phrases: float = 0.0
    holds: float = 0.0
    pushes: float = 0.0
    stops: float = 0.0
    short_bars: float = 0.0
    key_change: float = 0.0
    tag: float = 0.0
    later_changes: float = 0.0


@dataclass(frozen=True, slots=True)
class Settings:
    """One kind of song.

    `size` is "phrase", "section" or "song". `styles` are names from `generate.styles`; one is
    drawn a song. `tempo_bpm` (low, high) narrows the style's own range, None leaves it. `keys` are
    key names, drawn evenly; empty means the usual twelve. `chords` are the chords allowed, in
    notation ("1", "6-", "5/7" is written through features.slash_chords instead); empty means all
    that the tables know. `minor` is the share of songs that live on a minor 1. `phrase_bars` is the
    usual phrase length.
    """

    size: str = "song"
    styles: tuple[str, ...] = ("straight pop",)
    tempo_bpm: tuple[float, float] | None = None
    keys: tuple[str, ...] = ()
    chords: tuple[str, ...] = ()
    extensions: float = 0.0
    minor: float = 0.0
    phrase_bars: int = 4
    features: Features = field(default_factory=Features)
