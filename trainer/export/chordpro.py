"""Charts written as ChordPro, an open text format of chords in square brackets between words.

Only directives of the format are used. Each line is a phrase of bars between bar lines, and ends
with a double one; a chord and the slashes after it are one beat each, and chords without slashes
divide their bar evenly. Meter and key changes are directives on lines of their own, holds, pushes
and chokes are annotations. A key move also stands in a comment, and so does a fade.

A note is a comment before its bar, in a box if it is about the section. Hits are an annotation. A
comment of the chart is a line that begins with #, which programs leave out.
"""

from __future__ import annotations

from collections.abc import Iterator

from trainer.chart import Bar, Chart, Key, Meter, Section
from trainer.chart.format import format_key_change, format_tempo
from trainer.chart.hits import format_hits
from trainer.chart.section_names import OTHER
from trainer.export.chord_names import chord_name
from trainer.export.musicxml import COUNT_OFF_FIELD, FADE_WORD, OPEN_WORD

__all__ = ["write_chordpro"]

# The signs that have a meaning in a directive, and what stands for them.
SAFE = str.maketrans({"{": "(", "}": ")", '"': "'", "\\": "/"})


def write_chordpro(chart: Chart, *, letters: bool = True) -> str:
    """Write a chart as ChordPro, its chords as letters in its key or as numbers."""
    lines = list(_header(chart))
    writer = _Writer(chart, letters=letters)
    for section in chart.sections:
        lines += ["", *writer.section(section)]
    return "\n".join(lines) + "\n"


def _header(chart: Chart) -> Iterator[str]:
    if chart.title:
        yield f"{{title: {chart.title.translate(SAFE)}}}"
    yield f"{{key: {_key_name(chart.key)}}}"
    yield f"{{time: {chart.meter}}}"
    yield f"{{tempo: {format_tempo(chart.tempo)}}}"
    yield f"{{meta: feel {chart.feel}}}"
    if chart.capo is not None:
        yield f"{{capo: {chart.capo}}}"
    if chart.count_off != 1:
        yield f"{{meta: {COUNT_OFF_FIELD} {chart.count_off}}}"
    yield from (f"# {comment}" for comment in chart.comments)


def _key_name(key: Key) -> str:
    """A key as ChordPro has it: Em for E minor."""
    return str(key).replace(" minor", "m")


class _Writer:
    """Writes sections in order; knows the meter and the key that hold."""

    def __init__(self, chart: Chart, *, letters: bool) -> None:
        self.chart, self.letters = chart, letters
        self.meter: Meter = chart.meter
        self.shift = 0

    def section(self, section: Section) -> Iterator[str]:
        """The lines of a section between its directives."""
        kind = "part" if section.kind == OTHER else section.kind.replace("-", "")
        if section.name:
            yield f'{{start_of_{kind}: label="{section.name.translate(SAFE)}"}}'
        yield from (f"{{comment_box: {note.translate(SAFE)}}}" for note in section.notes)
        yield from (f"# {comment}" for comment in section.comments)
        for phrase in section.phrases:
            line: list[str] = []
            for bar in phrase.bars:
                directives = list(self._directives(bar))
                if directives and line:
                    yield _bar_line(line, "|")
                    line = []
                yield from directives
                line.append(self._bar(bar))
            yield _bar_line(line, "||")
            yield from (f"# {comment}" for comment in phrase.comments)
        if section.name:
            yield f"{{end_of_{kind}}}"

    def _directives(self, bar: Bar) -> Iterator[str]:
        """What changes with a bar."""
        if bar.meter != self.meter:
            self.meter = bar.meter
            yield f"{{time: {bar.meter}}}"
        if bar.key_change:
            self.shift += bar.key_change
            yield f"{{key: {_key_name(self.chart.key.shifted(self.shift))}}}"
            yield f"{{comment: {format_key_change(bar.key_change).strip('[]')}}}"
        if bar.fades:
            yield f"{{comment: {FADE_WORD}}}"
        for note in bar.notes:
            yield f"{{comment: {note.translate(SAFE)}}}"

    def _bar(self, bar: Bar) -> str:
        if bar.is_open:
            return " ".join([*self._hits(bar), f"[*{OPEN_WORD}]"])
        key = self.chart.key.shifted(self.shift)
        beats = all(event.beats.denominator == 1 for event in bar.events)
        written = []
        for event in bar.events:
            sign = "" if event.articulation is None else f"[*{event.articulation}]"
            chord = f"[{chord_name(event.chord, key, letters=self.letters)}]{sign}"
            slashes = ["/"] * (int(event.beats) - 1) if beats else []
            written += [chord, *slashes]
        return " ".join([*self._hits(bar), *written])

    @staticmethod
    def _hits(bar: Bar) -> list[str]:
        return [f"[*{format_hits(bar.hits, bar.meter)}]"] if bar.hits else []


def _bar_line(bars: list[str], end: str) -> str:
    return f"| {' | '.join(bars)} {end}"
