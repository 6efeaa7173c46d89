"""A song of Millrace to play in any feel, for the band's tests."""

from __future__ import annotations

from trainer.chart import Chart, Feel, Header, Key, Meter, parse

__all__ = ["METERS", "river_song"]

# A meter for every feel.
METERS = {
    Feel.STRAIGHT: Meter(4, 4),
    Feel.SHUFFLE: Meter(4, 4),
    Feel.TWO_BEAT: Meter(4, 4),
    Feel.TRAIN_BEAT: Meter(4, 4),
    Feel.HALF_TIME: Meter(4, 4),
    Feel.WALTZ: Meter(3, 4),
    Feel.SIX_EIGHT: Meter(6, 8),
    Feel.TWELVE_EIGHT: Meter(12, 8),
}
TEMPOS = {Feel.SIX_EIGHT: 56.0, Feel.TWELVE_EIGHT: 60.0, Feel.WALTZ: 126.0, Feel.HALF_TIME: 76.0}

TEXT = """
Intro:
1 4 1 5

Verse 1:
1 1 5 5 . 1 1 5 5 5
4 4 1 1 . 6- 2- 4 5

Chorus:
4 5 1 6- . 4 5 1 1
4 5 6- 1/3 . 2- 5 1 1

Turnaround:
1 4 1 5

Verse 2:
1 1 5 5 . 1 1 5 5 5
4 4 1 1 . 6- 2- 4 5

Chorus:
4 5 1 6- . 4 5 1 1
4 5 6- 1/3 . 2- 5 1 1

Tag:
2- 5 4 1
"""


def river_song(feel: Feel = Feel.STRAIGHT, key: str = "D", tempo: float | None = None) -> Chart:
    """A whole song with two verses, two choruses and instrumental sections."""
    header = Header(
        title="Second Lamp past the Sluice",
        meter=METERS[feel],
        tempo=tempo or TEMPOS.get(feel, 96.0),
        feel=feel,
        key=Key.parse(key),
    )
    return parse(TEXT, header)
