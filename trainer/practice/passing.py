"""Whether a graded attempt passes a level, and which skills are still missing.

A level is passed when the score of the whole chart reaches the level's mark and each of its skills
that was met at least `LEAST_PLACES` times got its share of credit: `NEEDED` where the level
introduces the skill, `KEPT` where an earlier level did. Each skill that the exercise's recipe
promises in `thrice` has to be met as often; a song that was made before recipes promised it is
judged by what it has.

Places are defined in `trainer.exercise.places`, and the credits at them are the evidence of the
ratings (`trainer.practice.evidence`). The places of a key change are of its first bars too: the
mark and its interval each have the bar's credit for the key change, and each of the first bars in
the new key counts by its root. Of changed returns, each section that came back changed weighs the
same, whether one of its bars changed or eight.

A skill that is written in bars where it is not played loses credit for them, too: otherwise a hold
on every bar would show that the learner hears holds.

The shares are the rules of the course, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from trainer.exercise import KEY_BARS, LEAST_PLACES, Exercise, Level
from trainer.grade import number_word, whole_percent
from trainer.grade.text_pieces import join_words
from trainer.practice.catalogue import describe_skill, kind_of, name_of
from trainer.practice.evidence import WHOLLY_RIGHT, attempt_credits, is_added, is_asked, sections_of
from trainer.practice.graded import GradedBar

__all__ = ["SkillVerdict", "Verdict", "describe_verdict", "judge"]

NEEDED, KEPT = 0.8, 0.6
ADDED = 0.5
MOST_BARS_NAMED = 8
TIMES = ("not at all", "once", "twice")


@dataclass(frozen=True, slots=True)
class SkillVerdict:
    """How one skill of a level went: its places in the song and the mean credit there, 0 to 1.

    `needed` is the share that it takes; `missed` are the bars of the song, from 1, in which some of
    the credit is missing, `added` those in which it was written though it was not played, each of
    which counts as `ADDED` of a place without credit. `instead` is the one chord that was written
    at every place of a chord that the level introduces, "" if there is no such chord.
    """

    skill: str
    places: int
    credit: float
    needed: float
    missed: tuple[int, ...]
    added: tuple[int, ...] = ()
    instead: str = ""

    @property
    def is_met(self) -> bool:
        """Whether the song has it often enough to tell."""
        return self.places >= LEAST_PLACES

    @property
    def is_there(self) -> bool:
        """Whether it was met often enough and got its share."""
        return self.is_met and self.credit >= self.needed - 1e-9


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on an attempt at a level.

    `reached` says whether the score of the whole chart reaches the mark; `skills` are the skills
    judged, those of the level in its order.
    """

    reached: bool
    skills: tuple[SkillVerdict, ...]

    @property
    def missing(self) -> tuple[SkillVerdict, ...]:
        """The skills that are still missing."""
        return tuple(each for each in self.skills if not each.is_there)

    @property
    def passed(self) -> bool:
        """Whether the level is passed, if the attempt counts at all."""
        return self.reached and not self.missing


def judge(
    level: Level,
    exercise: Exercise,
    bars: Sequence[GradedBar],
    score: float,
    home_shift: str | None = None,
) -> Verdict:
    """Judge whether a graded attempt passes a level.

    Parameters: `bars` and `score` (0 to 1) are those of the report on `exercise`; `home_shift` is
    the kind of its home shift, None without one.
    """
    credits_ = attempt_credits(bars, exercise.ask, home_shift)
    promised = tuple(exercise.recipe.get("thrice") or ())
    judged = []
    for skill in dict.fromkeys((*promised, *level.skills)):
        if not is_asked(skill, exercise.ask, home_shift) and is_asked(skill, exercise.ask, None):
            # An answer from another home says nothing about it; the score and the skill of the home
            # do.
            continue
        places = tuple(_places(skill, bars, credits_))
        weight = sum(place.weight for place in places)
        mean = sum(place.weight * place.credit for place in places) / weight if places else 0.0
        missed = tuple(dict.fromkeys(p.bar for p in places if p.credit < WHOLLY_RIGHT))
        needed = NEEDED if skill in level.introduced else KEPT
        added = _added(skill, bars, exercise.ask, home_shift)
        # A learner who writes it everywhere does not hear it either.
        mean *= len(places) / max(1.0, len(places) + ADDED * len(added))
        instead = _written_instead(skill, bars) if skill in level.introduced else ""
        found = SkillVerdict(skill, len(places), mean, needed, missed, added, instead)
        if found.is_met or skill in promised:
            judged.append(found)
    return Verdict(score >= level.pass_mark, tuple(judged))


def _added(
    skill: str, bars: Sequence[GradedBar], ask: str, home_shift: str | None
) -> tuple[int, ...]:
    """The bars of the song in which a skill was written and not played, where it was asked."""
    if not is_asked(skill, ask, home_shift):
        return ()
    if skill in ("short bar", "long bar") and not any(bar.meter for bar in bars):
        # A chart in another meter throughout has no bars of another length.
        return ()
    found = (bar.reference for bar in bars if is_added(skill, bar))
    return tuple(number for number in found if number is not None)


def _written_instead(skill: str, bars: Sequence[GradedBar]) -> str:
    """The one chord that was written at every place of a chord or a slash chord, "" if none was."""
    if kind_of(skill) not in ("chord", "bass"):
        return ""
    written: set[str] = set()
    for bar in bars:
        if bar.reference is None or skill not in bar.skills:
            continue
        here = [other for played, other in bar.confusions if played == name_of(skill)]
        if not here:
            return ""
        written.update(here)
    return written.pop() if len(written) == 1 else ""


class _Place(NamedTuple):
    """A place of a skill: its bar in the song, the credit there, and how much it weighs."""

    bar: int
    credit: float
    weight: float = 1.0


def _places(
    skill: str, bars: Sequence[GradedBar], credits_: Sequence[dict[str, float]]
) -> Iterator[_Place]:
    """Each place of a skill."""
    if skill == "changed return":
        yield from _changed_places(bars, credits_)
        return
    for at, (bar, shown) in enumerate(zip(bars, credits_, strict=True)):
        if bar.reference is None or skill not in shown:
            continue
        yield _Place(bar.reference, shown[skill])
        if skill == "pickup":
            yield _Place(bar.reference, shown[skill])
            yield from _first_of_key(bars[at + 1 :], most=1)
        if skill == "key change":
            yield _Place(bar.reference, shown[skill])
            yield from _first_of_key(bars[at:])


def _changed_places(
    bars: Sequence[GradedBar], credits_: Sequence[dict[str, float]]
) -> Iterator[_Place]:
    """The places of changed returns: each section that came back changed weighs the same."""
    for section in sections_of(bars):
        changed = [at for at in section if "changed return" in credits_[at]]
        for at in changed:
            number = bars[at].reference
            if number is not None:
                yield _Place(number, credits_[at]["changed return"], 1 / len(changed))


def _first_of_key(bars: Sequence[GradedBar], most: int = KEY_BARS) -> Iterator[_Place]:
    """The first bars in a new key or after a pickup, each with the credit of its root."""
    played = [bar for bar in bars if bar.reference is not None]
    for bar in played[:most]:
        if bar.reference is not None:
            yield _Place(bar.reference, bar.root or 0.0)


def describe_verdict(verdict: Verdict) -> tuple[str, ...]:
    """What is still missing, in a sentence for each skill."""
    return tuple(_describe(each, verdict.reached) for each in verdict.missing)


def _describe(found: SkillVerdict, reached: bool) -> str:
    name = describe_skill(found.skill)
    if not found.is_met:
        return (
            f"Too few to tell: {name}. This came up {_times(found.places)} here; the level needs "
            f"it {_times(LEAST_PLACES)}."
        )
    said = (
        f"Needs work: {name}.{_one_slip(found, name, reached)} You got {_percent(found.credit)} of "
        f"the credit here and need {_percent(found.needed)}."
    )
    if found.missed:
        said += f" Look at {_bars(found.missed)}."
    if found.added:
        said += f" You also wrote this in {_bars(found.added)}, but the band didn't play it there."
    return said


def _one_slip(found: SkillVerdict, name: str, reached: bool) -> str:
    """Say why the grade is high though one chord was written for another throughout."""
    if not found.instead:
        return ""
    said = f" You wrote {found.instead} for every {name}."
    if not reached:
        return said
    return (
        f"{said} It's one slip, so your grade is still high enough; but this level is about "
        f"{name}, so you haven't passed it yet."
    )


def _bars(numbers: Sequence[int]) -> str:
    """Bars by their numbers, as in "bars 4, 8 and 2 more"."""
    names = [str(number) for number in numbers[:MOST_BARS_NAMED]]
    if len(numbers) > MOST_BARS_NAMED:
        names.append(f"{len(numbers) - MOST_BARS_NAMED} more")
    return f"bar{'s' * (len(numbers) > 1)} {join_words(names)}"


def _times(number: int) -> str:
    """How often something came up: "not at all", "once", "twice", "three times"."""
    return TIMES[number] if number < len(TIMES) else f"{number_word(number)} times"


def _percent(share: float) -> str:
    """A share as it stands in a sentence."""
    return f"{whole_percent(share)}%"
