"""Files to keep, sent to the browser."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any
from urllib.parse import quote

from starlette.responses import Response, StreamingResponse

__all__ = ["download", "download_file", "download_rows", "show_file"]


def download(data: Mapping[str, Any], name: str) -> Response:
    """JSON as a file of that name."""
    text = json.dumps(data, ensure_ascii=False, indent=1)
    return Response(text, headers=_headers(name), media_type="application/json")


def download_file(content: bytes, name: str, media_type: str) -> Response:
    """Bytes as a file of that name."""
    return Response(content, headers=_headers(name), media_type=media_type)


def show_file(content: bytes, name: str, media_type: str) -> Response:
    """Bytes that the browser shows itself, and keeps under that name."""
    return Response(content, headers=_headers(name, "inline"), media_type=media_type)


def download_rows(rows: Iterable[Iterable[str]], name: str) -> Response:
    """CSV (RFC 4180) as a file of that name, sent while it is read."""
    return StreamingResponse(_lines(rows), headers=_headers(name), media_type="text/csv")


def _lines(rows: Iterable[Iterable[str]]) -> Iterator[str]:
    for row in rows:
        line = io.StringIO()
        csv.writer(line).writerow(row)
        yield line.getvalue()


def _headers(name: str, disposition: str = "attachment") -> dict[str, str]:
    """A name of any letters (RFC 6266)."""
    return {"content-disposition": f"{disposition}; filename*=UTF-8''{quote(name, safe='')}"}
