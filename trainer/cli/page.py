"""What `chart-trainer` does without a command: the page, in the browser."""

from __future__ import annotations

import threading
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from trainer.store import Store

__all__ = ["page_folder", "start_page"]

SOUNDS = "sounds"
# The first page comes first; the synth is warmed up while it is read.
WARM_UP_AFTER_S = 0.5


def start_page(
    *,
    port: int | None = None,
    browser: bool = True,
    data: Path | str | None = None,
    learner: str = "me",
    soundfont: Path | None = None,
) -> None:
    """Serve the page until interrupted; a second start shows the one that runs.

    `data` is the folder or the database's URL that holds the record.

    Raises SettingsError (the port is taken), StoreError, FileError (the soundfont).
    """
    from trainer.web.serving import serve_locally

    if soundfont is not None:
        from trainer.sound import find_soundfont

        soundfont = find_soundfont(soundfont)
    folder = page_folder(data)
    page = _Page(data, folder, learner, soundfont)
    try:
        serve_locally(
            page.make,
            folder=folder,
            learner=learner,
            port=port,
            browser=browser,
            say=typer.echo,
            once_up=page.warm_up,
            before_stop=page.stop_audio,
        )
    finally:
        page.close()


def page_folder(data: Path | str | None) -> Path:
    """Where rendered sounds are and the note of the page that runs: with the record, or, for one
    in a database, in a folder of its own in the user's data folder.
    """
    from trainer.store import default_data_folder, location_name

    if isinstance(data, Path):
        return data
    if data is None:
        return default_data_folder()
    digest = sha256(location_name(data).encode()).hexdigest()
    return default_data_folder() / "databases" / digest[:16]


class _Page:
    """The application with the store and the audio library it works on."""

    def __init__(
        self, location: Path | str | None, folder: Path, learner: str, soundfont: Path | None
    ) -> None:
        from trainer.web.audio import AudioLibrary

        self._location, self._learner = location, learner
        self._library = AudioLibrary(soundfont, folder / SOUNDS)
        self._store: Store | None = None

    def make(self) -> Any:
        """Open the store and make the application."""
        from trainer.store import Store
        from trainer.web import create_app

        self._store = Store.open(self._location)
        app = create_app(self._store, self._library, learner=self._learner)
        return self._library.pages_first(app)

    def warm_up(self) -> None:
        """Load what most songs need, a little later."""
        timer = threading.Timer(WARM_UP_AFTER_S, self._library.warm_up)
        timer.daemon = True
        timer.start()

    def stop_audio(self) -> None:
        """Stop rendering, so that nobody waits for a sound any more."""
        self._library.stop()

    def close(self) -> None:
        """Close both."""
        self._library.close()
        if self._store is not None:
            self._store.close()
