"""Files that hold text: their endings, and their bytes as text."""

from __future__ import annotations

from trainer.errors import FileError

__all__ = ["TEXT_SUFFIXES", "decode_text"]

# The endings of files in the notation of charts.
TEXT_SUFFIXES = (".txt", "")


def decode_text(content: bytes, source: str) -> str:
    """The text of a file in UTF-8, without the mark at its beginning that some editors write.

    Raises FileError with `source` and the line of what is no such text.
    """
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise FileError(
            f"{source}: line {line}: found bytes that are not UTF-8 text, expected a chart"
        ) from error
