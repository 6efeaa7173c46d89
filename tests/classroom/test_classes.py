from __future__ import annotations

import re
from datetime import timedelta

import pytest

from tests.classroom.lockside import Lockside, Place
from tests.classroom.people import School
from trainer.classroom.classes import CODE_LASTS, Classes, join_class, new_join_code
from trainer.errors import ClassError, ClassNotFound
from trainer.store import Account, Role


def classes(school: School | Place, account: Account) -> Classes:
    """The classes of an account."""
    return Classes(school.store, account, school.clock)


def test_a_code_opens_a_class_until_it_expires(school: School) -> None:
    """A learner joins with the code, however it is typed, and not after its end."""
    ada, wren, zoe = school.sign_up("ada", Role.TEACHER), school.sign_up(), school.sign_up("zoe")
    made = classes(school, ada).make("Lock-side  band", "Spring")
    assert made.name == "Lock-side band"
    code = classes(school, ada).code_of(made.uid)
    assert code is not None
    typed = f" {code.code[:5].lower()}-{code.code[5:]} "
    assert classes(school, wren).join(typed) == made
    assert classes(school, wren).joined() == (made,)
    school.clock.passes(seconds=CODE_LASTS.total_seconds())
    with pytest.raises(ClassError, match="doesn't open a class"):
        classes(school, zoe).join(code.code)
    assert classes(school, ada).code_of(made.uid) is None


def test_a_new_code_ends_the_old_one(school: School) -> None:
    """A code that was passed on too far can be replaced, for as long as the teacher says."""
    ada, wren = school.sign_up("ada", Role.TEACHER), school.sign_up()
    mine = classes(school, ada)
    made = mine.make("Lock-side band", "")
    old = mine.code_of(made.uid)
    assert old is not None
    new = mine.renew_code(made.uid, timedelta(days=1))
    with pytest.raises(ClassError):
        classes(school, wren).join(old.code)
    classes(school, wren).join(new.code)
    mine.end_code(made.uid)
    with pytest.raises(ClassError):
        classes(school, school.sign_up("zoe")).join(new.code)


def test_codes_cannot_be_guessed() -> None:
    """A code has about 50 bits and none of the signs that look alike."""
    codes = {new_join_code() for _ in range(200)}
    assert len(codes) == 200
    assert all(re.fullmatch(r"[A-HJKMNP-Z2-9]{10}", code) for code in codes)


@pytest.mark.parametrize("code", ["", " ", "AAAAAAAAAA", "A" * 500, "'; --", "\x00"])
def test_what_is_no_code_opens_nothing(small_school: School, code: str) -> None:
    """Anything typed that is no code is refused with one sentence."""
    with pytest.raises(ClassError, match="doesn't open a class"):
        join_class(small_school.store, small_school.sign_up(), code, small_school.clock())


def test_joining_again_changes_nothing(lockside: Lockside) -> None:
    """The teacher who types the own code stays the teacher, and who left comes back."""
    clock, store = lockside.school.clock, lockside.store
    code = store.classes.code_of(lockside.school_class.id)
    assert code is not None
    join_class(store, lockside.teacher, code.code, clock())
    assert Classes(store, lockside.teacher, clock).taught() == (lockside.school_class,)
    wren = lockside.pupils[0]
    Classes(store, wren, clock).leave(lockside.school_class.uid)
    assert Classes(store, wren, clock).joined() == ()
    join_class(store, wren, code.code, clock())
    assert Classes(store, wren, clock).joined() == (lockside.school_class,)


def test_a_closed_class_takes_nobody(lockside: Lockside) -> None:
    """Closing ends the code; a new one needs the class open."""
    mine = lockside.assignments.classes
    uid = lockside.school_class.uid
    mine.close(uid, closed=True)
    assert mine.code_of(uid) is None
    with pytest.raises(ClassError, match="is closed"):
        mine.renew_code(uid)
    mine.close(uid, closed=False)
    assert mine.renew_code(uid).holds(lockside.school.clock())


def test_only_its_teachers_change_a_class(lockside: Lockside) -> None:
    """Learners, other teachers and strangers find no such class to change."""
    uid = lockside.school_class.uid
    bram = lockside.school.sign_up("bram", Role.TEACHER)
    for account in (lockside.pupils[0], bram):
        mine = classes(lockside.school, account)
        for change in (
            lambda mine=mine: mine.rename(uid, "Ours", ""),
            lambda mine=mine: mine.renew_code(uid),
            lambda mine=mine: mine.members(uid),
            lambda mine=mine: mine.close(uid, closed=True),
            lambda mine=mine: mine.take_out(uid, lockside.pupils[1].uid),
            lambda mine=mine: mine.add_teacher(uid, "bram"),
        ):
            with pytest.raises(ClassNotFound):
                change()
    assert classes(lockside.school, lockside.pupils[0]).attend(uid) == lockside.school_class
    with pytest.raises(ClassNotFound):
        classes(lockside.school, bram).attend(uid)


def test_a_second_teacher_may_do_all_of_it(lockside: Lockside) -> None:
    """A teacher of the server can be added, a learner cannot; the last teacher cannot leave."""
    uid, mine = lockside.school_class.uid, lockside.assignments.classes
    bram = lockside.school.sign_up("bram", Role.TEACHER)
    with pytest.raises(ClassError, match="isn't the sign-in name of a teacher"):
        mine.add_teacher(uid, "wren")
    with pytest.raises(ClassError, match="no other teacher"):
        mine.leave(uid)
    assert mine.add_teacher(uid, "bram").is_teacher
    mine.leave(uid)
    assert classes(lockside.school, bram).rename(uid, "Bridge band", "Summer").name == "Bridge band"


def test_taking_somebody_out_keeps_their_work(lockside: Lockside) -> None:
    """Whoever is taken out is no member any more; what they handed in stays."""
    _, (item,) = lockside.assign()
    wren = lockside.pupils[0]
    lockside.write(wren, item)
    mine = lockside.assignments.classes
    mine.take_out(lockside.school_class.uid, wren.uid)
    assert wren.id not in [each.account_id for each in mine.members(lockside.school_class.uid)]
    assert len(lockside.store.assigned.attempts_of([item.id])) == 1
    with pytest.raises(ClassError, match="nobody like that"):
        mine.take_out(lockside.school_class.uid, wren.uid)


@pytest.mark.parametrize("name", ["", "  ", "x" * 81])
def test_a_class_needs_a_name(small_school: School, name: str) -> None:
    """A name has 1 to 80 characters."""
    with pytest.raises(ClassError, match="1 to 80 characters"):
        classes(small_school, small_school.sign_up("ada", Role.TEACHER)).make(name, "")
