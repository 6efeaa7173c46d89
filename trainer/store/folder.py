"""Where the store's file lives."""

from __future__ import annotations

from pathlib import Path

__all__ = ["FILE_NAME", "default_data_folder"]

FILE_NAME = "trainer.sqlite3"


def default_data_folder() -> Path:
    """The platform's folder for a user's data; it need not exist yet."""
    from platformdirs import user_data_path

    return user_data_path("chart-trainer", appauthor=False)
