"""What `chart-trainer` does without a command: the page, in the browser."""

from __future__ import annotations

import threading
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from trainer.cli.common import now
from trainer.errors import SettingsError

if TYPE_CHECKING:
    from trainer.store import Store

__all__ = ["PageParts", "page_folder", "start_page"]

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

    Raises SettingsError (the port is taken, or the record is that of a class), StoreError,
    FileError (the soundfont).
    """
    from trainer.web.serving import serve_locally

    parts = PageParts(data, soundfont)

    def make() -> Any:
        from trainer.web import create_app

        store = parts.open_store()
        _refuse_class(store)
        return parts.library.pages_first(create_app(store, parts.library, learner=learner))

    try:
        serve_locally(
            make,
            folder=page_folder(data),
            learner=learner,
            port=port,
            browser=browser,
            say=typer.echo,
            once_up=parts.warm_up,
            before_stop=parts.library.stop,
        )
    finally:
        parts.close()


def _refuse_class(store: Store) -> None:
    """The page for one desk shows everybody's record without a password. Raises SettingsError."""
    if store.accounts.count():
        raise SettingsError(
            "--data",
            "the record of a class, whose people sign in",
            "`chart-trainer serve` for it, or another folder",
        )


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


class PageParts:
    """The store and the audio library that an application works on.

    `location` is the folder or the database's URL that holds the record. If the application
    `is_shared` by several processes, they give a sound the same address. Raises FileError if there
    is no such soundfont.
    """

    def __init__(
        self, location: Path | str | None, soundfont: Path | None, *, is_shared: bool = False
    ) -> None:
        from trainer.web.audio import AudioLibrary

        if soundfont is not None:
            from trainer.sound import find_soundfont

            soundfont = find_soundfont(soundfont)
        self._location = location
        secret = self._shared_secret if is_shared else None
        self.library = AudioLibrary(soundfont, page_folder(location) / SOUNDS, secret=secret)
        self._store: Store | None = None

    def open_store(self) -> Store:
        """The store, opened when it is first asked for."""
        from trainer.store import Store

        if self._store is None:
            self._store = Store.open(self._location)
        return self._store

    def _shared_secret(self) -> bytes:
        from trainer.web.audio import shared_secret

        return shared_secret(self.open_store(), now())

    def warm_up(self) -> None:
        """Load what most songs need, a little later."""
        timer = threading.Timer(WARM_UP_AFTER_S, self.library.warm_up)
        timer.daemon = True
        timer.start()

    def close(self) -> None:
        """Close both."""
        self.library.close()
        if self._store is not None:
            self._store.close()
