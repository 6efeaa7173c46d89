"""Everything stored is rewritten in the signs and words of this revision.

`1_5` becomes `(1 5)`, `7h` becomes `7ø`, `1s` becomes `1c`, `(2/4)` becomes `[2/4]` and `(key +2)`
becomes `[up 2]`; a "stop" is called a choke. This goes for the charts, recipes and skills of
exercises, for what was typed, for the chords and skills of graded bars and for the chords that
reports quote. Scores stay as they are, and so does what cannot be read. Ratings that know a skill
by its old name are made again.

Revision ID: 0007
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from hashlib import sha256
from typing import Any

import sqlalchemy as sa
from alembic import op

from trainer.store.migrations.signs import new_sentence, new_skill, new_text
from trainer.store.migrations.stored_signs import (
    new_bar,
    new_exercise,
    new_name,
    new_report,
    new_stamps,
)

revision = "0007"
down_revision = "0006"

# What a graded bar has somewhere if any of its chords or skills has another name now.
OLD_NAMES = ('"stop"', *(f"{number}h" for number in range(1, 8)))

Values = dict[str, Any]
Row = Mapping[str, Any]
Kinds = dict[str, sa.types.TypeEngine[Any]]


def upgrade() -> None:
    """Rewrite every row that has old signs."""
    _rewrite("exercises", ("id",), {"data": sa.JSON(), "song": sa.Text()}, _exercise)
    texts: Kinds = {"answer_text": sa.Text(), "report": sa.JSON()}
    _rewrite("submissions", ("attempt_id",), texts, _submission)
    names: Kinds = {"played": sa.Text(), "written": sa.Text()}
    names |= {"confusions": sa.JSON(), "skills": sa.JSON()}
    _rewrite("bar_results", ("attempt_id", "position"), names, _bar, having=OLD_NAMES)
    _rewrite("set_items", ("id",), {"skills": sa.JSON(), "reason": sa.Text()}, _item)
    keys = ("learner_id", "exercise_id")
    _rewrite("drills", keys, {"text": sa.Text(), "stamps": sa.Text()}, _drill)
    for name in ("skill_days", "skill_states", "rating_days"):
        _rename(name, "skill", new_skill)
    for column in ("played", "written"):
        _rename("confusion_days", column, new_name)
    _rate_again()


def _rate_again() -> None:
    """Let ratings that know a renamed skill be made again from the attempts.

    A bar's skills are worked through in alphabetical order, and that changes the figures a little.
    Ratings of another model than the present one (0 is none) are made again when they are needed.
    """
    op.execute(
        "UPDATE practice_states SET model = 0 WHERE learner_id IN "
        "(SELECT learner_id FROM skill_states WHERE skill = 'choke' OR skill LIKE '%ø%')"
    )


def _exercise(row: Row) -> Values:
    new = _new_json(row, "data", new_exercise)
    chart = new["data"].get("chart") if isinstance(new.get("data"), dict) else None
    return new | {"song": _digest(chart)} if isinstance(chart, dict) else new


def _submission(row: Row) -> Values:
    return _new_json(row, "report", new_report) | {"answer_text": new_text(row["answer_text"])}


def _bar(row: Row) -> Values:
    new: Values = {}
    for name in row:
        read = _new_json(row, name, lambda value: value)
        new |= new_bar(read)
    for name in ("played", "written"):
        if name in new:
            new[name] = json.dumps(new[name], separators=(",", ":"))
    return new


def _item(row: Row) -> Values:
    new = _new_json(row, "skills", lambda skills: [new_skill(each) for each in skills])
    return new | {"reason": new_sentence(row["reason"])}


def _drill(row: Row) -> Values:
    return {"text": new_text(row["text"]), "stamps": new_stamps(row["text"], row["stamps"])}


def _new_json(row: Row, name: str, new: Callable[[Any], Any]) -> Values:
    """The value of a column that holds JSON, made new; nothing where it is damaged."""
    try:
        return {name: new(json.loads(row[name]))}
    except (ValueError, RecursionError):
        return {}


def _digest(chart: Mapping[str, Any]) -> str:
    """`trainer.exercise.chart_digest` as it was when this migration was written."""
    told = {key: value for key, value in chart.items() if key != "text"}
    plain = json.dumps(told, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return sha256(plain.encode()).hexdigest()


def _rewrite(
    name: str,
    keys: Sequence[str],
    columns: Kinds,
    new: Callable[[Row], Values],
    having: Sequence[str] = (),
) -> None:
    """Give columns of a table new values.

    `new` is given the columns of a row as text and returns those that change. Where `having` names
    something, only rows that have one of it in one of the columns are looked at.
    """
    kinds = (sa.column(each, kind) for each, kind in columns.items())
    table = sa.table(name, *map(sa.column, keys), *kinds)
    texts = {each: sa.cast(table.c[each], sa.Text()) for each in columns}
    query = sa.select(*(table.c[key] for key in keys))
    if having:
        query = query.where(sa.or_(*(t.contains(old) for t in texts.values() for old in having)))
    bind = op.get_bind()
    # A cursor must not meet its own changes, and not all reports fit into memory at once.
    for found in bind.execute(query).all():
        here = sa.and_(*(table.c[key] == value for key, value in zip(keys, found, strict=True)))
        shown = sa.select(*(text.label(each) for each, text in texts.items())).where(here)
        before = dict(bind.execute(shown).mappings().one())
        after = new(before).items()
        changed = {each: v for each, v in after if _is_new(columns[each], before[each], v)}
        if changed:
            bind.execute(table.update().where(here).values(changed))


def _is_new(kind: sa.types.TypeEngine[Any], before: str, value: Any) -> bool:
    return bool((json.loads(before) if isinstance(kind, sa.JSON) else before) != value)


def _rename(name: str, column: str, new: Callable[[str], str]) -> None:
    """Give the values of a column that are names their new ones."""
    table = sa.table(name, sa.column(column))
    bind = op.get_bind()
    for before in bind.execute(sa.select(table.c[column]).distinct()).scalars().all():
        after = new(before)
        if after != before:
            bind.execute(table.update().where(table.c[column] == before).values({column: after}))
