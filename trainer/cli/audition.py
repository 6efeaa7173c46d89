"""How an exercise is heard at the terminal: from the speakers or, without any, from a file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Self

from trainer.band import Mix, arrange
from trainer.chart import Chart
from trainer.errors import MissingError
from trainer.exercise import Exercise

if TYPE_CHECKING:
    from rich.console import Console

    from trainer.band import Arrangement
    from trainer.cli.desk import Playback
    from trainer.sound import Synth

__all__ = ["Audition"]


@dataclass(slots=True)
class Audition:
    """The song of an exercise ready to be heard.

    `player` is None where the sound went to a file (`in_file`) or cannot be made; `bar_times_s` are
    start and end of each bar in seconds from the first click.
    """

    exercise: Exercise
    console: Console
    arrangement: Arrangement
    soundfont: Path | None = None
    synth: Synth | None = None
    player: Playback | None = None
    in_file: bool = False

    @classmethod
    def prepare(
        cls, exercise: Exercise, soundfont: Path | None, to: Path | None, console: Console
    ) -> Self:
        """Arrange the song and make it heard: through `to` if given, else through the speakers.

        Where there is no soundfont, synth or device the console says so and what to do; the drill
        goes on, for what does not need sound still works.
        """
        self = cls(exercise, console, _arranged(exercise, exercise.chart), soundfont)
        if to is not None:
            self.into_file(to)
            return self
        try:
            from trainer.sound import Player, Synth, find_soundfont
            from trainer.sound.player import require_audio_output

            self.synth = Synth(find_soundfont(soundfont))
            require_audio_output()
            self.player = Player(self.synth.render(self.arrangement))
        except MissingError as error:
            console.print(f"{error}.\n`play song.wav` writes a file to play.", markup=False)
        return self

    def into_file(self, path: Path) -> None:
        """Write the song's sound and say so. Raises what `render_audio` does."""
        from trainer.cli.render import render_audio

        made = render_audio(self.arrangement, path, self.soundfont)
        self.in_file = True
        self.console.print(
            f"Wrote {path} ({made['duration_s']:.0f} s): play it, then write.", markup=False
        )

    @property
    def bar_times_s(self) -> tuple[tuple[float, float], ...]:
        """Start and end of each bar, in seconds from the first click of the count-off."""
        clock = self.arrangement.tempo_map
        return tuple(
            (
                clock.seconds(bar.start_quarters),
                clock.seconds(bar.start_quarters + bar.length_quarters),
            )
            for bar in self.arrangement.bars
        )

    @property
    def seconds_per_beat(self) -> float:
        """Length of a beat of the song's meter."""
        return self.arrangement.tempo_map.seconds(4 / self.exercise.chart.meter.unit)

    def offer_both(self, answer: Chart | None, read: Callable[[str], str | None]) -> None:
        """Play what was played and what was written, by the same band, as often as asked for."""
        if self.player is None or self.synth is None:
            return
        from trainer.sound import Player

        while True:
            word = read("hear (played, written, stop) or Enter to go on  ")
            if word is None or not word.strip():
                break
            self.player.stop()
            if word.strip() == "played":
                self.player = Player(self.synth.render(self.arrangement))
            elif word.strip() == "written" and answer is not None:
                self.player = Player(self.synth.render(_arranged(self.exercise, answer)))
            else:
                continue
            self.player.start()
        self.player.stop()


def _arranged(exercise: Exercise, chart: Chart) -> Arrangement:
    """The exercise's band playing a chart, the learner's or its own."""
    help_ = exercise.help
    mix = Mix(bass_lift_db=help_.bass_lift_db, tonic_first=help_.tonic_first)
    return arrange(
        chart,
        rng=exercise.band_rng(),
        band=exercise.band,
        mix=mix,
        count_off=help_.count_off,
    )
