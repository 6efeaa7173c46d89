from __future__ import annotations

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.strategies import bars, charts, chords, keys, noted_charts
from trainer.chart import (
    Bar,
    Chart,
    Chord,
    Key,
    chart_from_json,
    chart_to_json,
    chord_letters,
    format_chart,
    format_letters,
    parse,
    parse_tolerant,
    pitch_classes,
    say_bar,
    say_section,
)
from trainer.errors import NotationError

# Pieces of notation and of what people type instead, to be strung together anyhow.
PIECES = (
    *"01234567 89b#-o+øh^/'_.()[]|:%x \n\tdpcs", "\n", " ", " ", "title: ", "meter: ", "tempo: ",
    "feel: ", "key: ", "4/4", "6/8", "92", "shuffle", "E minor", "Verse 1:", "Tag:", "[2/4]",
    "[up 2]", "[key D]", "[key",  "(key +2)", "7h", "1_5", "^7", "^maj7", "^sus4",
    "b7", "(1 5/7)", "(1''' 5')", "♭", "’", "–", "\r\n",
    "[drums out]", "[build]", "[hey]", "*12+4", "*", "@", " @ hm", "[choke]",
    "||:", "Am", "\ufeff", "ß", "½", "²", "１", "\u2028", "\x00",
)  # fmt: skip


def texts() -> st.SearchStrategy[str]:
    """Texts from nearly right to nonsense."""
    pieces = st.lists(st.sampled_from(PIECES), max_size=60).map("".join)
    written = st.one_of(charts(most_sections=1), noted_charts()).map(format_chart)
    return st.one_of(pieces, st.text(max_size=80), written)


def stands_inside(text: str, line: int, start: int, end: int) -> bool:
    """Whether columns from 1 lie in a line of a text, or just after its end."""
    lines = re.split(r"\r\n|\r|\n", text.removeprefix("\ufeff"))
    return 1 <= line <= len(lines) and 1 <= start <= end <= len(lines[line - 1]) + 1


@given(charts())
def test_what_is_written_is_read_back(chart: Chart) -> None:
    """Parsing a formatted chart gives the same chart."""
    assert parse(format_chart(chart)) == chart


@given(noted_charts())
def test_what_is_said_to_the_players_is_read_back(chart: Chart) -> None:
    """Notes, hits, comments, capo and count-off come back from the text and from JSON."""
    assert parse(format_chart(chart)) == chart
    assert chart_from_json(json.loads(json.dumps(chart_to_json(chart)))) == chart


@given(texts())
def test_formatting_settles_at_once(text: str) -> None:
    """The canonical text of a text is its own canonical text."""
    try:
        chart = parse(text)
    except NotationError:
        return
    canonical = format_chart(chart)
    assert parse(canonical) == chart
    assert format_chart(parse(canonical)) == canonical


@given(texts())
def test_a_text_is_a_chart_or_has_problems_in_it(text: str) -> None:
    """Any text gives a chart, or problems that each stand inside the text, in order."""
    result = parse_tolerant(text)
    for problem in result.problems:
        assert stands_inside(text, problem.line, problem.column, problem.column)
    places = [(problem.line, problem.column) for problem in result.problems]
    assert places == sorted(places)
    if result.problems or result.questions:
        with pytest.raises(NotationError) as caught:
            parse(text)
        assert set(result.problems) <= set(caught.value.problems)
        assert len(caught.value.problems) == len(result.problems) + len(result.questions)
    else:
        assert parse(text) == result.chart


@given(texts())
def test_a_result_places_every_bar(text: str) -> None:
    """A result has a place inside the text for each bar, rising, and unsure bars among them."""
    result = parse_tolerant(text)
    count = 0 if result.chart is None else len(result.chart.bars())
    assert len(result.bar_spans) == count
    assert result.invalid_bars <= set(range(1, count + 1))
    assert list(result.bar_spans) == sorted(result.bar_spans)
    for line, start, end in result.bar_spans:
        assert start < end
        assert stands_inside(text, line, start, end)
    assert result.problems or result.questions or not result.invalid_bars


@given(texts(), st.data())
def test_unfinished_text_never_raises(text: str, data: st.DataObject) -> None:
    """Each beginning of a text, as the page sees it while typing, can be parsed and shown."""
    length = data.draw(st.integers(0, len(text)))
    for end in {length, *range(max(0, len(text) - 12), len(text))}:
        result = parse_tolerant(text[:end])
        if result.chart is not None:
            assert parse(format_chart(result.chart)) == result.chart


@given(charts(most_sections=1), st.data())
def test_a_chart_cut_short_keeps_the_bars_before_the_cut(chart: Chart, data: st.DataObject) -> None:
    """Of a chart's text cut anywhere, the result has every bar but the one that was cut."""
    text = format_chart(chart)
    whole = parse_tolerant(text)
    for end in data.draw(st.sets(st.integers(0, len(text)), max_size=4)):
        lines = text[:end].split("\n")
        here = (len(lines), len(lines[-1]) + 1)
        finished = sum((place.line, place.end_column) < here for place in whole.bar_spans)
        result = parse_tolerant(text[:end])
        finished_bars = () if result.chart is None else result.chart.bars()
        assert finished_bars[:finished] == chart.bars()[:finished]


@given(charts())
def test_json_keeps_everything(chart: Chart) -> None:
    """A chart comes back from JSON as it was."""
    assert chart_from_json(json.loads(json.dumps(chart_to_json(chart)))) == chart


@given(charts())
def test_lookalike_signs_are_read(chart: Chart) -> None:
    """Bars typed with typographic signs, tabs and CRLF are the same bars."""
    header, body = format_chart(chart).split("\n\n", 1)
    signs = str.maketrans({"b": "♭", "#": "♯", "-": "−", "'": "’", " ": "\t"})
    lines = [line if line.endswith(":") else line.translate(signs) for line in body.split("\n")]
    typed = "\ufeff" + header.replace("\n", "\r\n") + "\r\n\r\n" + "\r\n".join(lines)
    assert parse(typed) == chart


@given(charts())
def test_spaces_between_bars_are_optional(chart: Chart) -> None:
    """Bars written without spaces are the same bars, or are asked about.

    A 7 needs the space before it, since it would be part of the chord before.
    """
    header, body = format_chart(chart).split("\n\n", 1)
    lines = [
        line if line.endswith(":") else re.sub(r" (?![7x-])", "", line) for line in body.split("\n")
    ]
    result = parse_tolerant(header + "\n" + "\n".join(lines))
    assert result.problems == ()
    assert result.questions or result.chart == chart


@given(charts())
def test_letters_and_speech_say_every_bar(chart: Chart) -> None:
    """Letter names have as many bars and lines as the notation; speech has a line a phrase."""
    written, spelt = format_chart(chart).split("\n"), format_letters(chart).split("\n")
    assert len(spelt) == len(written)
    phrases = sum(len(section.phrases) for section in chart.sections)
    labels = sum(bool(section.name) for section in chart.sections)
    said = [say_section(section, chart.meter) for section in chart.sections]
    assert sum(len(text.split("\n")) for text in said) == phrases + labels


@given(chords(), keys(), st.integers(-11, 11))
def test_letter_names_sound_the_root(chord: Chord, key: Key, shift: int) -> None:
    """The letter name of a chord, read as a pitch, is the pitch of its root; so is its bass."""
    root, _, bass = chord_letters(chord, key, shift).partition("/")
    named = [re.match(r"([A-G])(##?|bb?)?", text) for text in (root, bass or root)]
    tones = pitch_classes(chord, key.pitch_class + shift)
    for match in named:
        assert match is not None
        signs = match[2] or ""
        pitch = dict(zip("CDEFGAB", (0, 2, 4, 5, 7, 9, 11), strict=True))[match[1]]
        assert (pitch + signs.count("#") - signs.count("b")) % 12 in tones


@given(bars())
def test_a_bar_is_said_in_words(bar: Bar) -> None:
    """What is said of a bar has words only: no signs, no figures."""
    assert re.fullmatch(r"[a-z][a-z ,:-]+", say_bar(bar))
