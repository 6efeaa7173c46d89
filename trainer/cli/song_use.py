"""What is done in the terminal with the songs of the songbook: they are heard, drilled, compared
and merged."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from trainer.cli.common import now, print_json, read_line
from trainer.cli.options import Band, Data, Json, Learner, SoundfontFile, SoundTo
from trainer.cli.songs import Song, Version, find_song, said_of, songbook
from trainer.errors import SettingsError

if TYPE_CHECKING:
    from trainer.chart import Chart
    from trainer.songbook import Comparison, Side

__all__ = ["compare", "drill", "merge", "play"]

OtherSong = Annotated[str | None, typer.Argument(help="The other song; the same if none.")]
LeftVersion = Annotated[int | None, typer.Option("--left", help="Version of the first.")]
RightVersion = Annotated[int | None, typer.Option("--right", help="Version of the second.")]


def play(
    song: Song,
    key: Annotated[str | None, typer.Option(help="Play it in this key.")] = None,
    tempo: Annotated[
        float | None,
        typer.Option(help="Play it at this tempo instead of the chart's.", min=20, max=400),
    ] = None,
    band: Band = "full",
    first: Annotated[int, typer.Option("--from", help="The bar to begin with.")] = 1,
    last: Annotated[int | None, typer.Option("--until", help="The bar to end with.")] = None,
    version: Version = None,
    to: SoundTo = None,
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
) -> None:
    """Hear the band play a song, from any bar, in any key and tempo."""
    from trainer.chart import Key
    from trainer.cli.playing import sound_player
    from trainer.cli.session import Session
    from trainer.songbook import Songbook, play_song_text
    from trainer.sound import check_playing_time

    with Session.open(data, learner, soundfont) as session:
        book = Songbook(session.store, session.learner, now)
        heard = play_song_text(
            book.text_of(find_song(book, song).uid, version),
            key=Key.parse(key) if key else None,
            tempo=tempo,
            band=band,
            first=first,
            last=last,
        )
        check_playing_time(heard.tempo_map.seconds(heard.length_quarters))
        sound = sound_player(session.console, soundfont, to)
        if sound(heard):
            read_line("The band is playing. Press Enter to stop.  ")
            sound(None)


def drill(
    song: Song,
    band: Band = "full",
    listens: Annotated[
        int, typer.Option(help="How often it may be heard; 0 for no limit.", min=0)
    ] = 2,
    key: Annotated[str | None, typer.Option(help="The key the band plays it in.")] = None,
    hide_key: Annotated[bool, typer.Option("--hide-key", help="Don't tell the key.")] = False,
    version: Version = None,
    to: SoundTo = None,
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
) -> None:
    """Make an exercise of a song and write its chart by ear. If you've seen the chart, it's
    practice only."""
    from trainer.band import playing_time_s
    from trainer.chart import Key
    from trainer.cli.session import Session
    from trainer.songbook import Songbook
    from trainer.sound import check_playing_time

    with Session.open(data, learner, soundfont) as session:
        book = Songbook(session.store, session.learner, now)
        exercise = book.as_exercise(
            find_song(book, song).uid,
            band=band,
            listens=listens,
            key=Key.parse(key) if key else None,
            key_hidden=hide_key,
            number=version,
        )
        check_playing_time(playing_time_s(exercise.chart))
        session.run(session.drills.begin(exercise), to)


def compare(
    left: Song,
    right: OtherSong = None,
    left_version: LeftVersion = None,
    right_version: RightVersion = None,
    learner: Learner = "me",
    data: Data = None,
    as_json: Json = False,
) -> None:
    """Say where two charts of a song differ."""
    with songbook(learner, data) as book:
        first = find_song(book, left)
        second = first if right is None else find_song(book, right)
        found = book.compare((first.uid, left_version), (second.uid, right_version))
    rows = [
        {"left": row.left, "right": row.right, "agreement": row.agreement.value}
        for row in found.rows
    ]
    facts = [{"name": each.name, "left": each.left, "right": each.right} for each in found.facts]
    if as_json:
        words = [
            {"section": each.name, "left": each.left, "right": each.right} for each in found.words
        ]
        shown = {"facts": facts, "rows": rows, "differences": len(found.differences)}
        print_json({**shown, "words": words})
        return
    for fact in found.facts:
        typer.echo(f"{fact.name}: {fact.left or 'none'} | {fact.right or 'none'}")
    for said in found.words:
        name = said.name or "the song"
        typer.echo(f"about {name}: {said.left or 'nothing'} | {said.right or 'nothing'}")
    bars = [_bars_as_typed(chart) for chart in (found.left, found.right)]
    for number, place in enumerate(found.differences, 1):
        row = found.rows[place]
        sides = [
            f"bar {bar}: {of[bar - 1]}" if bar is not None else "no bar"
            for bar, of in zip((row.left, row.right), bars, strict=True)
        ]
        typer.echo(f"{number:3}. {' | '.join(sides)}")
    count = len(found.differences)
    differ = "1 bar differs" if count == 1 else f"{count} bars differ"
    typer.echo(f"{differ}, {len(found.rows) - count} agree")


def _bars_as_typed(chart: Chart | None) -> list[str]:
    """Every bar of a chart as it is typed, with its beats, articulations, meter and key change."""
    from trainer.chart.format import format_bar

    return [] if chart is None else [format_bar(bar, chart) for bar in chart.bars()]


def merge(
    left: Song,
    right: OtherSong = None,
    left_version: LeftVersion = None,
    right_version: RightVersion = None,
    take: Annotated[
        list[str] | None,
        typer.Option(
            help="What to take from the second: the number of a difference that `songs compare` "
            "prints, or the name of a line at the top, such as key; may be given again."
        ),
    ] = None,
    learner: Learner = "me",
    data: Data = None,
) -> None:
    """Keep the better bars of two charts: the first with what you take from the second, saved as
    its next version."""
    with songbook(learner, data) as book:
        first = find_song(book, left)
        second = first if right is None else find_song(book, right)
        found = book.compare((first.uid, left_version), (second.uid, right_version))
        choices, facts = _taken(found, take or [])
        saved = book.merge(first.uid, found, choices, facts)
    typer.echo(said_of(saved))


def _taken(found: Comparison, take: list[str]) -> tuple[dict[int, Side], dict[str, Side]]:
    """The places of the rows and the names of the facts that are taken from the right chart.

    Raises SettingsError for what does not differ.
    """
    from trainer.songbook import Side

    choices, facts = {}, {}
    names = [each.name for each in found.facts]
    for each in take:
        if each in names:
            facts[each] = Side.RIGHT
        elif each.isdecimal() and 1 <= int(each) <= len(found.differences):
            choices[found.differences[int(each) - 1]] = Side.RIGHT
        else:
            numbers = f"1 to {len(found.differences)}" if found.differences else "no number"
            raise SettingsError("--take", repr(each), ", ".join([numbers, *names]))
    return choices, facts
