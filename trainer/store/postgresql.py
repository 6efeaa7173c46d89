"""Everything that applies only to PostgreSQL: the settings of a session, and its errors turned into
ours.

Codes are those of https://www.postgresql.org/docs/current/errcodes-appendix.html.
"""

from __future__ import annotations

import math
from typing import Any

from sqlalchemy import URL, Connection, text

from trainer.errors import StoreBroken, StoreConflict, StoreError, StoreLocked

__all__ = ["engine_options", "set_session", "translate_error", "wait_for_migration"]

# Each window of the page holds a connection for the length of one transaction only.
CONNECTIONS, MORE_CONNECTIONS = 5, 15
# Any number that no other program is likely to use for an advisory lock of its own.
MIGRATION_LOCK = 7_340_516_251


def engine_options(url: URL, wait_s: float) -> dict[str, Any]:
    """How an engine connects: a lost connection is found and replaced before it is used."""
    connecting = {"connect_timeout": max(2, math.ceil(wait_s))}
    return {
        "pool_pre_ping": True,
        "pool_size": CONNECTIONS,
        "max_overflow": MORE_CONNECTIONS,
        "pool_timeout": wait_s,
        "connect_args": {k: v for k, v in connecting.items() if k not in url.query},
    }


def set_session(connection: Any, wait_s: float) -> None:
    """Let statements of a new driver connection wait at most `wait_s` seconds for a lock."""
    connection.autocommit = True
    # 0 would mean no limit.
    connection.execute(f"SET lock_timeout = {max(1, round(wait_s * 1000))}")
    connection.autocommit = False


def wait_for_migration(connection: Connection) -> None:
    """Let one program at a time migrate: the others wait until this transaction ends."""
    connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": MIGRATION_LOCK})


def translate_error(error: Exception, name: str, wait_s: float, *, is_lost: bool) -> StoreError:
    """Our error for the driver's; `is_lost` if the connection cannot be used any more."""
    code = getattr(error, "sqlstate", None) or ""
    said = " ".join(str(error).split())
    if code in {"55P03", "57014"}:
        return StoreLocked(
            f"{name}: another program kept the record locked for more than {wait_s:g} s. Try again."
        )
    if code in {"40001", "40P01"}:
        return StoreConflict(
            f"{name}: two programs wrote to the same place at once; nothing of this was stored. "
            "Try again."
        )
    if code.startswith("XX00") and code != "XX000":
        return StoreBroken(f"{name}: found damage ({said}). Restore the server's backup.")
    advice = _ADVICE.get(code) or _ADVICE.get(code[:2])
    if advice is None and is_lost:
        advice = (
            "The connection to the database server was lost, so anything not yet confirmed was not "
            "stored. Try again once the server is running."
        )
    if advice is None and not code and type(error).__name__ == "OperationalError":
        advice = (
            "The database server could not be reached. Check that it is running, and check the "
            "host, database, user and password in --database."
        )
    return StoreError(f"{name}: {said}. {advice or 'Nothing was stored.'}")


_RESTARTING = "The database server is stopping or starting. Try again in a moment."
_REFUSED = "Check the user and the password in --database."
_ADVICE = {
    "28": _REFUSED,
    "3D": "Make the database first, for example with createdb.",
    "42501": "Let this user read and write in the database (GRANT), or name another.",
    "25006": "The server is read-only. Name the one that can be written to.",
    "53100": "Nothing was stored. Free some space on the server's disk and try again.",
    "53300": "The server has no connection left. Close other programs and try again.",
    "57P01": _RESTARTING,
    "57P02": _RESTARTING,
    "57P03": _RESTARTING,
}
