"""Examples are those of RFC 9110, section 14.1.2, on a representation of 10,000 bytes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.web.audio.routes import ByteRange, RangeNotSatisfiable, is_unchanged, requested_range

ETAG = '"abc"'


def asked(value: str, size: int = 10_000, **more: str) -> ByteRange | None:
    """What a Range header asks for."""
    return requested_range(
        {"range": value, **{k.replace("_", "-"): v for k, v in more.items()}}, size, ETAG
    )


@pytest.mark.parametrize(
    ("value", "first", "end"),
    [
        ("bytes=0-499", 0, 500),
        ("bytes=500-999", 500, 1000),
        ("bytes=-500", 9500, 10_000),
        ("bytes=9500-", 9500, 10_000),
        ("bytes=0-0", 0, 1),
        ("bytes=-1", 9999, 10_000),
        ("Bytes=0-", 0, 10_000),
        ("bytes=9000-99999", 9000, 10_000),
        ("bytes=-99999", 0, 10_000),
    ],
)
def test_one_range(value: str, first: int, end: int) -> None:
    """Each form of a single range, and those that reach beyond the end."""
    assert asked(value) == ByteRange(first, end)


@pytest.mark.parametrize("value", ["bytes=10000-", "bytes=10000-10001", "bytes=-0"])
def test_a_range_after_the_end(value: str) -> None:
    """What lies wholly beyond the bytes cannot be satisfied."""
    with pytest.raises(RangeNotSatisfiable):
        asked(value)


@pytest.mark.parametrize(
    "value",
    [
        "",
        "bytes=",
        "bytes=-",
        "bytes=9-3",
        "bytes=a-b",
        "bytes=0-1,5-6",
        "lines=1-2",
        "0-5",
        "bytes=1--2",
        "bytes=" + "9" * 400 + "-",
    ],
)
def test_what_cannot_be_read_is_ignored(value: str) -> None:
    """Malformed ranges, several at once and other units give the whole."""
    assert asked(value) is None


def test_another_version_gives_the_whole() -> None:
    """If-Range must name these very bytes: no other tag, no weak one, no date."""
    assert asked("bytes=0-1", if_range=ETAG) == ByteRange(0, 2)
    for other in ('"abd"', f"W/{ETAG}", "Mon, 02 Mar 2026 09:30:00 GMT"):
        assert asked("bytes=0-1", if_range=other) is None
        assert asked("bytes=99999-", if_range=other) is None


@given(first=st.integers(0, 60), last=st.integers(0, 60), size=st.integers(1, 50))
def test_a_range_is_a_slice(first: int, last: int, size: int) -> None:
    """A range is what Python's slice of the same bytes is."""
    whole = bytes(range(size))
    try:
        span = asked(f"bytes={first}-{last}", size)
    except RangeNotSatisfiable:
        assert whole[first:] == b""
    else:
        assert whole[first : last + 1] == (b"" if span is None else whole[span.first : span.end])


def test_bytes_known_already() -> None:
    """If-None-Match is weak and may list several, or a star (RFC 9110, section 13.1.2)."""
    for known in (ETAG, f'"x", {ETAG}', f"W/{ETAG}", "*"):
        assert is_unchanged({"if-none-match": known}, ETAG)
    assert not is_unchanged({"if-none-match": '"x"'}, ETAG)
    assert not is_unchanged({}, ETAG)
