"""The settings of the generator. A recipe (`trainer.exercise`) is turned into them."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["SIZES", "Features", "Settings"]

SIZES = ("phrase", "section", "song")


@dataclass(frozen=True, slots=True)
class Features:
    """The rate of each feature, from 0 (never) to 1 (wherever it can be).

    Per bar: splits, uneven_splits (a share of the splits), slash_chords, holds, pushes, chokes,
    short_bars [2/4]. Per phrase: odd_phrases, silent_bars (its last bar is silent). Per step
    from 1 to 2- or from 4 to 5: passing (a diminished chord between). Per song:
    key_change, tag, later_changes (a section that comes back differs; that the last bar of a song
    holds the home chord is no such change), pickup (a short bar before the first), fade (the band
    fades out at the end; a composed song then ends on a line played four times), bridge_key (the
    bridge stands in another key, and what follows it in the old one).
    """

    splits: float = 0.0
    uneven_splits: float = 0.0
    slash_chords: float = 0.0
    odd_phrases: float = 0.0
    holds: float = 0.0
    pushes: float = 0.0
    chokes: float = 0.0
    short_bars: float = 0.0
    key_change: float = 0.0
    tag: float = 0.0
    later_changes: float = 0.0
    silent_bars: float = 0.0
    pickup: float = 0.0
    fade: float = 0.0
    bridge_key: float = 0.0
    passing: float = 0.0


@dataclass(frozen=True, slots=True)
class Settings:
    """One kind of song.

    `size` is "phrase", "section" or "song". `styles` are names from `generate.styles`; one of them
    is drawn for a song, by `style_weights` (one weight for each) or evenly where these are empty.
    `tempo_bpm` (low, high) narrows the style's own range, None leaves it as it is. `keys` are
    names of keys, drawn evenly; empty means the usual twelve. `chords` are the chords allowed, in
    notation and without a bass ("1", "6-"; slash chords come with `features.slash_chords`); empty
    means all chords of the tables. `extensions` is the share of chords that carry one. `minor` is
    the share of songs with a minor 1. `phrase_bars` is the usual length of a phrase; a phrase of
    any other length is odd, and `odd_lengths` are the lengths it may have.

    `meters` ("4/4", "6/8") must agree with the styles; empty asks nothing. `variety` 0 gives every
    song the rates as stated; 1 lets songs and styles differ as widely as real ones do, around the
    same average. `favour` names chords that phrases should hold where they can (what a level
    introduces). `basses` names the slash chords there may be ("5/7", "1/3"); empty allows all.
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
    odd_lengths: tuple[int, ...] = (2, 3, 5, 6, 7)
    meters: tuple[str, ...] = ()
    style_weights: tuple[float, ...] = ()
    variety: float = 0.0
    favour: tuple[str, ...] = ()
    basses: tuple[str, ...] = ()
