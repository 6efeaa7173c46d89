"""Sound: arrangements rendered through FluidSynth, streamed, measured, written and played.

`synth` is the way in: it keeps a soundfont loaded and makes a `rendering`, whose length is known
before a note is played. A rendering turns the arrangement into a `sequence` of synth events, cuts
it into `windows` that are rendered by a synth `engine` each, adds them up (`mixing`) and limits the
peaks (`limiter`); looped, it is played again and again. `prediction` sets the gain from the notes
alone; `loudness` measures finished audio, both by the parts of `bs1770`. `files` writes, `player`
plays, `soundfonts` finds soundfonts.

The hearing caution that is shown at first use stands here. Importing this room loads nothing heavy:
each other name loads its module when it is first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.sound.engine import fluidsynth_library
    from trainer.sound.files import AUDIO_FORMATS, WAV_HEADER_BYTES, encode, wav_header, write_audio
    from trainer.sound.loudness import Loudness, LoudnessMeter, measure, measure_file
    from trainer.sound.player import Player, require_audio_output
    from trainer.sound.rendering import (
        RENDERING_VERSION,
        TAIL_S,
        Block,
        Looped,
        Rendering,
        check_playing_time,
    )
    from trainer.sound.soundfonts import find_soundfont
    from trainer.sound.synth import Synth

__all__ = [
    "AUDIO_FORMATS",
    "HEARING_CAUTION",
    "HEARING_REMINDER",
    "RENDERING_VERSION",
    "TAIL_S",
    "WAV_HEADER_BYTES",
    "Block",
    "Looped",
    "Loudness",
    "LoudnessMeter",
    "Player",
    "Rendering",
    "Synth",
    "check_playing_time",
    "encode",
    "find_soundfont",
    "fluidsynth_library",
    "measure",
    "measure_file",
    "require_audio_output",
    "wav_header",
    "write_audio",
]

# Exposure limits: Recommendation ITU-T H.870 "Guidelines for safe listening devices/systems"
# (WHO-ITU, 2018, in force 2022): 80 dBA for 40 hours a week for adults, 75 dBA for children and
# sensitive listeners.
HEARING_CAUTION = """\
Look after your hearing: headphones and loudspeakers can damage it for good.
- Set the volume low before the first note, then raise it only until it is
  comfortable.
- Take a break from listening now and then. We suggest one every ten minutes;
  that is our own advice, not a measured limit.
- As a guide, the WHO-ITU recommendation H.870 allows adults 80 dBA for 40
  hours a week, children and sensitive listeners 75 dBA. Each 3 dB more halves
  the time.
- This program can't know how loud it is at your ear. That depends on your
  equipment and its settings.
- If speech sounds dull or your ears ring afterwards, stop and turn it down.
Local rules come first. If you're worried about your hearing, ask a hearing
professional.
"""

# Said wherever a sound is made for somebody who may not have seen the caution.
HEARING_REMINDER = """\
Before you listen: set the volume low, then raise it only until it is comfortable.
Headphones and loudspeakers can damage your hearing for good. Local rules come first.
If you're worried about your hearing, ask a hearing professional."""

_HOMES = {
    "AUDIO_FORMATS": "files",
    "RENDERING_VERSION": "rendering",
    "TAIL_S": "rendering",
    "WAV_HEADER_BYTES": "files",
    "Block": "rendering",
    "Looped": "rendering",
    "Loudness": "loudness",
    "LoudnessMeter": "loudness",
    "Player": "player",
    "Rendering": "rendering",
    "Synth": "synth",
    "check_playing_time": "rendering",
    "encode": "files",
    "find_soundfont": "soundfonts",
    "fluidsynth_library": "engine",
    "measure": "loudness",
    "measure_file": "loudness",
    "require_audio_output": "player",
    "wav_header": "files",
    "write_audio": "files",
}


def __getattr__(name: str) -> Any:
    """Load a public name from its module on first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
