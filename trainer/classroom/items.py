"""What can be assigned, and the songs it becomes: one for all, or others that are as difficult.

Songs come from seeds that are drawn at random over all there are, so that nobody finds the song of
an assignment by trying seeds. How difficult a song is, is what the rating model predicts for a
learner of whom nothing is known. Of `MIDDLE_OF` songs the one of middle difficulty is taken, and
songs as difficult are those whose predicted scores are within `TOLERANCE` of it.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from trainer.chart import Key
from trainer.errors import AssignmentError
from trainer.exercise import (
    MOST_SEED,
    Exercise,
    Level,
    load_course,
    make_exercise,
    named_recipe,
    recipe_from_dict,
    recipe_to_dict,
    song_digest,
)
from trainer.practice import MORE_EXERCISES, describe_skill, expected_score, more_recipe
from trainer.store import AssignmentItem, ItemWithSong

if TYPE_CHECKING:
    from trainer.exercise import Recipe
    from trainer.songbook import Songbook

__all__ = [
    "KINDS",
    "TOLERANCE",
    "ItemPlan",
    "another_song",
    "draw_seed",
    "level_of_item",
    "make_items",
    "with_new_songs",
]

KINDS = ("level", "recipe", "skill", "song")
# How far the predicted scores of two songs may be apart that count as equally difficult.
TOLERANCE = 0.02
MIDDLE_OF = 5
# How many songs are drawn to find one that is as difficult; then the nearest is taken.
MOST_DRAWN = 30
SLOWEST, FASTEST = 50, 130
MOST_LISTENS = 9
MOST_POINTS = 100.0


@dataclass(frozen=True, slots=True)
class ItemPlan:
    """What a teacher chooses for an item.

    `name` is the id of a level, the name of a recipe, or the uid of a song in the teacher's
    songbook; for "skill" it is the id of a level, and `skill` one of its skills. `version` and
    `key` are those of a song, None for its newest and its own. `listens` None leaves what the
    exercise allows; 0 is without limit.
    """

    kind: str
    name: str
    skill: str = ""
    version: int | None = None
    key: str = ""
    same_song: bool = True
    listens: int | None = None
    tempo: int = 100
    one_pass: bool = False
    points: float = 1.0

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise AssignmentError(f"Found {self.kind!r}, expected one of {', '.join(KINDS)}.")
        if self.listens is not None and not 0 <= self.listens <= MOST_LISTENS:
            raise AssignmentError(
                f"A song may be heard up to {MOST_LISTENS} times, or 0 for always."
            )
        if not SLOWEST <= self.tempo <= FASTEST:
            raise AssignmentError(f"The band plays at {SLOWEST}% to {FASTEST}% of the tempo.")
        if not 0 < self.points <= MOST_POINTS:
            raise AssignmentError(f"An item is worth more than 0 and up to {MOST_POINTS:g} points.")
        if self.kind == "song" and not self.same_song:
            raise AssignmentError("A song from your songbook is the same for everybody.")


def draw_seed() -> int:
    """A seed that nobody can guess."""
    return secrets.randbelow(MOST_SEED + 1)


def make_items(
    plan: ItemPlan, songbook: Songbook, seed: Callable[[], int] = draw_seed
) -> tuple[ItemWithSong, ...]:
    """The items of a plan, not stored yet: ten for a skill, else one.

    Raises
    ------
    AssignmentError
        If there is no such level, recipe or skill.
    SongNotFound, NotationError
        If the song is not in the teacher's songbook, or is no whole chart.
    """
    if plan.kind == "song":
        return (_song_item(plan, songbook),)
    source, title = _source(plan)
    made = []
    for _ in range(MORE_EXERCISES if plan.kind == "skill" else 1):
        exercise = _middle_song(source, plan, seed)
        made.append(_item(plan, title, {**source, "seed": exercise.seed}, exercise))
    return tuple(made)


def with_new_songs(item: ItemWithSong, seed: Callable[[], int] = draw_seed) -> ItemWithSong:
    """An item with another song that is as difficult, and its own sound; a song of the songbook
    stays."""
    fresh = replace(item, take=_new_take())
    if item.kind == "song":
        return fresh
    exercise = another_song(item, frozenset((song_digest(item.exercise),)), seed)
    source = {**item.source, "seed": exercise.seed}
    return replace(fresh, exercise=exercise, source=source, expected=expected_score(exercise))


def another_song(
    item: ItemWithSong, taken: Collection[str], seed: Callable[[], int] = draw_seed
) -> Exercise:
    """A song for an item that is as difficult as its example and is not among those `taken`, which
    are digests; the nearest of `MOST_DRAWN` if none is within `TOLERANCE`."""
    best: tuple[float, Exercise] | None = None
    for _ in range(MOST_DRAWN):
        made = _played(_generated(item.source, seed()), item.listens, item.tempo, item.one_pass)
        away = abs(expected_score(made) - item.expected)
        if song_digest(made) in taken or (best is not None and away >= best[0]):
            continue
        best = away, made
        if away <= TOLERANCE:
            break
    if best is None:
        raise AssignmentError(
            "There aren't enough different songs of this kind for everybody. Ask your teacher to "
            "give everyone the same song."
        )
    return best[1]


def level_of_item(item: AssignmentItem) -> Level | None:
    """The level of the course that an item counts for: the one it is of, if it is heard as in the
    course; None if there is none."""
    level = _levels().get(item.source.get("level", "")) if item.kind == "level" else None
    if level is None or item.tempo != 100 or item.one_pass:
        return None
    return level if item.listens == level.recipe.listens else None


@cache
def _levels() -> Mapping[str, Level]:
    return {level.id: level for level in load_course()}


def _source(plan: ItemPlan) -> tuple[dict[str, Any], str]:
    """Where the songs of a plan come from, and what pages call it."""
    if plan.kind == "recipe":
        found = named_recipe(plan.name)
        return {"recipe": found.name, "settings": recipe_to_dict(found.recipe)}, found.title
    level = _levels().get(plan.name)
    if level is None:
        raise AssignmentError(f"Found {plan.name!r}, expected the id of a level of the course.")
    if plan.kind == "level":
        settings = recipe_to_dict(level.recipe)
        return {"level": level.id, "settings": settings}, f"Level {level.number}: {level.title}"
    settings = recipe_to_dict(more_recipe(level, plan.skill))
    title = f"{describe_skill(plan.skill)}, from level {level.number}"
    return {"level": level.id, "skill": plan.skill, "settings": settings}, title


def _middle_song(source: Mapping[str, Any], plan: ItemPlan, seed: Callable[[], int]) -> Exercise:
    """The song of middle difficulty among a few, so that neither a hard one nor an easy one is the
    measure of all others."""
    drawn = [
        _played(_generated(source, seed()), plan.listens, plan.tempo, plan.one_pass)
        for _ in range(MIDDLE_OF)
    ]
    return sorted(drawn, key=expected_score)[MIDDLE_OF // 2]


def _generated(source: Mapping[str, Any], seed: int) -> Exercise:
    return make_exercise(_recipe(source), seed)


def _recipe(source: Mapping[str, Any]) -> Recipe:
    return recipe_from_dict(dict(source["settings"]), "assignment item")


def _song_item(plan: ItemPlan, songbook: Songbook) -> ItemWithSong:
    """An item with a song from the teacher's songbook, as it stands there now."""
    listens = 2 if plan.listens is None else plan.listens
    key = Key.parse(plan.key) if plan.key else None
    made = songbook.as_exercise(plan.name, listens=listens, key=key, number=plan.version)
    exercise = _played(made, listens, plan.tempo, plan.one_pass)
    source = {"song": plan.name, "version": plan.version, "digest": song_digest(made)}
    return _item(plan, made.chart.title or "A song", source, exercise)


def _item(
    plan: ItemPlan, title: str, source: Mapping[str, Any], exercise: Exercise
) -> ItemWithSong:
    return ItemWithSong(
        id=0,
        uid="",
        assignment_id=0,
        position=0,
        kind=plan.kind,
        title=title,
        source=source,
        same_song=plan.same_song,
        listens=exercise.listens,
        tempo=plan.tempo,
        one_pass=plan.one_pass,
        points=plan.points,
        take=_new_take(),
        expected=expected_score(exercise),
        exercise=exercise,
    )


def _played(song: Exercise, listens: int | None, tempo: int, one_pass: bool) -> Exercise:
    """A song as an item lets it be heard; its recipe says so too, for the prediction."""
    heard = 1 if one_pass else song.listens if listens is None else listens
    chart = song.chart
    if tempo != 100:
        chart = replace(chart, tempo=round(chart.tempo * tempo / 100, 1))
    return replace(
        song, chart=chart, listens=heard, loop=not heard, recipe={**song.recipe, "listens": heard}
    )


def _new_take() -> str:
    return secrets.token_urlsafe(18)
