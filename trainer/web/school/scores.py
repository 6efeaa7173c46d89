"""Sending scores to learning platforms (LTI Assignment and Grade Services 2.0, section 3.4).

The server shows who it is with a token that it signs (RFC 7523; 1EdTech Security Framework 1.0,
section 4.1).
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit, urlunsplit

from trainer.errors import ScoreNotTaken, StoreError
from trainer.web.school.platform import SCORE_SCOPE, Platform

if TYPE_CHECKING:
    from trainer.classroom.passback import Passback, Score
    from trainer.web.school.tool_keys import ToolKeys

__all__ = ["ScoreLoop", "ScoreSender"]

MOST = 100
SCORE_TYPE = "application/vnd.ims.lis.v1.score+json"
_ASSERTION = "urn:ietf:params:oauth:client-assertion-type:jwt-bearer"
# A token is not used in its last minute.
_SPARE = timedelta(minutes=1)
LOOK_EVERY_S = 10.0
# An access token that is said to hold longer than a year is not believed.
LONGEST_TOKEN_S = 366 * 24 * 3600
# How long the end of a server waits for a score that is on its way.
LAST_SCORE_S = 10.0
_LOG = logging.getLogger(__name__)


class ScoreSender:
    """Sends scores to the platforms of a server.

    Parameters
    ----------
    clock : gives the moment, aware and in UTC.
    """

    def __init__(
        self, platforms: Iterable[Platform], keys: ToolKeys, clock: Callable[[], datetime]
    ) -> None:
        self._platforms = {
            (each.settings.issuer, each.settings.client_id): each for each in platforms
        }
        self._keys, self._clock = keys, clock
        self._tokens: dict[str, tuple[str, datetime]] = {}

    def send(self, score: Score) -> None:
        """Send a score. Raises ScoreNotTaken if the platform did not take it."""
        due = score.due
        platform = self._platforms.get((due.issuer, due.client_id))
        if platform is None:
            raise ScoreNotTaken(f"{due.issuer} is no longer in the server's settings.")
        token = self._token(platform)
        headers = {"authorization": f"Bearer {token}", "content-type": SCORE_TYPE}
        body = {
            "timestamp": score.at.astimezone(UTC).isoformat(timespec="milliseconds"),
            "userId": due.subject,
            "scoreGiven": round(score.value * MOST, 2),
            "scoreMaximum": MOST,
            "activityProgress": "Completed" if score.is_complete else "InProgress",
            "gradingProgress": "FullyGraded",
        }
        self._post(platform, scores_address(due.address), headers=headers, json=body)

    def _token(self, platform: Platform) -> str:
        kept = self._tokens.get(platform.key)
        now = self._clock()
        if kept is not None and now < kept[1]:
            return kept[0]
        settings = platform.settings
        who = {"iss": settings.client_id, "sub": settings.client_id}
        asked = {
            "grant_type": "client_credentials",
            "client_assertion_type": _ASSERTION,
            "client_assertion": self._keys.sign(who | {"aud": settings.token_audience}),
            "scope": SCORE_SCOPE,
        }
        found = self._post(platform, settings.token_address, data=asked)
        token, lasts = found.get("access_token"), found.get("expires_in", 0)
        if not isinstance(token, str) or not _is_token(token):
            raise ScoreNotTaken(f"{platform.name} gave no access token.")
        # No comparison holds for NaN, which Python reads in JSON.
        if not isinstance(lasts, int | float) or not 0 <= lasts <= LONGEST_TOKEN_S:
            raise ScoreNotTaken(f"{platform.name} didn't say how long its access token holds.")
        self._tokens[platform.key] = (token, now + timedelta(seconds=lasts) - _SPARE)
        return token

    def _post(self, platform: Platform, address: str, **what: Any) -> dict[str, Any]:
        """What a platform answers. Raises ScoreNotTaken."""
        import httpx2

        try:
            with httpx2.Client(**platform.fetcher.options()) as client:
                answer = client.post(address, **what)
        except httpx2.InvalidURL as error:
            _LOG.warning("%s: the address %r: %r", platform.name, address, error)
            raise ScoreNotTaken(f"An address of {platform.name} isn't valid.") from error
        except httpx2.TimeoutException as error:
            _LOG.warning("%s: %s: %r", platform.name, address, error)
            raise ScoreNotTaken(f"{platform.name} didn't answer in time.") from error
        except httpx2.HTTPError as error:
            _LOG.warning("%s: %s: %r", platform.name, address, error)
            raise ScoreNotTaken(f"{platform.name} gave no answer that can be read.") from error
        if answer.status_code == httpx2.codes.UNAUTHORIZED:
            self._tokens.pop(platform.key, None)
        if not answer.is_success:
            raise ScoreNotTaken(f"{platform.name} answered {answer.status_code}.")
        try:
            found = answer.json() if answer.content else {}
        except ValueError:
            found = {}
        return found if isinstance(found, dict) else {}


class ScoreLoop:
    """Sends what is due again and again, in a thread of its own, until it is stopped."""

    def __init__(self, passback: Passback, every_s: float = LOOK_EVERY_S) -> None:
        self._passback, self._every_s = passback, every_s
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name="scores", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """Begin no other score. It does not wait for one that is on its way."""
        self._stopped.set()

    def close(self, most_s: float = LAST_SCORE_S) -> None:
        """Stop, and wait for a score that is on its way, for so many seconds at most."""
        self.stop()
        self._thread.join(most_s)

    def _run(self) -> None:
        while not self._stopped.wait(self._every_s):
            try:
                self._passback.run(self._stopped.is_set)
            except StoreError as error:
                _LOG.warning("scores are sent later: %s", error)
            except Exception:  # noqa: BLE001 - logged; the thread goes on as the server does
                _LOG.exception("scores are sent later")


def _is_token(text: str) -> bool:
    """Whether a text is an access token: visible ASCII and spaces (RFC 6749, appendix A.12)."""
    return text != "" and text.isascii() and text.isprintable()


def scores_address(line_item: str) -> str:
    """Where the scores of a line item go: its path with /scores; its query stays (Assignment and
    Grade Services 2.0, section 3.4.5)."""
    parts = urlsplit(line_item)
    return urlunsplit(parts._replace(path=f"{parts.path}/scores"))
