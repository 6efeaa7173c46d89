"""A part of a sound, made from the middle while the whole is far behind."""

from __future__ import annotations

from collections.abc import Callable, Generator

from trainer.errors import TrainerError
from trainer.sound.files import WAV_HEADER_BYTES
from trainer.sound.rendering import Block
from trainer.web.audio.take import FRAME_BYTES, Take

__all__ = ["Ahead"]


class Ahead:
    """Reads a sound from a byte far ahead of its take: renders from there until the take has come
    so far, then goes on with the take. The bytes are the same (see `Rendering.blocks`).

    For one reader, who reads on from `at`.

    Parameters
    ----------
    take : held by whoever makes this; left with it.
    give_way : called before a block is made; waits while other sounds are needed more.
    caught_up : called once, when nothing is rendered here any more.
    """

    def __init__(
        self,
        take: Take,
        at: int,
        give_way: Callable[[Ahead], None],
        caught_up: Callable[[Ahead], None],
    ) -> None:
        self.size = take.size
        self._take, self._give_way, self._caught_up = take, give_way, caught_up
        frame, self._skip = divmod(at - WAV_HEADER_BYTES, FRAME_BYTES)
        self._blocks: Generator[Block] | None = take.rendering.blocks(frame)
        self._ready = b""
        self._begun = self._asked = False

    @property
    def stopped(self) -> bool:
        """Whether the sound was given up."""
        return self._take.stopped

    @property
    def need(self) -> int:
        """How much it is needed: 2 while its first bytes are waited for, 1 while more are."""
        return 0 if not self._asked else 1 if self._begun else 2

    def wait_for(self, _: int) -> None:
        """Wait until the first bytes are there. Raises TrainerError if they never come."""
        if not self._begun:
            self._make()

    def read(self, at: int, most: int) -> bytes:
        """One to `most` bytes from `at`, where the last read ended. Raises as `wait_for`."""
        if not self._ready:
            if self._blocks is None or self._take.written > at:
                self._stop()
                return self._take.read(at, most)
            self._make()
        data, self._ready = self._ready[:most], self._ready[most:]
        return data

    def leave(self) -> None:
        """Read no more."""
        self._stop()
        self._take.leave()

    def _make(self) -> None:
        """Make the next block."""
        assert self._blocks is not None
        self._asked = True
        try:
            self._give_way(self)
            if self.stopped:
                raise TrainerError("the sound was given up")
            self._ready = next(self._blocks).astype("<i2", copy=False).tobytes()[self._skip :]
            self._skip, self._begun = 0, True
        except Exception as error:
            self._stop()
            if isinstance(error, TrainerError):
                raise
            raise TrainerError(f"the sound could not be made: {error}") from error
        finally:
            self._asked = False

    def _stop(self) -> None:
        blocks, self._blocks = self._blocks, None
        if blocks is not None:
            blocks.close()
            self._caught_up(self)
