"""What no font can print is told."""

from __future__ import annotations

from fontTools.ttLib import TTFont

from trainer.chart import parse
from trainer.export import unprintable_note
from trainer.export.typesetting import FONTS
from trainer.export.unprintable import unprintable


def test_characters_without_a_font_are_found() -> None:
    """A code point that Unicode has not assigned is missing in every font; letters that the shipped
    font has (OpenType cmap) are not missing, wherever in a chart they stand."""
    font = TTFont(FONTS / "SourceSansPro-Semibold.otf").getBestCmap()
    known = "ĄЖΩčş"
    assert all(ord(c) in font for c in known)
    text = (
        f"title: {known}\u0378\n\n@ for \U0003fffd\nVerse \u0379: [{known}] @ \u0380\n"
        f"1 [wait \u0381] 4 @ {known}"
    )
    assert sorted(unprintable(parse(text))) == [
        "\u0378",
        "\u0379",
        "\u0380",
        "\u0381",
        "\U0003fffd",
    ]
    assert unprintable(parse(f"title: Mühle {known} ♯♭\n\n1 4")) == ""


def test_the_note_names_each_character_once() -> None:
    """Of several charts each missing character is named once; there is no note where all can be
    printed."""
    charts = [parse(f"title: \u0378{each}\n\n1 4") for each in ("\u0379", "\u0378", "x")]
    note = unprintable_note(charts)
    assert note.startswith(
        "No font on this machine has \u0378 \u0379, so a sheet shows empty boxes"
    )
    assert unprintable_note([parse("title: Sluice\n\n1 4")]) == ""
