"""Scripts and styles as they are sent: without their comments, and packed (gzip, RFC 1952) for
browsers that take them so.

A page to write on has 120 kB of them, which come to a tablet over the wireless network of a class.
Each file is made ready once and kept in memory until it changes. Only files that are the same for
everybody are packed: a page holds what one learner wrote.
"""

from __future__ import annotations

import gzip
import os
import re
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from fastapi.staticfiles import StaticFiles
from starlette.datastructures import Headers
from starlette.responses import FileResponse, Response
from starlette.staticfiles import NotModifiedResponse

if TYPE_CHECKING:
    from starlette.types import Scope

__all__ = ["PackedFiles", "without_comments"]

# There are about eighty files, of 6 kB each in both forms.
MOST_FILES = 256
TYPES = ("text/javascript", "text/css", "image/svg+xml")
# Comments that have their lines to themselves; code may hold what only looks like others.
COMMENT = re.compile(r"^[ \t]*(?://.*|/\*(?:(?!\*/)[^`])*\*/)[ \t]*$", re.MULTILINE)


class PackedFiles(StaticFiles):
    """The files of a folder. `StaticFiles` finds them; scripts and styles are made ready."""

    def file_response(
        self,
        full_path: str | os.PathLike[str],
        stat_result: os.stat_result,
        scope: Scope,
        status_code: int = 200,
    ) -> Response:
        """A file, or that the browser has it as it is. Which of the two forms is sent depends on
        the request, so each has a tag of its own (RFC 9110, section 8.8.3.3)."""
        whole = FileResponse(full_path, status_code=status_code, stat_result=stat_result)
        if not whole.headers["content-type"].startswith(TYPES):
            return super().file_response(full_path, stat_result, scope, status_code)
        asked = Headers(scope=scope)
        form = "gzip" if _takes_gzip(asked) else "plain"
        headers = {name: whole.headers[name] for name in ("content-type", "last-modified")}
        headers |= {"etag": f'{whole.headers["etag"][:-1]}-{form}"', "vary": "Accept-Encoding"}
        if self.is_not_modified(Headers(headers), asked):
            return NotModifiedResponse(Headers(headers))
        plain, packed = _forms(os.fspath(full_path), stat_result.st_mtime_ns, stat_result.st_size)
        if form == "plain":
            return Response(plain, status_code, headers)
        return Response(packed, status_code, headers | {"content-encoding": form})


def without_comments(text: str) -> str:
    """A script or a style without the comments that have lines to themselves. Their lines stay,
    empty, so that a message about line 40 means line 40 of the file."""
    return COMMENT.sub(lambda comment: "\n" * comment[0].count("\n"), text)


def _takes_gzip(asked: Headers) -> bool:
    """Whether a request takes gzip: it names it, and not with the weight 0."""
    for each in asked.get("accept-encoding", "").casefold().split(","):
        coding, _, weight = each.partition(";")
        if coding.strip() == "gzip":
            return weight.replace(" ", "") not in ("q=0", "q=0.0", "q=0.00", "q=0.000")
    return False


@lru_cache(maxsize=MOST_FILES)
def _forms(path: str, _changed_ns: int, _size: int) -> tuple[bytes, bytes]:
    """A file plainly and packed; they are made again when its time or size is another."""
    plain = without_comments(Path(path).read_text("utf-8")).encode()
    return plain, gzip.compress(plain, 9, mtime=0)
