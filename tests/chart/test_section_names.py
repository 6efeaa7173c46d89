"""Names of sections as musicians write them."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.chart.section_names import (
    SECTION_KINDS,
    form_letter,
    possible_kinds,
    section_kind,
)


@pytest.mark.parametrize(
    ("names", "kind"),
    [
        ("Verse 2, V, V1, V 1, v1, Vs, VS. 2, Vrs, 2nd Verse, 2nd V, V2b, V II, Verses", "verse"),
        ("Chorus, C, Ch, CH 2, Cho, Cho., Chor, Last Chorus, Final Ch, Ch x2, Ch (2x)", "chorus"),
        ("Refrain, Ref, R, Hook, Post-Chorus, Choruses, 3rd Ch", "chorus"),
        ("Pre-Chorus, Prechorus 1, Pre chorus, Pre, PC, PC2, P, Pre-Ch, Lift", "pre-chorus"),
        ("Bridge, B, Br, Br., Brdg, Middle 8, Middle Eight, M8, Mid 8", "bridge"),
        ("Turnaround, TA, T/A, Turn, Turn around, Turn 2", "turnaround"),
        ("Intro, In, I, Int, Int., Introduction", "intro"),
        ("Outro, Out, O, End, Ending, Coda", "outro"),
        ("Solo, Inst, Instr., Instrumental, Gtr Solo, Piano Solo, Lead", "solo"),
        ("Interlude, Inter, Vamp, Break, Link", "interlude"),
        ("Tag, T, Tag 2", "tag"),
        (", Synth, A, D, Head on, Repeat x2, Ch in G", "other"),
    ],
)  # fmt: skip
def test_kinds_of_sections(names: str, kind: str) -> None:
    """A section's kind is read from its name, written out or short, in any case."""
    for name in names.split(", "):
        assert {section_kind(n) for n in (name, name.lower(), name.upper())} == {kind}, name


def test_names_of_several_kinds() -> None:
    """A short name that stands for several kinds has them all; every kind has its own name."""
    assert possible_kinds("Int") == ("intro", "interlude")
    assert {"solo", "interlude"} < set(possible_kinds("Inst 2"))
    assert {"outro", "tag"} == set(possible_kinds("End"))
    assert [possible_kinds(kind) for kind in SECTION_KINDS] == [(kind,) for kind in SECTION_KINDS]


def test_letters_of_a_form() -> None:
    """Letters may carry a number, a stroke or the word part; words and no name are no letters."""
    found = [form_letter(name) for name in ("A", "b", "A2", "A'", "Part C", "D section", "V")]
    assert found == ["A", "B", "A", "A", "C", "D", "V"]
    assert {form_letter(name) for name in ("", "Ch", "Verse A", "12")} == {None}
    numbers = ("Part 1", "part II", "Section 3", "Verse 2", "Part 12")
    assert [form_letter(name) for name in numbers] == ["1", "2", "3", None, None]


def test_short_names_are_written_as_they_were_typed() -> None:
    """A chart keeps the name; its bars are read after a short name as after a long one."""
    chart = parse("V1:\n1 4\nCh:\n4 5\n")
    assert [(one.name, one.kind) for one in chart.sections] == [("V1", "verse"), ("Ch", "chorus")]
