"""What the server asks of a school's systems, by their addresses in the owner's settings.

Nothing is asked that those who sign in could choose: addresses come from the settings, and from
what the systems there publish. Redirects are not followed. A system is given up if it is silent for
ten seconds, or if the body of its answer is still coming ten seconds after it was asked
(`trainer.web.school.bounds`).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from trainer.errors import SignInElsewhereFailed

if TYPE_CHECKING:
    import httpx2

__all__ = ["Fetcher"]

PATIENCE_S = 10.0


class Fetcher:
    """Asks one system.

    Parameters
    ----------
    name : how people know it.
    transport : how requests travel; the network, unless testing.
    timer : gives the time in seconds from some start.
    """

    def __init__(
        self,
        name: str,
        transport: httpx2.BaseTransport | None = None,
        timer: Callable[[], float] = time.monotonic,
    ) -> None:
        self.name, self._transport, self._timer = name, transport, timer

    def options(self) -> dict[str, Any]:
        """How a client of httpx2 is made that asks as this does, once and now."""
        from trainer.web.school.bounds import Bounds

        bounds = Bounds(self._timer() + PATIENCE_S, self._timer)
        return {
            "timeout": PATIENCE_S,
            "follow_redirects": False,
            "transport": self._transport,
            "headers": {"accept-encoding": "identity"},
            "event_hooks": {"response": [bounds]},
        }

    def json(self, address: str) -> dict[str, Any]:
        """The JSON object at an address.

        Raises
        ------
        SignInElsewhereFailed
            If there is none.
        """
        import httpx2

        try:
            with httpx2.Client(**self.options()) as client:
                found = client.get(address).raise_for_status().json()
        except (httpx2.HTTPError, httpx2.InvalidURL, ValueError) as error:
            raise self.no_answer(f"{address}: {error!r}") from error
        if not isinstance(found, dict):
            raise self.no_answer(f"{address}: found {type(found).__name__}, expected an object")
        return found

    def no_answer(self, why: str) -> SignInElsewhereFailed:
        """What somebody is told while the system does not answer as it should."""
        return SignInElsewhereFailed(
            f"{self.name} doesn't answer right now. Wait a moment and try again.", why
        )
