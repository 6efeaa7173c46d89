"""Codes by which somebody else gets the same exercise."""

from __future__ import annotations

import base64
import json
import zlib
from dataclasses import replace

import pytest

from trainer.chart import Key, parse
from trainer.errors import SettingsError
from trainer.exercise import (
    MOST_SEED,
    Catalogue,
    Exercise,
    Recipe,
    excerpt_exercise,
    exercise_of_code,
    handed_out_exercise,
    make_exercise,
    own_song_exercise,
    song_code,
)
from trainer.exercise import codes as module
from trainer.exercise.exercise import SONG_RECIPE
from trainer.generate import GENERATOR_VERSION
from trainer.practice import speed_test

CATALOGUE = Catalogue.load()
LEVEL = CATALOGUE.course[8]


def of_level(seed: int = 55) -> Exercise:
    """An exercise of a level."""
    return make_exercise(LEVEL.recipe, seed, LEVEL)


def code_of(exercise: Exercise) -> str:
    """The code of an exercise that has one."""
    code = song_code(exercise, CATALOGUE)
    assert code is not None
    return code


def packed(made: object) -> str:
    """A code, rightly checked, that says anything."""
    plain = json.dumps(made).encode()
    content = module.PACKED + zlib.compress(plain) + b"00"
    return base64.b32encode(content + module._check(content)).decode().rstrip("=")


@pytest.mark.parametrize("number", range(0, len(CATALOGUE.course), 7))
def test_a_code_gives_the_same_exercise(number: int) -> None:
    """What a code makes is the exercise itself, level and all, however large the seed."""
    level = CATALOGUE.course[number]
    for seed in (0, MOST_SEED):
        exercise = make_exercise(level.recipe, seed, level)
        assert exercise_of_code(code_of(exercise), CATALOGUE) == exercise


def test_recipes_and_written_songs_have_codes() -> None:
    """So have songs of a named recipe, of any recipe, of a level with other help, and the house
    band's; a named recipe makes the code no longer than a level does."""
    recipe = Recipe(styles=("waltz",), tempo=(80.0, 100.0), keys=("D", "E"), listens=3)
    helped = replace(LEVEL.recipe, listens=9)
    for exercise in (
        make_exercise(CATALOGUE.recipes[0].recipe, 7),
        make_exercise(recipe, 7),
        make_exercise(helped, 7, LEVEL),
        CATALOGUE.songs[0],
    ):
        assert exercise_of_code(code_of(exercise), CATALOGUE) == exercise
    assert len(code_of(make_exercise(CATALOGUE.recipes[0].recipe, 7))) < 80


def test_codes_can_be_typed() -> None:
    """Spaces, hyphens and small letters make no difference, nor a digit for the letter like it."""
    exercise = of_level()
    code = code_of(exercise)
    assert set(code) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZ234567-")
    typed = code.lower().replace("-", " ").replace("o", "0").replace("b", "8")
    assert exercise_of_code(f"  {typed}\n", CATALOGUE) == exercise
    assert exercise_of_code(code.replace("-", ""), CATALOGUE) == exercise


def test_a_slip_is_noticed() -> None:
    """A letter that is wrong, left out, doubled or swapped gives an error and no other song."""
    code = code_of(of_level()).replace("-", "")
    other = {c: "B" if c == "A" else "A" for c in code}
    slips = [code[:k] + other[code[k]] + code[k + 1 :] for k in range(len(code))]
    slips += [code[:k] + code[k + 1 :] for k in range(len(code))]
    slips += [code[:k] + code[k] + code[k:] for k in range(len(code))]
    slips += [
        code[:k] + code[k + 1] + code[k] + code[k + 2 :]
        for k in range(len(code) - 1)
        if code[k] != code[k + 1]
    ]
    for slip in slips:
        if slip == code:
            continue
        with pytest.raises(SettingsError, match=r"^code: found"):
            exercise_of_code(slip, CATALOGUE)


def test_what_has_no_code() -> None:
    """A fixed test, bars that are practised, work for a class, a song of the songbook, and a song
    of an older generator have none."""
    whole = of_level()
    for exercise in (
        speed_test(3),
        excerpt_exercise(whole, 1, 2, 0, "attempt 1"),
        handed_out_exercise(whole, "abc", of="item", listens=2),
        own_song_exercise(parse("1 4 5 1"), "5d0d", SONG_RECIPE),
        replace(whole, generator_version="1"),
        replace(whole, level_id="gone"),
        replace(whole, seed=56),
        replace(CATALOGUE.songs[0], id="other", chart=replace(whole.chart, key=Key.parse("B"))),
    ):
        assert song_code(exercise, CATALOGUE) is None


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (7, "names no song"),
        ([1, 2], "names no song"),
        (["gone"], "song that is not here"),
        (["1", LEVEL.id, None, 3], 'version "1" of the song writer'),
        ([None, None, None, 3], "version null of the song writer"),
        ([GENERATOR_VERSION, "gone", None, 3], "level that is not here"),
        ([GENERATOR_VERSION, None, None, 3], "level that is not here"),
        ([GENERATOR_VERSION, None, "gone", 3], "recipe that is not here"),
        ([GENERATOR_VERSION, None, 3, 3], "names no recipe"),
        ([GENERATOR_VERSION, None, {"size": "opera"}, 3], "size"),
        ([GENERATOR_VERSION, LEVEL.id, None, "3"], "seed"),
        ([GENERATOR_VERSION, LEVEL.id, None, -3], "seed"),
        ([GENERATOR_VERSION, LEVEL.id, None, 55], "another version of the trainer"),
        ("x" * 30_000, "cannot be unpacked"),
    ],
)
def test_a_code_that_says_nonsense(made: object, expected: str) -> None:
    """Whatever a code with the right check says, a clear error tells what was wrong."""
    with pytest.raises(SettingsError, match=expected):
        exercise_of_code(packed(made), CATALOGUE)


@pytest.mark.parametrize("code", ["", "-", "A", "AAAA", "A" * 5000, "é", "ABC DEF!", "\0"])
def test_what_is_no_code(code: str) -> None:
    """A text that is no code at all is refused in words."""
    with pytest.raises(SettingsError, match=r"^code: found"):
        exercise_of_code(code, CATALOGUE)
