"""Every error the trainer raises on purpose.

::

    TrainerError
    ├── InputError            something the person gave is wrong (exit code 2)
    │   ├── ChartError        a chart that cannot exist: which bar, which beat
    │   ├── NotationError     a text that is not a chart; carries every problem at once
    │   ├── SettingsError     a recipe, course or option with an unknown or contradictory value
    │   │   └── SettingsErrorGroup  several of them at once
    │   ├── FileError         a file that cannot be read or written
    │   └── DrillError        what a drill does not allow as it stands
    │       ├── NoListenLeft
    │       ├── NothingWritten
    │       ├── TextTooLong
    │       └── DrillReplaced
    ├── MissingError          this machine lacks something (exit code 1)
    │   ├── SoundfontMissing
    │   ├── SynthMissing
    │   └── AudioDeviceMissing
    └── StoreError            the database cannot be used (exit code 1)
        ├── StoreBroken
        ├── StoreLocked
        │   └── StoreConflict  two writers met; the same again may succeed
        └── StoreNewer

A message says where, what was found, what was expected and, where it helps, what to do.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "AudioDeviceMissing",
    "ChartError",
    "DrillError",
    "DrillReplaced",
    "FileError",
    "InputError",
    "MissingError",
    "NoListenLeft",
    "NotationError",
    "NothingWritten",
    "Problem",
    "SettingsError",
    "SettingsErrorGroup",
    "SoundfontMissing",
    "StoreBroken",
    "StoreConflict",
    "StoreError",
    "StoreLocked",
    "StoreNewer",
    "SynthMissing",
    "TextTooLong",
    "TrainerError",
]


class TrainerError(Exception):
    """Base of all errors raised on purpose; its text is fit to show to a person."""


class InputError(TrainerError):
    """Something the person gave is wrong."""


class ChartError(InputError):
    """A chart that cannot exist.

    Parameters: `where` names the place ("bar 3, beat 2"), `found` and `expected` say the rest.
    """

    def __init__(self, where: str, found: str, expected: str) -> None:
        self.where, self.found, self.expected = where, found, expected
        super().__init__(f"{where}: found {found}, expected {expected}")


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a text: where it stands (from 1), what was found, what was expected."""

    line: int
    column: int
    found: str
    expected: str

    def __str__(self) -> str:
        return (
            f"line {self.line}, column {self.column}: found {self.found}, expected {self.expected}"
        )


class NotationError(InputError):
    """A text that is not a chart. `problems` lists all of them, in order of place."""

    def __init__(self, problems: tuple[Problem, ...], source: str = "") -> None:
        self.problems, self.source = problems, source
        prefix = f"{source}: " if source else ""
        super().__init__("\n".join(f"{prefix}{problem}" for problem in problems))


class SettingsError(InputError):
    """A setting that is unknown, out of range or contradicts another.

    Parameters: `where` names the file and key ("level-03.toml: features.splits"), `found` the
    value, `expected` the allowed values.
    """

    def __init__(self, where: str, found: str, expected: str) -> None:
        self.where, self.found, self.expected = where, found, expected
        super().__init__(f"{where}: found {found}, expected {expected}")


class SettingsErrorGroup(SettingsError):
    """Everything wrong with one file of settings, one problem a line; `errors` has each alone."""

    def __init__(self, errors: tuple[SettingsError, ...]) -> None:
        self.errors = errors
        first = errors[0]
        super().__init__(first.where, first.found, first.expected)
        self.args = ("\n".join(map(str, errors)),)


class FileError(InputError):
    """A file that cannot be read or written: names the path and the reason."""


class DrillError(InputError):
    """What a drill does not allow as it stands; nothing that was typed is lost."""


class NoListenLeft(DrillError):
    """Every listen that the exercise allows was used."""


class NothingWritten(DrillError):
    """An answer without a text cannot be graded."""


class TextTooLong(DrillError):
    """A text of more than `most` characters, longer than any chart, is not kept or graded."""

    def __init__(self, most: int) -> None:
        super().__init__(
            f"That is more than {most:,} characters, longer than any chart. It stays in the "
            "field, but it is not drawn, kept or graded until it is shorter."
        )


class DrillReplaced(DrillError):
    """What is sent belongs to a drill that has ended, or to another learner's."""


class MissingError(TrainerError):
    """This machine lacks something; what does not need it goes on working."""


class SoundfontMissing(MissingError):
    """No soundfont was found; the text lists where it was looked for."""


class SynthMissing(MissingError):
    """The FluidSynth library was not found; the text says how to get it."""


class AudioDeviceMissing(MissingError):
    """No audio output; the text offers a file instead."""


class StoreError(TrainerError):
    """The database cannot be used; it is never overwritten."""


class StoreBroken(StoreError):
    """The file is not a database of ours, or it is damaged."""


class StoreLocked(StoreError):
    """Another program holds the database."""


class StoreConflict(StoreLocked):
    """Two writers met and the database let the other one go on; the same again may succeed."""


class StoreNewer(StoreError):
    """The database was written by a newer version of the trainer."""
