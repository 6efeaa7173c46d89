"""Where sounds are made: one warm synth, one thread for each sound that is being made."""

from __future__ import annotations

import logging
import random
import threading
import time
from pathlib import Path

from trainer.band import Arrangement, arrange
from trainer.errors import TrainerError
from trainer.generate import Settings, generate
from trainer.sound import Rendering, Synth, wav_header
from trainer.web.audio.cache import AudioCache, AudioSource
from trainer.web.audio.jobs import FRAME_BYTES, Prefetcher, RenderJob, wav_size

__all__ = ["RenderPool"]

# More than this many at once, and those nobody reads any more are given up.
MOST_AT_ONCE = 4
# Who wants what is further ahead than this of a sound that is being made, gets a rendering from
# there: coming to it takes longer than beginning in the middle.
FAR_S = 20.0
MOST_AHEAD = 4
# Sounds that could only be held in memory, kept for somebody to come back to.
MOST_IN_MEMORY = 2
_WARMING_SONGS = 6
_ASK_AGAIN_S = 5.0
_PAUSE_S = 0.02
_LOG = logging.getLogger(__name__)


class RenderPool:
    """Makes sounds; safe to use from several threads.

    Each sound is made once however many read it, from its start, as fast as it goes; who wants a
    part far ahead gets it made from there until the whole has come so far. Sounds that nobody waits
    for give way to those that somebody does, and all give way to one whose first bytes are waited
    for. A sound that nobody reads any more is made to its end and kept, unless too many are being
    made at once.
    """

    def __init__(self, soundfont: Path | None, cache: AudioCache, sample_rate: int) -> None:
        self._soundfont, self._cache, self.sample_rate = soundfont, cache, sample_rate
        self._lock = threading.RLock()
        self._jobs: dict[str, RenderJob] = {}
        self._ahead: set[Prefetcher] = set()
        self._closing = threading.Event()
        self._tuning = threading.Lock()
        self._synth: Synth | None = None
        self._trouble: tuple[float, TrainerError] | None = None

    def synth(self) -> Synth:
        """The synth, made when it is first needed.

        Raises TrainerError that says why there is none; it is tried again some seconds later, so
        that what was missing can be put there while the program runs.
        """
        with self._tuning:
            if self._synth is None:
                if self._trouble and time.monotonic() - self._trouble[0] < _ASK_AGAIN_S:
                    raise self._trouble[1].with_traceback(None)
                try:
                    self._synth = Synth(self._soundfont)
                except TrainerError as error:
                    self._trouble = time.monotonic(), error
                    raise
            return self._synth

    def rendering(self, arrangement: Arrangement) -> Rendering:
        """An arrangement as audio to come. Raises TrainerError."""
        return self.synth().render(arrangement, self.sample_rate)

    def warm_up(self) -> None:
        """Load what nearly every song needs, so that the first one sounds at once; returns when it
        is done. What is missing here is told when somebody wants to hear something."""
        started = time.perf_counter()
        try:
            for seed in range(_WARMING_SONGS):
                if self._closing.is_set():
                    return
                rng = random.Random(seed)
                song = self.rendering(arrange(generate(Settings(), rng), rng=rng))
                assert song.gain > 0
                next(song.blocks(0, 1))
        except TrainerError as error:
            _LOG.info("no sound: %s", error)
        else:
            _LOG.info("the band is warm after %.1f s", time.perf_counter() - started)

    def start(self, name: str, arrangement: Arrangement) -> RenderJob:
        """Read a sound that is being made, which begins now if it had not.

        Raises TrainerError: there is no synth, or no such program in the soundfont.
        """
        if (job := self.running(name)) is not None:
            return job
        rendering = self.rendering(arrangement)
        self._cache.make_room(wav_size(rendering))
        with self._lock:
            if (job := self.running(name)) is not None:
                return job
            job = RenderJob(self._cache, name, rendering, self._left)
            job.readers = 1
            self._jobs[name] = job
            self._give_up_unread()
        threading.Thread(
            target=self._make, args=(job, rendering), name=f"sound {name[:8]}", daemon=True
        ).start()
        return job

    def running(self, name: str) -> RenderJob | None:
        """Read a sound that is being made, or held in memory; None if it is neither."""
        with self._lock:
            job = self._jobs.get(name)
            if job is None or job.stopped:
                return None
            job.readers += 1
            return job

    def ahead(self, job: RenderJob, at: int) -> AudioSource:
        """A sound to read from a byte on: the job itself, unless that is far from having it.

        Whoever holds the job holds what is given instead.
        """
        far = FAR_S * self.sample_rate * FRAME_BYTES
        with self._lock:
            if at - job.written < far or len(self._ahead) >= MOST_AHEAD:
                return job
            ahead = Prefetcher(job, at, self._give_way, self._caught_up)
            self._ahead.add(ahead)
            return ahead

    def close(self) -> None:
        """Stop making sounds; what is unfinished is thrown away."""
        self._closing.set()
        with self._lock:
            for job in self._jobs.values():
                job.stopped = True

    def _make(self, job: RenderJob, rendering: Rendering) -> None:
        """Make all of a sound: what its thread does."""
        try:
            job.add(wav_header(rendering.frames, rendering.sample_rate))
            for block in rendering:
                self._give_way(job)
                if job.stopped:
                    job.fail("the sound was given up")
                    break
                job.add(block.astype("<i2", copy=False).tobytes())
            else:
                job.finish()
        except Exception as error:  # noqa: BLE001 - told to all who read
            _LOG.exception("a sound could not be made")
            job.fail(f"the sound could not be made: {error}")
        with self._lock:
            if not (job.finished and job.in_memory):
                self._forget(job)
            else:
                self._trim_memory()

    def _give_way(self, one: RenderJob | Prefetcher) -> None:
        """Pause while another sound is needed more than this one."""
        while not one.stopped:
            with self._lock:
                others: tuple[RenderJob | Prefetcher, ...] = (*self._jobs.values(), *self._ahead)
                if one.need >= max((other.need for other in others), default=0):
                    return
            self._closing.wait(_PAUSE_S)

    def _caught_up(self, ahead: Prefetcher) -> None:
        with self._lock:
            self._ahead.discard(ahead)

    def _left(self, job: RenderJob) -> None:
        with self._lock:
            job.readers -= 1
            if job.readers == 0:
                if self._jobs.get(job.name) is not job:
                    job.close()
                self._give_up_unread()
                self._trim_memory()

    def _give_up_unread(self) -> None:
        """Stop the oldest that nobody reads, if too many are being made."""
        making = [job for job in self._jobs.values() if not job.finished and not job.stopped]
        unread = [job for job in making if job.readers == 0]
        for job in unread[: max(0, len(making) - MOST_AT_ONCE)]:
            job.stopped = True

    def _trim_memory(self) -> None:
        held = [job for job in self._jobs.values() if job.finished and job.readers == 0]
        for job in held[: max(0, len(held) - MOST_IN_MEMORY)]:
            self._forget(job)

    def _forget(self, job: RenderJob) -> None:
        if self._jobs.get(job.name) is job:
            del self._jobs[job.name]
        if job.readers == 0:
            job.close()
