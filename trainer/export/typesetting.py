"""Typst, which draws a sheet from data; a compiler for each template is kept warm."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    import typst

__all__ = ["GLYPHS", "SheetFormat", "draw"]

SheetFormat = Literal["pdf", "png", "svg"]
HERE = Path(__file__).parent
TEMPLATE, GLYPHS = HERE / "sheet.typ", HERE / "glyphs.typ"
FONTS = HERE / "fonts"
PIXELS_PER_INCH = 144
_lock = Lock()


def draw(
    data: Mapping[str, Any] | Sequence[str], kind: SheetFormat, template: Path = TEMPLATE
) -> bytes:
    """A document of a template with its values; it has one page unless it is a PDF.

    Values reach the template as JSON and are never read as code. The compiler may read the
    template's own folder and nothing else. Scripts that the program's fonts lack are drawn with
    those of the system.
    """
    values = {"sheet": json.dumps(data)}
    with _lock:
        drawn = _compiler(template).compile(format=kind, ppi=PIXELS_PER_INCH, sys_inputs=values)
    assert isinstance(drawn, bytes)
    return drawn


@cache
def _compiler(template: Path) -> typst.Compiler:
    import typst

    return typst.Compiler(template, root=HERE, font_paths=[FONTS])
