"""Settings of whole songs without teaching limits, which many tests and benchmarks draw from."""

from __future__ import annotations

from trainer.generate import Features, Settings

__all__ = ["EVERYDAY"]

STYLES = {
    "straight pop": 0.33,
    "ballad": 0.12,
    "half-time rock": 0.09,
    "shuffle": 0.10,
    "two-beat": 0.07,
    "train beat": 0.06,
    "string-band": 0.03,
    "waltz": 0.02,
    "6/8": 0.02,
    "gospel 12/8": 0.03,
    "twelve-bar blues": 0.03,
    "minor-key": 0.10,
}
# Whole songs without teaching limits. Rates of splits, slash chords, odd phrases, short bars, key
# changes and extensions are those of the tables; the others (never notated there) are common
# practice, no source.
EVERYDAY = Settings(
    styles=tuple(STYLES),
    style_weights=tuple(STYLES.values()),
    extensions=0.27,
    minor=0.09,
    odd_lengths=(1, 2, 3, 5, 6, 7, 8),
    variety=1.0,
    features=Features(
        splits=0.26,
        uneven_splits=0.235,
        slash_chords=0.065,
        odd_phrases=0.28,
        holds=0.02,
        pushes=0.06,
        chokes=0.012,
        short_bars=0.005,
        key_change=0.1,
        tag=0.15,
        later_changes=0.75,
        silent_bars=0.02,
        fade=0.69,
    ),
)
