"""Numbers that name something in an address or a form: at most what both databases can hold."""

from __future__ import annotations

from typing import Annotated

from fastapi import Path

__all__ = ["MOST_NUMBER", "RowNumber"]

MOST_NUMBER = 2**63 - 1
RowNumber = Annotated[int, Path(ge=0, le=MOST_NUMBER)]
