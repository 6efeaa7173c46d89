"""Tokens that open something: random, shown once, and stored only as digests."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable
from hashlib import sha256

__all__ = ["TOKEN_BYTES", "TokenSource", "digest_of", "is_same", "new_token", "sign"]

# 256 bits, twice what the ASVS 5.0 asks of a session token (7.2.3).
TOKEN_BYTES = 32
TokenSource = Callable[[], str]


def new_token() -> str:
    """A token of 256 random bits, in characters that may stand in a link."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def digest_of(token: str) -> str:
    """The SHA-256 of a token, as it is stored.

    A slow hash, as for passwords, is of no use: nobody tries 2**256 tokens.
    """
    return sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def sign(secret: str, text: str) -> str:
    """The HMAC-SHA256 (RFC 2104) of a text under a secret, as hexadecimal digits."""
    return hmac.new(secret.encode(), text.encode(), sha256).hexdigest()


def is_same(one: str, other: str) -> bool:
    """Whether two digests are the same, in a time that does not tell where they differ."""
    return hmac.compare_digest(one.encode(), other.encode())
