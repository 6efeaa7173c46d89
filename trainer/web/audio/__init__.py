"""Sound over HTTP: what is offered is made once, streamed while it is made, and kept."""

from trainer.web.audio.library import AudioInfo, AudioLibrary

__all__ = ["AudioInfo", "AudioLibrary"]
