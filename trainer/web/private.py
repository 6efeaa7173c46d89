"""Files and folders that only their owner may read, whatever the process's file mode mask."""

from __future__ import annotations

import os
from pathlib import Path

__all__ = ["make_private_folder", "private_opener"]

_FOLDER_MODE, _FILE_MODE = 0o700, 0o600


def make_private_folder(folder: Path) -> None:
    """Make a folder, and those above it that are missing, with mode 0700.

    A folder that exists gets this mode, too; those above it stay as they are. Raises OSError.
    """
    missing = [parent for parent in (folder, *folder.parents) if not parent.exists()]
    for parent in reversed(missing):
        parent.mkdir(_FOLDER_MODE, exist_ok=True)
    if folder.stat().st_mode & 0o077:
        folder.chmod(_FOLDER_MODE)


def private_opener(path: str, flags: int) -> int:
    """Open a file for the built-in `open`; a new one gets mode 0600."""
    return os.open(path, flags, _FILE_MODE)
