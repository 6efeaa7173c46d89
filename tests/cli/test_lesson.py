"""Lessons at the terminal: the list, each sound by name, the questions, what is offered."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import soundfile

from tests.cli.conftest import Run
from trainer.errors import AudioDeviceMissing
from trainer.exercise import load_lessons, make_questions
from trainer.store import NewLessonRun, Store

LESSONS = {lesson.id: lesson for lesson in load_lessons()}
SEVEN = LESSONS["five-over-seven"]


def rights(folder: Path) -> str:
    """The letters of the right answers of the run that was begun in a record."""
    with Store.open(folder) as store:
        learner = store.learners.get("me")
        assert learner is not None
        run = store.lesson_runs.newest(learner, SEVEN.id)
        assert run is not None
        return "".join("ab"[question.right] for question in make_questions(SEVEN, run.seed))


def test_the_list_has_every_lesson(run: Run, tmp_path: Path) -> None:
    """Without a lesson named, all stand there by group, with what was done in each."""
    ran = run("lesson", "--data", tmp_path)
    assert ran.code == 0
    places = [ran.out.index(title) for title in ("Signs\n", "Chords\n", "Form and time\n")]
    assert places == sorted(places)
    assert all(re.search(rf"^  {name}\b", ran.out, re.MULTILINE) for name in LESSONS)


def test_a_lesson_that_is_not_there_is_refused(run: Run, tmp_path: Path) -> None:
    """The error names the lessons there are."""
    ran = run("lesson", "groove", "--data", tmp_path)
    assert ran.code == 2
    assert "lesson: found 'groove', expected one of hold, push, choke," in ran.err


@pytest.mark.usefixtures("silent_files")
def test_a_lesson_is_heard_and_answered(run: Run, tmp_path: Path) -> None:
    """The text, each sound by its letter, five questions with their answers, and how it went."""
    sound = tmp_path / "one.wav"
    begun = run("lesson", SEVEN.id, "--data", tmp_path, "--to", sound, typed="b\nx\n\nstop\n")
    said = " ".join(begun.out.split())
    assert begun.code == 0
    assert SEVEN.listen_for in said
    assert "`" not in begun.out
    assert "'x' isn't one of the choices. Press Enter, or type one of: a, b, stop" in said
    assert f"To continue: chart-trainer lesson {SEVEN.id}" in said
    assert soundfile.info(sound).duration > 8
    letters = rights(tmp_path)
    wrong = "b" if letters[0] == "a" else "a"
    typed = "\n" + f"{wrong}\na\n\n" + "".join(f"{letter}\n\n" for letter in letters[1:])
    done = run("lesson", SEVEN.id, "--data", tmp_path, "--to", sound, typed=typed)
    names = [SEVEN.choices["ab".index(letter)].name for letter in (letters[0], wrong)]
    assert f"It was {names[0]}, not {names[1]}." in done.out
    assert done.out.count("Right: ") == 4
    assert "4 of 5 right." in done.out
    assert "best 4 of 5" in run("lesson", "--data", tmp_path).out
    found = json.loads(run("progress", "--data", tmp_path, "--json").out)["lessons"]
    assert [(one["lesson"], one["answered"], one["right"], one["best"]) for one in found] == [
        (SEVEN.id, 5, 4, 4)
    ]


@pytest.mark.audio
def test_a_lesson_is_left_on_the_way(run: Run, tmp_path: Path) -> None:
    """What was answered before `stop`, or before the input ended, is kept."""
    sound = tmp_path / "one.wav"
    ran = run("lesson", SEVEN.id, "--data", tmp_path, "--to", sound, typed="\na\nstop\n")
    assert "To continue" in ran.out
    with Store.open(tmp_path) as store:
        learner = store.learners.get("me")
        assert learner is not None
        (kept,) = store.lesson_runs.all(learner)
    assert len(kept.answers) == 1


def test_without_sound_the_text_is_there(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where nothing can play, the command says what to do and goes on."""

    def none_there() -> None:
        raise AudioDeviceMissing("there is no audio output")

    monkeypatch.setattr("trainer.sound.require_audio_output", none_there)
    ran = run("lesson", "hold", "--data", tmp_path, typed="a\nstop\n")
    assert ran.code == 0
    assert "there is no audio output" in ran.out
    assert "Add --to FILE" in ran.out
    assert "What to listen for:" in ran.out


@pytest.mark.usefixtures("silent_files")
def test_a_level_offers_its_lesson(run: Run, tmp_path: Path) -> None:
    """Before the first exercise of a level the terminal names the lesson, until it is done."""
    song = tmp_path / "song.wav"
    offer = "To hear it first: chart-trainer lesson five-over-seven"

    def introduced() -> bool:
        ran = run("drill", "--level", "7", "--seed", "1", "--data", tmp_path, "--to", song,
                  typed="leave\n")  # fmt: skip
        return offer in " ".join(ran.out.split())

    assert introduced()
    with Store.open(tmp_path) as store:
        learner = store.learners.get("me")
        assert learner is not None
        answers = (("5/7", "5/7"),) * 5
        now = learner.created_at
        done = NewLessonRun(SEVEN.id, 1, now.date(), now, "1", now, answers)
        store.lesson_runs.add(learner, done)
    assert not introduced()


@pytest.mark.usefixtures("silent_files")
def test_lessons_are_exported_and_imported(run: Run, tmp_path: Path) -> None:
    """A record taken elsewhere has its lessons, and the import says so."""
    sound, file, other = tmp_path / "one.wav", tmp_path / "me.json", tmp_path / "other"
    run("lesson", SEVEN.id, "--data", tmp_path, "--to", sound, typed="\na\nstop\n")
    assert run("record", "export", file, "--data", tmp_path).code == 0
    assert len(json.loads(file.read_text(encoding="utf-8"))["lessons"]) == 1
    taken = run("record", "import", file, "--data", other)
    assert "1 lesson added" in taken.out
