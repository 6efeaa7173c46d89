"""Where soundfonts are found. `soundfonts/README.md` describes this for users."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from importlib.util import find_spec
from pathlib import Path

from trainer.errors import FileError, SoundfontMissing

__all__ = ["check_soundfont", "find_soundfont"]

SYSTEM_FOLDERS = (
    Path("/usr/share/sounds/sf2"),
    Path("/usr/share/sounds/sf3"),
    Path("/usr/share/soundfonts"),
    Path("/usr/local/share/soundfonts"),
    Path("/opt/homebrew/share/soundfonts"),
    Path("/Library/Audio/Sounds/Banks"),
    Path("~/Library/Audio/Sounds/Banks"),
    Path("~/.local/share/soundfonts"),
)
SUFFIXES = (".sf2", ".sf3")
CHECKOUT = Path(__file__).resolve().parents[2]


def find_soundfont(option: str | os.PathLike[str] | None = None) -> Path:
    """Find the soundfont to play with.

    It is looked for in this order: `option`, `soundfonts/` at the top of the checkout, the system's
    folders, the small one that pretty_midi carries. In a folder, names that start with "default"
    come first, then the alphabet; a file that is not a soundfont is skipped.

    Raises
    ------
    FileError
        `option` is given and is not a readable soundfont.
    SoundfontMissing
        Nothing was found; the message lists every place where it was looked for.
    """
    if option is not None:
        return check_soundfont(Path(option))
    looked: list[str] = []
    for folder in (CHECKOUT / "soundfonts", *(path.expanduser() for path in SYSTEM_FOLDERS)):
        for path in _inside(folder):
            if (found := _usable(path, looked)) is not None:
                return found
        looked.append(f"{folder}: {'no' if folder.is_dir() else 'no such folder, so no'} soundfont")
    if (found := _usable(bundled_soundfont(), looked)) is not None:
        return found
    raise SoundfontMissing(_nothing(looked))


def check_soundfont(path: Path) -> Path:
    """Return `path` if it is a whole SoundFont 2 file (RIFF form `sfbk`); else raise FileError."""
    try:
        with path.open("rb") as file:
            head = file.read(12)
            size = file.seek(0, os.SEEK_END)
    except OSError as error:
        raise FileError(f"soundfont {path}: {error.strerror or error}") from error
    if head[:4] != b"RIFF" or head[8:12] != b"sfbk":
        raise FileError(
            f"soundfont {path}: found {'an empty file' if not head else f'{head!r}'} at its start, "
            "expected a SoundFont file (.sf2 or .sf3: RIFF … sfbk)"
        )
    said = int.from_bytes(head[4:8], "little") + 8
    if said > size:
        raise FileError(
            f"soundfont {path}: found {size} bytes, expected {said} as it says itself; it was cut "
            "short, copy or download it again"
        )
    return path


def _inside(folder: Path) -> Iterator[Path]:
    """Soundfont files of a folder, the default one first."""
    if folder.is_dir():
        names = (path for path in folder.iterdir() if path.suffix.lower() in SUFFIXES)
        yield from sorted(names, key=lambda p: (not p.name.startswith("default"), p.name))


def _usable(path: Path, looked: list[str]) -> Path | None:
    """The path if it is a soundfont; else None, and the reason is added to `looked`."""
    try:
        return check_soundfont(path)
    except FileError as error:
        looked.append(str(error).removeprefix("soundfont "))
        return None


def bundled_soundfont() -> Path:
    """The path of the small soundfont that pretty_midi carries, whether or not it exists."""
    spec = find_spec("pretty_midi")
    home = Path(spec.origin).parent if spec and spec.origin else Path("pretty_midi")
    return home / "TimGM6mb.sf2"


def _nothing(looked: Iterable[str]) -> str:
    """The message for somebody who has no soundfont."""
    return (
        "no soundfont found. Looked at:\n"
        + "".join(f"  {line}\n" for line in looked)
        + "Get one with 'apt-get install fluid-soundfont-gm' (Debian, Ubuntu), or put any General "
        "MIDI .sf2 file into soundfonts/, or name it with --soundfont FILE."
    )
