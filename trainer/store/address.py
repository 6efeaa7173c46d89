"""Where a store is (a file in a folder, or a database server) and what messages call it. A URL may
contain a password; no message repeats it.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from trainer.errors import StoreError
from trainer.store.files import FILE_NAME, default_data_folder

__all__ = ["display_name", "location_name", "url_of"]

EXPECTED = "expected sqlite:///FOLDER/FILE or postgresql://USER@HOST/NAME"
POSTGRESQL_NAMES = ("postgres", "postgresql", "postgresql+psycopg")


def url_of(location: str | Path | None) -> URL:
    """The database URL of a folder, of a URL as a person writes it, or (None) of the user's data.

    Raises
    ------
    StoreError
        If it is no URL of a database that the store can use.
    """
    if location is None:
        location = default_data_folder()
    if isinstance(location, Path) or "://" not in location:
        return URL.create("sqlite", database=str(Path(location).expanduser() / FILE_NAME))
    scheme = location.partition("://")[0]
    if not scheme.replace("+", "").isalnum():
        raise StoreError(f"found no database URL, {EXPECTED}")
    try:
        url = make_url(location)
    except (ArgumentError, ValueError):
        # The library's own words may repeat the whole URL.
        raise StoreError(
            f"{scheme}://...: found no database URL, {EXPECTED}; @, : and / in a password are "
            "written %40, %3A and %2F"
        ) from None
    if url.drivername in POSTGRESQL_NAMES:
        return _server_url(url)
    if url.drivername != "sqlite":
        raise StoreError(f"{scheme}://...: found a database of another kind, {EXPECTED}")
    if url.database in {None, "", ":memory:"}:
        raise StoreError(f"{location}: found no file name, expected sqlite:///FOLDER/FILE")
    if url.query:
        raise StoreError(f"{location}: found options after the ?, expected sqlite:///FOLDER/FILE")
    return url


def _server_url(url: URL) -> URL:
    if "@" in (url.host or ""):
        raise StoreError(
            "postgresql://...: found two @, expected one before the host; @ in a password is "
            "written %40"
        )
    if not url.database and "dbname" not in url.query:
        raise StoreError(f"{display_name(url)}: found no database's name, {EXPECTED}")
    return url.set(drivername="postgresql+psycopg")


def display_name(url: URL) -> str:
    """What messages call a database: a file's path, or a server's URL without any secret in it."""
    if url.get_backend_name() == "sqlite":
        return str(url.database)
    name = URL.create(
        "postgresql", url.username, host=url.host, port=url.port, database=url.database
    )
    return name.render_as_string(hide_password=True)


def location_name(location: str | Path | None) -> str:
    """What messages call the store at a location. Raises what `url_of` raises."""
    return display_name(url_of(location))
