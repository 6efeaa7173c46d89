"""A song of the songbook as sound: as it is saved, or as it is being typed.

What is typed comes in a form and is stored nowhere. For another process that is asked for the
sound, the whole request is packed into the address under which the sound can be had again.
"""

from __future__ import annotations

import json
import zlib
from base64 import urlsafe_b64decode, urlsafe_b64encode
from dataclasses import asdict, dataclass
from typing import Annotated, Any, Self

from anyio import to_thread
from fastapi import APIRouter, Form, HTTPException, Query, Request
from fastapi.responses import JSONResponse
from msgspec import Meta, MsgspecError
from msgspec.json import Decoder

from trainer.chart import Key
from trainer.songbook import play_song_text
from trainer.web.audio.asking import MOST_CHARACTERS
from trainer.web.context import Context, LearnerContext

__all__ = ["Wanted", "router"]

router = APIRouter()
WRONG = 422
# More than any text that packs into `MOST_CHARACTERS`, unless it is the same line many times.
MOST_UNPACKED_BYTES = 2**18
LOWEST_TEMPO, HIGHEST_TEMPO = 20, 400


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be played; a text of None is the song as it is saved."""

    text: str | None
    key: str
    tempo: Annotated[float, Meta(ge=LOWEST_TEMPO, le=HIGHEST_TEMPO)] | None
    band: str
    first: int
    last: int | None

    def packed(self) -> str:
        """All of it as characters of an address."""
        data = json.dumps(asdict(self), separators=(",", ":"), ensure_ascii=False).encode()
        return urlsafe_b64encode(zlib.compress(data, 9)).decode().rstrip("=")

    @classmethod
    def unpack(cls, packed: str) -> Self:
        """What was `packed`. Raises HTTPException 422."""
        try:
            data = urlsafe_b64decode(packed + "=" * (-len(packed) % 4))
            text = zlib.decompressobj().decompress(data, MOST_UNPACKED_BYTES)
            return Decoder(cls).decode(text)
        except (zlib.error, ValueError, MsgspecError, RecursionError) as error:
            raise HTTPException(
                WRONG, "The address of this sound cannot be read. Load the page again."
            ) from error


@router.post("/songbook/{uid}/sound")
async def sound(
    context: Context,
    request: Request,
    uid: str,
    text: Annotated[str | None, Form()] = None,
    key: Annotated[str, Form()] = "",
    tempo: Annotated[float | None, Form(ge=LOWEST_TEMPO, le=HIGHEST_TEMPO)] = None,
    band: Annotated[str, Form()] = "full",
    first: Annotated[int, Form()] = 1,
    last: Annotated[int | None, Form()] = None,
    ahead: Annotated[bool, Form()] = False,
) -> JSONResponse:
    """The sound of a text, or of the song as it is saved, or of bars `first` to `last` of it;
    nothing is stored.

    `ahead` is asked while nobody has pressed Play yet: the band's parts are then written, one song
    at a time, and nothing is rendered.
    """
    wanted = Wanted(text, key, tempo, band, first, last)

    def made() -> dict[str, Any]:
        return _sound(context, uid, wanted, soon=not ahead, perhaps=ahead)

    limiter = request.app.state.ahead_limiter if ahead else None
    return JSONResponse(await to_thread.run_sync(made, limiter=limiter))


@router.get("/songbook/{uid}/sound")
def sound_again(
    context: Context, uid: str, packed: Annotated[str, Query(max_length=MOST_CHARACTERS)]
) -> Any:
    """The same sound once more, by the address that was given for it."""
    return _sound(context, uid, Wanted.unpack(packed))


def _sound(
    context: LearnerContext, uid: str, wanted: Wanted, *, soon: bool = False, perhaps: bool = False
) -> dict[str, Any]:
    # `text_of` refuses a chart that is still closed: its sound is heard in the drill alone.
    saved = context.songbook.text_of(uid)
    heard = play_song_text(
        saved if wanted.text is None else wanted.text,
        key=Key.parse(wanted.key) if wanted.key else None,
        tempo=wanted.tempo,
        band=wanted.band,
        first=wanted.first,
        last=wanted.last,
    )
    page = f"/songbook/{uid}/sound?packed={wanted.packed()}"
    return context.sound(heard, soon=soon, perhaps=perhaps, page=page)
