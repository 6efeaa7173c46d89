from __future__ import annotations

import re
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import FileError, SettingsError, SettingsErrorGroup
from trainer.exercise import (
    Help,
    Recipe,
    find_course,
    load_recipe,
    load_recipes,
    make_exercise,
    recipe_from_dict,
    recipe_from_text,
    recipe_to_dict,
)
from trainer.exercise.course import ABOUT_RULES, LEVEL_RULES
from trainer.exercise.lesson_rules import CHOICE_RULES, LESSON_RULES, LINE_RULES
from trainer.exercise.rules import ASKS, BANDS, RULES, SIZES
from trainer.exercise.sign_examples import SIGN_RULES
from trainer.exercise.skills import PLAIN_SKILLS
from trainer.generate import STYLES, Features

RATES = st.floats(0, 1)


@st.composite
def recipes(draw: st.DrawFn) -> Recipe:
    """Recipes without contradictions."""
    size = draw(st.sampled_from(SIZES))
    whole = RATES if size == "song" else st.just(0.0)
    splits = draw(RATES)
    features = Features(
        splits=splits,
        uneven_splits=draw(RATES) if splits else 0.0,
        slash_chords=draw(RATES),
        odd_phrases=draw(RATES),
        holds=draw(RATES),
        pushes=draw(RATES),
        chokes=draw(RATES),
        short_bars=draw(RATES),
        key_change=draw(whole),
        tag=draw(whole),
        later_changes=draw(whole),
    )
    styles = tuple(draw(st.lists(st.sampled_from(sorted(STYLES)), min_size=1, unique=True)))
    weights: tuple[float, ...] = ()
    if draw(st.booleans()):
        styles = tuple(name for name in STYLES if name in styles)
        weights = tuple(draw(st.floats(0.01, 1000)) for _ in styles)
    return Recipe(
        size=size,
        styles=styles,
        style_weights=weights,
        keys=tuple(draw(st.lists(st.sampled_from(["C", "Bb", "F#", "G"]), unique=True))),
        extensions=draw(RATES),
        features=features,
        band=draw(st.sampled_from(BANDS)),
        help=Help(draw(st.floats(0, 12)), draw(st.booleans()), draw(st.booleans())),
        listens=draw(st.integers(0, 99)),
        loop=draw(st.booleans()),
        ask=draw(st.sampled_from(ASKS)),
    )


@given(recipes())
def test_round_trip(recipe: Recipe) -> None:
    """A recipe comes back from its plain values the same, and so does its digest."""
    again = recipe_from_dict(recipe_to_dict(recipe), "here")
    assert again == recipe
    assert again.digest() == recipe.digest()


@given(recipes(), st.integers(0, 99))
def test_playing_changes_no_song(recipe: Recipe, listens: int) -> None:
    """What only says how a song is played does not enter the song's digest."""
    table = recipe_to_dict(recipe) | {"listens": listens, "band": "work tape"}
    other = recipe_from_dict(table, "here")
    assert other.digest(song_only=True) == recipe.digest(song_only=True)


def test_digest_ignores_defaults() -> None:
    """A value written out as its default changes no digest, so later keys change no old song."""
    assert recipe_from_dict({"size": "song", "minor": 0}, "x").digest() == Recipe().digest()
    assert recipe_from_dict({"minor": 0.5}, "x").digest() != Recipe().digest()


# Each wrong table, and for each problem: the key, what was found, a part of what is allowed.
WRONG: dict[str, tuple[dict[str, Any], list[tuple[str, str, str]]]] = {
    "unknown key": ({"sizes": "song"}, [("sizes", "an unknown key", "size, or another of size,")]),
    "unknown feature": (
        {"features": {"split": 0.1}},
        [("features.split", "an unknown key", "features.splits")],
    ),
    "wrong type": ({"listens": "two"}, [("listens", '"two"', "a whole number from 0 to 99")]),
    "a date": ({"listens": date(2026, 3, 2)}, [("listens", "2026", "a whole number")]),
    "a flag is no number": ({"listens": True}, [("listens", "true", "a whole number")]),
    "a number is no flag": ({"loop": 1}, [("loop", "1", "true or false")]),
    "listens negative": ({"listens": -1}, [("listens", "-1", "from 0 to 99 (0: no limit)")]),
    "rate too high": (
        {"features": {"holds": 1.5}},
        [("features.holds", "1.5", "a number from 0 to 1")],
    ),
    "rate not finite": (
        {"features": {"holds": float("nan")}},
        [("features.holds", "NaN", "a number from 0 to 1")],
    ),
    "unknown size": (
        {"size": "album"},
        [("size", '"album"', '"phrase", "section", "two sections", "song"')],
    ),
    "unknown style": (
        {"styles": ["polka"]},
        [("styles", '["polka"]', ", ".join(f'"{name}"' for name in STYLES))],
    ),
    "no style": ({"styles": []}, [("styles", "[]", "a list")]),
    "style twice": ({"styles": ["waltz", "waltz"]}, [("styles", "waltz", "without repeats")]),
    "style of weight 0": (
        {"styles": {"waltz": 0, "ballad": 1}},
        [("styles", '"waltz": 0', "a table of styles with weights above 0, at most 1000")],
    ),
    "unknown style with a weight": ({"styles": {"polka": 1}}, [("styles", "polka", '"waltz"')]),
    "no style with a weight": ({"styles": {}}, [("styles", "{}", "weights above 0")]),
    "a number too large for a float": (
        {"minor": 10**400, "tempo": [10**400, 90]},
        [("minor", "1000", "a number from 0 to 1"), ("tempo", "1000", "from 20 to 400")],
    ),
    "a number too large to show": ({"listens": 10**5000}, [("listens", "too large", "0 to 99")]),
    "unknown band": ({"band": "trio"}, [("band", '"trio"', '"work tape", "small", "full"')]),
    "unknown key name": ({"keys": ["H"]}, [("keys", '["H"]', "a key such as")]),
    "chord with bass": ({"chords": ["1", "5/7"]}, [("chords", "5/7", "without bass")]),
    "two chords": ({"chords": ["15"]}, [("chords", "15", "a chord in notation")]),
    "no chord": ({"chords": ["0"]}, [("chords", "0", "a chord in notation")]),
    "held chord": ({"chords": ["1d"]}, [("chords", "1d", "articulation")]),
    "unknown extension": ({"chords": ["5^8"]}, [("chords", "5^8", "maj7")]),
    "unknown ask": ({"ask": "all"}, [("ask", '"all"', '"roots", "chords", "everything"')]),
    "table expected": ({"features": 0.5}, [("features", "0.5", "a table [features]")]),
    "tempo alone": ({"tempo": 90}, [("tempo", "90", "[low, high]")]),
    "tempo too slow": ({"tempo": [5, 90]}, [("tempo", "[5, 90]", "from 20 to 400")]),
    "tempo upside down": ({"tempo": [120, 90]}, [("tempo", "[120, 90]", "[90, 120]")]),
    "bass too loud": (
        {"help": {"bass_lift_db": 40}},
        [("help.bass_lift_db", "40", "a number from 0 to 12")],
    ),
    "waltz in four": (
        {"styles": ["waltz"], "meters": ["4/4"]},
        [("meters", '"4/4" with styles "waltz"', '"3/4"')],
    ),
    "uneven without splits": (
        {"features": {"uneven_splits": 0.5}},
        [("features.uneven_splits", "0.5 with features.splits 0", "features.splits above 0")],
    ),
    "key change in a phrase": (
        {"size": "phrase", "features": {"key_change": 1, "tag": 0.5}},
        [
            ("features.key_change", '1 with size "phrase"', 'size "song"'),
            ("features.tag", '0.5 with size "phrase"', 'size "song"'),
        ],
    ),
    "no home": ({"chords": ["3-"]}, [("chords", "3- without 1", "a cadence in major")]),
    "no cadence": ({"chords": ["1", "3-"]}, [("chords", "without 5", "must lead to 1")]),
    "tempo and chords": (
        {"styles": ["waltz"], "tempo": [30, 40], "chords": ["4", "5"]},
        [
            ("tempo", "30 to 40 with the style 'waltz'", "84 to 126"),
            ("chords", "4, 5 without 1", "1: a cadence"),
        ],
    ),
    "favour what is not allowed": (
        {"chords": ["1", "5"], "favour": ["4"]},
        [("favour", '"4"', 'chords that are among chords: "1", "5"')],
    ),
    "bars upside down": ({"bars": [9, 4]}, [("bars", "[9, 4]", "[4, 9]")]),
    "bars alone": ({"bars": 8}, [("bars", "8", "[least, most] bars, each from 1 to 400")]),
    "more chords than there are": (
        {"chords": ["1", "5", "5^7"], "least_chords": 3},
        [("least_chords", "3 with 2 different chords allowed", "at most 2")],
    ),
    "unknown skill": ({"needs": ["holding"]}, [("needs", "holding", '"chord 6-", "bass 5/7"')]),
    "needs what cannot be": (
        {"chords": ["1", "5"], "needs": ["chord 4", "push", "bass 5/7"]},
        [
            ("needs", '"chord 4"', 'chords: "1", "5"'),
            ("needs", '"push" with features.pushes 0', "features.pushes above 0"),
            ("needs", '"bass 5/7" with features.slash_chords 0', "above 0, or another skill"),
        ],
    ),
    "lengths": ({"odd_lengths": [0, 3]}, [("odd_lengths", "[0, 3]", "from 1 to 16")]),
    "all at once": (
        {"sise": 1, "band": 3, "tempo": [99, 88], "features": {"uneven_splits": 1}},
        [
            ("sise", "an unknown key", "size"),
            ("band", "3", '"full"'),
            ("tempo", "[99, 88]", "[88, 99]"),
            ("features.uneven_splits", "1 with features.splits 0", "0"),
        ],
    ),
}


@pytest.mark.parametrize("case", WRONG)
def test_messages(case: str) -> None:
    """Every mistake is told at once with file, key, what was found and what is allowed."""
    table, expected = WRONG[case]
    with pytest.raises(SettingsErrorGroup) as caught:
        recipe_from_dict(table, "mine.toml")
    assert [error.where for error in caught.value.errors] == [
        f"mine.toml: {key}" for key, _, _ in expected
    ]
    lines = str(caught.value).splitlines()
    for line, (key, found, allowed) in zip(lines, expected, strict=True):
        assert line.startswith(f"mine.toml: {key}: found ")
        before, _, after = line.partition(", expected ")
        assert found in before
        assert allowed in after


def test_a_wrong_value_hides_only_its_own_contradictions() -> None:
    """A contradiction with a value that is wrong anyway is not told."""
    with pytest.raises(SettingsErrorGroup) as caught:
        recipe_from_dict({"features": {"splits": 7, "uneven_splits": 0.5}}, "x")
    assert [error.where for error in caught.value.errors] == ["x: features.splits"]


def test_file_errors(tmp_path: Path) -> None:
    """A file that is missing, no text or no TOML is told with its name."""
    missing = tmp_path / "none.toml"
    with pytest.raises(FileError, match=re.escape(str(missing))):
        load_recipe(missing)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"size = \xff")
    with pytest.raises(FileError, match="byte 7 is not UTF-8"):
        load_recipe(binary)
    broken = tmp_path / "broken.toml"
    broken.write_text("size = song\n")
    with pytest.raises(SettingsError, match=r"broken\.toml: found .*line 1"):
        load_recipe(broken)


# Texts that took the TOML reader down or kept it busy for a minute, and what is said of each.
HOSTILE = {
    "one key of 45,000 parts": ("a." * 45_000 + "a = 1", "more than 8,000 bytes"),
    "one key of 3,000 parts": ("a." * 3_000 + "a = 1", "3,001 levels of nesting"),
    "quoted parts": ("'a' . \"b\" . " * 500 + "c = 1", "1,001 levels of nesting"),
    "lists in lists": ("a = " + "[" * 3_000 + "]" * 3_000, "3,000 levels of nesting"),
    "tables in tables": ("a = " + "{a = " * 1_000 + "1", "1,000 levels of nesting"),
    "many keys": ("".join(f"k{n} = 1\n" for n in range(201)), "201 keys, expected at most 200"),
    "a number of 5,000 digits": ("listens = " + "9" * 5_000, "a number of more than 4,300 digits"),
    "a hexadecimal number": ("listens = 0x" + "f" * 5_000, "too large to show, expected a whole"),
    "a rate of 400 digits": ("minor = " + "9" * 400, "expected a number from 0 to 1"),
    "a string that is not ended": ('"\\' * 4_000, "a text that is not TOML"),
    "a lone surrogate": ('size = "\ud800"', "is not UTF-8"),
}


@pytest.mark.parametrize("case", HOSTILE)
def test_a_text_that_asks_too_much_is_refused(case: str) -> None:
    """A text that is too long, nested too deeply or has too large numbers is told as such."""
    text, said = HOSTILE[case]
    with pytest.raises((FileError, SettingsError)) as caught:
        recipe_from_text(text, "mine.toml")
    assert str(caught.value).startswith("mine.toml: ")
    assert said in str(caught.value)
    assert len(str(caught.value)) < 2_000


def test_the_longest_text_that_is_read(tmp_path: Path) -> None:
    """A recipe of 8,000 bytes is read, one byte more is refused, from a file as from a text."""
    text = 'size = "phrase" # [[[[[[ a.b.c.d.e.f = "'
    for long in (text.ljust(8_000, "."), text.ljust(8_000, "=")):
        assert recipe_from_text(long, "x") == Recipe(size="phrase")
        assert recipe_from_text(long.encode(), "x") == Recipe(size="phrase")
        path = tmp_path / "mine.toml"
        path.write_text(long + ".")
        with pytest.raises(FileError, match=r"mine\.toml: found more than 8,000 bytes"):
            load_recipe(path)


def test_weights_of_styles() -> None:
    """Styles with weights are drawn by them, in whatever order they were written."""
    text = 'styles = {waltz = 1, "straight pop" = 3}\n'
    recipe = recipe_from_text(text, "x")
    assert recipe == recipe_from_text('[styles]\n"straight pop" = 3.0\nwaltz = 1', "x")
    assert (recipe.styles, recipe.style_weights) == (("waltz", "straight pop"), (1.0, 3.0))
    assert recipe.settings().style_weights == (1.0, 3.0)
    assert recipe.digest() != Recipe(styles=("waltz", "straight pop")).digest()
    in_three = recipe_from_text(text + 'meters = ["3/4"]', "x").settings()
    assert (in_three.styles, in_three.style_weights) == (("waltz",), (1.0,))
    feels = Counter(make_exercise(recipe, seed).chart.feel.value for seed in range(60))
    assert 5 <= feels["waltz"] <= 25


def test_load_recipe_takes_a_level(tmp_path: Path) -> None:
    """A level of the course is read as a recipe."""
    path = tmp_path / "mine.toml"
    path.write_text('level.title = "x"\nsize = "phrase"\n[help]\ncount_off = false\n')
    assert load_recipe(path) == Recipe(size="phrase", help=Help(count_off=False))


def test_settings_carry_the_recipe() -> None:
    """The generator is asked for what the recipe says; meters keep the styles in them."""
    recipe = recipe_from_dict(
        {
            "styles": ["waltz", "straight pop"],
            "meters": ["3/4"],
            "tempo": [90, 100],
            "keys": ["D"],
            "chords": ["1", "4", "5"],
            "phrase_bars": 4,
            "size": "section",
            "features": {"splits": 0.2},
        },
        "x",
    )
    settings = recipe.settings()
    assert settings.styles == ("waltz",)
    assert settings.size == "section"
    assert settings.tempo_bpm == (90.0, 100.0)
    assert settings.keys == ("D",)
    assert settings.chords == ("1", "4", "5")
    assert settings.features == Features(splits=0.2)


def test_the_card_lists_every_skill() -> None:
    """The card of the exercises names every skill that has no number or name in it."""
    text = (find_course() / "README.md").read_text(encoding="utf-8")
    assert [name for name in PLAIN_SKILLS if f"`{name}`" not in text] == []


def test_the_card_lists_every_key() -> None:
    """The card of the exercises names each key and the names allowed, and no other key."""
    text = (find_course() / "README.md").read_text(encoding="utf-8")
    listed = re.findall(r"^\| `([^`]+)` \|", text, re.MULTILINE)
    files = [name for name in listed if name.endswith(".txt")]
    styles = [name for name in listed if name in STYLES]
    named = [each.name for each in load_recipes()]
    keys = [name for name in listed if name not in (*files, *styles, *named)]
    tables = [f"level.{name}" for name in LEVEL_RULES] + [f"about.{name}" for name in ABOUT_RULES]
    tables += [*LESSON_RULES, *(f"choices.{name}" for name in CHOICE_RULES)]
    tables += [*(f"lines.{name}" for name in LINE_RULES), *SIGN_RULES]
    assert keys == list(RULES) + tables
    assert [name for name in listed if name in named] == named
    assert styles == list(STYLES)
    for style in STYLES.values():
        low, high = style.tempo_bpm
        row = f"| `{style.name}` | {style.feel.value} | {style.meter} | {low} to {high} |"
        row += f" {style.band} |"
        assert row in text.splitlines()
    assert sorted(files) == sorted(path.name for path in find_course().glob("songs/*.txt"))
    for name in (*SIZES, *BANDS, *ASKS):
        assert f'`"{name}"`' in text
