"""The song of a drill at the terminal: from the speakers or, without any, from a file.

Listens, pauses and how far the band has got go to `trainer.drill.Drills` as they happen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, Self

from trainer.drill import (
    FULL_SPEED,
    Drill,
    Drills,
    Submitted,
    loop_s,
    play_answer,
    play_song,
)
from trainer.errors import MissingError

if TYPE_CHECKING:
    from rich.console import Console

    from trainer.exercise import Exercise
    from trainer.sound import Looped, Synth

__all__ = ["Playback", "Song", "offer_both"]

WRITE_A_FILE = "Type `play song.wav` to write a file you can play."
NO_PLAYER = f"There's no sound here. {WRITE_A_FILE}"


class Playback(Protocol):
    """What is needed of `trainer.sound.Player`."""

    def start(self, from_s: float = 0.0) -> None:
        """Begin, `from_s` seconds into the song."""

    def pause(self) -> None:
        """Hold the place."""

    def resume(self) -> None:
        """Go on from the place held."""

    def stop(self) -> None:
        """Fall silent."""

    @property
    def paused(self) -> bool:
        """Whether a place is held."""

    @property
    def position_s(self) -> float:
        """Seconds of the song played so far."""

    @property
    def has_ended(self) -> bool:
        """Whether the song was played to its end."""


@dataclass(slots=True)
class Song:
    """The song of one drill, ready to be heard.

    `player` is None if the sound goes to a file or cannot be made; it plays at `speed` per cent
    of the song's tempo, and `make_player` makes one for another speed. Every listen that begins is
    at `usual_speed`.
    """

    drills: Drills
    drill: Drill
    soundfont: Path | None = None
    synth: Synth | None = None
    player: Playback | None = None
    make_player: Callable[[int], Playback] | None = None
    speed: int = FULL_SPEED
    usual_speed: int = FULL_SPEED
    is_playing: bool = False

    @classmethod
    def prepare(
        cls,
        drills: Drills,
        drill: Drill,
        soundfont: Path | None,
        to: Path | None,
        console: Console,
        *,
        loop_speed: int | None = None,
    ) -> Self:
        """Make the song heard: through the file `to` if given, else through the speakers.

        With `loop_speed`, in per cent of its tempo, it is played over and over.

        Where there is no soundfont, synth or device the console says so and what to do; the drill
        goes on, for what does not need sound still works.
        """
        self = cls(drills, drill, soundfont, usual_speed=loop_speed or FULL_SPEED)
        if to is not None:
            console.print(self.into_file(to), markup=False)
            return self
        try:
            from trainer.sound import Player, Synth, find_soundfont, require_audio_output

            synth = self.synth = Synth(find_soundfont(soundfont))
            require_audio_output()
            if loop_speed is not None:
                self.make_player = lambda speed: Player(_looped(synth, drill.exercise, speed))
            else:
                self.make_player = lambda speed: Player(
                    synth.render(play_song(drill.exercise, speed))
                )
            # A listen that was interrupted goes on as fast as it was played.
            self.speed = drill.speed if drill.position_s is not None else self.usual_speed
            self.player = self.make_player(self.speed)
        except MissingError as error:
            console.print(f"{error}.\n{WRITE_A_FILE}", markup=False)
        return self

    def into_file(self, path: Path) -> str:
        """Write the song's sound into a file and say so. Raises what `render_audio` does.

        What is written to a file is played by whoever writes the chart, so it is a listen.
        """
        from trainer.cli.charts import render_audio

        arrangement = play_song(self.drill.exercise, self.usual_speed)
        made = render_audio(arrangement, path, self.soundfont)
        self.drill = self.drills.listen_to_file(self.drill.record.key, self.drill.token)
        return f"Wrote {path} ({made['duration_s']:.0f} s). Play it, then write the chart."

    def play(self) -> str:
        """Begin a listen, or go on with the one that was interrupted."""
        if self.player is None:
            return NO_PLAYER
        self.note_position()
        position_s = self.drill.position_s
        if position_s is not None and not self.is_playing:
            # Whatever interrupted it, the band was not heard in one go.
            self._heard(position_s, paused=True)
            self.player.start(position_s)
            self.is_playing = True
            return "The band goes on where you left off."
        usual = self.usual_speed
        self.drill = self.drills.listen(self.drill.record.key, usual, self.drill.token)
        self.player.stop()
        if self.speed != usual and self.make_player is not None:
            self.speed, self.player = usual, self.make_player(usual)
        self.player.start()
        self.is_playing = True
        allowed = self.drill.exercise.listens
        return f"Listen {self.drill.progress.listens} of {allowed}." if allowed else ""

    def pause(self) -> str:
        """Pause, or go on."""
        if self.player is None:
            return NO_PLAYER
        self.note_position()
        if self.player.paused:
            self.player.resume()
        elif self.is_playing:
            self.player.pause()
            self._heard(self.player.position_s, paused=True)
        return ""

    def stop(self) -> str:
        """Fall silent; a listen that was stopped on the way can be gone on with."""
        if self.player is None:
            return NO_PLAYER
        self.note_position()
        if self.is_playing:
            self._heard(self.player.position_s, paused=True)
        self.player.stop()
        self.is_playing = False
        return ""

    def elapsed_s(self) -> float | None:
        """Seconds since the first listen began; None before, and if that is not known."""
        return self.drill.elapsed_s(self.drills.clock())

    def note_position(self) -> None:
        """Store how far the band has got, or that the song has ended."""
        if self.player is None or not self.is_playing:
            return
        self.is_playing = not self.player.has_ended
        position_s = self.player.position_s if self.is_playing else None
        self._heard(position_s)

    def _heard(self, position_s: float | None, *, paused: bool = False) -> None:
        """Store how far the listen has got."""
        key, token = self.drill.record.key, self.drill.token
        self.drill = self.drills.heard(key, position_s, paused=paused, token=token)

    def close(self) -> None:
        """Fall silent at the end of the drill."""
        if self.player is not None:
            self.player.stop()
        self.is_playing = False


def _looped(synth: Synth, exercise: Exercise, speed: int) -> Looped:
    """The loop of bars that are practised."""
    from trainer.sound import Looped

    return Looped(synth.render(play_song(exercise, speed)), *loop_s(exercise, speed))


def offer_both(song: Song, submitted: Submitted, read: Callable[[str], str | None]) -> None:
    """Play what was played and what was written, by the same band, as often as asked for."""
    if song.player is None or song.synth is None:
        return
    from trainer.sound import Player

    exercise = submitted.exercise.exercise
    arrangements = {
        "played": play_song(exercise),
        "written": play_answer(exercise, submitted.answer),
    }
    player: Playback = song.player
    while True:
        word = read("Type played or written to hear it, stop to stop it, or Enter to go on  ")
        if word is None or not word.strip():
            break
        player.stop()
        arrangement = arrangements.get(word.strip())
        if arrangement is not None:
            player = Player(song.synth.render(arrangement))
            player.start()
    player.stop()
