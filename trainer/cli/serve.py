"""`serve`: the server of a class; `accounts`: what the one at its machine does about accounts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.cli.common import now, print_json
from trainer.cli.options import Data, Json, SoundfontFile
from trainer.errors import SettingsError

if TYPE_CHECKING:
    from trainer.classroom import Accounts
    from trainer.store import Account, Store
    from trainer.web.school.scores import ScoreLoop
    from trainer.web.school.settings import SchoolSettings

__all__ = ["app", "serve"]

# The same as `trainer.web.classroom.serving.CLASS_PORT`, which is slow to load; a test compares.
CLASS_PORT = 28468
CLASS_FOLDER = "class"
app = typer.Typer(help="Look after the accounts of a class server from its own machine.")
Name = Annotated[str, typer.Argument(help="The name somebody signs in with.")]
PublicUrl = Annotated[
    str | None,
    typer.Option(
        "--public-url",
        metavar="URL",
        envvar="CHART_TRAINER_PUBLIC_URL",
        help="The address people type to reach the server, such as https://class.example.",
    ),
]


def serve(
    host: Annotated[str, typer.Option(help="Listen on this address of the machine.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=1, max=65535, help="Listen on this port.")] = CLASS_PORT,
    public_url: PublicUrl = None,
    behind_proxy: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESSES",
            help="The network addresses of the proxies in front of the server, with commas.",
        ),
    ] = None,
    school: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            envvar="CHART_TRAINER_SCHOOL",
            help="Sign people in by a school's own system, as this file says (docs/school.md).",
        ),
    ] = None,
    data: Data = None,
    soundfont: SoundfontFile = None,
) -> None:
    """Serve a class: people sign in, each to a record of their own."""
    from trainer.web.classroom.serving import Hooks, Place, serve_class
    from trainer.web.school.settings import NO_SCHOOL, read_school

    proxies = [each.strip() for each in (behind_proxy or "").split(",") if each.strip()]
    place = Place.of(host, port, public_url, proxies)
    systems = NO_SCHOOL if school is None else read_school(school)
    server = _ClassServer(class_location(data), soundfont, place.origin, systems)
    try:
        hooks = Hooks(typer.echo, server.warm_up, server.stop_work)
        serve_class(server.make, place, greet=server.greet, hooks=hooks)
    finally:
        server.close()


@app.command("list")
def list_accounts(data: Data = None, as_json: Json = False) -> None:
    """List everybody who has an account."""
    with _opened(data) as (store, _):
        found = store.accounts.all()
    if as_json:
        rows = [
            {
                "sign_in": each.sign_in,
                "name": each.shown_name,
                "role": each.role.value,
                "switched_off": each.disabled_at is not None,
            }
            for each in found
        ]
        print_json({"accounts": rows})
        return
    for each in found:
        off = ", switched off" if each.disabled_at is not None else ""
        typer.echo(f"{each.sign_in}: {each.shown_name}, {each.role.value}{off}")


@app.command("make-owner")
def make_owner(public_url: PublicUrl = None, data: Data = None) -> None:
    """Print a link that makes the account of an owner of the server. It works once, for a day."""
    with _opened(data) as (_, accounts):
        typer.echo(_link(public_url, accounts.owner_link()))


@app.command("reset-link")
def reset_link(name: Name, public_url: PublicUrl = None, data: Data = None) -> None:
    """Print a link with which somebody sets a new password. It works once, for a day."""
    with _opened(data) as (store, accounts):
        token = accounts.reset_link(_account(store, name), None)
        typer.echo(_link(public_url, token))


@app.command("disable")
def disable(name: Name, data: Data = None) -> None:
    """Switch an account off: its person is signed out and can't sign in."""
    with _opened(data) as (store, accounts):
        accounts.switch_off(_account(store, name), None)
    typer.echo(f"{name} can't sign in any more")


@app.command("enable")
def enable(name: Name, data: Data = None) -> None:
    """Switch an account on again."""
    with _opened(data) as (store, accounts):
        accounts.switch_on(_account(store, name), None)
    typer.echo(f"{name} can sign in again")


@app.command("demo")
def demo(data: Data = None, as_json: Json = False) -> None:
    """Make the demo class of Millrace in an empty record, to look around in.

    It has a teacher, twelve learners and three assignments. The passwords are made at random and
    printed only here.
    """
    from trainer.classroom import Passwords
    from trainer.classroom.demo import make_demo_class
    from trainer.store import Store

    with Store.open(class_location(data)) as store:
        made = make_demo_class(store, now, Passwords())
    people = (made.teacher, *made.learners)
    if as_json:
        rows = [
            {
                "sign_in": each.account.sign_in,
                "name": each.account.shown_name,
                "role": each.account.role.value,
                "password": each.password,
            }
            for each in people
        ]
        print_json({"accounts": rows})
        return
    typer.echo("The demo class is ready. Start the server with chart-trainer serve (and the same")
    typer.echo("--data, if you gave one), and sign in as one of these:\n")
    for each in people:
        name = f"{each.account.shown_name}, {each.account.role.value}"
        typer.echo(f"{each.account.sign_in:8}{each.password:24}{name}")
    typer.echo(
        "\nThese passwords aren't kept anywhere. For a new one, use accounts reset-link NAME."
    )


def class_location(data: Any) -> Path | str:
    """Where the record of a class is: as given, or apart from the record of whoever is at home."""
    from trainer.store import default_data_folder

    found: Path | str = default_data_folder() / CLASS_FOLDER if data is None else data
    return found


@contextmanager
def _opened(data: Any) -> Iterator[tuple[Store, Accounts]]:
    from trainer.classroom import Accounts, Passwords
    from trainer.store import Store

    with Store.open(class_location(data)) as store:
        yield store, Accounts(store, now, Passwords())


def _account(store: Store, name: str) -> Account:
    """The account of that name. Raises SettingsError, AccountError."""
    from trainer.classroom.accounts import fold_sign_in

    found = store.accounts.by_sign_in(fold_sign_in(name))
    if found is None:
        names = ", ".join(each.sign_in for each in store.accounts.all()) or "nobody yet"
        raise SettingsError("NAME", repr(name), f"somebody who has an account: {names}")
    return found


def _link(public_url: str | None, token: str) -> str:
    from trainer.web.classroom.serving import Place

    return f"{Place.of('127.0.0.1', CLASS_PORT, public_url, ['127.0.0.1']).origin}/link#{token}"


class _ClassServer:
    """The application of a class with the store and the audio library it works on."""

    def __init__(
        self, location: Path | str, soundfont: Path | None, origin: str, school: SchoolSettings
    ) -> None:
        from trainer.cli.page import PageParts

        self._parts = PageParts(location, soundfont, is_shared=True)
        self._origin, self._school = origin, school
        self._accounts: Accounts | None = None
        self._scores: ScoreLoop | None = None

    def make(self) -> Any:
        """Open the store and make the application."""
        from trainer.classroom import Accounts, Passwords, Sessions
        from trainer.web import create_app
        from trainer.web.classroom.access import ClassServer
        from trainer.web.school.scores import ScoreLoop

        store = self._parts.open_store()
        passwords = Passwords()
        self._accounts = Accounts(store, now, passwords)
        sessions = Sessions(store, now, passwords)
        server = ClassServer(self._accounts, sessions, self._origin, self._school)
        app = create_app(store, self._parts.library, class_server=server)
        if (learning := app.state.systems.learning) is not None:
            self._scores = ScoreLoop(learning.passback)
            self._scores.start()
        return self._parts.library.pages_first(app)

    def greet(self) -> Sequence[str]:
        """How the first account is made, as long as there is none."""
        assert self._accounts is not None
        if self._parts.open_store().accounts.count():
            return ()
        link = f"{self._origin}/link#{self._accounts.owner_link()}"
        return ("Nobody has an account yet. Open this link to make the owner's (for a day):", link)

    def warm_up(self) -> None:
        """Load what most songs need."""
        self._parts.warm_up()

    def stop_work(self) -> None:
        """Stop rendering and sending scores, without waiting."""
        self._parts.library.stop()
        if self._scores is not None:
            self._scores.stop()

    def close(self) -> None:
        """Close store and library, after the last score."""
        if self._scores is not None:
            self._scores.close()
        self._parts.close()
