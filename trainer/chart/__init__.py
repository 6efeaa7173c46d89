"""Charts: the model, the text notation, letter names, spoken text, tones and JSON."""

from trainer.chart.data import chart_from_json, chart_to_json
from trainer.chart.excerpt import excerpt
from trainer.chart.format import format_chart
from trainer.chart.header import Header
from trainer.chart.keys import Key
from trainer.chart.letters import chord_letters, letters
from trainer.chart.model import (
    Articulation,
    Bar,
    BarPlace,
    Chart,
    Chord,
    Degree,
    Event,
    Feel,
    Meter,
    Phrase,
    Section,
)
from trainer.chart.parse import ParseResult, TextPlace, parse, parse_tolerant
from trainer.chart.speech import say_bar, say_chart, say_chord, say_section
from trainer.chart.tones import (
    bass_pitch_class,
    chord_intervals,
    pitch_classes,
    root_pitch_class,
)

__all__ = [
    "Articulation",
    "Bar",
    "BarPlace",
    "Chart",
    "Chord",
    "Degree",
    "Event",
    "Feel",
    "Header",
    "Key",
    "Meter",
    "ParseResult",
    "Phrase",
    "Section",
    "TextPlace",
    "bass_pitch_class",
    "chart_from_json",
    "chart_to_json",
    "chord_intervals",
    "chord_letters",
    "excerpt",
    "format_chart",
    "letters",
    "parse",
    "parse_tolerant",
    "pitch_classes",
    "root_pitch_class",
    "say_bar",
    "say_chart",
    "say_chord",
    "say_section",
]
