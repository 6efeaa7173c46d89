"""Live dictations in the store, on both databases."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from tests.store.samples import NOW
from tests.store.test_classes import account_of
from trainer.store import FILE_NAME, Account, ClassRecord, Dictation, Role, Store

DUMP = Path(__file__).parent / "data" / "v13.sql"
LATER = NOW + timedelta(seconds=5)


@pytest.fixture
def teacher(fresh_store: Store) -> Account:
    """An account of a teacher."""
    return account_of(fresh_store, "Ada", Role.TEACHER)


@pytest.fixture
def pupil(fresh_store: Store, band: ClassRecord) -> Account:
    """An account of a learner of the class."""
    made = account_of(fresh_store, "Wren")
    fresh_store.classes.join(band.id, made.id, "learner", NOW)
    return made


@pytest.fixture
def band(fresh_store: Store, teacher: Account) -> ClassRecord:
    """The teacher's class."""
    return fresh_store.classes.add(teacher.id, "Lock-side band", "Spring", NOW)


@pytest.fixture
def dictation(fresh_store: Store, band: ClassRecord, teacher: Account) -> Dictation:
    """A dictation of the class that waits for the band."""
    song = {"kind": "level", "source": {"seed": 17}}
    return fresh_store.dictations.add(band.id, "Friday", song, 4, teacher.id, NOW)


def test_a_dictation_is_found_as_it_was_stored(
    fresh_store: Store, dictation: Dictation, band: ClassRecord
) -> None:
    """What changes is stored, the song stays, and a class has its dictations newest first."""
    store = fresh_store.dictations
    store.change(dictation, phase="playing", revision=2, began_at=NOW, first_bar=2, last_bar=3)
    second = store.add(band.id, "Next", {}, 8, dictation.made_by or 0, LATER)
    found = store.find(dictation.uid)
    assert found is not None
    assert (found.phase, found.revision, found.began_at) == ("playing", 2, NOW)
    assert (found.first_bar, found.last_bar, found.title) == (2, 3, "Friday")
    assert store.song(found) == {"kind": "level", "source": {"seed": 17}}
    assert [each.id for each in store.of_class(band.id)] == [second.id, dictation.id]
    assert store.find("nobody's") is None
    with pytest.raises(ValueError, match="title"):
        store.change(dictation, title="Other")


def test_only_learners_of_the_class_see_its_state(
    fresh_store: Store, dictation: Dictation, pupil: Account, teacher: Account, band: ClassRecord
) -> None:
    """A learner reads phase, revision and their own text; the teacher, somebody else, and a learner
    who has left, read nothing as learners."""
    store = fresh_store.dictations
    state = store.state(dictation.uid, pupil.id)
    assert state is not None
    assert (state.phase, state.revision, state.text) == ("waiting", 1, "")
    assert state.can_write
    assert store.open_to(pupil.id) == (state,)
    stranger = account_of(fresh_store, "Zoe")
    for other in (teacher, stranger):
        assert store.state(dictation.uid, other.id) is None
        assert store.open_to(other.id) == ()
    fresh_store.classes.leave(band.id, pupil.id, LATER)
    assert store.state(dictation.uid, pupil.id) is None


def test_what_is_handed_in_stays(fresh_store: Store, dictation: Dictation, pupil: Account) -> None:
    """A text is kept until it is handed in; later texts change nothing, but the page is seen."""
    store = fresh_store.dictations
    store.keep(dictation.id, pupil.id, "1 4", NOW)
    store.keep(dictation.id, pupil.id, None, LATER)
    store.keep(dictation.id, pupil.id, "1 4 5", LATER)
    store.hand_in(dictation.id, pupil.id, LATER)
    store.keep(dictation.id, pupil.id, "1", LATER + timedelta(seconds=1))
    store.hand_in(dictation.id, None, LATER + timedelta(seconds=2))
    (answer,) = store.answers(dictation)
    assert (answer.text, answer.handed_in_at) == ("1 4 5", LATER)
    assert answer.seen_at == LATER + timedelta(seconds=1)
    state = store.state(dictation.uid, pupil.id)
    assert state is not None
    assert (state.text, state.can_write) == ("1 4 5", False)


def test_deleting_people_leaves_no_answer_of_theirs(
    fresh_store: Store, dictation: Dictation, pupil: Account, teacher: Account
) -> None:
    """Answers go with their learner; a dictation stays when its teacher's account goes."""
    fresh_store.dictations.keep(dictation.id, pupil.id, "1 4", NOW)
    for account in (pupil, teacher):
        learner = next(each for each in fresh_store.learners.all() if each.id == account.learner_id)
        fresh_store.learners.delete(learner)
    found = fresh_store.dictations.find(dictation.uid)
    assert found is not None
    assert found.made_by is None
    assert fresh_store.dictations.answers(found) == ()


def test_a_store_of_the_first_dictations_has_them(folder: Path) -> None:
    """The dump of revision 0013 opens with its dictation and what a learner had written."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        connection.executescript(DUMP.read_text(encoding="utf-8"))
    with Store(folder) as store:
        zoe = store.accounts.of_learner(store.learners.all()[1])
        assert zoe is not None
        (state,) = store.dictations.open_to(zoe.id)
        assert (state.phase, state.revision, state.text) == ("playing", 2, "1 5/7")
