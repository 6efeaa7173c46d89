"""Passwords: which may be chosen, and how they are kept.

A password has 12 to 128 characters of any kind; nothing else is asked of it (NIST SP 800-63B-4,
section 3.1.1.2: length instead of composition). It is compared in the normal form NFKC, so that the
same keys give the same password on every system. One that is easily guessed is refused: the
person's own name, words of this program and of schools, runs such as "123456" and "qwertz", and the
most common passwords and long English words, also a few of them together and with digits around
them.

Kept is an argon2id hash. Its costs are the second of the two that RFC 9106 recommends in section 4
(64 MiB of memory, 3 passes, 4 lanes), which is above the least that OWASP's Password Storage Cheat
Sheet names (19 MiB, 2 passes, 1 lane). A hash made with other costs is made again at the next
sign-in. Few are worked out at a time, so that a class that signs in together does not take the
machine's memory.
"""

from __future__ import annotations

import secrets
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from importlib.resources import files
from threading import BoundedSemaphore, Lock
from typing import TYPE_CHECKING

from trainer.errors import PasswordRefused

if TYPE_CHECKING:
    from argon2 import PasswordHasher

__all__ = ["LONGEST", "SHORTEST", "HashCost", "Passwords", "check_password", "word_digest"]

SHORTEST, LONGEST = 12, 128
# The shortest piece that counts as a common word; shorter ones occur in everything.
SHORTEST_WORD = 4
# A password is refused if it is made of no more than so many common words and single letters; runs
# and digits between them count for nothing.
MOST_PIECES = 3
# Digits, or a few signs, between words do not make them harder to guess.
_FILLERS = frozenset("0123456789 .,-_!?#*+&@$%'\"/\\()")
_DIGEST_DIGITS = 10
_RUNS = (
    "01234567890", "abcdefghijklmnopqrstuvwxyz", "qwertyuiop", "qwertzuiop", "azertyuiop",
    "asdfghjkl", "zxcvbnm", "yxcvbnm", "1qaz2wsx3edc4rfv5tgb6yhn7ujm", "qazwsxedcrfvtgbyhnujm",
    "1q2w3e4r5t6y7u8i9o0p",
)  # fmt: skip
_SHORTEST_RUN = 3
# Digits and signs that stand for letters.
_LOOKALIKES = str.maketrans("013457@$!", "oieastasi")
# Words of this program and of schools, which are the first to be tried on such a server.
_WORDS = frozenset((
    "account", "band", "bass", "chart", "chord", "chords", "class", "classroom", "drum", "drums",
    "guest", "guitar", "learner", "lesson", "millrace", "music", "musician", "number", "numbers",
    "owner", "passphrase", "password", "piano", "pupil", "school", "secret", "server", "singer",
    "song", "songs", "student", "teacher", "trainer", "welcome",
))  # fmt: skip
# How many hashes are worked out at a time; each takes 64 MiB.
MOST_AT_ONCE = 2


@dataclass(frozen=True, slots=True)
class HashCost:
    """What an argon2id hash costs: memory in KiB, passes over it, and lanes."""

    memory_kib: int = 64 * 1024
    passes: int = 3
    lanes: int = 4


class Passwords:
    """Makes and checks hashes of passwords."""

    def __init__(self, cost: HashCost | None = None) -> None:
        self._cost = cost or HashCost()
        self._turns = BoundedSemaphore(MOST_AT_ONCE)
        self._lock = Lock()
        self._hasher: PasswordHasher | None = None
        self._nobodys = ""

    def hash(self, password: str) -> str:
        """The hash to keep of a password, with a salt of its own."""
        with self._turn() as hasher:
            return hasher.hash(_bytes(password))

    def matches(self, kept: str | None, password: str) -> bool:
        """Whether a password is the one whose hash is kept.

        With no hash it takes as long and is False, so that the time does not tell which accounts
        there are.
        """
        from argon2.exceptions import InvalidHashError, VerificationError

        with self._turn() as hasher:
            try:
                hasher.verify(kept or self._nobodys, _bytes(password[: LONGEST + 1]))
            except (VerificationError, InvalidHashError):
                return False
        return kept is not None

    def is_outdated(self, kept: str) -> bool:
        """Whether a hash was made with other costs than a new one would be."""
        with self._turn() as hasher:
            return hasher.check_needs_rehash(kept)

    @contextmanager
    def _turn(self) -> Iterator[PasswordHasher]:
        with self._turns:
            yield self._made_hasher()

    def _made_hasher(self) -> PasswordHasher:
        from argon2 import PasswordHasher

        with self._lock:
            if self._hasher is None:
                cost = self._cost
                self._hasher = PasswordHasher(
                    time_cost=cost.passes,
                    memory_cost=cost.memory_kib,
                    parallelism=cost.lanes,
                )
                # A password that nobody knows.
                self._nobodys = self._hasher.hash(secrets.token_bytes(32))
            return self._hasher


def check_password(password: str, names: Iterable[str] = ()) -> None:
    """See that a password may be chosen; `names` are those of the person, which it may not be.

    Raises
    ------
    PasswordRefused
        If it is too short, too long or easily guessed; says which.
    """
    if len(password) > LONGEST:
        raise PasswordRefused(f"That password is too long. Use at most {LONGEST} characters.")
    normal = _normal(password)
    if len(normal) < SHORTEST:
        raise PasswordRefused(f"That password is too short. Use at least {SHORTEST} characters.")
    own = frozenset(word for name in names for word in _words_of(name))
    if _is_easy(normal.casefold(), own):
        raise PasswordRefused(
            "That password is easy to guess: it's made of your name, common words or simple runs. "
            "Try a few words that have nothing to do with each other."
        )


def word_digest(word: str) -> str:
    """What is kept of a common word: the start of its SHA-256 as hexadecimal digits."""
    return sha256(word.casefold().encode()).hexdigest()[:_DIGEST_DIGITS]


def _normal(password: str) -> str:
    return unicodedata.normalize("NFKC", password)


def _bytes(password: str) -> bytes:
    # A form may bring halves of characters, which UTF-8 has no bytes for.
    return _normal(password).encode("utf-8", "surrogatepass")


def _words_of(name: str) -> Iterator[str]:
    folded = _normal(name).casefold()
    for part in (folded, *"".join(c if c.isalnum() else " " for c in folded).split()):
        if len(part) >= _SHORTEST_RUN:
            yield part


def _is_easy(password: str, own: frozenset[str]) -> bool:
    return _few_pieces(password, own) or _repeats(password)


def _repeats(password: str) -> bool:
    """Whether a password is a short piece over and over, such as "abcabcabcabc"."""
    return any(
        (password[:size] * (len(password) // size + 1))[: len(password)] == password
        for size in range(1, SHORTEST_WORD + 1)
    )


def _few_pieces(password: str, own: frozenset[str]) -> bool:
    """Whether a password is made of at most `MOST_PIECES` common words and single letters, with
    runs and fillers between them."""
    # least[end] is how few pieces it takes to write the password up to there.
    least = [0]
    for end in range(1, len(password) + 1):
        last = password[end - 1]
        fewest = least[-1] + (last not in _FILLERS)
        for start in range(end - 1):
            piece = password[start:end]
            if least[start] < fewest and _is_run(piece):
                fewest = least[start]
            elif least[start] + 1 < fewest and _is_word(piece, own):
                fewest = least[start] + 1
        least.append(fewest)
    return least[-1] <= MOST_PIECES


def _is_run(piece: str) -> bool:
    """Whether a piece is one character over and over, or keys beside each other."""
    if len(piece) < _SHORTEST_RUN:
        return False
    return len(set(piece)) == 1 or any(piece in run or piece[::-1] in run for run in _RUNS)


def _is_word(piece: str, own: frozenset[str]) -> bool:
    return any(
        each in own
        or each in _WORDS
        or (len(each) >= SHORTEST_WORD and word_digest(each) in _common())
        for each in {piece, piece.translate(_LOOKALIKES)}
    )


@lru_cache(maxsize=1)
def _common() -> frozenset[str]:
    """The digests of the most common passwords (see scripts/common_passwords.py)."""
    text = files("trainer.classroom").joinpath("common_passwords.txt").read_text(encoding="ascii")
    return frozenset(text.split())
