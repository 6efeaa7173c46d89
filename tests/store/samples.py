"""A learner's evening at the Millrace school, as JSON; shared by the store's tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from trainer.store import AttemptRecord, ExerciseRecord, Learner, Repositories, Sitting

NOW = datetime(2026, 3, 2, 19, 30, tzinfo=UTC)
PLAYED = ("1", "1_5/7", "6-", "4")
WRITTEN = ("1", "1", "6-", "2-")
SKILLS = (("chord 1",), ("chord 1", "chord 5", "even split"), ("chord 6-",), ("chord 4",))
TEXT = "1 1 6- 2-"


def chart(*bars: str, title: str = "Lantern on the Levee") -> dict[str, Any]:
    """A CHART of one phrase; a bar's chords are joined by "_"."""
    written = [
        {"meter": "4/4", "key_change": 0, "events": [_event(c, bar) for c in bar.split("_")]}
        for bar in bars
    ]
    sections = [{"name": "Verse 1", "kind": "verse", "phrases": [{"bars": written}]}]
    return {"title": title, "meter": "4/4", "tempo": 92.0, "feel": "straight", "key": "D",
            "text": f"Verse 1:\n{' '.join(bars)}\n", "sections": sections}  # fmt: skip


def _event(chord: str, bar: str) -> dict[str, Any]:
    beats = "4" if "_" not in bar else "2"
    return {"chord": None if chord == "0" else chord, "beats": beats, "articulation": None}


def exercise(number: int = 1, level: int | None = 3) -> dict[str, Any]:
    """An exercise as JSON."""
    return {
        "id": f"millrace-{number}",
        "level": level,
        "recipe": {"size": "phrase", "chords": ["1", "4", "5", "6-"]},
        "seed": number,
        "generator_version": "1",
        "skills": ["chord 1", "chord 4"],
        "chart": chart(*PLAYED),
    }


def report(score: float = 0.625) -> dict[str, Any]:
    """What grading `WRITTEN` against `PLAYED` says, half the second bar and the last one lost."""
    scores = (1.0, 0.5, 1.0, 0.0)
    parts = ("score", "root", "quality", "bass", "placement", "articulation", "strict")
    bars = [
        {"reference": n, "answer": n, **dict.fromkeys(parts, s)} for n, s in enumerate(scores, 1)
    ]
    confusions = [
        {"bar": 2, "played": "5/7", "written": "1", "share": 0.5},
        {"bar": 4, "played": "4", "written": "2-", "share": 1.0},
    ]
    return {
        "score": score,
        "bars": bars,
        "phrases": {"precision": 1.0, "recall": 1.0, "f": 1.0},
        "form": {},
        "home_shift": None,
        "confusions": confusions,
        "advice": ["Bar 4: 4 and 2- share two tones."],
    }


def sitting(now: datetime = NOW, **more: Any) -> Sitting:
    """Two minutes of work up to `now`."""
    return Sitting(started_at=now - timedelta(minutes=2), **more)


def hand_in(
    store: Repositories,
    learner: Learner,
    kept: ExerciseRecord,
    now: datetime = NOW,
    *,
    score: float = 0.625,
    token: str | None = None,
) -> AttemptRecord:
    """Record the sample answer to a kept exercise."""
    return store.attempts.record(
        learner,
        kept,
        TEXT,
        report(score),
        sitting(now, lag_beats=(1.0, None, 3.0)),
        now,
        answer_chart=chart(*WRITTEN),
        bar_skills=SKILLS,
        token=token,
    )
