"""The file that says which systems of a school sign people in (`serve --school FILE`).

It is TOML. docs/school.md explains its keys.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from trainer.errors import SettingsError

__all__ = [
    "NO_SCHOOL",
    "ClaimRule",
    "OpenIdSettings",
    "PlatformSettings",
    "SchoolSettings",
    "is_safe_address",
    "read_school",
]

EVERYBODY = "everybody"
LONGEST_NAME = 60
# A host, or an IPv6 address in brackets, and a port (RFC 3986, section 3.2).
_HOST = re.compile(r"([a-z0-9.-]+|\[[0-9a-f:.]+\])(:[0-9]+)?", re.ASCII | re.IGNORECASE)
_LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})


@dataclass(frozen=True, slots=True)
class ClaimRule:
    """Whom a rule is for: people of whom the system says in `claim` one of the `values`; without
    a claim, everybody whom it signs in."""

    claim: str = ""
    values: tuple[str, ...] = ()

    def fits(self, claims: Mapping[str, Any]) -> bool:
        """Whether the rule is for somebody of whom these claims are made."""
        if not self.claim:
            return True
        found = _claim(claims, self.claim)
        said = found if isinstance(found, list) else [found]
        return any(isinstance(one, str) and one in self.values for one in said)


@dataclass(frozen=True, slots=True)
class OpenIdSettings:
    """An OpenID provider: how people know it, its address, who this server is to it.

    `learners` says who gets a learner's account at the first sign-in and `teachers` who becomes a
    teacher; None for nobody. `sign_in_claim` is the claim that the sign-in name is made from.
    """

    name: str
    issuer: str
    client_id: str
    client_secret: str | None
    scope: str
    learners: ClaimRule | None
    teachers: ClaimRule | None
    sign_in_claim: str


@dataclass(frozen=True, slots=True)
class PlatformSettings:
    """A learning platform (LTI 1.3): how people know it, and what it and this server are to each
    other. `token_audience` is what the platform expects in requests for tokens."""

    name: str
    issuer: str
    client_id: str
    deployments: tuple[str, ...]
    sign_in_address: str
    token_address: str
    token_audience: str
    keys_address: str


@dataclass(frozen=True, slots=True)
class SchoolSettings:
    """The systems that a server believes."""

    openid: OpenIdSettings | None = None
    platforms: tuple[PlatformSettings, ...] = ()


NO_SCHOOL = SchoolSettings()


def read_school(path: Path) -> SchoolSettings:
    """The settings in a file.

    Raises
    ------
    SettingsError
        If there is no such file, or something in it cannot be.
    """
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingsError("--school", f"{path} ({error.strerror})", "a file to read") from error
    except ValueError as error:
        raise SettingsError(str(path), str(error), "a file in TOML, in UTF-8") from error
    top = Section(str(path), found)
    settings = SchoolSettings(
        _openid(top.section("openid"), path.parent),
        tuple(map(_platform, top.sections("lti"))),
    )
    top.refuse_others()
    return settings


class Section:
    """Part of the file, whose keys are read one by one; errors say where they are."""

    def __init__(self, where: str, found: Mapping[str, Any]) -> None:
        self.where, self._found, self._read = where, found, set[str]()

    def section(self, key: str) -> Section | None:
        """The section of that name; None if there is none."""
        value = self._value(key, dict, "a section")
        return None if value is None else Section(f"{self.where} [{key}]", value)

    def sections(self, key: str) -> list[Section]:
        """The sections of that name, which may be there several times."""
        found = self._value(key, list, f"sections [[{key}]]")
        where = f"{self.where} [[{key}]]"
        if not all(isinstance(each, dict) for each in found or []):
            raise SettingsError(where, repr(found), f"sections [[{key}]]")
        return [Section(f"{where} {number}", each) for number, each in enumerate(found or [], 1)]

    def text(self, key: str, default: str | None = None) -> str:
        """A text that is not empty; it is needed if there is no default."""
        value = self._value(key, str, "a text in quotes")
        if value is None and default is not None:
            return default
        if not value or not value.strip():
            raise SettingsError(f"{self.where} {key}", repr(value), "a text in quotes")
        return str(value.strip())

    def address(self, key: str) -> str:
        """The address of a system, over TLS unless it is on this machine."""
        value = self.text(key)
        if not is_safe_address(value):
            raise SettingsError(
                f"{self.where} {key}", value, "an address such as https://login.school.example"
            )
        return value

    def secret(self, key: str, folder: Path) -> str | None:
        """What is in the file that a key names, seen from a folder; None without the key."""
        value = self._value(key, str, "the name of a file")
        if value is None:
            return None
        path = folder / value
        try:
            secret: str = path.read_text(encoding="utf-8").strip()
        except (OSError, ValueError) as error:
            raise SettingsError(f"{self.where} {key}", str(path), "a file to read") from error
        if not secret:
            raise SettingsError(f"{self.where} {key}", f"{path}, empty", "the secret in the file")
        return secret

    def rule(self, key: str) -> ClaimRule | None:
        """Whom a rule is for; None without the key."""
        value = self._value(key, (str, dict), f'"{EVERYBODY}", or a claim and its values')
        if value is None:
            return None
        if value == EVERYBODY:
            return ClaimRule()
        if isinstance(value, str):
            raise SettingsError(
                f"{self.where} {key}", repr(value), f'"{EVERYBODY}", or a claim and its values'
            )
        inner = Section(f"{self.where} {key}", value)
        rule = ClaimRule(inner.text("claim"), inner.texts("values"))
        inner.refuse_others()
        return rule

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of at least one text."""
        value = self._value(key, list, "a list of texts")
        if not value or not all(isinstance(each, str) and each for each in value):
            raise SettingsError(f"{self.where} {key}", repr(value), "a list of texts")
        return tuple(value)

    def refuse_others(self) -> None:
        """Raises SettingsError if there is a key that was not read."""
        if others := sorted(set(self._found) - self._read):
            known = ", ".join(sorted(self._read))
            raise SettingsError(self.where, f"the key {others[0]!r}", f"only {known}")

    def _value(self, key: str, kind: type | tuple[type, ...], expected: str) -> Any:
        self._read.add(key)
        value = self._found.get(key)
        if value is not None and not isinstance(value, kind):
            raise SettingsError(f"{self.where} {key}", repr(value), expected)
        return value


def is_safe_address(address: str) -> bool:
    """Whether an address is reached over TLS, or is on this machine.

    Its host is a plain name or number, so that it can stand in a Content-Security-Policy.
    """
    try:
        parts = urlsplit(address)
        host, _ = parts.hostname, parts.port
    except ValueError:
        return False
    if not host or not _HOST.fullmatch(parts.netloc) or parts.fragment:
        return False
    return parts.scheme == "https" or (parts.scheme == "http" and host in _LOOPBACK)


def _openid(section: Section | None, folder: Path) -> OpenIdSettings | None:
    if section is None:
        return None
    settings = OpenIdSettings(
        section.text("name"),
        section.address("issuer"),
        section.text("client_id"),
        section.secret("client_secret_file", folder),
        section.text("scope", "openid profile"),
        section.rule("learners"),
        section.rule("teachers"),
        section.text("sign_in_claim", "preferred_username"),
    )
    section.refuse_others()
    if len(settings.name) > LONGEST_NAME:
        expected = f"at most {LONGEST_NAME} characters"
        raise SettingsError(f"{section.where} name", settings.name, expected)
    if "openid" not in settings.scope.split():
        raise SettingsError(f"{section.where} scope", settings.scope, "openid among the words")
    if settings.teachers == ClaimRule():
        raise SettingsError(
            f"{section.where} teachers", f'"{EVERYBODY}"', "a claim that only teachers have"
        )
    return settings


def _platform(section: Section) -> PlatformSettings:
    token_address = section.address("token_address")
    settings = PlatformSettings(
        section.text("name"),
        section.address("issuer"),
        section.text("client_id"),
        section.texts("deployments"),
        section.address("sign_in_address"),
        token_address,
        section.text("token_audience", token_address),
        section.address("keys_address"),
    )
    section.refuse_others()
    return settings


def _claim(claims: Mapping[str, Any], name: str) -> Any:
    """A claim by its name; else what lies at the path that the name is, with dots."""
    if name in claims:
        return claims[name]
    found: Any = claims
    for part in name.split("."):
        found = found.get(part) if isinstance(found, Mapping) else None
    return found
