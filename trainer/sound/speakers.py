"""Whether this machine can be heard at all."""

from __future__ import annotations

from trainer.errors import AudioDeviceMissing

__all__ = ["require_speakers"]


def require_speakers() -> None:
    """Raise AudioDeviceMissing, saying what was looked for, unless there is an audio output."""
    try:
        import sounddevice
    except (ImportError, OSError) as error:
        raise AudioDeviceMissing(
            f"no sound from here: PortAudio was looked for and not found ({error}). Get it with "
            "'apt-get install libportaudio2' (on macOS it comes along)"
        ) from error
    try:
        sounddevice.query_devices(kind="output")
    except (sounddevice.PortAudioError, ValueError) as error:
        raise AudioDeviceMissing(
            "no sound from here: no audio output device was found on this machine"
        ) from error
