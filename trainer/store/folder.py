"""Where the store's file lives, and which files in a data folder are the trainer's."""

from __future__ import annotations

from pathlib import Path

__all__ = ["FILE_NAME", "default_data_folder", "is_own_name"]

FILE_NAME = "trainer.sqlite3"
# The audio cache and the note of a running server stand beside the store.
OWN_NAMES = (Path(FILE_NAME).stem, "sounds", "running.json")


def default_data_folder() -> Path:
    """The platform's folder for a user's data; it need not exist yet."""
    from platformdirs import user_data_path

    return user_data_path("chart-trainer", appauthor=False)


def is_own_name(name: str) -> bool:
    """Whether a file of that name in a data folder is one that the trainer makes."""
    return name.startswith(OWN_NAMES)
