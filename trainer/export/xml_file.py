"""XML and compressed MusicXML read within limits: a file from anywhere can do no harm.

Files may name the DTD of MusicXML, which is never fetched. Declaring an entity is refused, so that
nothing can expand or reach for another file. Size, depth and the number of elements are limited.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from typing import NoReturn
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from trainer.errors import FileError
from trainer.export.musicxml import CONTAINER

__all__ = ["MOST_BYTES", "read_mxl", "read_xml"]

MOST_BYTES = 32 * 2**20
MOST_ELEMENTS = 1_000_000
MOST_DEPTH = 64
MOST_ENTRIES = 1_000
# What is never part of a chart is not even kept: it is most of a large score.
NOT_KEPT = frozenset(("beam", "credit", "defaults", "lyric", "pitch", "stem", "midi-instrument"))
EXPECTED = "a MusicXML file"


def read_xml(content: bytes, source: str) -> Element:
    """Parse XML into elements. Raises FileError, which names `source` and the line."""
    if len(content) > MOST_BYTES:
        raise FileError(f"{source}: found {len(content):,} bytes, expected at most {MOST_BYTES:,}")
    try:
        return _Parser(source).parse(content)
    except expat.ExpatError as error:
        reason = expat.errors.messages[error.code]
        raise FileError(
            f"{source}: line {error.lineno}, column {error.offset + 1}: found text that is not XML "
            f"({reason}), expected {EXPECTED}"
        ) from error
    except (ValueError, LookupError) as error:
        # Unknown encodings, and surrogates that no encoding has.
        raise FileError(
            f"{source}: found text that cannot be decoded ({error}), expected {EXPECTED}"
        ) from error


def read_mxl(content: bytes, source: str) -> Element:
    """Parse the score in a compressed MusicXML file. Raises FileError."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if len(archive.infolist()) > MOST_ENTRIES:
                _refuse(source, f"{len(archive.infolist())} files", f"at most {MOST_ENTRIES}")
            described = read_xml(_entry(archive, CONTAINER, source), f"{source}: {CONTAINER}")
            name = next(
                (each.get("full-path") for each in described.iter() if _tag(each) == "rootfile"),
                None,
            )
            if not name:
                _refuse(
                    f"{source}: {CONTAINER}", "no rootfile with a full-path", "the score's name"
                )
            return read_xml(_entry(archive, name, source), f"{source}: {name}")
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, OSError) as error:
        raise FileError(
            f"{source}: found a file that can't be unpacked ({error}), expected compressed MusicXML"
        ) from error


def _tag(element: Element) -> str:
    """The name of an element without its namespace."""
    return element.tag.rpartition("}")[2]


def _entry(archive: zipfile.ZipFile, name: str, source: str) -> bytes:
    """The content of a file in an archive, which is read no further than the limit."""
    try:
        info = archive.getinfo(name)
    except KeyError:
        _refuse(source, f"an archive without {name}", "compressed MusicXML")
    if info.flag_bits & 1:
        _refuse(f"{source}: {name}", "an encrypted file", "one that can be read")
    with archive.open(info) as opened:
        content = opened.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        _refuse(f"{source}: {name}", f"more than {MOST_BYTES:,} bytes", f"at most {MOST_BYTES:,}")
    return content


def _refuse(where: str, found: str, expected: str) -> NoReturn:
    raise FileError(f"{where}: found {found}, expected {expected}")


class _Parser:
    """Builds elements from what expat tells, and refuses what may do harm."""

    def __init__(self, source: str) -> None:
        self.source, self.builder = source, TreeBuilder()
        self.depth = self.elements = 0
        # The depth of the element that is being left out, 0 for none.
        self.left_out = 0
        self.expat = parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._text
        parser.EntityDeclHandler = self._entity_declared
        parser.SkippedEntityHandler = self._entity_skipped

    def parse(self, content: bytes) -> Element:
        """The root element of a whole file."""
        self.expat.Parse(content, True)
        return self.builder.close()

    def _refuse(self, found: str, expected: str) -> NoReturn:
        _refuse(f"{self.source}: line {self.expat.CurrentLineNumber}", found, expected)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        self.elements += 1
        if self.depth > MOST_DEPTH:
            self._refuse(f"elements {self.depth} deep", f"at most {MOST_DEPTH}")
        if self.elements > MOST_ELEMENTS:
            self._refuse(f"more than {MOST_ELEMENTS:,} elements", "fewer")
        if not self.left_out and name in NOT_KEPT:
            self.left_out = self.depth
        if not self.left_out:
            self.builder.start(name, attributes)

    def _text(self, text: str) -> None:
        if not self.left_out:
            self.builder.data(text)

    def _end(self, name: str) -> None:
        if not self.left_out:
            self.builder.end(name)
        elif self.left_out == self.depth:
            self.left_out = 0
        self.depth -= 1

    def _entity_declared(self, name: str, *_: object) -> None:
        self._refuse(f"the declaration of an entity ({name[:40]})", "a file without any")

    def _entity_skipped(self, name: str, _: bool) -> None:
        self._refuse(f"&{name[:40]};, an entity that is not declared", "plain text")
