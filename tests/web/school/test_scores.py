"""Scores on their way to a learning platform (LTI Assignment and Grade Services 2.0)."""

from __future__ import annotations

from typing import Any

import pytest

from tests.classroom.lockside import missing_bar
from tests.patience import until
from tests.web.classroom.lockside import Lockside
from tests.web.classroom.school import School
from tests.web.school.course import link, lockside_of, passback, waiting
from tests.web.school.platform import (
    GRADES,
    ISSUER,
    SCORE,
    WeirPlatform,
)
from trainer.store import Waiting
from trainer.web.school.scores import ScoreLoop, scores_address


@pytest.fixture
def lockside(college: School) -> Lockside:
    """A class of a course."""
    return lockside_of(college)


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


def test_the_loop_sends_until_it_is_stopped(lockside: Lockside, platform: WeirPlatform) -> None:
    """A server's thread sends what becomes due, and ends when the server does."""
    uid = lockside.assign()
    link(lockside, platform, uid)
    loop = ScoreLoop(passback(lockside), every_s=0.01)
    loop.start()
    lockside.write("wren", uid)
    until(lambda: bool(platform.scores))
    loop.close()
    lockside.write("zoe", uid)
    assert len(platform.scores) == 1
