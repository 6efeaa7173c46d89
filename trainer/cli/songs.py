"""`songs`: the songbook in the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.chart import Chart, Key, parse
from trainer.cli.common import now, print_json, progress_bar, read_text, unsaid_by_file
from trainer.cli.export import Asked, write_charts
from trainer.cli.options import (
    Blank,
    Both,
    Columns,
    Data,
    Json,
    Large,
    Learner,
    Letters,
    Paper,
)
from trainer.errors import FileError, InputError, SettingsError, SongNotFound

if TYPE_CHECKING:
    from trainer.songbook import ImportReport, SavedVersion, Songbook
    from trainer.store import SongRecord, SongVersion

__all__ = ["Song", "Version", "app", "chart_of", "counted", "find_song", "print_made", "said_of"]

app = typer.Typer(help="Your own songs: write, find, compare and take them along.")
MOST_LISTED = 10_000

Song = Annotated[
    str, typer.Argument(help="A song: its id, the start of it, or words of its title.")
]
Version = Annotated[int | None, typer.Option("--version", help="A version; the newest if none.")]


@contextmanager
def songbook(learner: str, data: Any) -> Iterator[Songbook]:
    """The songbook of a learner, who is added to the record if need be."""
    from trainer.songbook import Songbook
    from trainer.store import Store

    with Store.open(data) as store:
        who = store.learners.usual(learner) or store.learners.add(learner, now())
        yield Songbook(store, who, now)


def find_song(book: Songbook, name: str, *, deleted: bool = False) -> SongRecord:
    """The song of an id, of the start of one, or the only one whose title has these words.

    Raises SongNotFound if there is none, InputError if there are several.
    """
    from trainer.songbook import UNTITLED
    from trainer.store.song_records import fold

    songs = book.deleted(MOST_LISTED) if deleted else book.find(limit=MOST_LISTED).songs
    words = fold(name).split()
    exact = [song for song in songs if song.uid == name or fold(song.version.title) == fold(name)]
    starts = [song for song in songs if song.uid.startswith(name)]
    titled = [song for song in songs if all(word in fold(song.version.title) for word in words)]
    found = exact or starts or titled
    if len(found) == 1:
        return found[0]
    if not found:
        raise SongNotFound(f"songs: found no song {name!r}; `chart-trainer songs list` shows all")
    named = ", ".join(f"{song.version.title or UNTITLED} ({song.uid})" for song in found[:5])
    raise InputError(f"songs: found {len(found)} songs for {name!r}, expected one: {named}")


def chart_of(
    book: Songbook, song: SongRecord, version: int | None = None, key: str | None = None
) -> Chart:
    """The chart of a song, in another key if one is given. Raises NotationError, ChartError."""
    from trainer.songbook import UNTITLED, in_key

    text = book.text_of(song.uid, version)
    chart = parse(text, source=song.version.title or UNTITLED)
    return in_key(chart, Key.parse(key) if key else None)


def counted(number: int, what: str) -> str:
    """A number of things: 1 song, 2 songs."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def song_to_json(song: SongRecord) -> dict[str, Any]:
    """A song as `--json` prints it, without its text."""
    return {
        "id": song.uid,
        "title": song.version.title,
        "key": song.version.key,
        "meter": song.version.meter,
        "tempo": song.version.tempo,
        "bars": song.version.bars,
        "version": song.version.number,
        "saved_at": song.version.saved_at.isoformat(),
        "tags": list(song.tags),
        "owner": song.owner,
        "shared": song.shared,
    }


def version_to_json(version: SongVersion) -> dict[str, Any]:
    """A version as `--json` prints it."""
    return {
        "version": version.number,
        "began_from": version.began_from,
        "title": version.title,
        "bars": version.bars,
        "saved_at": version.saved_at.isoformat(),
        "text": version.text,
    }


def _print_song(song: SongRecord, more: str = "") -> None:
    from trainer.songbook import UNTITLED

    version = song.version
    tags = f"  [{', '.join(song.tags)}]" if song.tags and not more else ""
    typer.echo(
        f"{song.uid[:13]:13}  {version.title or UNTITLED}  ({version.key}, {version.meter}, "
        f"{counted(version.bars, 'bar')}){tags}{more}"
    )


@app.command("list")
def list_songs(
    words: Annotated[list[str] | None, typer.Argument(help="Words to find.")] = None,
    tag: Annotated[str | None, typer.Option(help="Only songs with this tag.")] = None,
    deleted: Annotated[bool, typer.Option("--deleted", help="Only deleted songs.")] = False,
    limit: Annotated[int, typer.Option(min=1, max=MOST_LISTED, help="How many at most.")] = 100,
    learner: Learner = "me",
    data: Data = None,
    as_json: Json = False,
) -> None:
    """List your songs, those that others share, and the house band's."""
    with songbook(learner, data) as book:
        if deleted:
            songs = book.deleted(limit)
            found = len(songs)
        else:
            page = book.find(" ".join(words or ()), tag, limit=limit)
            songs, found = page.songs, page.found
        own = {song.uid for song in songs if book.owns(song)}
    if as_json:
        print_json({"found": found, "songs": [song_to_json(song) for song in songs]})
        return
    for song in songs:
        _print_song(song, "" if song.uid in own else f"  from {song.owner}")
    if found > len(songs):
        typer.echo(f"and {found - len(songs)} more")


@app.command("show")
def show(
    song: Song,
    version: Version = None,
    open_it: Annotated[
        bool, typer.Option("--open", help="Open a shared chart; drills of it are then practice.")
    ] = False,
    learner: Learner = "me",
    data: Data = None,
    as_json: Json = False,
) -> None:
    """Print a song as it was typed."""
    with songbook(learner, data) as book:
        found = find_song(book, song)
        if open_it:
            book.open(found.uid)
        text = book.text_of(found.uid, version)
    if as_json:
        print_json(song_to_json(found) | {"text": text})
    else:
        typer.echo(text, nl=not text.endswith("\n"))


@app.command("add")
def add(
    file: Annotated[str, typer.Argument(help="A file in any format; - for standard input.")],
    tag: Annotated[list[str] | None, typer.Option(help="A tag; may be given again.")] = None,
    key: Annotated[
        str | None, typer.Option(help="The key of a file that doesn't say its key.")
    ] = None,
    meter: Annotated[
        str | None, typer.Option(help="The meter of a file that doesn't say its meter.")
    ] = None,
    tempo: Annotated[
        float | None,
        typer.Option(help="The tempo of a file that doesn't say its tempo.", min=20, max=400),
    ] = None,
    learner: Learner = "me",
    data: Data = None,
    as_json: Json = False,
) -> None:
    """Add a song from a file; what could not be read is printed on standard error."""
    from trainer.songbook import import_file

    unsaid = unsaid_by_file(key, meter, tempo)

    with songbook(learner, data) as book:
        if file == "-":
            made = book.new(read_text(file), tag or ())
        else:
            done = import_file(book, Path(file).name, _content(file), unsaid)
            for problem in done.problems:
                typer.echo(f"{file}: {problem}", err=True)
            assert done.song is not None
            made = book.tag(done.song.uid, tag) if tag else done.song
    print_made(made, as_json=as_json)


def print_made(song: SongRecord, *, as_json: bool) -> None:
    """Print a song that was made."""
    if as_json:
        print_json(song_to_json(song))
    else:
        _print_song(song)


def _content(file: str) -> bytes:
    """The bytes of a file. Raises FileError."""
    try:
        return Path(file).read_bytes()
    except OSError as error:
        raise FileError(f"{file}: {error.strerror or error}, expected a file to read") from error


@app.command("save")
def save(
    song: Song,
    file: Annotated[str, typer.Argument(help="The chart's text; - for standard input.")],
    began_from: Annotated[
        int | None, typer.Option("--from", min=1, help="The version that you began from.")
    ] = None,
    learner: Learner = "me",
    data: Data = None,
    as_json: Json = False,
) -> None:
    """Save a text as the next version of a song."""
    text = read_text(file)
    with songbook(learner, data) as book:
        saved = book.save(find_song(book, song).uid, text, began_from)
    if as_json:
        print_json(song_to_json(saved.song) | {"is_new": saved.is_new})
    else:
        typer.echo(said_of(saved))


def said_of(saved: SavedVersion) -> str:
    """What a save did, in words."""
    number = saved.version.number
    if not saved.is_new:
        return f"nothing has changed since version {number}"
    beside = f"; version {number - 1} was saved meanwhile" if saved.version.is_beside else ""
    return f"saved as version {number}{beside}"


@app.command("tag")
def tag(
    song: Song,
    tags: Annotated[list[str] | None, typer.Argument(help="The song's tags from now on.")] = None,
    learner: Learner = "me",
    data: Data = None,
) -> None:
    """Give a song these tags in place of those it has."""
    with songbook(learner, data) as book:
        _print_song(book.tag(find_song(book, song).uid, tags or ()))


@app.command("copy")
def copy(song: Song, learner: Learner = "me", data: Data = None) -> None:
    """Copy a song, your own or a shared one, into a new song of yours. It shows you the chart."""
    with songbook(learner, data) as book:
        _print_song(book.duplicate(find_song(book, song).uid))


@app.command("delete")
def delete(song: Song, learner: Learner = "me", data: Data = None) -> None:
    """Delete a song; `songs undo` puts it back."""
    with songbook(learner, data) as book:
        gone = book.delete(find_song(book, song).uid)
    typer.echo(f"deleted; put it back with: chart-trainer songs undo {gone.uid}")


@app.command("undo")
def undo(song: Song, learner: Learner = "me", data: Data = None) -> None:
    """Put a deleted song back."""
    with songbook(learner, data) as book:
        _print_song(book.restore(find_song(book, song, deleted=True).uid))


@app.command("share")
def share(
    song: Song,
    stop: Annotated[bool, typer.Option("--stop", help="Share it no longer.")] = False,
    learner: Learner = "me",
    data: Data = None,
) -> None:
    """Let the other learners of this record read and copy a song."""
    with songbook(learner, data) as book:
        _print_song(book.share(find_song(book, song).uid, shared=not stop))


@app.command("versions")
def versions(song: Song, learner: Learner = "me", data: Data = None, as_json: Json = False) -> None:
    """List the versions of a song, oldest first."""
    with songbook(learner, data) as book:
        found = book.versions(find_song(book, song).uid)
    if as_json:
        print_json({"versions": [version_to_json(version) for version in found]})
        return
    for version in found:
        beside = f", beside version {version.number - 1}" if version.is_beside else ""
        saved = f"{version.saved_at.astimezone():%Y-%m-%d %H:%M:%S}"
        typer.echo(f"{version.number:4}  {saved}  {counted(version.bars, 'bar')}{beside}")


@app.command("export")
def export(
    out: Annotated[
        Path,
        typer.Argument(
            help="The archive to write, a .zip file; for one song a file of any format that "
            "`chart-trainer export` writes."
        ),
    ],
    song: Annotated[str | None, typer.Argument(help="One song; all your songs if none.")] = None,
    version: Version = None,
    key: Annotated[str | None, typer.Option(help="Write the song in this key.")] = None,
    letters: Letters = None,
    both: Both = False,
    blank: Blank = False,
    paper: Paper = None,
    columns: Columns = None,
    large: Large = False,
    learner: Learner = "me",
    data: Data = None,
) -> None:
    """Write all your songs and sets into one archive of text files, or one song into a file."""
    asked = Asked(letters, both, blank, paper, columns, large)
    if song is not None:
        writing = asked.writing(out)
        with songbook(learner, data) as book:
            chart = chart_of(book, find_song(book, song), version, key)
        write_charts([chart], out, writing)
        return
    if asked != Asked() or key is not None or version is not None:
        raise SettingsError("songs export", "options of one song", "a song after the file's name")
    _export_all(out, learner, data)


def _export_all(out: Path, learner: str, data: Any) -> None:
    from trainer.songbook import Sets, write_archive

    with songbook(learner, data) as book:
        songs = [s for s in book.store.songs.all(book.learner) if s.deleted_at is None]
        with progress_bar(f"writing {out.name}", len(songs)) as advance:
            content = write_archive(songs, lambda done, _: advance(done), sets=Sets(book).all())
    try:
        out.write_bytes(content)
    except OSError as error:
        raise FileError(f"{out}: cannot be written: {error.strerror or error}") from error
    typer.echo(f"wrote {out}: {counted(len(songs), 'song')}")


@app.command("import")
def import_songs(
    file: Annotated[str, typer.Argument(help="An archive (.zip) of songs.")],
    learner: Learner = "me",
    data: Data = None,
    as_json: Json = False,
) -> None:
    """Add the songs of an archive; what could not be read is printed on standard error."""
    from trainer.songbook import import_archive

    content = _content(file)
    with songbook(learner, data) as book, progress_bar(f"reading {file}", 100) as advance:
        # The bar counts in per cent: how many files there are is known only inside.
        report = import_archive(book, content, lambda done, total: advance(100 * done // total))
    for each in report.files:
        for problem in each.problems:
            typer.echo(f"{each.name}: {problem}", err=True)
    if as_json:
        print_json(_report_to_json(report))
    else:
        typer.echo(
            f"{counted(report.added, 'song')} added, {report.known} already there, "
            f"{report.refused} not read"
            + (f", {counted(report.sets, 'set')} added" if report.sets else "")
        )


def _report_to_json(report: ImportReport) -> dict[str, Any]:
    files = [
        {
            "file": each.name,
            "id": each.song.uid if each.song is not None else None,
            "known": each.is_known,
            "problems": list(each.problems),
        }
        for each in report.files
    ]
    return {
        "added": report.added,
        "known": report.known,
        "refused": report.refused,
        "sets": report.sets,
        "files": files,
    }
