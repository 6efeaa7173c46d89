"""Files that are wrong, broken or made to do harm: refused in words, or read with a report."""

from __future__ import annotations

import io
import random
import zipfile
from pathlib import Path

import pytest

from tests.export.songs import every_sign
from trainer.chart import parse
from trainer.errors import FileError, InputError
from trainer.export import IMPORT_FORMATS, Unsaid, import_chart
from trainer.export.chordpro import write_chordpro
from trainer.export.labels import write_labels
from trainer.export.musicxml import write_musicxml, write_mxl
from trainer.export.musicxml_file import read_musicxml

START = '<?xml version="1.0"?>\n'


def refused(content: bytes, found: str, source: str = "song.musicxml") -> str:
    """The message with which a file is refused; it names the file and what was found."""
    with pytest.raises(FileError) as caught:
        read_musicxml(content, source)
    message = str(caught.value)
    assert message.startswith(source)
    assert found in message
    assert "expected" in message
    return message


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"", "no element found"),
        (b"1 4 5 1", "line 1, column 1: found text that is not XML"),
        (b"<score-partwise><part></score-partwise>", "line 1, column 25"),
        (b"<html><body/></html>", "a file of html"),
        (b"<score-timewise/>", "a file of score-timewise"),
        (b"<score-partwise/>", "no harmony in any part"),
        ((START + "<a>\xff</a>").encode("latin-1"), "line 2, column 4: found text that is not XML"),
        (b'<?xml version="1.0" encoding="no-such"?><a/>', "found text that"),
        (b"PK\x03\x04 and no archive", "can't be unpacked"),
    ],
)
def test_what_is_no_musicxml_is_refused_with_its_place(content: bytes, found: str) -> None:
    """Each wrong file is refused with the line or the element that was found."""
    refused(content, found)


def test_entities_are_refused_before_they_grow() -> None:
    """A file that declares entities, the first step of a "billion laughs", is refused."""
    laughs = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    content = f'{START}<!DOCTYPE a [<!ENTITY l0 "ha">{laughs}]><a>&l9;</a>'
    refused(content.encode(), "the declaration of an entity (l0)")


def test_nothing_outside_the_file_is_read(tmp_path: Path) -> None:
    """A file that asks for another file is refused, and one that names a DTD is not."""
    secret = tmp_path / "secret.txt"
    secret.write_text("secret", encoding="utf-8")
    asks = f'{START}<!DOCTYPE a [<!ENTITY x SYSTEM "{secret.as_uri()}">]><a>&x;</a>'
    assert "secret.txt" not in refused(asks.encode(), "the declaration of an entity")
    unknown = f'{START}<!DOCTYPE a SYSTEM "{secret.as_uri()}"><a>&x;</a>'
    refused(unknown.encode(), "&x;, an entity that is not declared")
    named = write_musicxml(parse("1 4"))
    assert b"<!DOCTYPE" in named
    assert read_musicxml(named, "x").chart.bars()


def test_deep_nesting_is_refused() -> None:
    """Elements within elements end at a depth that no score has."""
    refused(b"<a>" * 100_000, "line 1: found elements 65 deep")


def test_large_files_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file over the limit of bytes is not even parsed, plain or compressed."""
    monkeypatch.setattr("trainer.export.xml_file.MOST_BYTES", 5_000)
    refused(b"<a>" + b" " * 5_000 + b"</a>", "5,007 bytes")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", '<c><rootfile full-path="s.xml"/></c>')
        archive.writestr("s.xml", "<a>" + " " * 50_000 + "</a>")
    refused(packed.getvalue(), "more than 5,000 bytes")


def test_too_many_elements_and_measures_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Limits on elements and measures are told with their place."""
    monkeypatch.setattr("trainer.export.xml_file.MOST_ELEMENTS", 10)
    refused(write_musicxml(parse("1 4")), "more than 10 elements")
    monkeypatch.undo()
    measure = "<measure><harmony/></measure>"
    many = f"<score-partwise><part>{measure * 2_001}</part></score-partwise>"
    refused(many.encode(), "2001 measures")


def test_archives_without_a_score_are_refused() -> None:
    """A zip archive needs a container that names a file in it."""
    for files, found in (
        ({"readme.txt": "hello"}, "an archive without META-INF/container.xml"),
        ({"META-INF/container.xml": "<container/>"}, "no rootfile"),
        ({"META-INF/container.xml": '<c><rootfile full-path="a.xml"/></c>'}, "without a.xml"),
    ):
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w") as archive:
            for name, content in files.items():
                archive.writestr(name, content)
        refused(packed.getvalue(), found)


def test_other_encodings_are_read() -> None:
    """UTF-16 and Latin-1 files are read as they say."""
    chart = parse("title: Élan vital\nkey: D\n\n1 4")
    text = write_musicxml(chart).decode().replace('encoding="UTF-8"', 'encoding="{}"')
    for encoding in ("utf-16", "iso-8859-1"):
        assert read_musicxml(text.replace("{}", encoding).encode(encoding), "x").chart == chart


@pytest.mark.parametrize(
    ("suffix", "content", "found"),
    [
        (".lab", b"", "no labels"),
        (".lab", b"0 1 C:maj\n1 2\n", "line 2: found '1 2'"),
        (".lab", b"0 1 C:maj\n0.2 1 G:maj\n", "line 2: found 0.2 to 1"),
        (".lab", b"0 nan C:maj\n", "line 1"),
        (".lab", b"0 1e999 C:maj\n", "line 1"),
        (".lab", b"0 1 N\n1 2 N\n", "no chord"),
        (".lab", b"\xff\xfe0 1 C", "line 1: found bytes that are not UTF-8"),
        (".cho", b"Just words\n", "no chords"),
        (".cho", b"\n\n[C]\xff", "line 3: found bytes that are not UTF-8"),
    ],
)
def test_wrong_texts_are_refused_with_their_line(
    tmp_path: Path, suffix: str, content: bytes, found: str
) -> None:
    """Label files and ChordPro that cannot be read are refused with file, line and reason."""
    path = tmp_path / f"song{suffix}"
    path.write_bytes(content)
    with pytest.raises(FileError) as caught:
        import_chart(path)
    assert str(caught.value).startswith(f"{path}: ")
    assert found in str(caught.value)
    assert "expected" in str(caught.value)


def test_files_that_are_missing_or_unknown_are_named(tmp_path: Path) -> None:
    """A file that is not there, and one of an unknown kind, are refused by name."""
    with pytest.raises(FileError, match=r"nowhere\.lab: No such file"):
        import_chart(tmp_path / "nowhere.lab")
    with pytest.raises(FileError, match=r"song\.doc: found the ending '\.doc', expected one of"):
        import_chart(tmp_path / "song.doc")


def test_the_longest_chart_goes_through_every_format(tmp_path: Path) -> None:
    """A chart of 2,000 bars is written and read, and one bar more is refused."""
    chart = parse("key: D\n\n" + "1145\n" * 500)
    assert len(chart.bars()) == 2_000
    assert read_musicxml(write_musicxml(chart), "x").chart == chart
    text = write_chordpro(chart)
    path = tmp_path / "long.cho"
    path.write_text(text, encoding="utf-8")
    assert import_chart(path).chart == chart
    path.write_text(text + "| [D] / / / ||\n", encoding="utf-8")
    with pytest.raises(FileError, match="more than 2000 bars"):
        import_chart(path)
    labels = tmp_path / "long.lab"
    labels.write_text(write_labels(chart), encoding="utf-8")
    assert len(import_chart(labels, Unsaid(chart.key)).chart.bars()) == 2_000


def test_titles_of_every_script_survive() -> None:
    """A title in many scripts, right to left and beyond the basic plane, comes back."""
    chart = parse("title: Ωδή шлюз ملک 水門 ปาก 🛶 e\u0301 <&>\"'\n\n1")
    assert read_musicxml(write_musicxml(chart), "x").chart.title == chart.title


@pytest.mark.many
def test_damaged_files_are_refused_or_read(tmp_path: Path) -> None:
    """Whatever byte of a file is wrong, it is read with a report or refused in words."""
    rng = random.Random(5)
    chart = every_sign()
    whole = {
        ".musicxml": write_musicxml(chart),
        ".mxl": write_mxl(chart),
        ".cho": write_chordpro(chart).encode(),
        ".lab": write_labels(chart).encode(),
    }
    for suffix, content in whole.items():
        for _ in range(60):
            damaged = bytearray(content)
            for _ in range(rng.randint(1, 4)):
                at = rng.randrange(len(damaged))
                damaged[at : at + rng.randint(0, 3)] = rng.randbytes(rng.randint(0, 3))
            try:
                IMPORT_FORMATS[suffix](bytes(damaged), f"song{suffix}", Unsaid())
            except InputError as error:
                assert str(error).startswith(f"song{suffix}")  # noqa: PT017  # either is right
