"""Sound: arrangements rendered through FluidSynth, streamed, measured, written and played.

`synth` is the way in: it keeps a soundfont loaded and makes a `rendering`, whose length is known
before a note is played. A rendering turns the arrangement into a `sequence` of synth events, cuts
it into `windows` that are rendered by a synth `engine` each, adds them up (`mixing`) and limits the
peaks (`limiter`). `prediction` sets the gain from the notes alone; `loudness` measures finished
audio, both by the parts of `bs1770`. `files` writes, `player` plays,
`looping` plays again and again, `soundfonts` finds soundfonts.

Importing this room loads nothing heavy: each name loads its module when it is first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.sound.caution import HEARING_CAUTION, HEARING_REMINDER
    from trainer.sound.engine import fluidsynth_library
    from trainer.sound.files import AUDIO_FORMATS, WAV_HEADER_BYTES, encode, wav_header, write_audio
    from trainer.sound.looping import Looped
    from trainer.sound.loudness import Loudness, LoudnessMeter, measure, measure_file
    from trainer.sound.player import Player, require_audio_output
    from trainer.sound.rendering import (
        RENDERING_VERSION,
        TAIL_S,
        Block,
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

_HOMES = {
    "AUDIO_FORMATS": "files",
    "HEARING_CAUTION": "caution",
    "HEARING_REMINDER": "caution",
    "RENDERING_VERSION": "rendering",
    "TAIL_S": "rendering",
    "WAV_HEADER_BYTES": "files",
    "Block": "rendering",
    "Looped": "looping",
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
