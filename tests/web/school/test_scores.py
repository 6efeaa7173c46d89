"""Scores on their way to a learning platform (LTI Assignment and Grade Services 2.0)."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from tests.classroom.lockside import missing_bar
from tests.patience import until
from tests.web.classroom.lockside import Lockside
from tests.web.classroom.school import School
from tests.web.school.platform import (
    GRADES,
    INSTRUCTOR,
    ISSUER,
    LTI,
    SCORE,
    TOOL,
    WeirPlatform,
    line_item,
)
from trainer.classroom.passback import Passback
from trainer.store import Waiting
from trainer.web.school.scores import ScoreLoop, scores_address


@pytest.fixture
def lockside(college: School, platform: WeirPlatform) -> Lockside:
    """A class whose learners are people of the platform, and which is the class of its course."""
    made = Lockside(college)
    store, now = college.store, college.clock()
    found = store.classes.find(made.class_uid)
    assert found is not None
    store.lti.add_course(ISSUER, "1", "choir", found.id, now)
    for name in ("ada", "wren", "zoe"):
        store.identities.add(made.account(name), ISSUER, f"P-{name}", now)
    return made


def passback(lockside: Lockside) -> Passback:
    """What sends the scores of the server."""
    learning = lockside.school.app.state.systems.learning
    assert learning is not None
    found: Passback = learning.passback
    return found


def link(lockside: Lockside, platform: WeirPlatform, uid: str, **more: Any) -> None:
    """The teacher opens the link of an assignment in the course, so that its line item is known."""
    custom = {f"{LTI}custom": {"assignment": uid}}
    platform.launch(
        lockside.school.browser(), "P-ada", (INSTRUCTOR,), **(line_item() | custom | more)
    )


def waiting(lockside: Lockside, uid: str) -> Waiting | None:
    """How the scores of an assignment are on their way."""
    assignment = lockside.school.store.assignments.find(uid)
    assert assignment is not None
    return lockside.school.store.lti.waiting(assignment.id)


class TestSending:
    def test_a_score_is_sent(self, lockside: Lockside, platform: WeirPlatform) -> None:
        """What a learner has in the gradebook reaches the column of the platform, for that learner
        there, once (section 3.4: where, the type, each key)."""
        uid = lockside.assign()
        link(lockside, platform, uid)
        lockside.write("wren", uid)
        assert passback(lockside).run() == 1
        ((place, score),) = platform.scores
        # The query of the line item stays (section 3.4.5).
        assert place == "1?type=17"
        assert score.pop("timestamp") == "2026-03-02T19:30:00.000+00:00"
        assert score == {
            "userId": "P-wren", "scoreGiven": 100.0, "scoreMaximum": 100,
            "activityProgress": "Completed", "gradingProgress": "FullyGraded",
        }  # fmt: skip
        assert passback(lockside).run() == 0
        assert waiting(lockside, uid) == Waiting(1, 0, None)

    def test_work_from_before_the_link_is_sent(
        self, lockside: Lockside, platform: WeirPlatform
    ) -> None:
        """Who had handed in before the line item was known is in the platform's gradebook, too."""
        uid = lockside.assign()
        lockside.write("wren", uid)
        assert waiting(lockside, uid) is None
        link(lockside, platform, uid)
        link(lockside, platform, uid)
        assert passback(lockside).run() == 1

    def test_a_score_that_changes_is_sent_again(
        self, lockside: Lockside, platform: WeirPlatform
    ) -> None:
        """When the teacher gives a bar credit, the platform has the new score after the next run,
        as the gradebook has it."""
        uid = lockside.assign()
        link(lockside, platform, uid)
        (item,) = lockside.items(uid)
        place = lockside.write("wren", uid, missing_bar(item.exercise.chart))
        passback(lockside).run()
        before = platform.scores[-1][1]["scoreGiven"]
        assert 0 < before < 100
        attempt = place.rpartition("/")[2]
        lockside.post(f"/gradebook/attempts/{attempt}/bar", bar="0", credit="100", comment="Fine.")
        assert passback(lockside).run() == 1
        assert platform.scores[-1][1]["scoreGiven"] == 100.0

    def test_a_part_is_told_as_such(self, lockside: Lockside, platform: WeirPlatform) -> None:
        """Who has done one of two songs is in progress, and what is missing counts as nothing."""
        two = self.two_songs(lockside)
        link(lockside, platform, two)
        lockside.write("wren", two)
        passback(lockside).run()
        score = platform.scores[-1][1]
        assert (score["scoreGiven"], score["activityProgress"]) == (50.0, "InProgress")

    def two_songs(self, lockside: Lockside) -> str:
        """An assignment with two songs that has opened."""
        place = f"/classes/{lockside.class_uid}/assignments/new"
        form = {"title": "Two", "closes_at": "", "pass_mark": "80", "tries": "1",
                "counts": "best", "results": "at once", "scheme": ""}  # fmt: skip
        uid = lockside.post(place, **form).headers["location"].rpartition("/")[2]
        for _ in range(2):
            song = {"what": "level:home-four-five", "songs": "same", "listens": ""}
            lockside.post(f"/assignments/{uid}/items", **song)
        lockside.post(f"/assignments/{uid}/open")
        return str(uid)

    def test_hidden_results_wait(self, lockside: Lockside, platform: WeirPlatform) -> None:
        """The platform shows no score that the learner may not see here yet."""
        uid = lockside.assign(results="teacher")
        link(lockside, platform, uid)
        lockside.write("wren", uid)
        assert passback(lockside).run() == 0
        lockside.school.clock.passes(minutes=6)
        assert passback(lockside).run() == 0
        lockside.post(f"/assignments/{uid}/results")
        lockside.school.clock.passes(minutes=6)
        assert passback(lockside).run() == 1

    def test_a_token_is_used_until_it_ends(
        self, lockside: Lockside, platform: WeirPlatform
    ) -> None:
        """Access tokens are asked for once an hour, as long as they hold."""
        lockside.learners["moss"] = lockside.join("moss")
        moss = lockside.account("moss")
        lockside.school.store.identities.add(moss, ISSUER, "P-moss", lockside.school.clock())
        uid = lockside.assign()
        link(lockside, platform, uid)
        for name in ("wren", "zoe"):
            lockside.write(name, uid)
        passback(lockside).run()
        assert (platform.tokens, len(platform.scores)) == (1, 2)
        lockside.school.clock.passes(minutes=60)
        lockside.write("moss", uid)
        passback(lockside).run()
        assert (platform.tokens, len(platform.scores)) == (2, 3)

    @pytest.mark.parametrize(
        "grades",
        [
            {},
            {"scope": [], "lineitem": f"{ISSUER}/items/1"},
            {"scope": [SCORE]},
            {"scope": [SCORE], "lineitem": "http://learn.weir.example/items/1"},
            {"scope": SCORE, "lineitem": ["x"]},
        ],
    )
    def test_without_a_place_nothing_is_sent(
        self, lockside: Lockside, platform: WeirPlatform, grades: dict[str, Any]
    ) -> None:
        """A platform that takes no scores, or names no safe address for them, gets none."""
        uid = lockside.assign()
        link(lockside, platform, uid, **{GRADES: grades})
        lockside.write("wren", uid)
        assert passback(lockside).run() == 0
        assert waiting(lockside, uid) is None

    def test_where_scores_go(self) -> None:
        """The address of a line item gets /scores at the end of its path (section 3.4.5; its first
        example has an address without a query, its second one with)."""
        plain = "https://lms.example.com/context/2923/lineitems/1"
        assert scores_address(plain) == f"{plain}/scores"
        query = "https://lms.example.com/context/2923/lineitem?id=1"
        expected = "https://lms.example.com/context/2923/lineitem/scores?id=1"
        assert scores_address(query) == expected


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


def test_the_loop_sends_until_it_is_stopped(lockside: Lockside, platform: WeirPlatform) -> None:
    """A server's thread sends what becomes due, and ends when the server does."""
    uid = lockside.assign()
    link(lockside, platform, uid)
    loop = ScoreLoop(passback(lockside), every_s=0.01)
    loop.start()
    lockside.write("wren", uid)
    until(lambda: bool(platform.scores))
    loop.stop()
    lockside.write("zoe", uid)
    assert len(platform.scores) == 1
