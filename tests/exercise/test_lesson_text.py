"""Lessons read from files: what is taken, and every mistake that is refused with its place."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from trainer.chart import Chart, Feel, Key, Meter
from trainer.errors import FileError, SettingsError, SettingsErrorGroup
from trainer.exercise import load_lesson, load_lessons

ABOUT = {
    "title": '"Four or two minor"',
    "group": '"chords"',
    "order": "1",
    "teaches": '["chord 2-"]',
    "mixed_up": '[["4", "2-"]]',
    "about": '"""\nThe 2- shares two notes\nwith the 4."""',
    "listen_for": '"The bass."',
    "tempo": "[80, 96]",
    "keys": '["C", "D"]',
    "band": '"small"',
}
CHOICES = ('name = "4"', 'name = "2-"')
LINES = tuple(
    f'charts = ["1 4 {last}", "1 2- {last}"]' for last in ("1", "4", "5", "6-", "2-", "3-")
)


def lesson_text(
    about: dict[str, str | None] | None = None,
    choices: tuple[str, ...] = CHOICES,
    lines: tuple[str, ...] = LINES,
) -> str:
    """A lesson's file; `about` changes values of its keys, None leaves one out."""
    values = ABOUT | (about or {})
    rows = [f"{key} = {value}" for key, value in values.items() if value is not None]
    rows += [f"[[choices]]\n{each}" for each in choices] + [f"[[lines]]\n{each}" for each in lines]
    return "\n".join(rows) + "\n"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where a lesson is written, in a folder of lessons."""
    (tmp_path / "lessons").mkdir()
    return tmp_path / "lessons" / "four.toml"


def test_a_lesson_is_read(path: Path) -> None:
    """Each value has its key's meaning; what is left out has its default."""
    path.write_text(lesson_text(), encoding="utf-8")
    lesson = load_lesson(path)
    assert (lesson.id, lesson.title, lesson.group) == ("four", "Four or two minor", "chords")
    assert lesson.about == "The 2- shares two notes with the 4."
    assert (lesson.teaches, lesson.mixed_up) == (("chord 2-",), (("4", "2-"),))
    assert lesson.question == "Which did you hear?"
    assert lesson.keys == (Key("C"), Key("D"))
    assert [(each.name, each.spoken) for each in lesson.choices] == [
        ("4", "four"),
        ("2-", "two minor"),
    ]
    assert {(each.meter, each.feel) for each in lesson.choices} == {(Meter(4, 4), Feel.STRAIGHT)}
    assert len(lesson.lines) == 6
    assert [str(bar.events[0].chord) for bar in lesson.lines[0].charts[1].bars()] == [
        "1",
        "2-",
        "1",
    ]


def test_a_choice_says_how_it_is_played(path: Path) -> None:
    """Meter, feel, mode, key and tempo of a chart are those of its choice over the question's."""
    six = 'name = "6/8"\nmeter = "6/8"'
    waltz = 'name = "a waltz"\nmeter = "3/4"\nminor = true\nup = -3\ntempo_ratio = 3'
    lines = tuple(f'charts = ["1 4 {last}", "1 4 {last}"]' for last in range(1, 7))
    path.write_text(lesson_text(choices=(six, waltz), lines=lines), encoding="utf-8")
    lesson = load_lesson(path)
    one, other = (lesson.chart(1, choice, Key("G"), 60.0) for choice in (0, 1))
    assert header_of(one) == ("6/8", Feel.SIX_EIGHT, "G", 60.0)
    assert header_of(other) == ("3/4", Feel.WALTZ, "E minor", 180.0)


def header_of(chart: Chart) -> tuple[str, Feel, str, float]:
    """What the header of a chart says, but for the title."""
    return str(chart.meter), chart.feel, str(chart.key), chart.tempo


MISTAKES: dict[str, tuple[str, list[str]]] = {
    "key unknown": (
        lesson_text({"colour": '"red"'}),
        [r"four.toml: colour: found an unknown key, expected one of title, group, order, .*"],
    ),
    "keys left out": (
        lesson_text({"title": None, "tempo": None}),
        [
            r"four.toml: title: found nothing, expected a text of at most 60 characters",
            r"four.toml: tempo: found nothing, expected \[low, high\] .*",
        ],
    ),
    "values": (
        lesson_text(
            {
                "group": '"sounds"',
                "order": "0",
                "teaches": '["chord 9"]',
                "mixed_up": '[["4", "4"]]',
                "about": '" "',
                "keys": '["C"]',
                "band": '"choir"',
            }
        ),
        [
            r'four.toml: group: found "sounds", expected one of "signs", "chords", "form and time"',
            r"four.toml: order: found 0, expected a whole number from 1 to 99",
            r'four.toml: teaches: found \["chord 9"\], expected a list of skills, .*',
            r'four.toml: mixed_up: found \[\["4", "4"\]\], expected a list of pairs of chords .*',
            r'four.toml: about: found " ", expected a text of at most 500 characters',
            r'four.toml: keys: found \["C"\], expected a list of at least two different keys .*',
            r'four.toml: band: found "choir", expected one of "work tape", "small", "full"',
        ],
    ),
    "no tables": (
        lesson_text(choices=(), lines=()),
        [
            r"four.toml: choices: found nothing, expected 2 to 3 tables \[\[choices\]\]",
            r"four.toml: lines: found nothing, expected 6 to 20 tables \[\[lines\]\]",
        ],
    ),
    "choices no tables": (
        lesson_text({"choices": "3"}, choices=()),
        [r"four.toml: choices: found 3, expected 2 to 3 tables \[\[choices\]\]"],
    ),
    "too few lines": (
        lesson_text(lines=LINES[:5]),
        [r"four.toml: lines: found 5, expected 6 to 20 tables \[\[lines\]\]"],
    ),
    "choice's values": (
        lesson_text(choices=('meter = "4/5"\nup = 12', 'name = "2-"\ntempo_ratio = 9\ntune = 1')),
        [
            r"four.toml: choices\[1\].name: found nothing, expected a text of at most 30 .*",
            r'four.toml: choices\[1\].meter: found "4/5", expected a meter such as "4/4" or "6/8"',
            r"four.toml: choices\[1\].up: found 12, expected a whole number of semitones .*",
            r"four.toml: choices\[2\].tune: found an unknown key, expected one of name, meter, .*",
            r"four.toml: choices\[2\].tempo_ratio: found 9, expected a number from 0.25 to 4",
        ],
    ),
    "choices together": (
        lesson_text(choices=('name = "4"', 'name = "4"\nmeter = "3/4"\nfeel = "shuffle"')),
        [
            r'four.toml: choices\[2\].name: found "4", expected a different name for each',
            r'four.toml: choices\[2\].feel: found "shuffle" in 3/4, expected one of "straight", .*',
        ],
    ),
    "charts": (
        lesson_text(
            lines=(
                *LINES[:4],
                'charts = ["1 x 1", "1\\n\\n1 9"]',
                'charts = ["1"]',
                'charts = ["1 4", "14"]',
                'charts = ["key: D\\n1 4", "1 5"]',
                "charts = []",
            )
        ),
        [
            r"four.toml: lines\[5\].charts\[1\], line 1, column 3: found .*x.*, expected .*",
            r"four.toml: lines\[5\].charts\[2\], line 3, column 3: found .*9.*, expected .*",
            r"four.toml: lines\[6\].charts: found 1, expected 2, one for each choice",
            r"four.toml: lines\[7\].charts: found two that sound the same, expected charts that .*",
            r"four.toml: lines\[8\].charts\[1\]: found a header, expected bars and .*",
            r"four.toml: lines\[9\].charts: found 0, expected 2, one for each choice",
        ],
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_every_mistake_of_a_file_is_told(path: Path, mistake: str) -> None:
    """Each mistake has a line that says where it is, what was found and what was expected."""
    text, expected = MISTAKES[mistake]
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsErrorGroup) as caught:
        load_lesson(path)
    lines = str(caught.value).splitlines()
    assert len(lines) == len(expected), lines
    for line, pattern in zip(lines, expected, strict=True):
        assert re.fullmatch(pattern, line), line


def test_the_mistakes_of_all_files_are_told_at_once(path: Path) -> None:
    """Files that cannot be read, are no TOML or are wrong are all named by one error."""
    path.write_text(lesson_text({"order": "0"}), encoding="utf-8")
    path.with_name("broken.toml").write_text("title =", encoding="utf-8")
    path.with_name("good.toml").write_text(lesson_text(), encoding="utf-8")
    with pytest.raises(SettingsErrorGroup, match=r"broken\.toml: found a text that is not TOML"):
        load_lessons(path.parents[1])
    with pytest.raises(SettingsErrorGroup, match=r"four\.toml: order: found 0"):
        load_lessons(path.parents[1])


def test_lessons_stand_by_group_and_order(path: Path) -> None:
    """Signs come first, then chords, then form; within a group the files say the order."""
    for name, group, order in (("a", "chords", 1), ("b", "signs", 2), ("c", "signs", 1)):
        text = lesson_text({"group": f'"{group}"', "order": str(order)})
        path.with_name(f"{name}.toml").write_text(text, encoding="utf-8")
    assert [lesson.id for lesson in load_lessons(path.parents[1])] == ["c", "b", "a"]


def test_a_folder_without_lessons_is_refused(tmp_path: Path) -> None:
    """The error names the folder and what a lesson's file is called."""
    with pytest.raises(FileError, match=r"lessons: found no lesson, expected files such as hold"):
        load_lessons(tmp_path)


def test_what_is_no_toml_is_refused(path: Path) -> None:
    """A single file that is no TOML says so."""
    path.write_text("[[", encoding="utf-8")
    with pytest.raises(SettingsError, match="not TOML"):
        load_lesson(path)
