from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from types import ModuleType, SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.patience import PATIENCE_S
from trainer.errors import AudioDeviceMissing
from trainer.sound import Player, Rendering

RATE = 8000
BLOCK = 400


@dataclass
class FakeSound:
    """Stands in for a rendering: a rising count, one second in blocks of a tenth."""

    frames: int = RATE
    sample_rate: int = RATE
    breaks_at: int | None = None
    gate: threading.Event = field(default_factory=threading.Event)

    def __iter__(self) -> Iterator[NDArray[np.int16]]:
        return self.blocks()

    def blocks(self, start: int = 0) -> Iterator[NDArray[np.int16]]:
        for first in range(start, self.frames, 800):
            if first == self.breaks_at:
                raise RuntimeError("the synth broke")
            count = (np.arange(first, min(first + 800, self.frames)) % 32768).astype(np.int16)
            yield np.stack((count, -count), axis=1)
        self.gate.set()


class FakeStream:
    """Stands in for a sound card: takes frames when the test says so."""

    def __init__(self, rate: int, callback: Callable[..., None]) -> None:
        self.rate, self.callback = rate, callback
        self.calls: list[str] = []

    def start(self) -> None:
        self.calls.append("start")

    def stop(self) -> None:
        self.calls.append("stop")

    def close(self) -> None:
        self.calls.append("close")

    def take(self, frames: int = BLOCK) -> NDArray[np.int16]:
        """What the card would play next."""
        out = np.full((frames, 2), 99, np.int16)
        self.callback(out, frames, None, None)
        return out


class Deck:
    """A player on a fake card."""

    def __init__(self, sound: FakeSound | None = None) -> None:
        self.sound = sound or FakeSound()
        self.streams: list[FakeStream] = []
        self.player = Player(cast("Rendering", self.sound), self.open)

    def open(self, rate: int, callback: Callable[..., None]) -> FakeStream:
        self.streams.append(FakeStream(rate, callback))
        return self.streams[-1]

    def started(self) -> FakeStream:
        """Start, and wait until all is rendered."""
        self.player.start()
        assert self.sound.gate.wait(PATIENCE_S)
        return self.streams[-1]


def test_it_plays_everything_in_order() -> None:
    """Every frame is played once, in order; then it is done and silent."""
    deck = Deck()
    stream = deck.started()
    played = np.concatenate([stream.take() for _ in range(RATE // BLOCK)])
    assert np.array_equal(played[:, 0], np.arange(RATE))
    assert np.array_equal(played[:, 1], -np.arange(RATE))
    assert deck.player.position_s == 1.0
    assert not stream.take().any()
    assert deck.player.wait(PATIENCE_S)
    assert stream.rate == RATE


def test_the_position_follows_the_ear() -> None:
    """The position counts what was played, not what was rendered."""
    deck = Deck()
    stream = deck.started()
    assert deck.player.position_s == 0.0
    stream.take()
    assert deck.player.position_s == BLOCK / RATE


def test_pause_and_resume() -> None:
    """Paused, it fades in 256 frames, stays silent and keeps its place; resumed, it goes on."""
    deck = Deck()
    stream = deck.started()
    stream.take()
    deck.player.pause()
    assert deck.player.paused
    fading = stream.take()
    assert fading[:256, 0].any()
    assert not fading[256:].any()
    place = deck.player.position_s
    assert not np.any([stream.take() for _ in range(5)])
    assert deck.player.position_s == place
    deck.player.resume()
    again = stream.take()
    assert again[300, 0] == round(place * RATE) + 300
    assert (deck.player.paused, deck.player.done.is_set()) == (False, False)


def test_again() -> None:
    """Restarted, it plays from the first frame on the same stream."""
    deck = Deck()
    stream = deck.started()
    stream.take(4000)
    deck.sound.gate.clear()
    deck.player.start()
    assert deck.sound.gate.wait(PATIENCE_S)
    assert deck.player.position_s == 0.0
    assert stream.take()[:, 0].tolist() == list(range(BLOCK))
    assert len(deck.streams) == 1


def test_stop_and_start() -> None:
    """Stopped, the device is free and it is done; started again, it begins anew."""
    deck = Deck()
    stream = deck.started()
    stream.take()
    deck.player.stop()
    assert stream.calls == ["start", "stop", "close"]
    assert deck.player.done.is_set()
    deck.player.stop()
    deck.sound.gate.clear()
    fresh = deck.started()
    assert fresh is not stream
    assert not deck.player.done.is_set()
    assert fresh.take()[0, 0] == 0
    assert fresh.take()[0, 0] == BLOCK


def test_a_long_sound_is_not_rendered_at_once() -> None:
    """Rendering stays some seconds ahead and goes on as frames are taken."""
    deck = Deck(FakeSound(frames=30 * RATE))
    deck.player.start()
    taken = 0
    while taken < 30 * RATE and not deck.player.done.wait(0.001):
        ahead = deck.player._ready_frames
        assert ahead <= 6 * RATE
        if ahead:
            taken += BLOCK
            deck.streams[0].take()
    assert deck.player.position_s == pytest.approx(30, abs=0.1)


def test_what_breaks_in_rendering_is_raised() -> None:
    """An error in the rendering thread comes out where one waits, and playback ends."""
    deck = Deck(FakeSound(breaks_at=1600))
    deck.player.start()
    while not deck.player.done.is_set():
        deck.streams[0].take()
    with pytest.raises(RuntimeError, match="the synth broke"):
        deck.player.wait(PATIENCE_S)


class NoDevice(Exception):
    """What the sound library raises."""


def broken_library(**content: Any) -> ModuleType:
    """A sounddevice without devices."""
    return cast("ModuleType", SimpleNamespace(PortAudioError=NoDevice, **content))


def refuse(*_: object, **__: object) -> None:
    """Do what the sound library does without a device."""
    raise NoDevice("Error querying device -1")


def test_no_device(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without an output device the error says so and offers a file."""
    monkeypatch.setitem(sys.modules, "sounddevice", broken_library(query_devices=refuse))
    with pytest.raises(AudioDeviceMissing, match=r"no audio output.*render CHART -o out\.wav"):
        Player(cast("Rendering", FakeSound())).start()


def test_a_device_that_refuses(monkeypatch: pytest.MonkeyPatch) -> None:
    """A device that cannot play gives its reason, and a file is offered."""
    library = broken_library(query_devices=lambda **_: {}, OutputStream=refuse)
    monkeypatch.setitem(sys.modules, "sounddevice", library)
    with pytest.raises(AudioDeviceMissing, match=r"device -1.*render CHART -o out\.wav"):
        Player(cast("Rendering", FakeSound())).start()


def test_no_portaudio(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the PortAudio library the error says how to get it."""
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(AudioDeviceMissing, match=r"libportaudio2.*render CHART -o out\.wav"):
        Player(cast("Rendering", FakeSound())).start()
