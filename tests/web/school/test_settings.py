"""The file that says which systems of a school are believed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from trainer.errors import SettingsError
from trainer.web.school.settings import (
    ClaimRule,
    OpenIdSettings,
    is_safe_address,
    read_school,
)

USUAL = {
    "name": '"Lockgate School"',
    "issuer": '"https://login.lockgate.example"',
    "client_id": '"chart-trainer"',
}


def written(folder: Path, head: str = "[openid]", **keys: str) -> Path:
    """A file with a section."""
    path = folder / "school.toml"
    lines = [head, *(f"{key} = {value}" for key, value in (USUAL | keys).items() if value)]
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_what_is_not_said_is_cautious(tmp_path: Path) -> None:
    """With the least that is needed nobody new gets an account, and nobody becomes a teacher."""
    found = read_school(written(tmp_path)).openid
    assert found == OpenIdSettings(
        "Lockgate School", "https://login.lockgate.example", "chart-trainer", None,
        "openid profile", None, None, "preferred_username",
    )  # fmt: skip


def test_everything_can_be_said(tmp_path: Path) -> None:
    """Rules name a claim and its values; the secret stands in a file beside, without its last line
    break."""
    (tmp_path / "secret").write_text("heron weir\n", encoding="utf-8")
    path = written(
        tmp_path, client_secret_file='"secret"', learners='"everybody"',
        teachers='{ claim = "groups", values = ["staff", "band"] }', scope='"openid groups"',
        sign_in_claim='"login"',
    )  # fmt: skip
    found = read_school(path).openid
    assert found is not None
    assert found.client_secret == "heron weir"
    assert found.learners == ClaimRule()
    assert found.teachers == ClaimRule("groups", ("staff", "band"))
    assert (found.scope, found.sign_in_claim) == ("openid groups", "login")


def test_a_file_without_a_section_believes_nobody(tmp_path: Path) -> None:
    """An empty file is none of a school's systems."""
    path = tmp_path / "school.toml"
    path.write_text("")
    assert read_school(path).openid is None


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ({"issuer": ""}, "issuer"),
        ({"issuer": '"http://login.lockgate.example"'}, "https://"),
        ({"issuer": '"login.lockgate.example"'}, "https://"),
        ({"issuer": '"https://a:b@login.example"'}, "https://"),
        ({"client_id": '" "'}, "client_id"),
        ({"client_id": "17"}, "client_id"),
        ({"name": f'"{"x" * 61}"'}, "at most 60"),
        ({"teachers": '"everybody"'}, "a claim that only teachers have"),
        ({"teachers": '"staff"'}, "everybody"),
        ({"teachers": '{ claim = "groups" }'}, "values"),
        ({"teachers": '{ claim = "groups", values = [] }'}, "values"),
        ({"teachers": '{ claim = "groups", values = ["a"], role = "x" }'}, "role"),
        ({"learners": "true"}, "learners"),
        ({"scope": '"profile"'}, "openid among the words"),
        ({"client_secret_file": '"missing"'}, "missing"),
        ({"client_secret": '"heron"'}, "client_secret"),
    ],
)
def test_what_is_wrong_is_told(tmp_path: Path, keys: dict[str, str], told: str) -> None:
    """An error names the file, and what is wrong in it."""
    with pytest.raises(SettingsError) as caught:
        read_school(written(tmp_path, **keys))
    assert told in str(caught.value)
    assert "school.toml" in str(caught.value)


LTI = {
    "name": '"Weir Learning"',
    "issuer": '"https://learn.weir.example"',
    "client_id": '"trainer-17"',
    "deployments": '["1"]',
    "sign_in_address": '"https://learn.weir.example/auth"',
    "token_address": '"https://learn.weir.example/token"',
    "keys_address": '"https://learn.weir.example/keys"',
}


def test_platforms_can_be_several(tmp_path: Path) -> None:
    """Each has a section; what it expects in requests for tokens is their address, if nothing else
    is said."""
    path = tmp_path / "school.toml"
    one = "[[lti]]\n" + "\n".join(f"{key} = {value}" for key, value in LTI.items())
    path.write_text(f'{one}\ntoken_audience = "https://weir.example"\n{one}\n')
    first, second = read_school(path).platforms
    assert first == replace(second, token_audience="https://weir.example")
    assert second.token_audience == second.token_address == "https://learn.weir.example/token"
    assert second.deployments == ("1",)


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"deployments": "[]"}, "deployments"),
        ({"deployments": '"1"'}, "deployments"),
        ({"keys_address": '"http://learn.weir.example/keys"'}, "https://"),
        ({"sign_in_address": ""}, "sign_in_address"),
        ({"secret": '"x"'}, "secret"),
    ],
)
def test_what_is_wrong_in_a_platform_is_told(
    tmp_path: Path, changed: dict[str, str], told: str
) -> None:
    """An error says in which of the sections it is."""
    path = tmp_path / "school.toml"
    lines = [f"{key} = {value}" for key, value in (LTI | changed).items() if value]
    path.write_text("[[lti]]\n" + "\n".join(lines))
    with pytest.raises(SettingsError) as caught:
        read_school(path)
    assert told in str(caught.value)
    assert "[[lti]] 1" in str(caught.value)


def test_a_single_section_is_told(tmp_path: Path) -> None:
    """Platforms are a list, even if there is one."""
    path = tmp_path / "school.toml"
    path.write_text('[lti]\nname = "x"')
    with pytest.raises(SettingsError, match=r"\[\[lti\]\]"):
        read_school(path)


def test_an_empty_secret_is_told(tmp_path: Path) -> None:
    """A secret file without a secret is a mistake."""
    (tmp_path / "secret").write_text("\n")
    with pytest.raises(SettingsError, match="empty"):
        read_school(written(tmp_path, client_secret_file='"secret"'))


def test_no_file_and_no_toml_are_told(tmp_path: Path) -> None:
    """A file that cannot be read is told with its name."""
    with pytest.raises(SettingsError, match="--school"):
        read_school(tmp_path / "missing.toml")
    with pytest.raises(SettingsError, match=r"school\.toml"):
        read_school(written(tmp_path, head="[openid"))


@pytest.mark.parametrize(
    ("address", "is_safe"),
    [
        ("https://a.example", True),
        ("https://a.example:8443/realms/x", True),
        ("http://127.0.0.1:5000", True),
        ("http://localhost", True),
        ("http://a.example", False),
        ("http://127.0.0.1.example", False),
        ("javascript:alert(1)", False),
        ("https://", False),
        ("https://a.example:x", False),
        ("https://a.example#b", False),
        ("https://[2001:db8::1]:8443/x", True),
        ("https://A-1.example", True),
        ("https://a.example;script-src", False),
        ("https://a.example *", False),
        ("https://a.example,b.example", False),
        ("https://*.example", False),
        ("https://@a.example", False),
        ("https://\u017fchool.example", False),
    ],
)
def test_addresses_are_over_tls(address: str, is_safe: bool) -> None:
    """Over the network a system is asked by TLS only."""
    assert is_safe_address(address) is is_safe


@pytest.mark.parametrize(
    ("claims", "fits"),
    [
        ({"roles": ["staff"]}, True),
        ({"realm_access": {"roles": ["staff"]}}, False),
        ({}, False),
        ({"roles": None}, False),
    ],
)
def test_a_rule_reads_its_claim(claims: dict[str, object], fits: bool) -> None:
    """A rule is for those in whose claim one of its values stands."""
    assert ClaimRule("roles", ("staff",)).fits(claims) is fits


def test_a_claim_may_lie_deeper() -> None:
    """A name with dots is a claim of that name, or else a path."""
    rule = ClaimRule("realm_access.roles", ("staff",))
    assert rule.fits({"realm_access": {"roles": ["staff"]}})
    assert rule.fits({"realm_access.roles": "staff"})
    assert not rule.fits({"realm_access": "roles"})
