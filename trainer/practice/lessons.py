"""Which lesson helps with what: with the skills of a level, with two chords that are mixed up, with
a piece of advice.

Quick questions are no evidence for ratings. A rating says how often a skill is heard in a song
whose chart is written freely; a quick question is a choice of two or three that the learner was
told of before, in a line of four bars, and a guess is right half of the time. The effect of a
lesson shows in the ratings when the learner writes the next song.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from trainer.exercise import Lesson, Level, articulation_skills

__all__ = ["lesson_for_advice", "lesson_for_pair", "lesson_for_skill", "level_lessons"]

ARTICULATIONS = ("hold", "push", "choke")
# The skills that a kind of advice may be about, the likeliest first.
SKILLS_BY_KIND = {
    "articulation left out": ARTICULATIONS,
    "articulation added": ARTICULATIONS,
    "articulation elsewhere": ARTICULATIONS,
    "other articulation": ("choke", "hold", "push"),
    "split missed": ("uneven split", "even split"),
    "split added": ("uneven split", "even split"),
    "split otherwise": ("uneven split", "even split"),
    "beats": ("uneven split", "even split"),
    "meter": ("short bar", "meter 6/8", "meter 3/4"),
    "meter elsewhere": ("short bar",),
    "key change": ("key change",),
    "phrases": ("odd phrase",),
}
EXTENSION = re.compile(r"\^[^/]*")

Pairs = Iterable[tuple[str, str]]


def level_lessons(lessons: Sequence[Lesson], level: Level) -> tuple[Lesson, ...]:
    """The lessons that a level opens with: those of the skills that it introduces."""
    new = set(level.introduced)
    return tuple(lesson for lesson in lessons if not new.isdisjoint(lesson.teaches))


def lesson_for_skill(lessons: Sequence[Lesson], skill: str) -> Lesson | None:
    """The lesson that teaches a skill, if there is one."""
    return next((lesson for lesson in lessons if skill in lesson.teaches), None)


def lesson_for_pair(lessons: Sequence[Lesson], played: str, written: str) -> Lesson | None:
    """The lesson that teaches the difference between two chords, whichever was played; None if
    there is none.

    Extensions count where a lesson is about them, and are passed over elsewhere: 5^7 for 2-^7 is
    5 for 2-.
    """
    exact = {played, written}
    plain = {EXTENSION.sub("", name) for name in exact}
    for wanted in (exact, plain):
        for lesson in lessons:
            if any(wanted == set(pair) for pair in lesson.mixed_up):
                return lesson
    return None


def lesson_for_advice(
    lessons: Sequence[Lesson], kind: str, cases: Pairs, skills: Iterable[str]
) -> Lesson | None:
    """The lesson that helps with a piece of advice; None if there is none.

    Parameters
    ----------
    kind : what the advice is about (`trainer.grade.Advice`).
    cases : what was played and what was written in each place that it cites, in notation.
    skills : the skills of the bars that it cites.
    """
    places = list(cases)
    for played, written in places:
        if (found := lesson_for_pair(lessons, played, written)) is not None:
            return found
    there = set(skills)
    if kind in SKILLS_BY_KIND:
        there.update(*(articulation_skills(text) for pair in places for text in pair))
    for skill in SKILLS_BY_KIND.get(kind, ()):
        if skill in there and (found := lesson_for_skill(lessons, skill)) is not None:
            return found
    return _lesson_named(lessons, kind) or _lesson_of_bass(lessons, kind, places)


def _lesson_named(lessons: Sequence[Lesson], kind: str) -> Lesson | None:
    """The lesson that names a kind of advice, or, failing that, what stands before its colon."""
    for name in (kind, kind.partition(":")[0]):
        for lesson in lessons:
            if name in lesson.advice:
                return lesson
    return None


def _lesson_of_bass(lessons: Sequence[Lesson], kind: str, cases: Pairs) -> Lesson | None:
    """The lesson of a slash chord whose bass was not heard."""
    if kind not in ("bass left out", "other bass"):
        return None
    skills = (f"bass {EXTENSION.sub('', played)}" for played, _ in cases)
    return next(filter(None, (lesson_for_skill(lessons, skill) for skill in skills)), None)
