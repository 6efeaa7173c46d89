"""Lessons to hear: a few hand-written charts in which a sign, or two sounds that people mix up, can
be heard.

A lesson has two or three choices ("a push", "on the beat") and several lines of music. Each line is
written once for every choice, and the versions differ in what the lesson teaches. The first line is
for listening: every choice of it is heard by name. The other lines make the quick questions "which
did you hear?", whose line, key, tempo and answer are drawn by a seed, so that the learner has to
hear the sound and cannot just remember one bar.

`trainer.exercise.lesson_text` reads lessons from TOML.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from trainer.chart import Chart, Feel, Key, Meter

__all__ = ["GROUPS", "QUESTIONS", "Choice", "Lesson", "Line", "Question", "make_questions"]

# How the lessons are grouped on the page, in this order.
GROUPS = ("signs", "chords", "form and time")
QUESTIONS = 5


@dataclass(frozen=True, slots=True)
class Choice:
    """One of the sounds that the lesson compares, and how its charts are played.

    `name` is what the learner chooses, and `spoken` how it is read out: "5/7" is "five over seven".
    The key of its charts stands `up` semitones above the key of
    the question and is minor if `minor`; its tempo is the question's times `tempo_ratio`.
    """

    name: str
    spoken: str
    meter: Meter
    feel: Feel
    minor: bool = False
    up: int = 0
    tempo_ratio: float = 1.0


@dataclass(frozen=True, slots=True)
class Line:
    """The same few bars in a version for each choice, in the order of the choices."""

    charts: tuple[Chart, ...]


@dataclass(frozen=True, slots=True)
class Lesson:
    """A lesson as its file describes it.

    Attributes
    ----------
    id : the name of its file.
    order : its place among the lessons of its group.
    teaches : the skills whose levels open with it (`trainer.exercise.skills`).
    mixed_up : pairs of chords that it helps to tell apart.
    advice : the kinds of advice on an answer that it helps with, besides those on its skills.
    about : what the sign or the sound is, in plain words.
    listen_for : what to listen for to hear which choice it is.
    question : what is asked.
    tempo : the slowest and the fastest tempo of a question, in pulses a minute.
    """

    id: str
    title: str
    group: str
    order: int
    teaches: tuple[str, ...]
    mixed_up: tuple[tuple[str, str], ...]
    advice: tuple[str, ...]
    about: str
    listen_for: str
    question: str
    tempo: tuple[float, float]
    keys: tuple[Key, ...]
    band: str
    choices: tuple[Choice, ...]
    lines: tuple[Line, ...]

    def __hash__(self) -> int:
        """The hash of the id, so that a set of lessons costs no walk through their charts."""
        return hash(self.id)

    def chart(self, line: int, choice: int, key: Key, tempo: float) -> Chart:
        """The version of a line for a choice, both counted from 0, in a key and at a tempo."""
        how = self.choices[choice]
        own_key = Key(key.letter, key.alteration, how.minor).shifted(how.up % 12)
        return replace(self.lines[line].charts[choice], key=own_key, tempo=tempo * how.tempo_ratio)

    def example(self, choice: int) -> Chart:
        """The version of the first line for a choice, in the first key at a middling tempo."""
        return self.chart(0, choice, self.keys[0], round(sum(self.tempo) / 2))

    def example_rng(self) -> random.Random:
        """The random numbers that the band plays the examples with, the same for each choice."""
        return random.Random(f"{self.id}:example")


@dataclass(frozen=True, slots=True)
class Question:
    """A quick question: of the choices of a line in a key at a tempo, the one at `right` is played.

    `number` counts the questions of a seed from 1.
    """

    lesson: Lesson
    seed: int
    number: int
    line: int
    right: int
    key: Key
    tempo: float

    def chart(self, choice: int) -> Chart:
        """What is heard, if this choice is played."""
        return self.lesson.chart(self.line, choice, self.key, self.tempo)

    def band_rng(self) -> random.Random:
        """The random numbers that the band plays with, the same for each choice: the versions
        differ in nothing else than their charts."""
        return random.Random(f"{self.lesson.id}:{self.seed}:{self.number}")


def make_questions(lesson: Lesson, seed: int) -> tuple[Question, ...]:
    """The five questions of a seed: five different lines, no key twice in a row, and every choice
    right at least once."""
    rng = random.Random(f"{lesson.id}:{seed}")
    lines = rng.sample(range(1, len(lesson.lines)), QUESTIONS)
    rights = _shuffled_rights(len(lesson.choices), rng)
    low, high = (round(tempo) for tempo in lesson.tempo)
    key: Key | None = None
    questions = []
    for number, (line, right) in enumerate(zip(lines, rights, strict=True), 1):
        key = rng.choice([each for each in lesson.keys if each != key])
        tempo = float(rng.randint(low, high))
        questions.append(Question(lesson, seed, number, line, right, key, tempo))
    return tuple(questions)


def _shuffled_rights(choices: int, rng: random.Random) -> list[int]:
    """The right choice of each question: as often as it goes in whole rounds, the rest drawn."""
    rounds, rest = divmod(QUESTIONS, choices)
    rights = list(range(choices)) * rounds + [rng.randrange(choices) for _ in range(rest)]
    rng.shuffle(rights)
    return rights
