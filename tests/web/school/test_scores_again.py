"""Scores that a platform does not take at once are sent again."""

from __future__ import annotations

from datetime import datetime

import httpx2
import pytest

from tests.classroom.lockside import missing_bar
from tests.web.classroom.lockside import Lockside
from tests.web.classroom.school import School
from tests.web.school.course import link, lockside_of, passback, waiting
from tests.web.school.platform import (
    ISSUER,
    NAME,
    TOOL,
    WeirPlatform,
)
from trainer.store import Waiting


@pytest.fixture
def lockside(college: School) -> Lockside:
    """A class of a course."""
    return lockside_of(college)


class TestTryingAgain:
    def test_a_platform_that_is_down_gets_it_later(
        self, lockside: Lockside, platform: WeirPlatform
    ) -> None:
        """A failed try is kept in the store and made again, later each time, by whichever server
        runs then."""
        uid = lockside.assign()
        link(lockside, platform, uid)
        lockside.write("wren", uid)
        platform.refuse = [503, 503]
        clock = lockside.school.clock
        for minutes in (1, 2):
            assert passback(lockside).run() == 0
            found = waiting(lockside, uid)
            assert found is not None
            assert (found.sent, found.waiting) == (0, 1)
            assert "answered 503" in str(found.problem)
            clock.passes(minutes=minutes, seconds=-1)
            assert passback(lockside).run() == 0
            clock.passes(seconds=1)
            restarted = School(
                lockside.school.store, lockside.school.library, lockside.school.open, clock,
                systems=lockside.school.systems, transport=platform.transport,
            )  # fmt: skip
            lockside.school.app = restarted.app
        assert passback(lockside).run() == 1
        assert waiting(lockside, uid) == Waiting(1, 0, None)

    def test_waits_grow_to_six_hours(self, lockside: Lockside, platform: WeirPlatform) -> None:
        """However long a platform is away, it is asked at least four times a day."""
        uid = lockside.assign()
        link(lockside, platform, uid)
        lockside.write("wren", uid)
        store, clock = lockside.school.store, lockside.school.clock
        waits = []
        for _ in range(12):
            platform.refuse = [500]
            passback(lockside).run()
            (due,) = store.lti.due(datetime.max.replace(tzinfo=clock().tzinfo), 9)
            waits.append((due.due_at - clock()).total_seconds() / 60)
            clock.now = due.due_at
        assert waits == [1, 2, 4, 8, 16, 32, 64, 128, 256, 360, 360, 360]

    def test_a_token_that_is_refused_is_asked_for_again(
        self, lockside: Lockside, platform: WeirPlatform
    ) -> None:
        """After a 401 the next try comes with a new token."""
        uid = lockside.assign()
        link(lockside, platform, uid)
        lockside.write("wren", uid)
        platform.refuse = [401]
        passback(lockside).run()
        lockside.school.clock.passes(minutes=1)
        assert passback(lockside).run() == 1
        assert platform.tokens == 2

    def test_two_servers_send_a_score_once(
        self, lockside: Lockside, platform: WeirPlatform
    ) -> None:
        """What one server is sending, no other sends."""
        uid = lockside.assign()
        link(lockside, platform, uid)
        lockside.write("wren", uid)
        store, now = lockside.school.store, lockside.school.clock()
        (due,) = store.lti.due(now, 9)
        claimed = store.lti.claim(due, now.replace(minute=35))
        assert claimed is not None
        assert store.lti.claim(due, now.replace(minute=35)) is None
        assert passback(lockside).run() == 0

    def test_a_grade_of_meanwhile_is_not_lost(
        self, lockside: Lockside, platform: WeirPlatform
    ) -> None:
        """If the score changes while it is being sent, it is sent once more."""
        uid = lockside.assign()
        link(lockside, platform, uid)
        (item,) = lockside.items(uid)
        place = lockside.write("wren", uid, missing_bar(item.exercise.chart))
        store, now = lockside.school.store, lockside.school.clock()
        (due,) = store.lti.due(now, 9)
        claimed = store.lti.claim(due, now.replace(minute=35))
        assert claimed is not None
        attempt = place.rpartition("/")[2]
        lockside.post(f"/gradebook/attempts/{attempt}/bar", bar="0", credit="100", comment="Fine.")
        store.lti.sent(claimed, 0.5, now)
        assert passback(lockside).run() == 1
        assert platform.scores[-1][1]["scoreGiven"] == 100.0

    def test_a_platform_that_was_taken_out_is_told(
        self, lockside: Lockside, platform: WeirPlatform
    ) -> None:
        """Scores for a platform that the settings no longer have wait, and say why."""
        uid = lockside.assign()
        assignment = lockside.school.store.assignments.find(uid)
        assert assignment is not None
        lockside.school.store.lti.add_line_item(
            ISSUER, f"{TOOL}-old", f"{ISSUER}/items/9", assignment.id, lockside.school.clock()
        )
        lockside.write("wren", uid)
        assert passback(lockside).run() == 0
        found = waiting(lockside, uid)
        assert found is not None
        assert "no longer in the server's settings" in str(found.problem)

    def test_who_is_deleted_is_sent_nowhere(
        self, lockside: Lockside, platform: WeirPlatform
    ) -> None:
        """With an account go the scores that wait for it."""
        uid = lockside.assign()
        link(lockside, platform, uid)
        lockside.write("wren", uid)
        lockside.school.server.accounts.delete(lockside.account("wren"), None)
        assert passback(lockside).run() == 0
        assert waiting(lockside, uid) == Waiting(0, 0, None)

    @pytest.mark.parametrize(
        ("answer", "problem"),
        [
            ('{"access_token": "t", "expires_in": 1e300}', "how long its access token holds"),
            ('{"access_token": "t", "expires_in": NaN}', "how long its access token holds"),
            ('{"access_token": "t", "expires_in": -1}', "how long its access token holds"),
            ('{"access_token": "t\\u00e9", "expires_in": 60}', "no access token"),
            ('{"access_token": "t\\u0000", "expires_in": 60}', "no access token"),
            ('{"access_token": "", "expires_in": 60}', "no access token"),
        ],
    )
    def test_a_bad_token_is_no_token(
        self, lockside: Lockside, platform: WeirPlatform, answer: str, problem: str
    ) -> None:
        """A token that cannot be sent, or whose end cannot be, is a try that failed."""
        uid = lockside.assign()
        link(lockside, platform, uid)
        lockside.write("wren", uid)
        platform.token_answer = answer
        assert passback(lockside).run() == 0
        found = waiting(lockside, uid)
        assert found is not None
        assert problem in str(found.problem)
        platform.token_answer = None
        lockside.school.clock.passes(minutes=1)
        assert passback(lockside).run() == 1

    def test_a_bad_address_keeps_back_no_other(
        self, lockside: Lockside, platform: WeirPlatform
    ) -> None:
        """A line item whose address has a control character gets nothing, and the next one gets its
        score."""
        uid = lockside.assign()
        assignment = lockside.school.store.assignments.find(uid)
        assert assignment is not None
        store, clock = lockside.school.store, lockside.school.clock
        store.lti.add_line_item(ISSUER, TOOL, f"{ISSUER}/items/\x7f9", assignment.id, clock())
        link(lockside, platform, uid)
        lockside.write("wren", uid)
        assert passback(lockside).run() == 1
        found = waiting(lockside, uid)
        assert found == Waiting(1, 1, f"An address of {NAME} isn't valid.")

    def test_what_went_wrong_is_said_in_words(
        self, lockside: Lockside, platform: WeirPlatform, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Teachers read no names of exceptions."""
        uid = lockside.assign()
        link(lockside, platform, uid)
        lockside.write("wren", uid)

        def hang(_: httpx2.Request) -> httpx2.Response:
            raise httpx2.ReadTimeout("")

        monkeypatch.setattr(platform.transport, "handle_request", hang)
        assert passback(lockside).run() == 0
        assert waiting(lockside, uid) == Waiting(0, 1, f"{NAME} didn't answer in time.")
