"""Answers put in place of the text that was asked about, as the page does it."""

from __future__ import annotations

import re

from trainer.chart import Choice, Question

__all__ = ["answer_places", "answered"]

LINE_END = re.compile(r"\r\n|\r|\n")


def answer_places(text: str, question: Question) -> tuple[int, int]:
    """Where a question begins and ends, as characters from the beginning of the text."""
    starts = [0, *(match.end() for match in LINE_END.finditer(text))]
    start = starts[question.line - 1] - 1
    return start + question.column, start + question.end_column


def answered(text: str, question: Question, choice: Choice) -> str:
    """The text with a choice in place of what was asked about, or its header line at the top."""
    if choice.header:
        return f"{choice.header}\n{text}"
    start, end = answer_places(text, question)
    return text[:start] + choice.text + text[end:]
