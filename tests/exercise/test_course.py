from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.benchmarks.course import taught
from tests.generate.everyday import EVERYDAY
from trainer.errors import FileError, MissingError, SettingsError, SettingsErrorGroup
from trainer.exercise import course as course_module
from trainer.exercise import (
    find_course,
    load_course,
    load_lessons,
    load_level,
    load_recipes,
    named_recipe,
)

COURSE = load_course()


def test_at_least_24_levels() -> None:
    """The course has at least 24 levels, numbered from 1, each with a title of its own."""
    assert len(COURSE) >= 24
    assert [level.number for level in COURSE] == list(range(1, len(COURSE) + 1))
    assert len({level.title for level in COURSE}) == len(COURSE)


def test_help_fades() -> None:
    """Level by level listens never rise, and the last song is one work tape heard once."""
    listens = [level.recipe.listens or 99 for level in COURSE]
    assert listens == sorted(listens, reverse=True)
    loops = [level.recipe.loop for level in COURSE]
    assert loops == sorted(loops, reverse=True)
    lights = [("bars", "beats", "off").index(level.recipe.help.light) for level in COURSE]
    assert lights == sorted(lights)
    assert set(lights) == {0, 1, 2}
    assert COURSE[0].recipe.help.tonic_first
    assert COURSE[0].recipe.listens == 0
    last = COURSE[-1].recipe
    assert (last.size, last.listens, last.band, last.help.bass_lift_db) == (
        "song",
        1,
        "work tape",
        0.0,
    )


def test_sizes_grow() -> None:
    """The course begins with phrases; two sections come after all sections, and songs last."""
    sizes = [level.recipe.size for level in COURSE]
    grouped = [size.replace("phrase", "section") for size in sizes]
    assert sizes[:6] == ["phrase"] * 6
    assert grouped == sorted(grouped, key=("section", "two sections", "song").index)
    assert set(sizes) == {"phrase", "section", "two sections", "song"}


def test_home_is_given_until_the_level_that_says_when_it_goes() -> None:
    """The band plays the 1 first in every level before the one about finding home, which says that
    it no longer does, and in none from there on."""
    given = [level.recipe.help.tonic_first for level in COURSE]
    turn = given.index(False)
    assert given == [True] * turn + [False] * (len(COURSE) - turn)
    assert COURSE[turn].id == "finding-home"
    assert "From this level on the band no longer plays the 1 first" in COURSE[turn].introduces


def test_what_a_recipe_allows_was_taught() -> None:
    """The chords and slash chords that a level's recipe names are all taught by then."""
    for level in COURSE:
        known = taught(COURSE[: level.number])
        recipe = level.recipe
        assert {f"bass {name}" for name in recipe.basses} <= known, level.id
        assert set(recipe.within) <= known, level.id
        assert bool(recipe.basses) == bool(recipe.features.slash_chords), level.id


def _write(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text)
    return path


GOOD = (
    'level.id = "a"\nlevel.title = "A"\nlevel.introduces = "B"\nlevel.skills = ["hold"]\n'
    "level.pass_mark = 0.9\n"
)


def test_wrong_level(tmp_path: Path) -> None:
    """All that is wrong in a level and in its recipe is told at once."""
    path = _write(
        tmp_path,
        "level-01.toml",
        'level.title = ""\nlevel.skills = ["holding"]\nlevel.pass_mark = 3\nlevel.name = "x"\n'
        'size = "album"\n',
    )
    with pytest.raises(SettingsErrorGroup) as caught:
        load_level(path)
    assert {error.where for error in caught.value.errors} == {
        f"level-01.toml: {key}"
        for key in (
            "level.id",
            "level.title",
            "level.introduces",
            "level.skills",
            "level.pass_mark",
            "level.name",
            "size",
        )
    }
    assert '"chord 6-"' in str(caught.value)


@pytest.mark.parametrize("value", ["3", "true", '"x"'])
def test_level_table_wanted(tmp_path: Path, value: str) -> None:
    """A level that is no table is told."""
    path = _write(tmp_path, "level-01.toml", f"level = {value}\n")
    with pytest.raises(SettingsErrorGroup, match=r"level: found .* a table \[level\]"):
        load_level(path)


def test_wrong_course(tmp_path: Path) -> None:
    """A course tells the mistakes of all its files, gaps in its numbers and wrong file names."""
    with pytest.raises(FileError, match="found no level"):
        load_course(tmp_path)
    _write(tmp_path, "level-01.toml", GOOD + "size = 3\n")
    _write(tmp_path, "level-02.toml", "size = song\n")
    _write(tmp_path, "level-x.toml", GOOD)
    with pytest.raises(SettingsErrorGroup) as caught:
        load_course(tmp_path)
    assert [error.where for error in caught.value.errors] == [
        "level-01.toml: size",
        "level-02.toml",
        "level-x.toml",
    ]
    for name in ("level-02.toml", "level-x.toml"):
        (tmp_path / name).unlink()
    _write(tmp_path, "level-01.toml", GOOD)
    _write(tmp_path, "level-02.toml", GOOD)
    with pytest.raises(SettingsErrorGroup, match=r"level-02\.toml: level\.id: .*level-01\.toml"):
        load_course(tmp_path)
    (tmp_path / "level-02.toml").unlink()
    _write(tmp_path, "level-03.toml", GOOD.replace('"a"', '"c"'))
    with pytest.raises(SettingsError, match=r"level-03\.toml: found level 3, expected level 2"):
        load_course(tmp_path)


def test_level_as_loaded(tmp_path: Path) -> None:
    """A level carries its number, words, skills, pass mark, recipe and path."""
    path = _write(tmp_path, "level-01.toml", GOOD + "listens = 5\n")
    (level,) = load_course(tmp_path)
    assert (level.number, level.id, level.title, level.introduces) == (1, "a", "A", "B")
    assert (level.skills, level.pass_mark) == (("hold",), 0.9)
    assert level.recipe.listens == 5
    assert level.path == path


def test_find_course(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The course is found beside the code, else where it was installed, else it is told where."""
    assert (find_course() / "level-01.toml").is_file()
    installed = tmp_path / "share"
    installed.mkdir()
    _write(installed, "level-01.toml", GOOD)
    monkeypatch.setattr(course_module, "CHECKOUT", tmp_path / "none")
    monkeypatch.setattr(course_module, "INSTALLED", installed)
    assert find_course() == installed
    monkeypatch.setattr(course_module, "INSTALLED", tmp_path / "nowhere")
    with pytest.raises(MissingError, match=r"none.*nowhere"):
        find_course()


def test_everyday_is_a_named_recipe() -> None:
    """The recipe `everyday` asks the generator for its everyday mixture, weights included."""
    settings = named_recipe("everyday").recipe.settings()
    asked = dict(zip(settings.styles, settings.style_weights, strict=True))
    own = dict(zip(EVERYDAY.styles, EVERYDAY.style_weights, strict=True))
    assert {name: weight / sum(asked.values()) for name, weight in asked.items()} == pytest.approx(
        {name: weight / sum(own.values()) for name, weight in own.items()}
    )
    styles, weights = EVERYDAY.styles, EVERYDAY.style_weights
    assert replace(settings, styles=styles, style_weights=weights) == EVERYDAY


def test_named_recipes() -> None:
    """Each has a name, a title and a description; another name is told with those there are."""
    assert all(each.title and each.description.endswith(".") for each in load_recipes())
    names = [each.name for each in load_recipes()]
    assert names == sorted(path.stem for path in find_course().glob("recipes/*.toml"))
    with pytest.raises(SettingsError, match=r'"everday", expected one of the recipes .*everyday'):
        named_recipe("everday")


def test_wrong_named_recipe(tmp_path: Path) -> None:
    """All that is wrong in the file of a named recipe is told at once."""
    (tmp_path / "recipes").mkdir()
    _write(tmp_path / "recipes", "mine.toml", 'about.title = ""\nsize = 3\nabout.name = "x"\n')
    with pytest.raises(SettingsErrorGroup) as caught:
        load_recipes(tmp_path)
    assert [error.where for error in caught.value.errors] == [
        "mine.toml: about.name",
        "mine.toml: about.title",
        "mine.toml: about.description",
        "mine.toml: size",
    ]


def test_the_trainers_own_course_is_read_once() -> None:
    """Without a folder the same levels and lessons are given each time, and none is read anew."""
    assert load_course() is load_course()
    assert load_lessons() is load_lessons()
    assert load_course(find_course()) == load_course()
    assert load_course(find_course()) is not load_course()
