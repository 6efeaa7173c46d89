"""Files: MusicXML against music21's own writer and reader, sheets against Verovio's engraving."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import count
from typing import Any

from tests.benchmarks import Row, against, at_most, best_in_turns
from trainer.chart import Chart
from trainer.export.musicxml import write_musicxml
from trainer.export.musicxml_file import read_musicxml
from trainer.export.sheet import write_sheet
from trainer.generate import Settings, generate

SONGS = 5
# Titles that were never printed before, so that nothing is taken from a cache of whole pages.
FRESH = count()


def songs() -> list[Chart]:
    """Full songs."""
    rng = random.Random(1)
    return [generate(Settings(), rng) for _ in range(SONGS)]


def by_music21(content: bytes) -> Any:
    """A score as music21 holds it."""
    import music21

    return music21.converter.parseData(content, format="musicxml")


def written_by_music21(score: Any) -> bytes:
    """A score as music21 writes it, the same notes and chords."""
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    written: bytes = GeneralObjectExporter(score).parse()
    return written


def run() -> list[Row]:
    """All rows."""
    charts = songs()
    files = [write_musicxml(chart, letters=True) for chart in charts]
    scores = [by_music21(content) for content in files]
    ours_s, other_s = best_in_turns(
        lambda: [write_musicxml(chart, letters=True) for chart in charts],
        lambda: [written_by_music21(score) for score in scores],
    )
    writing = against(f"{SONGS} songs written as MusicXML, against music21", ours_s, other_s, 5)
    ours_s, other_s = best_in_turns(
        lambda: [read_musicxml(content, "song.musicxml") for content in files],
        lambda: [by_music21(content) for content in files],
    )
    reading = against(f"{SONGS} songs read from MusicXML, against music21", ours_s, other_s, 5)
    return [writing, reading, *sheets(charts, files)]


def sheets(charts: list[Chart], files: list[bytes]) -> list[Row]:
    """Our PDF of each song against Verovio's SVG of the first page of its MusicXML."""
    import verovio

    engraver = verovio.toolkit()

    def engrave(content: bytes) -> str:
        engraver.loadData(content.decode())
        drawn: str = engraver.renderToSVG(1)
        return drawn

    write_sheet(charts[0])
    ours_s, other_s = best_in_turns(
        lambda: [write_sheet(replace(chart, title=str(next(FRESH)))) for chart in charts],
        lambda: [engrave(content) for content in files],
    )
    return [
        against(f"{SONGS} songs printed (PDF), against Verovio (SVG)", ours_s, other_s, 1),
        at_most("a song printed (PDF), warm", 1000 * ours_s / SONGS, 200, "ms"),
    ]
