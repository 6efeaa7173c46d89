"""An assignment for a room without computers: sounds, sheets to write on, and answer sheets.

Everything goes into one folder. Songs that are the same for everybody lie in it; where an item has
a song of its own for each learner, the learner has a folder with theirs in the folder "learners",
so that no sign-in name is taken for one of the other files. These songs are drawn from
the example of the item and the learner, so that packing again makes the same ones. They are other
songs than those that are handed out on the page.
"""

from __future__ import annotations

import io
import random
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.classroom.items import another_song
from trainer.classroom.spreadsheets import write_blank_csv
from trainer.errors import AssignmentError, FileError
from trainer.exercise import MOST_SEED, song_digest
from trainer.export import Names, SheetSettings, write_sheets

if TYPE_CHECKING:
    from trainer.exercise import Exercise
    from trainer.store import Assignment, ItemWithSong, Member, Repositories

__all__ = [
    "Pack",
    "PackFolder",
    "PackedSong",
    "find_assignment",
    "pack_of",
    "pack_sheets",
    "write_pack",
]

BLANK, ANSWERS, SCORES = "blank sheets.pdf", "answer sheets.pdf", "scores.csv"
LEARNERS = "learners"
NAME_LINE = "_" * 24

Sound = Callable[["Exercise", Path], None]


@dataclass(frozen=True, slots=True)
class PackedSong:
    """A song of a pack: its number in the assignment, and how it is heard."""

    number: int
    exercise: Exercise
    one_pass: bool

    @property
    def called(self) -> str:
        """The name of its file, without an ending."""
        return f"song {self.number}"

    def told(self) -> str:
        """How the song begins and how often it is heard, for whoever writes."""
        return f"{_beginning(self.exercise)} You hear it {self.often()}."

    def often(self) -> str:
        """How often it is heard."""
        listens = self.exercise.listens
        if self.one_pass:
            return "once, without a stop"
        if listens == 0:
            return "as often as you need"
        return {1: "once", 2: "twice"}.get(listens, f"{listens} times")


@dataclass(frozen=True, slots=True)
class PackFolder:
    """Songs that lie in one folder; `name` is that of their learner, "" for everybody."""

    folder: str
    name: str
    songs: tuple[PackedSong, ...]


@dataclass(frozen=True, slots=True)
class Pack:
    """What a pack holds: everybody's folder first, then those of learners by name."""

    title: str
    count: int
    folders: tuple[PackFolder, ...]
    titles: tuple[str, ...]
    members: tuple[Member, ...]


def find_assignment(store: Repositories, named: str) -> Assignment:
    """The assignment of that uid, or the only one of that title.

    Raises AssignmentError if there is none, or more than one of that title.
    """
    found = store.assignments.find(named)
    if found is not None:
        return found
    classes = {
        each.id: each
        for account in store.accounts.all()
        for each, role in store.classes.of_account(account.id)
        if role == "teacher"
    }
    everything = [one for each in classes for one in store.assignments.of_class(each)]
    called = [each for each in everything if each.title == named]
    if len(called) == 1:
        return called[0]
    listed = called or everything
    names = [f"{each.title!r} of {classes[each.class_id].name} ({each.uid})" for each in listed]
    raise AssignmentError(
        f"ASSIGNMENT: found {named!r}, expected the title or the id of one of: "
        f"{', '.join(names) or 'no assignments yet'}"
    )


def pack_of(store: Repositories, assignment: Assignment) -> Pack:
    """What a pack of an assignment holds.

    Raises AssignmentError if it has no songs, or nobody is there for songs of their own.
    """
    items = store.assignments.items_with_songs(assignment)
    if not items:
        raise AssignmentError(f"{assignment.title} has no songs yet.")
    members = tuple(
        each
        for each in store.classes.members(assignment.class_id)
        if each.role == "learner" and each.left_at is None
    )
    own = [item for item in items if not item.same_song]
    if own and not members:
        raise AssignmentError(
            f"{assignment.title} has a song for each learner, and nobody is in the class yet."
        )
    shared = tuple(_packed(item, item.exercise) for item in items if item.same_song)
    folders = [PackFolder("", "", shared)] if shared else []
    folders += _folders_of(members, own)
    titles = tuple(f"{item.position}. {item.title}" for item in items)
    return Pack(assignment.title, len(items), tuple(folders), titles, members)


def write_pack(
    pack: Pack, folder: Path, sound: Sound, *, suffix: str = ".flac", paper: str = "a4"
) -> tuple[str, ...]:
    """Write a pack into a folder that is new or empty; the names of its files, in order.

    The folder is there whole or not at all. `sound` writes a song into a file.

    Raises
    ------
    FileError
        If the folder has something in it already, or cannot be written.
    """
    _check_empty(folder)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder.parent, prefix=".pack-") as scratch:
            made = Path(scratch) / "pack"
            made.mkdir()
            for each in pack.folders:
                _write_folder(pack, each, made, sound, suffix, paper)
            (made / SCORES).write_bytes(write_blank_csv(pack.members, pack.titles))
            files = sorted(each.relative_to(made) for each in made.rglob("*") if each.is_file())
            if folder.exists():
                folder.rmdir()
            shutil.move(made, folder)
    except OSError as error:
        raise FileError(f"{folder}: cannot be written: {error.strerror or error}") from error
    return tuple(each.as_posix() for each in files)


def pack_sheets(pack: Pack) -> bytes:
    """The sheets and the table for scores as a ZIP file, without sounds. Raises AssignmentError if
    learners have songs of their own."""
    if any(part.name for part in pack.folders):
        raise AssignmentError(
            f"{pack.title} has a song for each learner. Pack it with chart-trainer pack."
        )
    held = {SCORES: write_blank_csv(pack.members, pack.titles)}
    for part in pack.folders:
        held |= _sheets(pack, part, "", "a4")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(held):
            # The same sheets are the same file: it has no date in it.
            archive.writestr(zipfile.ZipInfo(name), held[name])
    return out.getvalue()


def _check_empty(folder: Path) -> None:
    """Raise FileError unless the folder is new or empty."""
    try:
        held = sorted(each.name for each in folder.iterdir()) if folder.exists() else []
    except OSError as error:
        raise FileError(f"{folder}: {error.strerror or error}, expected a new folder") from error
    if held:
        more = "" if len(held) == 1 else f" and {len(held) - 1} more"
        raise FileError(f"{folder}: found {held[0]}{more} in it, expected a new or an empty folder")


def _folders_of(members: Sequence[Member], own: Sequence[ItemWithSong]) -> list[PackFolder]:
    """A folder for each learner, with the songs that are theirs alone."""
    if not own:
        return []
    taken: dict[int, set[str]] = {item.id: set() for item in own}
    return [
        PackFolder(
            f"{LEARNERS}/{member.sign_in}",
            member.shown_name,
            tuple(_packed(item, _own_song(item, member, taken[item.id])) for item in own),
        )
        for member in members
    ]


def _own_song(item: ItemWithSong, member: Member, taken: set[str]) -> Exercise:
    """A learner's own song, as difficult as the item's example and nobody else's. The seed of the
    example is part of what it is drawn from, so that nobody else can draw it."""
    rng = random.Random(f"{item.exercise.seed} {item.uid} {member.uid}")
    made = another_song(item, taken, lambda: rng.randrange(MOST_SEED + 1))
    taken.add(song_digest(made))
    return made


def _packed(item: ItemWithSong, song: Exercise) -> PackedSong:
    return PackedSong(item.position, replace(song, take=item.take), item.one_pass)


def _write_folder(
    pack: Pack, part: PackFolder, made: Path, sound: Sound, suffix: str, paper: str
) -> None:
    """Write the songs of one folder with their sheets."""
    folder = made / part.folder
    folder.mkdir(parents=True, exist_ok=True)
    for song in part.songs:
        sound(song.exercise, folder / f"{song.called}{suffix}")
    for name, content in _sheets(pack, part, suffix, paper).items():
        (folder / name).write_bytes(content)


def _sheets(pack: Pack, part: PackFolder, suffix: str, paper: str) -> dict[str, bytes]:
    """The PDFs of one folder by name: sheets to write on, and answers behind a list."""
    blank, answers, facts = [], [], []
    aside = f"Name: {part.name or NAME_LINE}"
    for song in part.songs:
        file, chart = f"{song.called}{suffix}", song.exercise.chart
        place = f"Song {song.number} of {pack.count}"
        told = (f"{place}. {song.told()}",)
        blank.append((chart, SheetSettings(paper, names=Names.BLANK, aside=aside, remarks=told)))
        named = (f"{pack.title} · {place} · {file}", song.told())
        answers.append((chart, SheetSettings(paper, aside=part.name, remarks=named)))
        facts.append(f"{file}, {song.often()}")
    title = f"{pack.title}: {part.name}" if part.name else pack.title
    return {
        BLANK: write_sheets(blank, pack.title),
        ANSWERS: write_sheets(answers, title, facts),
    }


def _beginning(exercise: Exercise) -> str:
    """What the band plays before the song."""
    bars = exercise.chart.count_off if exercise.help.count_off else 0
    counted = f"counts off {'one bar' if bars == 1 else f'{bars} bars'}"
    first = ["plays the 1 chord"] * exercise.help.tonic_first + [counted] * bool(bars)
    return f"First the band {' and '.join(first)}." if first else "The band begins at once."
