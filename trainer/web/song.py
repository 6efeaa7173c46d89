"""One song of the songbook: written, heard, saved, shared, written into files, made an exercise."""

from __future__ import annotations

import secrets
from datetime import datetime
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from trainer.band import BANDS, playing_time_s
from trainer.chart import BAND_WORDS, Key
from trainer.export import (
    unprintable_note,
)
from trainer.songbook import (
    MOST_LISTENS,
    UNTITLED,
    SavedVersion,
    Sets,
    Songbook,
    keys_of,
    read_song,
)
from trainer.sound import check_playing_time
from trainer.store import SongRecord
from trainer.web.context import Context, LearnerContext, templates
from trainer.web.numbers import MOST_NUMBER
from trainer.web.song_files import offered_formats
from trainer.web.views.sheet import Sheet, sheet_of_text
from trainer.web.write import read_text, shown_lines

__all__ = ["router"]

router = APIRouter()
SEE_OTHER = 303
RANDOM = "random"


@router.get("/songbook/{uid}")
def song(context: Context, uid: str) -> HTMLResponse:
    """A song: to write on if it is the learner's own, else to read once it is opened."""
    book = context.songbook
    found = book.get(uid)
    version = found.version
    text = version.text if found.draft is None else found.draft
    parsed = read_song(text)
    owns = book.owns(found)
    is_open = book.is_open(found)
    values: dict[str, Any] = {
        "song": found,
        "learner": context.learner.uid,
        "title": version.title or UNTITLED,
        "text": text,
        "began_from": version.number if found.draft_from is None else found.draft_from,
        "keys": keys_of(parsed.chart),
        "bands": tuple(reversed(list(BANDS))),
        "tempo": parsed.chart.tempo if parsed.chart is not None else version.tempo,
        "formats": offered_formats(),
        "most_listens": MOST_LISTENS,
        "versions": book.versions(uid)[::-1],
        "band_words": BAND_WORDS,
        "sets": Sets(book).all(),
        "printable": is_open and parsed.chart is not None and not parsed.problems,
        "unprintable": "" if parsed.chart is None else unprintable_note([parsed.chart]),
    }
    if owns:
        return context.page("song.html", values)
    values["sheet"] = sheet_of_text(parsed) if is_open else None
    return context.page("song_shared.html", values)


@router.post("/preview/songbook/{uid}")
async def preview(
    context: Context,
    request: Request,
    uid: str,
    text: Annotated[str, Depends(read_text)],
    shown: Annotated[frozenset[str], Depends(shown_lines)],
) -> HTMLResponse:
    """The sheet as a fragment of HTML, for the text in the body; of a line that the page shows
    already, only its key."""
    del uid
    limiter = request.app.state.preview_limiter
    return await to_thread.run_sync(_draw, context, text, shown, limiter=limiter)


def _draw(context: LearnerContext, text: str, shown: frozenset[str]) -> HTMLResponse:
    """The sheet; a text that only lacks its bars, as a new song does, gets a hint in its place."""
    parsed = read_song(text)
    is_begun = parsed.chart is None and not read_song(f"{text}\n1\n").problems
    sheet = Sheet(()) if is_begun else sheet_of_text(parsed)
    return context.page("song_preview.html", {"sheet": sheet, "shown": shown})


@router.put("/songbook/{uid}/draft")
def keep_draft(
    context: Context,
    uid: str,
    text: Annotated[str, Form()] = "",
    began_from: Annotated[int, Form(ge=0)] = 1,
    replaces: Annotated[datetime | None, Form()] = None,
) -> JSONResponse:
    """Keep what is typed until it is saved; the moment under which it is kept, and what became of
    what another window had written."""
    book = context.songbook
    kept = book.keep_draft(uid, text, began_from, replaces)
    at = kept.song.draft_at
    answer = {"draft_at": at.isoformat() if at else ""}
    if kept.others is not None:
        answer["said"] = (
            f"This song was also written on in another window. That text is kept as version "
            f"{kept.others.number}; compare it below."
        )
        answer["versions"] = _versions_list(book, kept.song)
    return JSONResponse(answer)


def _versions_list(book: Songbook, song: SongRecord) -> str:
    """The list of a song's versions as HTML."""
    module: Any = templates().get_template("_versions.html").module
    return str(module.versions_list(song, book.versions(song.uid)[::-1]))


@router.post("/songbook/{uid}")
def save(
    context: Context,
    request: Request,
    uid: str,
    text: Annotated[str, Form()] = "",
    began_from: Annotated[int | None, Form(ge=0)] = None,
) -> Response:
    """Save a version; a script is told what was done, with the list of versions."""
    saved = context.songbook.save(uid, text, began_from)
    if "application/json" not in request.headers.get("accept", ""):
        return RedirectResponse(f"/songbook/{uid}", SEE_OTHER)
    return JSONResponse(
        {
            "number": saved.song.version.number,
            "title": saved.song.version.title or UNTITLED,
            "tempo": f"{saved.song.version.tempo:g}",
            "said": _said(saved),
            "versions": _versions_list(context.songbook, saved.song),
        }
    )


def _said(saved: SavedVersion) -> str:
    number = saved.version.number
    if not saved.is_new:
        since = f"Nothing has changed since version {number}."
        return since if number else "There's nothing to save yet. Write a bar first."
    if saved.version.is_beside:
        return (
            f"Saved as version {number}. Another window saved version {number - 1} meanwhile. Both "
            "are kept; compare them below."
        )
    return f"Saved as version {number}."


@router.post("/songbook/{uid}/back")
def back(
    context: Context, uid: str, number: Annotated[int, Form(ge=1, le=MOST_NUMBER)]
) -> Response:
    """Save an earlier version again, as the newest; a draft becomes a version first."""
    context.songbook.go_back(uid, number)
    return RedirectResponse(f"/songbook/{uid}", SEE_OTHER)


@router.post("/songbook/{uid}/open")
def open_chart(context: Context, uid: str) -> Response:
    """Show a shared chart, from now on too."""
    context.songbook.open(uid)
    return RedirectResponse(f"/songbook/{uid}", SEE_OTHER)


@router.post("/songbook/{uid}/tags")
def tags(context: Context, uid: str, tags: Annotated[str, Form()] = "") -> Response:
    """Give a song other tags, with commas between."""
    context.songbook.tag(uid, tags.split(","))
    return RedirectResponse(f"/songbook/{uid}", SEE_OTHER)


@router.post("/songbook/{uid}/share")
def share(context: Context, uid: str, shared: Annotated[bool, Form()] = False) -> Response:
    """Share a song with the other learners of this machine, or no longer."""
    context.songbook.share(uid, shared=shared)
    return RedirectResponse(f"/songbook/{uid}", SEE_OTHER)


@router.post("/songbook/{uid}/duplicate")
def duplicate(context: Context, uid: str) -> Response:
    """Copy a song into a new one of the learner's own."""
    return RedirectResponse(f"/songbook/{context.songbook.duplicate(uid).uid}", SEE_OTHER)


@router.post("/songbook/{uid}/delete")
def delete(context: Context, uid: str) -> Response:
    """Delete a song; the list offers to undo it."""
    context.songbook.delete(uid)
    return RedirectResponse(f"/songbook?deleted={uid}", SEE_OTHER)


@router.post("/songbook/{uid}/restore")
def restore(context: Context, uid: str) -> Response:
    """Put a deleted song back."""
    context.songbook.restore(uid)
    return RedirectResponse(f"/songbook/{uid}", SEE_OTHER)


@router.post("/songbook/{uid}/exercise")
def make_exercise(
    context: Context,
    uid: str,
    band: Annotated[str, Form()] = "full",
    listens: Annotated[int, Form()] = 2,
    key: Annotated[str, Form()] = "",
    key_hidden: Annotated[bool, Form()] = False,
) -> Response:
    """Make an exercise of a song and begin it."""
    book = context.songbook
    exercise = book.as_exercise(
        uid,
        band=band,
        listens=listens,
        key=_chosen_key(book.get(uid), key),
        key_hidden=key_hidden,
    )
    check_playing_time(playing_time_s(exercise.chart))
    drill = context.drills.begin(exercise)
    return RedirectResponse(f"/write/{drill.record.key}", SEE_OTHER)


def _chosen_key(song: SongRecord, key: str) -> Key | None:
    if key == RANDOM:
        return secrets.choice(keys_of(read_song(song.version.text).chart))
    return Key.parse(key) if key else None


@router.post("/songbook/{uid}/set")
def put_in_set(
    context: Context, uid: str, song_set: Annotated[str, Form(alias="set")] = ""
) -> Response:
    """Put a song at the end of a set, and show the set."""
    Sets(context.songbook).append(song_set, uid)
    return RedirectResponse(f"/songbook/sets/{song_set}", SEE_OTHER)
