"""`record`: the learner's record as a whole: back up, restore, hand over, delete, make again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.cli.common import now, print_json, read_text
from trainer.cli.options import Data, Json, Learner
from trainer.errors import FileError, SettingsError

if TYPE_CHECKING:
    from trainer.store import Learner as LearnerRecord
    from trainer.store import Store

__all__ = ["app"]

COPIES_STAY = (
    "Earlier backups, exports and copies still hold this record. Delete those files yourself."
)
app = typer.Typer(help="Keep the record safe: backup, restore, export, import, delete, rebuild.")
Target = Annotated[Path, typer.Argument(metavar="FILE", help="A new file to write.")]
Source = Annotated[Path, typer.Argument(metavar="FILE", help="A backup file.")]


@app.command("learners")
def learners(data: Data = None, as_json: Json = False) -> None:
    """List who has a record here."""
    from trainer.store import Store

    with Store.open(data) as store:
        counts = {person.name: store.attempts.count(person) for person in store.learners.all()}
    if as_json:
        rows = [{"name": name, "attempts": attempts} for name, attempts in counts.items()]
        print_json({"learners": rows})
        return
    for name, attempts in counts.items():
        typer.echo(f"{name}: {_attempts(attempts)}")


@app.command("add")
def add(
    name: Annotated[str, typer.Argument(help="The learner's name.")], data: Data = None
) -> None:
    """Add a learner. One who has a record already keeps it."""
    from trainer.store import Store

    with Store.open(data) as store:
        typer.echo(f"{store.learners.get_or_add(name, now()).name} has a record")


@app.command("rename")
def rename(
    name: Annotated[str, typer.Argument(help="The learner's name.")],
    new: Annotated[str, typer.Argument(help="The new name.")],
    data: Data = None,
) -> None:
    """Rename a learner. The record stays as it is."""
    from trainer.store import Store

    with Store.open(data) as store:
        typer.echo(
            f"{name} is now {store.learners.rename(_person(store, name, by_name=True), new).name}"
        )


@app.command("backup")
def backup(file: Target, data: Data = None) -> None:
    """Copy everybody's record into one file. People can go on practising meanwhile."""
    from trainer.store import Store

    typer.echo(f"wrote {Store.back_up(file, data)}")


@app.command("restore")
def restore(file: Source, data: Data = None) -> None:
    """Replace everybody's record with a backup. The present record is kept beside it."""
    from trainer.store import Store

    kept = Store.restore(file, data)
    typer.echo(f"restored {file}" + (f"; your earlier record is kept in {kept}" if kept else ""))


@app.command("export")
def export(file: Target, learner: Learner = "me", data: Data = None) -> None:
    """Write one learner's record as JSON, to take elsewhere."""
    from trainer.store import Store

    with Store.open(data) as store:
        found = store.transfer.export_json(_person(store, learner))
    try:
        with file.open("x", encoding="utf-8") as out:
            json.dump(found, out, ensure_ascii=False)
    except FileExistsError as error:
        raise FileError(f"{file}: found a file, expected a name that isn't taken") from error
    except OSError as error:
        raise FileError(f"{file}: cannot be written: {error.strerror or error}") from error
    typer.echo(f"wrote {file}: {_attempts(len(found['attempts']))}")


@app.command("import")
def import_(
    file: Annotated[str, typer.Argument(help="An export; - for standard input.")],
    learner: Annotated[
        str | None,
        typer.Option(help="Whose record to add it to; by default the one named in the file."),
    ] = None,
    data: Data = None,
) -> None:
    """Add an export to a learner's record. What is there already stays as it is."""
    from trainer.drill import import_record
    from trainer.store import Store

    try:
        found = json.loads(read_text(file))
    except RecursionError as error:
        raise FileError(
            f"{file}: found lists nested too deeply, expected JSON that `record export` wrote"
        ) from error
    except json.JSONDecodeError as error:
        raise FileError(
            f"{file}: line {error.lineno}, column {error.colno}: {error.msg}, expected JSON that "
            "`record export` wrote"
        ) from error
    if not isinstance(found, dict):
        raise FileError(f"{file}: found {type(found).__name__}, expected a JSON object")
    with Store.open(data) as store:
        done = import_record(store, found, learner)
    runs = "1 lesson" if done.lessons == 1 else f"{done.lessons} lessons"
    lessons = f", {runs} added" if done.lessons else ""
    songs = f", {done.songs} of the songbook's songs added" if done.songs else ""
    typer.echo(
        f"{done.learner.name}: {_attempts(done.added)} added, {done.known} already there{lessons}"
        f"{songs}"
    )


@app.command("delete")
def delete(
    learner: Annotated[str, typer.Option(help="The learner to delete.")],
    yes: Annotated[bool, typer.Option("--yes", help="Delete without asking.")] = False,
    data: Data = None,
) -> None:
    """Delete a learner and their whole record. Only a backup can bring it back."""
    from trainer.store import Store

    with Store.open(data) as store:
        person = _person(store, learner, by_name=True)
        attempts = store.attempts.count(person)
        if not yes:
            typer.echo(COPIES_STAY)
            typer.confirm(f"Delete {person.name} and {_attempts(attempts)}?", abort=True)
        store.learners.delete(person)
    typer.echo(f"deleted {person.name} and {_attempts(attempts)}")


@app.command("rebuild")
def rebuild(learner: Learner = "me", data: Data = None) -> None:
    """Work out ratings, due dates and totals again from the attempts."""
    from trainer.drill import rebuild as rebuild_ratings
    from trainer.store import Store

    with Store.open(data) as store:
        attempts = rebuild_ratings(store, _person(store, learner))
    typer.echo(f"ratings worked out again from {_attempts(attempts)}")


def _attempts(number: int) -> str:
    """Say how many attempts: "1 attempt", "2 attempts"."""
    return f"{number} attempt{'s' * (number != 1)}"


def _person(store: Store, name: str, *, by_name: bool = False) -> LearnerRecord:
    """The learner meant; `by_name` where only somebody of exactly that name will do."""
    found = store.learners.get(name) if by_name else store.learners.usual(name)
    if found is None:
        names = ", ".join(person.name for person in store.learners.all()) or "nobody yet"
        raise SettingsError("--learner", repr(name), f"somebody who has a record here: {names}")
    return found
