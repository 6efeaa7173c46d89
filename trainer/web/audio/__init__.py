"""Sound over HTTP: rendered once, streamed while it is rendered, and kept.

How it goes, by file:

- A page registers an arrangement with the `library` and shows the key it gets (`keys`). Another
  process that is asked for the key asks the page again (`asking`).
- The browser asks for the key (`routes`): the size is known at once, byte ranges are answered.
- What is in the `cache` is read from there. For the rest the `pool` begins a job (`jobs`), whose
  readers get its bytes as they come; a reader who wants a part far ahead gets a prefetcher.
- All of them render in turns (`turns`): a few blocks at a time, what somebody waits for first, and
  none while a page is being made.
- Of several processes on a machine one renders a sound, and the others read its file (`cache`).
- A finished job becomes a file of the cache; `flac` encodes that file when a browser asks for FLAC.
"""

from trainer.web.audio.keys import shared_secret
from trainer.web.audio.library import AudioInfo, AudioLibrary

__all__ = ["AudioInfo", "AudioLibrary", "shared_secret"]
