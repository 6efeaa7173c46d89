"""A record from an export, with the ratings and sums that follow from it."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.databases import put_store
from tests.drill.evening import Clock, answered, in_time, shown, stored
from tests.store.samples import NOW, SONG, TEXT, chart, exercise
from tests.thorough import how_many
from trainer.drill import Drills, find_result, import_record, rating_state
from trainer.errors import FileError, SettingsError, StoreError, TrainerError
from trainer.practice import speed_test
from trainer.store import Store


@pytest.fixture
def other_store(record: Path) -> Iterator[Store]:
    """An empty store elsewhere."""
    with Store(record) as store:
        yield store


def export(drills: Drills) -> str:
    """The learner's export as a file holds it."""
    return json.dumps(drills.store.transfer.export_json(drills.learner))


def practise(drills: Drills, clock: Clock) -> None:
    """A speed test, a song twice, and two texts begun."""
    test = speed_test(4)
    answered(drills, test, shown(test), stamps=in_time(test, shown(test)))
    for text in (TEXT, SONG):
        clock.pass_(days=1, minutes=2)
        answered(drills, exercise(), text, stamps=in_time(exercise(), text))
    clock.pass_(minutes=5)
    for made in (exercise(), exercise(3, song=chart("2- 5"))):
        drills.begin(made)
        drills.keep_text(made.id, "1 ♭7")


@pytest.fixture
def home_data(drills: Drills, clock: Clock) -> dict[str, Any]:
    """The export of a learner who has practised in the fresh store."""
    practise(drills, clock)
    whole: dict[str, Any] = json.loads(export(drills))
    return whole


@contextmanager
def drills_elsewhere(template: Path, folder: Path, clock: Clock) -> Iterator[Drills]:
    """The drills of a learner in a store that is needed only for an export."""
    with Store(put_store(template, folder)) as store:
        yield Drills(store, store.learners.add("Wren Halloway", NOW), clock, NOW.tzinfo)


@pytest.fixture(scope="module")
def file_text(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> str:
    """The export of a learner who has practised elsewhere."""
    clock = Clock(NOW)
    folder = tmp_path_factory.mktemp("export") / "record"
    with drills_elsewhere(sqlite_template, folder, clock) as drills:
        practise(drills, clock)
        return export(drills)


@pytest.fixture
def data(file_text: str, clock: Clock) -> dict[str, Any]:
    """That export, to be changed; it is read three days after it was begun."""
    clock.pass_(days=3)
    whole: dict[str, Any] = json.loads(file_text)
    return whole


def test_what_goes_out_comes_in_the_same(
    drills: Drills, other_store: Store, home_data: dict[str, Any]
) -> None:
    """An export imported elsewhere exports the same, with the same ratings, sums and tests."""
    done = import_record(other_store, home_data)
    assert (done.learner.name, done.added, done.known) == (drills.learner.name, 3, 0)
    assert done.learner.uid == drills.learner.uid
    home, here = drills.store, other_store
    assert rating_state(here, done.learner) == rating_state(home, drills.learner)
    assert here.ratings.state(done.learner) == rating_state(home, drills.learner)
    for kind, read in (("progress", "skills"), ("progress", "confusions"), ("progress", "days"),
                       ("ratings", "days"), ("ratings", "speed")):  # fmt: skip
        mine, theirs = (
            getattr(getattr(store, kind), read)(who)
            for store, who in ((home, drills.learner), (here, done.learner))
        )
        assert mine == theirs
        assert mine
    # The song that is not answered yet stayed at home, so its text has nothing to hang on.
    again = json.loads(json.dumps(here.transfer.export_json(done.learner)))
    assert [draft["exercise_id"] for draft in again["drafts"]] == ["millrace-1"]
    assert again | {"drafts": home_data["drafts"]} == home_data


def test_what_came_in_was_seen(fresh_store: Store, data: dict[str, Any], clock: Clock) -> None:
    """A song with a result in the record is seen here, too, and its marks came along."""
    done = import_record(fresh_store, data)
    assert [record.seen for record in fresh_store.attempts.history(done.learner)] == [
        True,
        False,
        False,
    ]
    drills = Drills(fresh_store, done.learner, clock)
    drill = drills.begin(exercise())
    assert drill.seen
    assert drill.progress.text == "1 ♭7"
    assert drill.progress.speeds == ()


def test_importing_twice_adds_nothing(fresh_store: Store, data: dict[str, Any]) -> None:
    """What is there already stays as it is, ratings and texts too."""
    first = import_record(fresh_store, data)
    before = stored(fresh_store)
    again = import_record(fresh_store, data)
    assert (again.added, again.known) == (0, 3)
    assert again.learner == first.learner
    assert stored(fresh_store) == before


def test_importing_goes_on_from_what_is_there(
    drills: Drills, other_store: Store, home_data: dict[str, Any], clock: Clock
) -> None:
    """A later export adds what was done since."""
    first = import_record(other_store, home_data)
    clock.pass_(days=1)
    answered(drills, exercise(5), SONG)
    later = drills.store.transfer.export_json(drills.learner)
    done = import_record(other_store, later)
    assert (done.added, done.known) == (1, 3)
    assert rating_state(other_store, first.learner) == rating_state(drills.store, drills.learner)


def test_importing_under_another_name(
    drills: Drills, home_data: dict[str, Any], fresh_store: Store
) -> None:
    """The record may be given to a learner of another name beside the first."""
    done = import_record(fresh_store, home_data, name="Odell Pruitt")
    assert (done.learner.name, done.added) == ("Odell Pruitt", 3)
    assert done.learner.uid != drills.learner.uid
    assert len(fresh_store.learners.all()) == 2
    mine, theirs = (rating_state(fresh_store, who) for who in (drills.learner, done.learner))
    assert mine == theirs
    with pytest.raises(SettingsError, match="1 to 80 characters"):
        import_record(fresh_store, home_data, name="a\u0000b")


def test_whoever_comes_in_has_not_seen_the_caution(
    fresh_store: Store, data: dict[str, Any]
) -> None:
    """A learner who is new in this store is shown the hearing caution before the first sound."""
    assert import_record(fresh_store, data).learner.caution_at is None
    fresh_store.learners.caution_shown(fresh_store.learners.all()[0], NOW)
    assert import_record(fresh_store, data).learner.caution_at == NOW


def test_a_text_that_is_typed_here_stays(
    fresh_store: Store, data: dict[str, Any], clock: Clock
) -> None:
    """An export does not replace what was typed in this store since."""
    learner = fresh_store.learners.add("Wren Halloway", NOW)
    drills = Drills(fresh_store, learner, clock)
    drills.begin(exercise())
    drills.keep_text(exercise().id, "4 4")
    import_record(fresh_store, data)
    found = drills.find(exercise().id)
    assert found is not None
    assert found.progress.text == "4 4"


def test_a_result_of_an_import_can_be_read(fresh_store: Store, data: dict[str, Any]) -> None:
    """Every attempt that came in has a result as at home."""
    done = import_record(fresh_store, data)
    for record in fresh_store.attempts.history(done.learner):
        result = find_result(fresh_store, done.learner, record.id)
        assert result is not None
        assert result.detail.report["advice_details"] is not None
        assert result.answer.chart is not None


def without_exercise(data: dict[str, Any]) -> None:
    """An attempt's exercise is not in the export."""
    data["exercises"] = data["exercises"][:1]


def with_another_chart(data: dict[str, Any]) -> None:
    """An exercise has the id of one that is kept here, with another song."""
    data["exercises"].append(copy.deepcopy(data["exercises"][1]))
    data["exercises"][-1]["data"]["chart"]["title"] = "Barge Lamps"
    del data["exercises"][-1]["data"]["chart"]["text"]


def with_a_token_twice(data: dict[str, Any]) -> None:
    """Two attempts were submitted under one token."""
    data["attempts"][2]["token"] = data["attempts"][0]["token"]


def with_a_score_of_7(data: dict[str, Any]) -> None:
    """The last attempt has a score that none can have."""
    data["attempts"][2]["score"] = 7


@pytest.mark.parametrize(
    "spoil", [without_exercise, with_another_chart, with_a_token_twice, with_a_score_of_7]
)
def test_a_bad_import_changes_nothing(fresh_store: Store, data: dict[str, Any], spoil: Any) -> None:
    """What cannot be taken in whole is told, and none of it is stored."""
    spoil(data)
    before = stored(fresh_store)
    with pytest.raises((FileError, StoreError)):
        import_record(fresh_store, data)
    assert stored(fresh_store) == before


def test_an_earlier_record_comes_before(
    fresh_store: Store, data: dict[str, Any], clock: Clock
) -> None:
    """Attempts are worked through in the order in which they were stored here."""
    learner = fresh_store.learners.add("Wren Halloway", NOW)
    drills = Drills(fresh_store, learner, clock)
    clock.pass_(days=30)
    answered(drills, exercise(9), SONG)
    import_record(fresh_store, data)
    assert [each.record.exercise_id for each in fresh_store.attempts.log(learner)][:2] == [
        "millrace-9",
        speed_test(4).id,
    ]
    assert rating_state(fresh_store, learner).last_at == clock.now
    assert clock.now - NOW > timedelta(days=30)


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The places of all values in JSON that hold no others, the first of each name only."""
    items: Any = ()
    if isinstance(value, dict):
        items = value.items()
    elif isinstance(value, list):
        items = enumerate(value[:1])
    for key, inner in items:
        if isinstance(inner, dict | list) and inner:
            yield from leaves(inner, (*path, key))
        else:
            yield (*path, key)


STRANGE: tuple[Any, ...] = ("a\u0000b\ud800", 10**400, 10**30, math.nan, -1, None, {})


class Undone(Exception):
    """Ends a transaction that was only tried."""


@pytest.fixture(scope="module")
def small_text(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> str:
    """An export of one attempt at a song of one bar, and a text begun again."""
    made = exercise(song=chart("1"))
    folder = tmp_path_factory.mktemp("small") / "record"
    with drills_elsewhere(sqlite_template, folder, Clock(NOW)) as drills:
        answered(drills, made, "1", stamps=in_time(made, "1"))
        drills.begin(made)
        drills.keep_text(made.id, "4")
        return export(drills)


@pytest.mark.many
@pytest.mark.hypothesis
@pytest.mark.parametrize(
    ("location", "strange"),
    [("sqlite", each) for each in STRANGE] + [("postgresql", each) for each in STRANGE[:3:2]],
    indirect=["location"],
)
def test_no_import_ends_in_a_fault(fresh_store: Store, small_text: str, strange: object) -> None:
    """Whatever stands in any place of an export, it is taken in and can be read, or it is told.

    A normal run tries each value in a third of the places, and other places for each value.
    """
    small: dict[str, Any] = json.loads(small_text)
    # A value's name says what it is; the first place of each name is tried.
    places = {path[-1]: path for path in reversed(list(leaves(small)))}
    assert len(places) > 60
    parts = how_many(3, 1)
    for path in list(places.values())[STRANGE.index(strange) % parts :: parts]:
        place: Any = small
        for step in path[:-1]:
            place = place[step]
        before, place[path[-1]] = place[path[-1]], strange
        try:
            taken_in(fresh_store, small)
        except (TrainerError, Undone):
            place[path[-1]] = before
        except Exception as error:
            raise AssertionError(f"{path}: {error!r}") from error


def taken_in(store: Store, data: dict[str, Any]) -> None:
    """Import a record and read all that pages show of it; nothing of it stays."""
    with store.transaction() as within:
        learner = import_record(within, data, name="Odell Pruitt").learner
        assert rating_state(within, learner).attempts == 1
        for record in within.attempts.history(learner):
            assert find_result(within, learner, record.id) is not None
        assert within.progress.days(learner)
        assert within.attempts.best_by_level(learner) is not None
        json.dumps(within.transfer.export_json(learner), allow_nan=False)
        assert len(list(within.transfer.csv_rows(learner))) == 2
        raise Undone


def test_an_export_of_before_passes_were_kept_passes_by_score(
    other_store: Store, data: dict[str, Any]
) -> None:
    """What an export says of a pass is kept; where it says nothing, the score at the mark did."""
    said = [attempt.pop("passed") for attempt in data["attempts"]]
    assert said == [None, False, False]
    data["attempts"][1]["score"] = 0.85
    data["attempts"][2] |= {"score": 0.9, "passed": False}
    learner = import_record(other_store, data).learner
    passed = [record.passed for record in other_store.attempts.history(learner)]
    assert passed == [False, True, None]
