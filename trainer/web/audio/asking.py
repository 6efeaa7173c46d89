"""A sound that this process does not know is asked for at the page that showed it.

A page registers a sound in the process that made the page. The browser's next request may come to
another process, on another machine perhaps. The address of a sound therefore names the page
(`from`), which is asked for once more, within the process and on behalf of whoever wants the sound:
it decides again whether they may hear it, and registers the sound if so. Nothing is stored for it,
and no address opens more than its page does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote, unquote

from anyio import sleep_forever

if TYPE_CHECKING:
    from collections.abc import Callable

    from fastapi import Request
    from starlette.types import Message, Scope

__all__ = ["ask_page", "sound_address"]

PAGE_FIELD = "from"
# Servers and proxies commonly take 8 kB of an address.
MOST_CHARACTERS = 6000
# What says who asks, and of which host.
_HANDED_ON = frozenset({b"cookie", b"host", b"user-agent"})


def sound_address(sounds: str, key: str, kind: str, page: str) -> str:
    """The address of a sound as "wav" or "flac".

    Parameters
    ----------
    sounds : begins the paths of all sounds.
    page : path and query of the page that registers the sound when somebody GETs it; "" for none.
    """
    asked = quote(page, safe="/")
    is_kept = page and len(asked) <= MOST_CHARACTERS
    return f"{sounds}/{key}.{kind}" + (f"?{PAGE_FIELD}={asked}" if is_kept else "")


async def ask_page(request: Request) -> bool:
    """Ask the page that a request for a sound names; False if it names none that can be asked."""
    page = request.query_params.get(PAGE_FIELD, "")
    path, _, query = page.partition("?")
    sounds = request.url.path.rpartition("/")[0]
    if not path.startswith("/") or unquote(path).startswith(f"{sounds}/"):
        return False
    scope: Scope = {
        "type": "http",
        "asgi": request.scope["asgi"],
        "http_version": request.scope["http_version"],
        "method": "GET",
        "scheme": request.scope["scheme"],
        "path": unquote(path),
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "root_path": request.scope.get("root_path", ""),
        "headers": [pair for pair in request.scope["headers"] if pair[0] in _HANDED_ON],
        "client": request.scope["client"],
        "server": request.scope["server"],
    }
    await request.app(scope, _nothing_more(), _unread)
    return True


def _nothing_more() -> Callable[[], object]:
    """What a request without a body receives; its client never leaves."""
    waiting: list[Message] = [{"type": "http.request", "body": b"", "more_body": False}]

    async def receive() -> Message:
        if not waiting:
            await sleep_forever()
        return waiting.pop()

    return receive


async def _unread(_: Message) -> None:
    """Drop what the page answers: the sound is registered, and nothing else is wanted of it."""
