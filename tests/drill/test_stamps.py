from __future__ import annotations

import pytest

from trainer.chart import parse_tolerant
from trainer.drill.stamps import bars_done_s, read_stamps, write_stamps


def done(text: str, *runs: tuple[int, float | None]) -> tuple[float | None, ...]:
    """When the bars of a text were done."""
    return bars_done_s(text, parse_tolerant(text).bar_spans, runs)


def test_a_bar_is_done_when_its_last_character_is() -> None:
    """The latest of a bar's characters counts, wherever it stands in the bar."""
    assert done("1 (4 5) 6-", (2, 1.0), (2, 9.0), (3, 3.0), (3, 4.0)) == (1.0, 9.0, 4.0)


def test_what_was_there_before_has_no_time() -> None:
    """Bars written before anything was played have none."""
    assert done("1 4", (2, None), (1, 2.5)) == (None, 2.5)


def test_lines_and_characters_outside_the_basic_plane_keep_their_places() -> None:
    """Places hold over lines, and where a character counts two in a browser."""
    text = "Verse 🎸:\n1 4\n5"
    runs = [(10, 0.0), (1, 1.0), (1, 0.0), (1, 2.0), (1, 0.0), (1, 3.0)]
    assert sum(count for count, _ in runs) == len(text.encode("utf-16-le")) // 2
    assert bars_done_s(text, parse_tolerant(text).bar_spans, runs) == (1.0, 2.0, 3.0)


def test_a_record_that_does_not_fit_is_no_record() -> None:
    """Times for another text count for nothing."""
    assert done("1 4", (2, 1.0)) == (None, None)
    assert done("1 4", (10**12, 1.0)) == (None, None)


@pytest.mark.parametrize(
    "text",
    ["", "{", "7", "[7]", "[[1]]", '[["1", 2]]', "[[-1, 2]]", "[[true, 2]]", "[[1, -3]]",
     "[[1, 1e99]]", "[[1, NaN]]", "[" * 100_000],
)  # fmt: skip
def test_what_is_no_record_is_left_aside(text: str) -> None:
    """Anything but runs of a count and a time is None, never an error."""
    assert read_stamps(text) is None


def test_a_record_is_read() -> None:
    """Runs come back as they were sent."""
    assert read_stamps("[[3, null], [2, 1.25]]") == [(3, None), (2, 1.25)]


@pytest.mark.parametrize(
    "text", ["[[1, " + "9" * 4000 + "]]", "[[" + "9" * 4000 + ", 1]]", "[[1, 1e400]]"]
)
def test_numbers_of_thousands_of_digits_are_no_record(text: str) -> None:
    """A number too long to be read at all is left aside as any other that cannot be."""
    assert read_stamps(text) is None


def test_a_record_longer_than_any_is_no_record() -> None:
    """More runs than a chart of the greatest length has characters are not read."""
    assert read_stamps("[" + ",".join(["[1,1]"] * 100_000) + "]") is None


def test_lines_finished_one_by_one_have_their_times() -> None:
    """A text of lines that were each ended at a moment gives each of its bars that moment."""
    lines = [("Verse 1:", None), ("1 4 🎸", 3.5), ("5", 7.0)]
    runs = read_stamps(write_stamps(lines))
    assert runs is not None
    text = "".join(f"{line}\n" for line, _ in lines)
    places = parse_tolerant(text).bar_spans
    assert bars_done_s(text, places, runs)[:2] == (3.5, 3.5)
    assert bars_done_s(text, places, runs)[-1] == 7.0
