"""Playback of a rendering on the machine's loudspeakers or headphones."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from trainer.errors import AudioDeviceMissing
from trainer.sound.rendering import Block

__all__ = ["Player", "require_audio_output"]

# How much is rendered before it is played.
_AHEAD_S = 5.0
_RAMP_FRAMES = 256
_OFFER = "Render to a file instead: chart-trainer render CHART -o out.wav"

# Called with (frames a second, callback); gives something with start(), stop() and close().
StreamFactory = Callable[[int, Callable[..., None]], Any]


class Playable(Protocol):
    """What is played: a `Rendering`, or one that is looped."""

    @property
    def sample_rate(self) -> int:
        """Frames a second."""

    @property
    def frames(self) -> int:
        """Length in frames."""

    def __iter__(self) -> Iterator[Block]: ...


class Player:
    """Plays one rendering: start, pause, resume, stop.

    A thread renders a few seconds ahead; the sound card asks for frames and never waits. Pausing
    and resuming ramp over 6 ms, so neither clicks.

    Parameters
    ----------
    rendering : what to play.
    stream : makes the output stream; None for the default device through sounddevice.

    Attributes
    ----------
    done : event, set when everything has been played or the player was stopped.

    Raises
    ------
    AudioDeviceMissing
        On `start`, if there is no audio output.
    """

    def __init__(self, rendering: Playable, stream: StreamFactory | None = None) -> None:
        self.rendering = rendering
        self.done = threading.Event()
        self._factory = stream or _default_stream
        self._stream: Any = None
        self._lock = threading.Condition()
        self._ready: deque[NDArray[np.int16]] = deque()
        self._ready_frames = 0
        self._rendered_all = False
        self._played = 0
        self._paused = False
        self._level = 1.0
        self._turn = 0
        self._failure: BaseException | None = None

    @property
    def position_s(self) -> float:
        """Seconds played so far."""
        return self._played / self.rendering.sample_rate

    @property
    def paused(self) -> bool:
        """Whether playback is paused."""
        return self._paused

    @property
    def has_ended(self) -> bool:
        """Whether everything was played to the end."""
        return self._played >= self.rendering.frames

    def start(self, from_s: float = 0.0) -> None:
        """Play, from `from_s` seconds after the beginning."""
        first = min(round(max(0.0, from_s) * self.rendering.sample_rate), self.rendering.frames)
        if self._stream is None:
            self._stream = self._factory(self.rendering.sample_rate, self._callback)
            self._begin(first)
            self._stream.start()
        else:
            self._begin(first)

    def pause(self) -> None:
        """Fall silent and keep the position."""
        self._paused = True

    def resume(self) -> None:
        """Go on from the position where it was paused."""
        self._paused = False

    def stop(self) -> None:
        """End playback and free the device. `start` begins again from the beginning."""
        with self._lock:
            self._turn += 1
            self._lock.notify_all()
        if self._stream is not None:
            self._stream.stop()
            self._stream.close()
            self._stream = None
        self.done.set()

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until playback is done; returns whether it is.

        Raises the error of the rendering thread, if there was one.
        """
        finished = self.done.wait(timeout_s)
        if self._failure is not None:
            raise self._failure
        return finished

    def _begin(self, first: int = 0) -> None:
        """Start a new turn: empty the buffer, render from frame `first` on."""
        with self._lock:
            self._turn += 1
            self._ready.clear()
            self._ready_frames, self._played = 0, first
            self._rendered_all = self._paused = False
            self._failure = None
            self.done.clear()
            self._lock.notify_all()
            turn = self._turn
        threading.Thread(target=self._fill, args=(turn, first), daemon=True).start()

    def _fill(self, turn: int, first: int) -> None:
        """Render ahead until the turn is over; what stands before frame `first` is left out."""
        ahead = int(_AHEAD_S * self.rendering.sample_rate)
        to_skip = first
        try:
            for whole in self.rendering:
                block = whole[to_skip:]
                to_skip = max(0, to_skip - len(whole))
                if not len(block):
                    if self._turn != turn:
                        return
                    continue
                with self._lock:
                    while self._turn == turn and self._ready_frames > ahead:
                        self._lock.wait()
                    if self._turn != turn:
                        return
                    self._ready.append(block)
                    self._ready_frames += len(block)
        except Exception as error:  # noqa: BLE001 - handed to whoever waits, in their thread
            self._failure = error
        with self._lock:
            if self._turn == turn:
                self._rendered_all = True

    def _callback(self, out: NDArray[np.int16], frames: int, *_: object) -> None:
        """Fill the sound card's buffer, with silence where there is nothing to play."""
        out.fill(0)
        target = 0.0 if self._paused else 1.0
        if target == self._level == 0.0:
            return
        with self._lock:
            filled = self._take(out)
            ended = self._rendered_all and not self._ready
            self._lock.notify_all()
        self._played += filled
        if target != self._level:
            ramp = min(frames, _RAMP_FRAMES)
            levels = np.full(frames, target)
            levels[:ramp] = np.linspace(self._level, target, ramp)
            out[:] = np.rint(out * levels[:, None]).astype(np.int16)
            self._level = target
        if ended:
            self.done.set()

    def _take(self, out: NDArray[np.int16]) -> int:
        """Move frames from the buffer into `out`; returns how many."""
        filled = 0
        while self._ready and filled < len(out):
            block = self._ready.popleft()
            part = block[: len(out) - filled]
            out[filled : filled + len(part)] = part
            filled += len(part)
            if len(part) < len(block):
                self._ready.appendleft(block[len(part) :])
        self._ready_frames -= filled
        return filled


def require_audio_output() -> None:
    """Raise AudioDeviceMissing, saying what was looked for, if there is no audio output."""
    try:
        import sounddevice
    except (ImportError, OSError) as error:
        raise AudioDeviceMissing(
            f"there is no sound: PortAudio was not found ({error}). Get it with "
            "'apt-get install libportaudio2' (on macOS it is included)"
        ) from error
    try:
        sounddevice.query_devices(kind="output")
    except (sounddevice.PortAudioError, ValueError) as error:
        raise AudioDeviceMissing(
            "there is no sound: this machine has no audio output that can be used"
        ) from error


def _default_stream(sample_rate: int, callback: Callable[..., None]) -> Any:
    """An output stream on the default device."""
    try:
        require_audio_output()
    except AudioDeviceMissing as error:
        raise AudioDeviceMissing(f"{error}. {_OFFER}") from error
    import sounddevice

    try:
        return sounddevice.OutputStream(
            samplerate=sample_rate, channels=2, dtype="int16", callback=callback
        )
    except sounddevice.PortAudioError as error:
        raise AudioDeviceMissing(f"the audio output refused to play ({error}). {_OFFER}") from error
