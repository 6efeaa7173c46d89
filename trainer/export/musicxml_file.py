"""MusicXML files, plain or compressed, read as charts."""

from __future__ import annotations

from trainer.export.musicxml_read import read_score
from trainer.export.problems import ProblemList, ReadFile
from trainer.export.score_chart import chart_of_score
from trainer.export.settings import Unsaid
from trainer.export.xml_file import read_mxl, read_xml

__all__ = ["read_musicxml"]

ZIP_START = b"PK\x03\x04"


def read_musicxml(content: bytes, source: str, unsaid: Unsaid | None = None) -> ReadFile:
    """Read the chords of a MusicXML file as a chart, with a report of what was lost.

    A compressed file is known by its first bytes. `unsaid` holds where the file says nothing.
    Raises FileError for a file that is not MusicXML, breaks a limit, or has repeats that cannot be
    followed.
    """
    compressed = content.startswith(ZIP_START)
    root = read_mxl(content, source) if compressed else read_xml(content, source)
    problems = ProblemList()
    score = read_score(root, source, unsaid or Unsaid(), problems)
    chart = chart_of_score(score, source, problems)
    return ReadFile(chart, problems.all())
