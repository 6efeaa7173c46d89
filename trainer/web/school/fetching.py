"""What the server asks of a school's systems, by their addresses in the owner's settings.

Nothing is asked that those who sign in could choose: addresses come from the settings, and from
what the systems there publish. Redirects are not followed, and an answer has ten seconds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.errors import SignInElsewhereFailed

if TYPE_CHECKING:
    import httpx2

__all__ = ["Fetcher"]

PATIENCE_S = 10.0
MOST_BYTES = 2**20


class Fetcher:
    """Asks one system.

    Parameters
    ----------
    name : how people know it.
    transport : how requests travel; the network, unless testing.
    """

    def __init__(self, name: str, transport: httpx2.BaseTransport | None = None) -> None:
        self.name, self._transport = name, transport

    def options(self) -> dict[str, Any]:
        """How a client of httpx2 is made that asks as this does."""
        return {"timeout": PATIENCE_S, "follow_redirects": False, "transport": self._transport}

    def json(self, address: str) -> dict[str, Any]:
        """The JSON object at an address.

        Raises
        ------
        SignInElsewhereFailed
            If there is none.
        """
        import httpx2

        try:
            with httpx2.Client(**self.options()) as client, client.stream("GET", address) as answer:
                answer.raise_for_status()
                body = b""
                for part in answer.iter_bytes():
                    body += part
                    if len(body) > MOST_BYTES:
                        raise self.no_answer(f"{address}: more than {MOST_BYTES} bytes")
                found = httpx2.Response(200, content=body).json()
        except (httpx2.HTTPError, ValueError) as error:
            raise self.no_answer(f"{address}: {error!r}") from error
        if not isinstance(found, dict):
            raise self.no_answer(f"{address}: found {type(found).__name__}, expected an object")
        return found

    def no_answer(self, why: str) -> SignInElsewhereFailed:
        """What somebody is told while the system does not answer as it should."""
        return SignInElsewhereFailed(
            f"{self.name} doesn't answer right now. Wait a moment and try again.", why
        )
