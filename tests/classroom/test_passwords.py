"""Which passwords may be chosen, and what is kept of them."""

from __future__ import annotations

import unicodedata

import argon2
import pytest

from tests.classroom.people import CHEAP, WORDS
from trainer.classroom import HashCost, Passwords
from trainer.classroom.passwords import LONGEST, SHORTEST, check_password
from trainer.errors import PasswordRefused


@pytest.mark.parametrize(
    "password",
    [
        WORDS,
        "correct horse battery staple",
        "zq9vkp0wjd6x",
        "음악을듣고숫자로적는다",
        "🎸 pays the rent twice",
        " spaces at both ends of it ",
        "x1!" + "lv wr kq zj " * 10,
    ],
)
def test_length_is_all_that_is_asked(password: str) -> None:
    """Any characters will do: no capitals, digits or signs are asked for (NIST SP 800-63B-4)."""
    if len(password) >= SHORTEST:
        check_password(password, ("wren", "Wren Halloway"))


@pytest.mark.parametrize(
    ("length", "is_allowed"),
    [(SHORTEST - 1, False), (SHORTEST, True), (LONGEST, True), (LONGEST + 1, False)],
)
def test_the_limits_of_length(length: int, is_allowed: bool) -> None:
    """12 to 128 characters are allowed (at least 64 must be: OWASP ASVS 5.0, 6.2.9)."""
    password = ("qk7 vz wm9 jx f3 yd " * 7)[:length]
    if is_allowed:
        check_password(password)
    else:
        with pytest.raises(PasswordRefused, match="12" if length < SHORTEST else "128"):
            check_password(password)


@pytest.mark.parametrize(
    "password",
    [
        "password1234", "P@ssw0rd2026!", "qwertyuiop12", "qwertz123456", "iloveyou2024",
        "letmeinletmein", "administrator", "international", "1234567890ab", "987654321000",
        "aaaaaaaaaaaa", "abcabcabcabc", "no1no1no1no1", "musicteacher1", "numberchart!",
        "millrace-school", "wren.halloway", "halloway-wren-1", "dragonmonkey99", "1q2w3e4r5t6y",
    ],
)  # fmt: skip
def test_what_is_guessed_first_is_refused(password: str) -> None:
    """Common passwords, also two together, runs, repeats, school words and one's own name."""
    with pytest.raises(PasswordRefused, match="easy to guess"):
        check_password(password, ("wren", "Wren Halloway"))


def test_another_persons_name_may_be_in_it() -> None:
    """Only one's own name counts as known."""
    check_password("quill.thackeray", ("wren", "Wren Halloway"))
    with pytest.raises(PasswordRefused):
        check_password("quill.thackeray", ("wren", "Quill Thackeray"))


def test_a_hash_is_argon2id_with_the_declared_costs() -> None:
    """The second recommended option of RFC 9106, section 4: argon2id, t=3, p=4, 2**16 KiB; the salt
    has 128 bits."""
    kept = Passwords().hash(WORDS)
    found = argon2.extract_parameters(kept)
    assert found.type is argon2.Type.ID
    assert (found.time_cost, found.parallelism, found.memory_cost) == (3, 4, 2**16)
    assert (found.salt_len, found.hash_len) == (16, 32)
    assert WORDS not in kept


def test_a_hash_knows_its_password() -> None:
    """The password matches, another one, no hash and damage do not; two hashes differ."""
    passwords = Passwords(CHEAP)
    kept = passwords.hash(WORDS)
    assert passwords.matches(kept, WORDS)
    assert not passwords.matches(kept, WORDS.upper())
    assert not passwords.matches(kept, "")
    assert not passwords.matches(None, WORDS)
    assert not passwords.matches("$argon2id$damaged", WORDS)
    assert passwords.hash(WORDS) != kept


def test_the_whole_password_counts() -> None:
    """Nothing is cut off: the 128th character matters (OWASP ASVS 5.0, 6.2.8)."""
    passwords = Passwords(CHEAP)
    longest = ("qk7 vz wm9 jx f3 yd " * 7)[:LONGEST]
    kept = passwords.hash(longest)
    assert passwords.matches(kept, longest)
    assert not passwords.matches(kept, longest[:-1] + "!")
    assert not passwords.matches(kept, longest + "!")


def test_the_same_keys_are_the_same_password() -> None:
    """Systems that compose letters in their own ways agree (NFKC)."""
    passwords = Passwords(CHEAP)
    typed = "zoë's ﬁve wéirs ²"
    kept = passwords.hash(unicodedata.normalize("NFC", typed))
    assert passwords.matches(kept, unicodedata.normalize("NFD", typed))
    assert passwords.matches(kept, unicodedata.normalize("NFKC", typed))


def test_half_a_character_is_no_error() -> None:
    """What a broken form sends is a password like any other."""
    passwords = Passwords(CHEAP)
    assert not passwords.matches(passwords.hash(WORDS), "\ud83d half a guitar")


def test_other_costs_are_noticed() -> None:
    """A hash made with other costs is to be made again, one of the present costs is not."""
    kept = Passwords(CHEAP).hash(WORDS)
    assert not Passwords(CHEAP).is_outdated(kept)
    dearer = Passwords(HashCost(memory_kib=16, passes=1, lanes=1))
    assert dearer.is_outdated(kept)
    assert dearer.matches(kept, WORDS)
