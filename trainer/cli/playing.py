"""One sound after another at the terminal, from the speakers or into a file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import MissingError

if TYPE_CHECKING:
    from rich.console import Console

    from trainer.band import Arrangement
    from trainer.sound import Player

__all__ = ["sound_player"]

NO_SOUND = "Add --to FILE to write each sound to a file instead."


def sound_player(
    console: Console, soundfont: Path | None, to: Path | None
) -> Callable[[Arrangement | None], bool]:
    """What plays an arrangement, from the speakers or into the file `to`, and returns whether it is
    heard now; None falls silent.

    Where there is neither soundfont, synth nor device the console says so.
    """
    if to is not None:
        return lambda arrangement: _write(console, soundfont, arrangement, to)
    try:
        from trainer.sound import Player, Synth, find_soundfont, require_audio_output

        synth = Synth(find_soundfont(soundfont))
        require_audio_output()
    except MissingError as error:
        console.print(f"{error}.\n{NO_SOUND}", markup=False)
        return lambda _: False
    players: list[Player] = []

    def play(arrangement: Arrangement | None) -> bool:
        while players:
            players.pop().stop()
        if arrangement is not None:
            players.append(Player(synth.render(arrangement)))
            players[0].start()
        return arrangement is not None

    return play


def _write(
    console: Console, soundfont: Path | None, arrangement: Arrangement | None, to: Path
) -> bool:
    if arrangement is not None:
        from trainer.cli.charts import render_audio

        made = render_audio(arrangement, to, soundfont)
        console.print(f"Wrote {to} ({made['duration_s']:.0f} s). Play it.", markup=False)
    return False
