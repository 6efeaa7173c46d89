"""Every error the trainer raises on purpose.

::

    TrainerError
    ├── InputError            something the person gave is wrong (exit code 2)
    │   ├── ChartError        a chart that cannot exist: which bar, which beat
    │   ├── NotationError     a text that is not a chart; carries every problem at once
    │   ├── SettingsError     a recipe, course or option with an unknown or contradictory value
    │   │   └── SettingsErrorGroup  several of them at once
    │   ├── FileError         a file that cannot be read or written
    │   ├── SongNotFound      a song, version or set that is not in the songbook
    │   ├── AccountError      what somebody who signs in, or looks after accounts, has to know
    │   │   ├── SignInRefused
    │   │   ├── SignInTaken
    │   │   ├── TooManyTries
    │   │   ├── PasswordRefused
    │   │   ├── LinkUseless
    │   │   └── SignInElsewhereFailed  a school's own system did not sign somebody in
    │   ├── ClassError        what a class does not allow as it stands
    │   │   ├── ClassNotFound
    │   │   ├── AssignmentError
    │   │   │   └── AssignmentClosed
    │   │   └── ScoreNotTaken  a learning platform did not take a score
    │   └── DrillError        what a drill does not allow as it stands
    │       ├── NoListenLeft
    │       ├── NothingWritten
    │       ├── TextTooLong
    │       ├── DrillReplaced
    │       └── ResultHidden
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
    "AccountError",
    "AssignmentClosed",
    "AssignmentError",
    "AudioDeviceMissing",
    "ChartError",
    "ClassError",
    "ClassNotFound",
    "DrillError",
    "DrillReplaced",
    "FileError",
    "InputError",
    "LinkUseless",
    "MissingError",
    "NoListenLeft",
    "NotationError",
    "NothingWritten",
    "PasswordRefused",
    "Problem",
    "ResultHidden",
    "ScoreNotTaken",
    "SettingsError",
    "SettingsErrorGroup",
    "SignInElsewhereFailed",
    "SignInRefused",
    "SignInTaken",
    "SongNotFound",
    "SoundfontMissing",
    "StoreBroken",
    "StoreConflict",
    "StoreError",
    "StoreLocked",
    "StoreNewer",
    "SynthMissing",
    "TextTooLong",
    "TooManyTries",
    "TrainerError",
]


class TrainerError(Exception):
    """Base of all errors raised on purpose. Its text can be shown to a person as it is."""


class InputError(TrainerError):
    """Something the person gave is wrong."""


class ChartError(InputError):
    """A chart that cannot exist.

    Parameters
    ----------
    where : the place in the chart ("bar 3, beat 2").
    found, expected : what stands there, and what may stand there.
    """

    def __init__(self, where: str, found: str, expected: str) -> None:
        self.where, self.found, self.expected = where, found, expected
        super().__init__(f"{where}: found {found}, expected {expected}")


@dataclass(frozen=True, slots=True)
class Problem:
    """One mistake in a text: its line and column (from 1), what was found, what was expected."""

    line: int
    column: int
    found: str
    expected: str

    def __str__(self) -> str:
        return (
            f"line {self.line}, column {self.column}: found {self.found}, expected {self.expected}"
        )


class NotationError(InputError):
    """A text that is not a chart. `problems` lists all mistakes in order of place.

    `source`, the name of the file, is put before each of them.
    """

    def __init__(self, problems: tuple[Problem, ...], source: str = "") -> None:
        self.problems, self.source = problems, source
        prefix = f"{source}: " if source else ""
        super().__init__("\n".join(f"{prefix}{problem}" for problem in problems))


class SettingsError(InputError):
    """A setting that is unknown, out of range or contradicts another.

    Parameters
    ----------
    where : the file and the key ("level-03.toml: features.splits").
    found : the value.
    expected : the allowed values.
    """

    def __init__(self, where: str, found: str, expected: str) -> None:
        self.where, self.found, self.expected = where, found, expected
        super().__init__(f"{where}: found {found}, expected {expected}")


class SettingsErrorGroup(SettingsError):
    """All mistakes in one file of settings.

    Its text has a line for each; `errors` has them one by one, at least one.
    """

    def __init__(self, errors: tuple[SettingsError, ...]) -> None:
        self.errors = errors
        first = errors[0]
        super().__init__(first.where, first.found, first.expected)
        self.args = ("\n".join(map(str, errors)),)


class FileError(InputError):
    """A file that cannot be read or written. The text names the path and the reason."""


class SongNotFound(InputError):
    """A song, version or set that is not in the songbook, or is not the learner's to read."""


class AccountError(InputError):
    """What somebody who signs in, or looks after accounts, has to know; nothing was changed."""


class SignInRefused(AccountError):
    """The name or the password is wrong, or the account is switched off: which, is not said."""

    def __init__(self) -> None:
        super().__init__("That name and password don't belong together. Check both and try again.")


class SignInTaken(AccountError):
    """Somebody else has the sign-in name that was asked for."""

    def __init__(self, name: str) -> None:
        super().__init__(f"Somebody already signs in as {name}. Choose another name.")


class TooManyTries(AccountError):
    """There were so many failed sign-ins that the next try has to wait `wait_s` seconds."""

    def __init__(self, wait_s: int) -> None:
        self.wait_s = wait_s
        seconds = "1 second" if wait_s == 1 else f"{wait_s} seconds"
        super().__init__(f"That went wrong too often. Wait {seconds}, then try again.")


class PasswordRefused(AccountError):
    """A password that is too short, too long or too easy to guess."""


class LinkUseless(AccountError):
    """A link that was used, has expired or never was one."""

    def __init__(self) -> None:
        super().__init__(
            "This link doesn't work any more: it was used already, or it's too old. Ask for a new "
            "one."
        )


class SignInElsewhereFailed(AccountError):
    """A school's own system did not sign somebody in, or not so that it can be believed.

    The text is for the person; `why` says more to whoever runs the server, and is logged.
    """

    def __init__(self, text: str, why: str = "") -> None:
        super().__init__(text)
        self.why = why


class ClassError(InputError):
    """What a class does not allow as it stands."""


class ClassNotFound(ClassError):
    """A class, an assignment or somebody's work that is not there for who asks."""


class AssignmentError(ClassError):
    """What an assignment cannot be, or does not allow as it stands."""


class AssignmentClosed(AssignmentError):
    """Work for an assignment that takes none now."""


class ScoreNotTaken(ClassError):
    """A learning platform did not take a score; it is sent again later."""


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


class ResultHidden(DrillError):
    """The result of work for a class is not shown yet."""


class MissingError(TrainerError):
    """Something that this machine lacks. Whatever does not need it goes on working."""


class SoundfontMissing(MissingError):
    """No soundfont was found. The text lists where it was looked for."""


class SynthMissing(MissingError):
    """The FluidSynth library was not found. The text says how to get it."""


class AudioDeviceMissing(MissingError):
    """There is no audio output. The text offers a file instead."""


class StoreError(TrainerError):
    """A database that cannot be used. It is never overwritten."""


class StoreBroken(StoreError):
    """A file that is not a database of the trainer's, or is damaged."""


class StoreLocked(StoreError):
    """Another program is using the database."""


class StoreConflict(StoreLocked):
    """Two writers met and the database let the other one go on; the same again may succeed."""


class StoreNewer(StoreError):
    """The database was written by a newer version of the trainer."""
