"""Sentences about holds, pushes and chokes, meters and key changes."""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction

from trainer.chart import Articulation, Bar

from .common import INTERVALS, WHERE, Check, where
from .facts import BAR, BARS, KEY_MOVE, Reading, demand, move_text, number, text_of

__all__ = ["SIGN_SENTENCES"]

ARTICULATIONS = {
    "hold (diamond)": Articulation.HOLD,
    "push": Articulation.PUSH,
    "choke": Articulation.CHOKE,
    "holds (diamonds)": Articulation.HOLD,
    "pushes": Articulation.PUSH,
    "chokes": Articulation.CHOKE,
}
ARTICULATION = r"hold \(diamond\)|push|choke"
ARTICULATED = r"holds \(diamonds\)|pushes|chokes"
LENGTHS = "as long as|longer than|shorter than"
SOUNDS = {
    Articulation.HOLD: "on a hold, the band strikes the chord once and lets it ring",
    Articulation.PUSH: "on a push, the chord comes an eighth before the beat",
    Articulation.CHOKE: "on a choke, the band cuts the chord dead and leaves silence",
}


def articulated(bar: Bar, what: Articulation) -> list[Fraction]:
    """Where a bar has an articulation, as shares of it."""
    return [
        at / bar.meter.beats
        for at, event in zip(bar.starts(), bar.events, strict=True)
        if event.articulation is what
    ]


def not_written(r: Reading, m: re.Match[str]) -> None:
    """An articulation of the song that is not in the answer."""
    where(r, m)
    what = ARTICULATIONS[m["what"]]
    for one, song, own in r.rows():
        demand(set(articulated(song, what)) - set(articulated(own, what)), f"{one}: {what}")
    having = [k + 1 for k, bar in enumerate(r.song) if articulated(bar, what)]
    if m["played"]:
        demand(text_of(r.song_bar(r.bars[0])) == m["played"], m["played"])
    else:
        demand(int(m["wrong"]) == len(r.bars), f"{m['wrong']} of {r.bars}")
        demand(int(m["having"]) == len(having), f"{having} have one")
    r.pairs = [(what, "")]


def none_written(r: Reading, m: re.Match[str]) -> None:
    """None of the song's articulations of a kind is in the answer."""
    r.bars = r.read_bars(m["at"], r.cited)
    what = ARTICULATIONS[m["what"]]
    demand(
        r.bars == [k + 1 for k, bar in enumerate(r.song) if articulated(bar, what)], "all of them"
    )
    for one, song, own in r.rows():
        demand(not set(articulated(song, what)) & set(articulated(own, what)), f"{one}: {what}")
    r.pairs = [(what, "")]


def not_played(r: Reading, m: re.Match[str]) -> None:
    """An articulation of the answer that was not played there."""
    where(r, m)
    what = ARTICULATIONS[m["what"]]
    for one, song, own in r.rows():
        demand(set(articulated(own, what)) - set(articulated(song, what)), f"{one}: {what}")
    r.pairs = [(what, "")]


def another(r: Reading, m: re.Match[str]) -> None:
    """One articulation for another, in the same place."""
    where(r, m)
    one, other = ARTICULATIONS[m["what"]], ARTICULATIONS[m["written"]]
    for case, song, own in r.rows():
        demand(set(articulated(song, one)) & set(articulated(own, other)), f"{case}: {one}")
    r.pairs = [(one, "")]


def other_place(r: Reading, m: re.Match[str]) -> None:
    """An articulation is on another chord of the same bar."""
    where(r, m)
    what = ARTICULATIONS[m["what"]]
    first = True
    for one, song, own in r.rows():
        ours, theirs = set(articulated(song, what)), set(articulated(own, what))
        demand(ours - theirs and theirs - ours, f"{one}: {what}")
        demand(not first or text_of(song) == m["played"], m["played"])
        demand(not first or text_of(own) == m["written"], m["written"])
        first = False
    r.pairs = [(what, "")]


def other_bar(r: Reading, m: re.Match[str]) -> None:
    """An articulation is in another bar."""
    what = ARTICULATIONS[m["what"]]
    there, here = [], []
    for one, song, own in r.rows():
        ours, theirs = set(articulated(song, what)), set(articulated(own, what))
        if ours - theirs:
            there.append(one.reference or 0)
        if theirs - ours:
            here.append(one.reference or 0)
    r.bars = r.read_bars(m["at"], sorted(set(there)))
    r.check_section(m["section"] if "section" in m.groupdict() else None)
    r.read_bars(m["there"], sorted(set(here)))
    r.pairs = [(what, "")]


def sounds_like(r: Reading, m: re.Match[str]) -> None:
    """What the articulation that was spoken of sounds like."""
    demand(m["how"] == SOUNDS[Articulation(r.pairs[0][0])], f"{r.pairs[0][0]}: {m['how']}")


def meter_of_song(r: Reading, m: re.Match[str]) -> None:
    """All bars of the song are in one meter, all cited bars of the answer in another."""
    demand({str(bar.meter) for bar in r.song} == {m["played"]}, f"the song is not in {m['played']}")
    demand(r.cited == list(range(1, len(r.song) + 1)), "not all bars")
    demand({str(own.meter) for _, _, own in r.rows()} == {m["written"]}, f"not {m['written']}")


def bar_length(r: Reading, m: re.Match[str]) -> None:
    """Bars of another length than most of the song's."""
    where(r, m)
    for one, song, own in r.rows():
        demand(str(song.meter) == m["played"], f"bar {one.reference} is {song.meter}")
        demand(str(own.meter) == m["written"], f"your bar {one.answer} is {own.meter}")
        short = song.meter.quarters < own.meter.quarters
        if m.groupdict().get("long"):
            demand(song.meter.quarters != own.meter.quarters, "equally long")
            demand(m["long"] == ("short" if short else "long"), m["long"])
            demand(m["when"] == ("sooner" if short else "later"), m["when"])
            noun = {8: "eighth", 16: "sixteenth"}.get(song.meter.unit, "beat")
            count = song.meter.beats
            demand(number(m["beats"]) == count, m["beats"])
            demand(m["noun"] == noun + "s" * (count != 1), m["noun"])


def length_among_others(r: Reading, m: re.Match[str]) -> None:
    """Bars in the song's meter stand in a chart in another: how long they are beside the others."""
    where(r, m)
    for _, song, own in r.rows():
        demand(song.meter == own.meter, f"{song.meter} and {own.meter}")
        for bar, bars, said in ((song, r.song, m["song"]), (own, r.own, m["own"])):
            most = Counter(each.meter.quarters for each in bars).most_common(1)[0][0]
            long = (bar.meter.quarters > most) - (bar.meter.quarters < most)
            demand(said == ("as long as", "longer than", "shorter than")[long], said)


def length_elsewhere(r: Reading, m: re.Match[str]) -> None:
    """Bars of another length than most are written in other bars than they were played in."""
    there: list[int] = []
    here: list[int] = []
    for one, song, own in r.rows():
        demand(song.meter != own.meter, f"bar {one.reference}: {song.meter}")
        (there if str(song.meter) == m["meter"] else here).append(one.reference or 0)
        demand(m["meter"] in (str(song.meter), str(own.meter)), f"bar {one.reference}")
    r.bars = r.read_bars(m["at"], sorted(there))
    r.check_section(m.groupdict().get("section"))
    r.read_bars(m["there"], sorted(here))
    meters = [str(bar.meter) for bar in r.song]
    demand(2 * meters.count(m["meter"]) <= len(meters), f"most bars are of {m['meter']}")


def key_moves(r: Reading, m: re.Match[str]) -> None:
    """The key moves as said, and something else is written."""
    where(r, m)
    for one, song, own in r.rows():
        move = song.key_change
        demand(move, f"bar {one.reference}: the key stays")
        demand(m["way"] == ("up" if move > 0 else "down"), m["way"])
        demand(m["interval"] == INTERVALS[abs(move)], m["interval"])
        demand(move_text(move) == m["sign"], m["sign"])
        if m["wrong"] == "you missed it":
            demand(not own.key_change, f"{move_text(own.key_change)} is written")
        else:
            demand(m["wrong"] == f"you wrote [{move_text(own.key_change)}]", m["wrong"])


def key_stays(r: Reading, m: re.Match[str]) -> None:
    """A key change is written where there is none."""
    where(r, m)
    for one, song, own in r.rows():
        demand(not song.key_change and own.key_change, f"{one}: the key moves")


SIGN_SENTENCES: tuple[tuple[str, Check], ...] = (
    (
        rf"{WHERE}: the band played in (?P<played>\d+/\d+) and you wrote (?P<written>\d+/\d+)\.",
        bar_length,
    ),
    (
        (
            rf"{WHERE}: the band played a (?P<what>{ARTICULATION}), (?P<played>{BAR}), and you "
            r"missed it\."
        ),
        not_written,
    ),
    (
        (
            rf"{WHERE}: the band played a (?P<what>{ARTICULATION}) in each, and you missed it"
            r"(?P<played>) \((?P<wrong>\d+) of the (?P<having>\d+) bars with one\)\."
        ),
        not_written,
    ),
    (rf"You missed all of the (?P<what>{ARTICULATED}): (?P<at>{BARS})\.", none_written),
    (
        rf"{WHERE}: you wrote a (?P<what>{ARTICULATION}), but the band didn't play one\.",
        not_played,
    ),
    (
        (
            rf"{WHERE}: the band played a (?P<what>{ARTICULATION}) and you wrote a "
            rf"(?P<written>{ARTICULATION})\."
        ),
        another,
    ),
    (
        (
            rf"{WHERE}: the (?P<what>{ARTICULATION}) is in the wrong place in the bar\. The band "
            rf"played (?P<played>{BAR}), and you wrote (?P<written>{BAR})\."
        ),
        other_place,
    ),
    (
        rf"The (?P<what>{ARTICULATION}) is in {WHERE}, but you put it in (?P<there>{BARS})\.",
        other_bar,
    ),
    (
        (
            rf"The (?P<what>{ARTICULATED}) are in (?P<at>{BARS}), but you put them in "
            rf"(?P<there>{BARS})\."
        ),
        other_bar,
    ),
    (rf"Listen: (?P<how>{'|'.join(SOUNDS.values())})\.", sounds_like),
    (r"The song is in (?P<played>\S+), and you wrote it in (?P<written>\S+)\.", meter_of_song),
    (
        (
            rf"{WHERE} (?:is a|are) (?P<long>short|long) bars? of (?P<played>\S+) \((?P<beats>\w+) "
            r"(?P<noun>\w+)\), and you wrote (?P<written>\S+)\. Count the beats: the next downbeat "
            r"comes (?P<when>sooner|later)\."
        ),
        bar_length,
    ),
    (
        (
            rf"{WHERE}: th(?:is bar is|ese bars are) (?P<song>{LENGTHS}) most in the song, and "
            rf"(?P<own>{LENGTHS}) most in your chart\."
        ),
        length_among_others,
    ),
    (
        rf"The bar of (?P<meter>\d+/\d+) is {WHERE}, but you wrote it at (?P<there>{BARS})\.",
        length_elsewhere,
    ),
    (
        (
            rf"The bars of (?P<meter>\d+/\d+) are (?P<at>{BARS}), but you wrote them at "
            rf"(?P<there>{BARS})\."
        ),
        length_elsewhere,
    ),
    (
        (
            rf"{WHERE}: the key moves (?P<way>up|down) (?P<interval>[a-z ]+) here, and "
            rf"(?P<wrong>you missed it|you wrote \[{KEY_MOVE}\])\. Write \["
            rf"(?P<sign>{KEY_MOVE})\] before the bar\."
        ),
        key_moves,
    ),
    (rf"{WHERE}: you wrote a key change, but the key stays the same\.", key_stays),
)
