"""Songs invented from settings: form, phrases, harmony and decoration.

`song` tells how a song comes about, step by step. Form (`form`) draws the order of the sections and
their phrases, `rhythm` the bars in which chords change, `compose` the chords of each phrase from
the model in `harmony`, by exact sampling (`markov_chain`), and `composed_song` joins them.
`returns` changes sections that come back; `bass`, `extensions` and `articulations` decorate the
`sketch`, which then becomes a chart; `finish` puts on the chart what a course asks for besides,
such as a pickup. Whole songs that vary as real ones do take the plan of a real song instead
(`plans`), with sections built as in others (`crossed_plans`). Its chords are assigned (`assign`) by
what the plan does with them (`plan_facts`) and how likely real songs are to do that (`likelihood`);
`planned` and `planned_song` write it down. `tables` holds the statistics of real songs that all of
them draw from, `styles` the declared departures from their average, `settings` what can be asked
for and `check` what is refused.
"""

from trainer.generate.check import check_settings
from trainer.generate.finish import PASSING_CHORDS
from trainer.generate.settings import Features, Settings
from trainer.generate.song import GENERATOR_VERSION, generate
from trainer.generate.styles import STYLES, Style

__all__ = [
    "GENERATOR_VERSION",
    "PASSING_CHORDS",
    "STYLES",
    "Features",
    "Settings",
    "Style",
    "check_settings",
    "generate",
]
