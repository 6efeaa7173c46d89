"""Where sounds are rendered: one warm synth, one thread for each sound, a few at work at once."""

from __future__ import annotations

import logging
import random
import threading
import time
from collections import OrderedDict
from pathlib import Path

from trainer.band import Arrangement, arrange
from trainer.errors import TrainerError
from trainer.generate import Settings, generate
from trainer.sound import Rendering, Synth, wav_header
from trainer.web.audio.cache import AudioCache, AudioSource
from trainer.web.audio.jobs import (
    FOLLOW_EVERY_S,
    FRAME_BYTES,
    JobReader,
    Prefetcher,
    RenderJob,
    pcm_bytes,
    wav_size,
)
from trainer.web.audio.turns import RenderTurns

__all__ = ["RenderPool"]

# Blocks rendered at once. Each may have a second thread that renders ahead of it (see
# `trainer.sound.mixing`), so two keep two processors busy and leave the pages their share.
MAX_TURNS = 2
# More sounds than this begun and not finished, and those that nobody reads are given up.
MAX_UNREAD_BESIDE = 4
# More than this are refused: each has a thread and synths of its own.
MAX_JOBS = 64
# A sound that nobody reads is finished only if no more than this is missing.
MAX_UNREAD_S = 600.0
# A reader who wants a part further ahead than this gets a rendering that begins there, because
# waiting for the job to reach it would take longer.
FAR_S = 20.0
MAX_PREFETCHERS = 4
# Sounds that could only be held in memory, kept for somebody to come back to.
MAX_IN_MEMORY = 2
# Sounds that are ready to begin and not asked for yet. The longest take about 20 MB each.
MAX_READY = 4
_WARM_UP_SONGS = 6
_RETRY_SYNTH_S = 5.0
_GIVEN_UP = "the sound was cancelled"
_LOG = logging.getLogger(__name__)


class RenderPool:
    """Renders sounds; safe to use from several threads.

    Each sound is rendered once however many read it, from its start; a reader who wants a part far
    ahead gets it rendered from there until the job reaches that point. At most `MAX_TURNS` sounds
    are rendered at the same moment, the most needed first. A sound that nobody reads any more is
    rendered to its end and kept, unless much is missing or too many are being rendered.
    """

    def __init__(self, soundfont: Path | None, cache: AudioCache, sample_rate: int) -> None:
        self._soundfont, self._cache, self.sample_rate = soundfont, cache, sample_rate
        self.turns = RenderTurns(MAX_TURNS)
        self._lock = threading.RLock()
        self._jobs: dict[str, RenderJob] = {}
        self._threads: set[threading.Thread] = set()
        self._prefetchers: set[Prefetcher] = set()
        self._ready: OrderedDict[str, Rendering] = OrderedDict()
        self._closing = False
        self._synth_lock = threading.Lock()
        self._synth: Synth | None = None
        self._synth_error: tuple[float, TrainerError] | None = None

    def synth(self) -> Synth:
        """The synth, made when it is first needed.

        Raises TrainerError that says why there is none; it is tried again some seconds later, so
        that what was missing can be put in place while the program runs.
        """
        with self._synth_lock:
            if self._synth is None:
                failed = self._synth_error
                if failed and time.monotonic() - failed[0] < _RETRY_SYNTH_S:
                    raise failed[1].with_traceback(None)
                try:
                    self._synth = Synth(self._soundfont)
                except TrainerError as error:
                    self._synth_error = time.monotonic(), error
                    raise
            return self._synth

    def rendering(self, arrangement: Arrangement) -> Rendering:
        """An arrangement as audio to come. Raises TrainerError; InputError if it is too long."""
        return self.synth().render(arrangement, self.sample_rate)

    def warm_up(self) -> None:
        """Load what nearly every song needs, so that the first one sounds at once; returns when it
        is done. If something is missing, this is reported when somebody wants to hear a sound."""
        started = time.perf_counter()
        try:
            for seed in range(_WARM_UP_SONGS):
                if self._closing:
                    return
                rng = random.Random(seed)
                song = self.rendering(arrange(generate(Settings(), rng), rng=rng))
                assert song.gain > 0
                next(song.blocks(0, 1))
        except TrainerError as error:
            _LOG.info("no sound: %s", error)
        else:
            _LOG.info("the synth is warm after %.1f s", time.perf_counter() - started)

    def start(self, name: str, arrangement: Arrangement) -> JobReader:
        """Read a sound, whose rendering begins now if it had not.

        Raises TrainerError: there is no synth, no such program in the soundfont, too many sounds
        are being rendered, or the pool is closed. InputError: the sound is too long.
        """
        if (reader := self.running(name)) is not None:
            return reader
        with self._lock:
            ready = self._ready.pop(name, None)
        rendering = ready or self.rendering(arrangement)
        self._cache.make_room(wav_size(rendering))
        with self._lock:
            if (reader := self.running(name)) is not None:
                return reader
            if self._closing:
                raise TrainerError(_GIVEN_UP)
            if len(self._unfinished()) >= MAX_JOBS:
                raise TrainerError(
                    f"{MAX_JOBS} sounds are already being made; try again in a minute"
                )
            job = RenderJob(self._cache, name, rendering, self._reader_closed)
            self._jobs[name] = job
            reader = self._reader_of(job)
            self._stop_unread()
            thread = threading.Thread(
                target=self._render, args=(job,), name=f"sound {name[:8]}", daemon=True
            )
            self._threads.add(thread)
        thread.start()
        return reader

    def prefetch(self, name: str, arrangement: Arrangement) -> None:
        """Begin to render a sound that nobody reads yet. Raises as `start`."""
        if self.rendering(arrangement).duration_s <= MAX_UNREAD_S:
            self.start(name, arrangement).close()

    def make_ready(self, name: str, arrangement: Arrangement) -> None:
        """Work out all that comes before the first note of a sound, and keep it until the sound is
        asked for or `MAX_READY` others are ready. Nothing is rendered. Raises as `rendering`."""
        with self._lock:
            if name in self._jobs or name in self._ready:
                return
        rendering = self.rendering(arrangement)
        assert rendering.gain > 0
        with self._lock:
            self._ready[name] = rendering
            while len(self._ready) > MAX_READY:
                self._ready.popitem(last=False)

    def running(self, name: str) -> JobReader | None:
        """Read a sound that is being rendered, or held in memory; None if it is neither."""
        with self._lock:
            job = self._jobs.get(name)
            return None if job is None or job.stopped else self._reader_of(job)

    def source_at(self, reader: JobReader, at: int) -> AudioSource:
        """A source to read from a byte on: the reader, or a prefetcher if that is far ahead.

        The caller must use the returned source in place of the reader.
        """
        far = FAR_S * self.sample_rate * FRAME_BYTES
        with self._lock:
            if at - reader.job.written < far or len(self._prefetchers) >= MAX_PREFETCHERS:
                return reader
            prefetcher = Prefetcher(reader, at, self.turns, self._caught_up)
            self._prefetchers.add(prefetcher)
            return prefetcher

    def stop(self) -> None:
        """Stop rendering and tell all readers; returns at once."""
        with self._lock:
            self._closing = True
            for job in self._unfinished():
                self._stop(job)
        self.turns.close()

    def join(self, until: float) -> None:
        """After `stop`, wait until what is unfinished is deleted, to a `time.monotonic` at most."""
        with self._lock:
            threads = list(self._threads)
        for thread in threads:
            thread.join(max(0.0, until - time.monotonic()))

    def _reader_of(self, job: RenderJob) -> JobReader:
        job.readers += 1
        return JobReader(job)

    def _render(self, job: RenderJob) -> None:
        """Render all of a sound: what its thread does."""
        try:
            while not (job.finished or job.stopped):
                if job.is_followed:
                    self._follow(job)
                else:
                    self._render_blocks(job)
        except Exception as error:  # noqa: BLE001 - told to all who read
            if not isinstance(error, TrainerError):
                _LOG.exception("a sound could not be made")
            job.fail(f"the sound could not be made: {error}")
        with self._lock:
            if not (job.finished and job.in_memory):
                self._forget(job)
            else:
                self._trim_memory()
            self._threads.discard(threading.current_thread())

    def _follow(self, job: RenderJob) -> None:
        """Wait for what another program renders; if it gives the sound up, go on here."""
        while not job.stopped and job.catch_up():
            time.sleep(FOLLOW_EVERY_S)
        if not (job.finished or job.stopped):
            job.claim()

    def _render_blocks(self, job: RenderJob) -> None:
        job.add(wav_header(job.rendering.frames, job.rendering.sample_rate))
        blocks = iter(job.rendering)
        try:
            while self.turns.acquire(job):
                block = next(blocks, None)
                if block is None:
                    job.finish()
                    return
                job.add(pcm_bytes(block))
        finally:
            self.turns.release(job)
        self._stop(job)

    def _stop(self, job: RenderJob) -> None:
        job.stopped = True
        job.fail(_GIVEN_UP)
        self.turns.cancel(job)

    def _caught_up(self, prefetcher: Prefetcher) -> None:
        with self._lock:
            self._prefetchers.discard(prefetcher)

    def _reader_closed(self, job: RenderJob) -> None:
        with self._lock:
            job.readers -= 1
            if job.readers == 0:
                if self._jobs.get(job.name) is not job:
                    job.discard()
                self._stop_unread()
                self._trim_memory()

    def _unfinished(self) -> list[RenderJob]:
        return [job for job in self._jobs.values() if not job.finished and not job.stopped]

    def _stop_unread(self) -> None:
        """Stop what nobody reads: sounds of which much is missing, and the oldest if there are too
        many."""
        unfinished = self._unfinished()
        unread = [job for job in unfinished if not (job.readers or job.is_wanted_elsewhere)]
        too_many = max(0, len(unfinished) - MAX_UNREAD_BESIDE)
        for place, job in enumerate(unread):
            if place < too_many or job.missing_s > MAX_UNREAD_S:
                self._stop(job)

    def _trim_memory(self) -> None:
        held = [job for job in self._jobs.values() if job.finished and job.readers == 0]
        for job in held[: max(0, len(held) - MAX_IN_MEMORY)]:
            self._forget(job)

    def _forget(self, job: RenderJob) -> None:
        if self._jobs.get(job.name) is job:
            del self._jobs[job.name]
        if job.readers == 0:
            job.discard()
