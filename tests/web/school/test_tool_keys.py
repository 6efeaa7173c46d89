"""The keys with which the server signs what it sends to learning platforms."""

from __future__ import annotations

from typing import Any

import pytest
from joserfc import jwt
from joserfc.jwk import KeySet, RSAKey

from tests.classroom.people import Clock
from trainer.store import Store
from trainer.web.school.tool_keys import BITS, ToolKeys


def test_processes_that_start_together_have_one_key(
    store: Store, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A process that finds no key, while another one stores its own, takes the other's."""
    generate, others = RSAKey.generate_key, []

    def generate_after_another(size: int) -> RSAKey:
        monkeypatch.setattr(RSAKey, "generate_key", generate)
        others.append(ToolKeys(store, clock))
        return generate(size)

    monkeypatch.setattr(RSAKey, "generate_key", generate_after_another)
    keys = ToolKeys(store, clock)
    assert len(store.lti.private_keys()) == 1
    assert keys.published() == others[0].published()


def test_a_key_of_another_process_is_published_and_signs(store: Store, clock: Clock) -> None:
    """A key that was added later is published beside the first, and the newest signs."""
    keys = ToolKeys(store, clock)
    (first,) = keys.published()["keys"]
    added = RSAKey.generate_key(BITS)
    store.lti.add_key(added.as_pem(private=True).decode("ascii"), clock())
    published: Any = keys.published()
    assert [each["kid"] for each in published["keys"]] == [first["kid"], added.thumbprint()]
    found = jwt.decode(keys.sign({"sub": "x"}), KeySet.import_key_set(published), ["RS256"])
    assert found.header["kid"] == added.thumbprint()
