"""The words for the players that the band knows, and what it does when it reads them.

`BAND_WORDS` is the table: an action, how musicians write it, and one sentence on what the band
plays. `read_band_words` finds the actions in a note. `trainer.band.notes` carries them out. A note
in other words is no mistake: it is for people, and the band plays on.
"""

from __future__ import annotations

import re
from enum import StrEnum
from functools import lru_cache
from typing import NamedTuple

__all__ = ["BAND_WORDS", "PLAYERS", "Action", "BandWord", "Instruction", "read_band_words"]


class Action(StrEnum):
    """What a note asks of the band."""

    OUT = "out"
    IN = "in"
    ONLY = "only"
    DOWN = "down"
    UP = "up"
    BUILD = "build"
    LIFT = "lift"
    STOP_TIME = "stop-time"
    RING_OUT = "ring out"
    WALK_UP = "walk-up"
    FILLS = "fills"
    SLOW_DOWN = "slow down"
    A_TEMPO = "a tempo"
    AS_BEFORE = "as before"


class Instruction(NamedTuple):
    """An action and the players it is for, by the names in `PLAYERS`; all of them if none is named.

    Everybody but the singer is meant by "band".
    """

    action: Action
    players: frozenset[str]


class BandWord(NamedTuple):
    """A row of the table.

    `write` is how musicians write it, the usual way first. `means` says what the band plays and for
    how long.
    """

    action: Action
    write: tuple[str, ...]
    means: str


# Each player with the words for them. "Keys" are whatever plays chords beside the guitar.
PLAYERS: dict[str, tuple[str, ...]] = {
    "drums": ("drums", "drum", "drummer", "kit", "dr", "drs"),
    "bass": ("bass", "bassist"),
    "guitar": ("guitar", "guitars", "gtr", "gtrs", "gt", "acoustic"),
    "keys": ("keys", "keyboard", "keyboards", "piano", "pno", "organ", "pad", "steel"),
    "lead": ("lead", "soloist", "fiddle", "harmonica"),
    "voice": ("vocal", "vocals", "vox", "voice", "voices", "singer", "singers"),
}
EVERYBODY = ("band", "all", "everybody", "everyone", "full band", "whole band", "tutti")

BAND_WORDS: tuple[BandWord, ...] = (
    BandWord(
        Action.OUT,
        ("drums out", "no drums", "drums drop out", "bass and drums out", "band out", "tacet"),
        "That player stops until you write that they come in. “Band out” and “tacet” leave the "
        "singer alone.",
    ),
    BandWord(
        Action.IN,
        ("drums in", "drums come in", "drums back in", "band in", "all in", "full band"),
        "That player comes back in.",
    ),
    BandWord(
        Action.ONLY,
        ("guitar only", "just guitar", "bass and drums only", "guitar alone", "a cappella"),
        "Everybody else stops, and the singer sings on.",
    ),
    BandWord(
        Action.BUILD,
        ("build", "build up", "build to the chorus", "crescendo", "cresc.", "getting louder"),
        "The band starts soft and gets louder and busier, bar by bar.",
    ),
    BandWord(
        Action.DOWN,
        ("down", "bring it down", "soft", "softer", "quiet", "sparse"),
        "The band plays softer and leaves more room.",
    ),
    BandWord(
        Action.UP,
        ("up", "bring it up", "big", "loud", "louder", "dig in"),
        "The band plays louder and fuller.",
    ),
    BandWord(
        Action.LIFT,
        ("lift", "last chorus lifts", "bigger"),
        "The band goes one step above everything before, as in a last chorus.",
    ),
    BandWord(
        Action.STOP_TIME,
        ("stop-time", "stop time", "stops"),
        "The band strikes each chord once, short, and leaves the rest of the bar to the singer.",
    ),
    BandWord(
        Action.RING_OUT,
        ("ring out", "let ring", "let it ring"),
        "The band strikes each chord once and lets it ring.",
    ),
    BandWord(
        Action.WALK_UP,
        ("walk-up", "walk up", "bass walks up"),
        "In this bar the bass steps up to the first note of the next bar.",
    ),
    BandWord(
        Action.FILLS,
        ("guitar fills", "guitar answers the vocal", "keys answer the singer", "fills"),
        "That player answers the singer in the gap at the end of each phrase; the guitar if you "
        "name nobody.",
    ),
    BandWord(
        Action.SLOW_DOWN,
        ("rit.", "ritard", "rall.", "slow down", "slower", "slowing"),
        "The band slows down bit by bit, up to where you write “a tempo” or to the end of the "
        "section.",
    ),
    BandWord(
        Action.A_TEMPO,
        ("a tempo", "back to tempo", "in tempo"),
        "The band plays in the first tempo again.",
    ),
    BandWord(
        Action.AS_BEFORE,
        ("as before", "back to normal", "groove", "in time"),
        "Everybody plays the way the section usually goes.",
    ),
)

# What may stand around an action without changing it.
PLAIN_WORDS = re.compile(
    r"\b(?:the|an?|let's|lets|gradually|slowly|slow(?!(?: it)? down)|bit|little|more|from here"
    r"|here|now|right|please|still|again|we|it's|its|and then)\b"
)
GOAL = re.compile(r"\b(?:to|into|till|until|for|toward|towards|through)\b.*")
SECTION = r"(?:(?:last|final|this|next)\s+)?(?:chorus|verse|section|bridge|tag|intro|outro)"
ONE_PLAYER = "|".join(sorted({w for words in PLAYERS.values() for w in words}, key=len)[::-1])
ALL = "|".join(EVERYBODY)
WHO = rf"(?P<who>(?:{ONE_PLAYER})(?:(?: ?[,&+/] ?| and | or | )(?:{ONE_PLAYER}))*|{ALL})"
BACK = r"(?:comes? |drops? |kicks? |back |stays? |lays? |sits? |goes? )*"
EFFECT = rf"(?:{SECTION} |{WHO} |bring it |turn it |take it |break it |comes? |gets? |getting )*"

# Patterns of a whole note, or of a part of one between commas, after its plain words are left out.
PATTERNS: tuple[tuple[Action, re.Pattern[str]], ...] = tuple(
    (action, re.compile(pattern))
    for action, pattern in (
        (Action.OUT, rf"{WHO} {BACK}(?:out|off|rests?|tacet|stops?|drops?)"),
        (Action.OUT, rf"(?:no|without|w/o|lose|drop) {WHO}"),
        (Action.OUT, r"(?P<who>tacet)"),
        (Action.IN, (rf"{WHO} {BACK}(?:in|back|enters?|joins?|returns?)|(?:add|enter|bring in) "
                    rf"{WHO.replace('who', 'added')}")),
        (Action.IN, r"(?P<who>full band|whole band|tutti|all in)"),
        (Action.ONLY, (rf"(?:{WHO} (?:only|alone|solo)|(?:only|just) "
                      rf"{WHO.replace('who', 'named')})")),
        (Action.ONLY, r"(?P<who>a ?cappella)|cappella"),
        (Action.BUILD, (rf"{EFFECT}(?:builds?|building|grows?|growing"
                       r"|cresc(?:endo)?)(?: up)?|getting louder")),
        (Action.LIFT, rf"{EFFECT}(?:lifts?|lift it|bigger|goes? up)"),
        (Action.DOWN, (rf"{EFFECT}(?:down(?: low)?|soft(?:ly|er)?|quiet(?:ly|er)?"
                      r"|sparse|light(?:ly|er)?|easy|low|breakdown)")),
        (Action.UP, (rf"{EFFECT}(?:up|big|loud(?:ly|er)?|full|strong|dig in"
                    r"|open up)")),
        (Action.STOP_TIME, r"(?:band |all )?(?:stop time|stops)"),
        (Action.RING_OUT, rf"(?:{WHO} )?(?:rings? out|let (?:it |them )?ring|l v)"),
        (Action.WALK_UP, r"(?:bass )?(?:walks?|walking) ?up"),
        (Action.FILLS, (rf"(?:{WHO} )?(?:fills?|licks?|answers?|answering|responds?)"
                       r"(?: (?:vocals?|vox|voice|singer|him|her|them|between lines))?")),
        (Action.SLOW_DOWN, (rf"{EFFECT}(?:poco |molto )?(?:rit(?:ard(?:ando)?)?|rall(?:entando)?"
                           r"|slower|slowing(?: down)?|slows?(?: it)? down|slows)")),
        (Action.A_TEMPO, r"(?:back )?(?:to |in |at )?(?:first |original |same )?tempo"),
        (Action.AS_BEFORE, r"as before|(?:back )?(?:to )?(?:in time|normal|groove|time)"),
    )
)  # fmt: skip
PARTS = re.compile(r"[,;]|\bthen\b|\bbut\b")
MOST_CHARACTERS = 80
BAND = frozenset(PLAYERS) - {"voice"}


@lru_cache(maxsize=1024)
def read_band_words(text: str) -> tuple[Instruction, ...]:
    """The instructions in a note, in order; none if the band knows none of its words."""
    if len(text) > MOST_CHARACTERS:
        return ()
    whole = _read(text)
    if whole is not None:
        return (whole,)
    found: list[Instruction | None] = []
    for part in PARTS.split(text.lower()):
        read = _read(part)
        found += [read] if read is not None else map(_read, part.split(" and "))
    return tuple(each for each in found if each is not None)


def _read(text: str) -> Instruction | None:
    """The instruction that a text as a whole is; None if it is none."""
    plain = text.lower().translate(str.maketrans("’`-–—", "''   ", '!.?"“”'))
    plain = " ".join(PLAIN_WORDS.sub(" ", plain).split())
    without_goal = " ".join(GOAL.sub("", plain).split())
    for written in (plain, without_goal):
        for action, pattern in PATTERNS:
            match = pattern.fullmatch(written)
            if match is not None:
                return Instruction(action, _players(action, match))
    return None


def _players(action: Action, match: re.Match[str]) -> frozenset[str]:
    """The players that a matched text names; for a fill the guitar if it names nobody."""
    groups = match.groupdict()
    text = next((each for each in groups.values() if each), "")
    if "cappella" in match[0]:
        return frozenset({"voice"})
    if text == "tacet":
        return BAND
    words = re.split(r" ?[,&+/] ?| and | or | ", text)
    named = {name for name, known in PLAYERS.items() if set(words) & set(known)}
    if named:
        return frozenset(named)
    if action is Action.FILLS:
        return frozenset({"guitar"})
    return BAND if action is Action.OUT else frozenset(PLAYERS)
