"""What is known of every skill before anybody is graded: its kind, difficulty and wording.

The difficulty of a skill is in logits relative to a learner's general level; 0 is that of a 6- in
an ordinary bar. The numbers follow the order of the course (common practice, no source). They are
only where the estimate starts; every graded bar corrects it.
"""

from __future__ import annotations

from functools import lru_cache

__all__ = ["COMPONENT_KINDS", "describe_skill", "difficulty", "kind_of", "name_of"]

# The kinds of skill that are parts of a bar: its predicted score is the mean over them.
COMPONENT_KINDS = frozenset(
    (
        "chord",
        "extension",
        "bass",
        "even split",
        "uneven split",
        "hold",
        "push",
        "choke",
        "no chord",
        "short bar",
        "long bar",
        "key change",
    )
)
_NAMED = ("chord", "extension", "bass", "meter", "feel")

_DIFFICULTY = {
    "chord": 1.0,
    "chord 1": -1.2,
    "chord 1-": 0.2,
    "chord 4": -0.4,
    "chord 5": -0.6,
    "chord 6-": 0.0,
    "chord 2-": 0.3,
    "chord 3-": 0.6,
    "chord b7": 0.4,
    "chord 2": 0.7,
    "bass": 1.0,
    "bass 5/7": 0.5,
    "bass 1/3": 0.5,
    "extension": 0.8,
    "meter": -0.3,
    "meter 4/4": -1.5,
    "feel": 0.0,
    "feel straight": -1.0,
    "even split": 0.2,
    "uneven split": 0.9,
    "hold": 0.3,
    "push": 0.8,
    "choke": 0.5,
    "no chord": -0.5,
    "short bar": 0.8,
    "long bar": 1.0,
    "odd phrase": 0.6,
    "key change": 0.8,
    "section start": 0.0,
    "changed return": 0.6,
    "tag": 0.4,
    "minor home": 0.8,
    "away opening": 0.3,
    "relative home": 0.8,
    "twelve-bar form": 0.0,
    "pickup": 0.4,
    "vamp": 0.0,
}

_WORDS = {
    "even split": "evenly split bars",
    "uneven split": "unevenly split bars",
    "hold": "holds",
    "push": "pushes",
    "choke": "chokes",
    "no chord": "bars with no chord",
    "short bar": "short bars",
    "long bar": "long bars",
    "odd phrase": "phrases of unusual length",
    "key change": "key changes",
    "section start": "where a section starts",
    "changed return": "sections that come back changed",
    "tag": "tags",
    "minor home": "songs in minor",
    "away opening": "songs that don't start on the 1",
    "relative home": "minor songs counted from the major",
    "twelve-bar form": "the twelve-bar form",
    "pickup": "pickups",
    "vamp": "lines that repeat at the end",
}


@lru_cache(maxsize=4096)
def kind_of(skill: str) -> str:
    """The kind of a skill: "chord" for "chord 6-", the skill itself where it has no name.

    >>> kind_of("bass 5/7"), kind_of("odd phrase")
    ('bass', 'odd phrase')
    """
    kind = skill.partition(" ")[0]
    return kind if kind in _NAMED else skill


def name_of(skill: str) -> str:
    """What a skill is about within its kind: "6-" for "chord 6-", "" if it has no name."""
    kind, _, name = skill.partition(" ")
    return name if kind in _NAMED else ""


@lru_cache(maxsize=4096)
def difficulty(skill: str) -> float:
    """The difficulty of a skill before any answer, in logits."""
    found = _DIFFICULTY.get(skill)
    return _DIFFICULTY.get(kind_of(skill), 0.0) if found is None else found


def describe_skill(skill: str) -> str:
    """The name of a skill as it stands in a sentence.

    >>> describe_skill("chord 2-"), describe_skill("bass 5/7"), describe_skill("meter 3/4")
    ('2-', '5/7', '3/4 time')
    """
    name = name_of(skill)
    match kind_of(skill):
        case "chord" | "bass":
            return name
        case "extension":
            return f"chords with {name}"
        case "meter":
            return f"{name} time"
        case "feel":
            return f"the {name} feel"
    return _WORDS.get(skill, skill)
