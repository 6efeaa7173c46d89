"""Which characters of a chart would be empty boxes on a sheet, because no font has them.

The program's fonts have Latin, Greek and Cyrillic letters; other scripts need a font of the
system. Typst does not say when it finds none. So the characters in question are drawn as a picture
of lines, in which each glyph has a name: one that is drawn like a character that will never be is
missing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from trainer.chart import Chart
from trainer.export.typesetting import GLYPHS, draw

__all__ = ["unprintable", "unprintable_note"]

# A noncharacter (Unicode 16.0, section 23.7): no font has a glyph for it.
NEVER = "\ufdd0"
ROW = re.compile(r'<g transform="translate\([^"]*\)">(.*?)<a href="row:(\d+)"', re.DOTALL)
GLYPH = re.compile(r'<use xlink:href="#(\w+)"')
# Up to here every character is in the program's own fonts (Latin-1).
LAST_USUAL = "\u00ff"
MOST_CHARACTERS = 400
MOST_SHOWN = 12


def unprintable(chart: Chart) -> str:
    """The characters in the words of a chart that no font on this machine has, each once, in order;
    "" if all can be printed."""
    return _missing("".join(dict.fromkeys(c for c in _words(chart) if c > LAST_USUAL)))


def unprintable_note(charts: Iterable[Chart]) -> str:
    """A sentence for people about what would be empty boxes on the sheets of charts; "" if nothing
    would."""
    found = "".join(dict.fromkeys("".join(map(unprintable, charts))))
    if not found:
        return ""
    shown = " ".join(found[:MOST_SHOWN]) + (" …" if len(found) > MOST_SHOWN else "")
    return (
        f"No font on this machine has {shown}, so a sheet shows empty boxes there. Install a font "
        "for that script, such as one of the Noto fonts, and start the program again."
    )


def _words(chart: Chart) -> str:
    """Everything on a sheet that people wrote in words."""
    found = [chart.title, *chart.comments]
    for section in chart.sections:
        found += (section.name, *section.notes, *section.comments)
        for phrase in section.phrases:
            found += phrase.comments
            for bar in phrase.bars:
                found += bar.notes
    return "".join(found)


@lru_cache(maxsize=256)
def _missing(characters: str) -> str:
    """Those of some characters that are drawn as a missing one is."""
    if not characters:
        return ""
    asked = [NEVER, *characters[:MOST_CHARACTERS]]
    rows = ROW.findall(draw(asked, "svg", GLYPHS).decode())
    drawn = {int(number): GLYPH.findall(row) for row, number in rows}
    missing = drawn[0]
    return "".join(c for number, c in enumerate(asked) if number and drawn.get(number) == missing)
