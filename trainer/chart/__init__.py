"""Charts: the model, the text notation, letter names, speech and JSON.

`model` defines the chart down to the bar, `chords` its chords, `keys` and `meter` the rest, and
`section_names` the kinds of sections by their names. `parse` reads notation: lines go to `header`
or `bars`, which joins the `tokens` of a line; `invalid_tokens` explains what is not a token.
`format` writes notation, `letters` letter names, `speech` words, `data` JSON. `words_beside` says
where words beside the bars belong, `notes` are words for the players and comments, `hits` the
rhythm of a bar; `band_words` is what the band makes of notes, `capo` the guitar's shapes.
`variants` are whole charts without their notes, or in another key.
"""

from trainer.chart.band_words import BAND_WORDS, Action, BandWord, Instruction, read_band_words
from trainer.chart.capo import shape_keys, shape_letters
from trainer.chart.chords import (
    bass_pitch_class,
    chord_intervals,
    pitch_classes,
    root_pitch_class,
)
from trainer.chart.data import chart_from_json, chart_to_json
from trainer.chart.format import format_chart
from trainer.chart.header import Header
from trainer.chart.keys import Key
from trainer.chart.letters import chord_letters, format_letters
from trainer.chart.model import (
    Articulation,
    Bar,
    Chart,
    Chord,
    Degree,
    Event,
    Feel,
    Meter,
    Phrase,
    PlacedBar,
    Section,
    excerpt,
)
from trainer.chart.parse import parse, parse_tolerant
from trainer.chart.parse_result import ParseResult, TextSpan
from trainer.chart.speech import say_bar, say_chord, say_section
from trainer.chart.typed.question import Choice, Question, question_to_json
from trainer.chart.variants import called_in, has_notes, without_notes

__all__ = [
    "BAND_WORDS",
    "Action",
    "Articulation",
    "BandWord",
    "Bar",
    "Chart",
    "Choice",
    "Chord",
    "Degree",
    "Event",
    "Feel",
    "Header",
    "Instruction",
    "Key",
    "Meter",
    "ParseResult",
    "Phrase",
    "PlacedBar",
    "Question",
    "Section",
    "TextSpan",
    "bass_pitch_class",
    "called_in",
    "chart_from_json",
    "chart_to_json",
    "chord_intervals",
    "chord_letters",
    "excerpt",
    "format_chart",
    "format_letters",
    "has_notes",
    "parse",
    "parse_tolerant",
    "pitch_classes",
    "question_to_json",
    "read_band_words",
    "root_pitch_class",
    "say_bar",
    "say_chord",
    "say_section",
    "shape_keys",
    "shape_letters",
    "without_notes",
]
