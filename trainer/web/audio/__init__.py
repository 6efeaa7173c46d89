"""Sound over HTTP: what is offered is made once, streamed while it is made, and kept."""

from trainer.web.audio.shelf import AudioInfo, AudioShelf

__all__ = ["AudioInfo", "AudioShelf"]
