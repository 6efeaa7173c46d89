"""A learning platform: what it says when somebody comes from it (LTI 1.3, Deep Linking 2.0).

The names of claims are those of "LTI Core Specification 1.3", sections 5.3 and 5.4, and "LTI Deep
Linking Specification 2.0", section 4.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode, urlsplit

from trainer.classroom import Launch, Vouched
from trainer.errors import SignInElsewhereFailed
from trainer.store import Role
from trainer.web.school.fetching import Fetcher
from trainer.web.school.keys import Keys, checked_claims, not_believed
from trainer.web.school.settings import PlatformSettings, is_safe_address

if TYPE_CHECKING:
    import httpx2

    from trainer.web.school.asked import Asked

__all__ = ["DeepLink", "Message", "Platform", "deep_link_response", "origin_of"]

LTI = "https://purl.imsglobal.org/spec/lti/claim/"
DEEP_LINK = "https://purl.imsglobal.org/spec/lti-dl/claim/"
GRADES = "https://purl.imsglobal.org/spec/lti-ags/claim/endpoint"
SCORE_SCOPE = "https://purl.imsglobal.org/spec/lti-ags/scope/score"
VERSION = "1.3.0"
RESOURCE, CHOOSING = "LtiResourceLinkRequest", "LtiDeepLinkingRequest"
# Roles in the course; what somebody is in the institution or the system counts for nothing here.
MEMBERSHIP = "http://purl.imsglobal.org/vocab/lis/v2/membership#"
INSTRUCTOR = frozenset({f"{MEMBERSHIP}Instructor", "Instructor"})
LONGEST_ID = 255


@dataclass(frozen=True, slots=True)
class DeepLink:
    """A teacher chooses what a link of the course shall lead to. `back` is where the choice is sent
    and `data` what the platform wants to have back, None for nothing."""

    back: str
    data: str | None


@dataclass(frozen=True, slots=True)
class Message:
    """What a platform said that can be believed; `choosing` is None for a plain launch."""

    launch: Launch
    choosing: DeepLink | None = None


class Platform:
    """A learning platform, as its settings name it.

    Parameters
    ----------
    origin : this server's own address.
    clock : gives the moment, aware and in UTC.
    transport : how requests travel; the network, unless testing.
    """

    LAUNCH = "/lti/launch"

    def __init__(
        self,
        settings: PlatformSettings,
        origin: str,
        clock: Callable[[], datetime],
        transport: httpx2.BaseTransport | None = None,
    ) -> None:
        self.settings, self._clock = settings, clock
        self._launch = f"{origin}{self.LAUNCH}"
        self.fetcher = Fetcher(settings.name, transport)
        self._keys = Keys(self.fetcher, clock)

    @property
    def name(self) -> str:
        """How people know it."""
        return self.settings.name

    @property
    def key(self) -> str:
        """Tells it from the others."""
        return f"{self.settings.issuer} {self.settings.client_id}"

    @property
    def origins(self) -> tuple[str, ...]:
        """The origins of its pages, as far as they are known."""
        addresses = (self.settings.issuer, self.settings.sign_in_address)
        return tuple(dict.fromkeys(map(origin_of, addresses)))

    def address_for(self, asked: Asked, hints: Mapping[str, str]) -> str:
        """Where a browser is sent to fetch the message (1EdTech Security Framework 1.0, section
        5.1.1.2); `hints` are those that the platform sent along."""
        query = {
            "scope": "openid",
            "response_type": "id_token",
            "response_mode": "form_post",
            "prompt": "none",
            "client_id": self.settings.client_id,
            "redirect_uri": self._launch,
            "state": asked.state,
            "nonce": asked.nonce,
        } | {name: value for name, value in hints.items() if value}
        joint = "&" if "?" in self.settings.sign_in_address else "?"
        return f"{self.settings.sign_in_address}{joint}{urlencode(query)}"

    def message(self, token: str, asked: Asked) -> Message:
        """What a message says.

        Raises
        ------
        SignInElsewhereFailed
            If it cannot be believed, or not be understood.
        """
        signed = self._keys.verify(token, self.settings.keys_address)
        expected = {
            "iss": self.settings.issuer,
            "aud": self.settings.client_id,
            "nonce": asked.nonce,
        }
        claims = checked_claims(signed, expected, self._clock(), self.name)
        if claims.get(f"{LTI}version") != VERSION:
            raise self._wrong(f"the version {claims.get(f'{LTI}version')!r}")
        if claims.get(f"{LTI}deployment_id") not in self.settings.deployments:
            raise self._wrong(f"the deployment {claims.get(f'{LTI}deployment_id')!r}")
        kind = claims.get(f"{LTI}message_type")
        if kind == RESOURCE:
            self._check_link(claims)
            return Message(self._read(claims))
        if kind == CHOOSING:
            return Message(self._read(claims), self._choosing(claims))
        raise self._wrong(f"the message type {kind!r}")

    def _check_link(self, claims: Mapping[str, Any]) -> None:
        if claims.get(f"{LTI}target_link_uri") != self._launch:
            raise self._wrong(f"the target {claims.get(f'{LTI}target_link_uri')!r}")
        if not _text(_part(claims, f"{LTI}resource_link").get("id")):
            raise self._wrong("no id of a resource link")

    def _read(self, claims: Mapping[str, Any]) -> Launch:
        context = _part(claims, f"{LTI}context")
        context_id = _text(context.get("id"))
        if not context_id or len(context_id) > LONGEST_ID:
            raise SignInElsewhereFailed(
                f"Open the trainer from a course of {self.name}.", f"the context {context_id!r}"
            )
        roles = claims.get(f"{LTI}roles")
        if not isinstance(roles, list):
            raise self._wrong(f"the roles {roles!r}")
        is_teacher = any(isinstance(each, str) and each in INSTRUCTOR for each in roles)
        return Launch(
            self._person(claims, is_teacher=is_teacher),
            self.settings.client_id,
            claims[f"{LTI}deployment_id"],
            context_id,
            _text(context.get("title")) or _text(context.get("label")),
            is_teacher,
            _text(_part(claims, f"{LTI}custom").get("assignment")),
            self._line_item(claims),
        )

    def _person(self, claims: Mapping[str, Any], *, is_teacher: bool) -> Vouched:
        given = (_text(claims.get(each)) for each in ("given_name", "family_name"))
        name = _text(claims.get("name")) or " ".join(each for each in given if each)
        return Vouched(
            self.settings.issuer,
            claims["sub"],
            self.name,
            ".".join(name.split()),
            name,
            Role.TEACHER if is_teacher else Role.LEARNER,
            is_teacher,
        )

    def _line_item(self, claims: Mapping[str, Any]) -> str:
        """Where scores are sent, "" if the platform takes none (Assignment and Grade Services 2.0,
        section 3.1)."""
        grades = _part(claims, GRADES)
        scopes, address = grades.get("scope"), _text(grades.get("lineitem"))
        takes = isinstance(scopes, list) and SCORE_SCOPE in scopes
        return address if takes and is_safe_address(address) else ""

    def _choosing(self, claims: Mapping[str, Any]) -> DeepLink:
        settings = _part(claims, f"{DEEP_LINK}deep_linking_settings")
        back, data = _text(settings.get("deep_link_return_url")), settings.get("data")
        if not is_safe_address(back):
            raise self._wrong(f"the address {back!r} for what is chosen")
        if "ltiResourceLink" not in (settings.get("accept_types") or ()):
            raise self._wrong(f"the accepted types {settings.get('accept_types')!r}")
        return DeepLink(back, data if isinstance(data, str) else None)

    def _wrong(self, why: str) -> SignInElsewhereFailed:
        return not_believed(self.name, f"the message: {why}")


def deep_link_response(
    settings: PlatformSettings, deployment: str, data: str | None, items: list[dict[str, Any]]
) -> dict[str, Any]:
    """The claims that tell a platform what was chosen (Deep Linking 2.0, section 4.5)."""
    return {
        "iss": settings.client_id,
        "aud": settings.issuer,
        f"{LTI}message_type": "LtiDeepLinkingResponse",
        f"{LTI}version": VERSION,
        f"{LTI}deployment_id": deployment,
        f"{DEEP_LINK}content_items": items,
    } | ({} if data is None else {f"{DEEP_LINK}data": data})


def origin_of(address: str) -> str:
    """Scheme, host and port of an address."""
    parts = urlsplit(address)
    return f"{parts.scheme}://{parts.netloc}"


def _part(claims: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    """A claim that is an object; an empty one if it is missing or something else."""
    found = claims.get(name)
    return found if isinstance(found, Mapping) else {}


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""
