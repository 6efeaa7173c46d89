"""Numbers in addresses and forms that no database can hold name nothing."""

from __future__ import annotations

from collections import defaultdict
from contextlib import ExitStack
from pathlib import Path

import pytest

from tests.web.classroom.matrix import evening, fill_path, requests
from tests.web.classroom.school import School
from tests.web.fakes import FakeLibrary
from trainer.store import Role, Store

LARGE = str(2**63)
# Named by numbers; the rest of an address stays what it is.
NUMBERED = ("identity", "session", "attempt", "run", "chart", "handed in")


@pytest.mark.parametrize("large", [LARGE, str(10**30), f"-{10**30}"])
def test_a_number_too_large_is_refused(record: Path, library: FakeLibrary, large: str) -> None:
    """Wherever a number names something, one beyond 64 bits is answered as what is wrong or not
    there, and never as an error of the server."""
    wrong = []
    with Store.open(record) as store, ExitStack() as stack:
        school = School(store, library, stack)
        learner, owner = school.signed_in("wren"), school.signed_in("odell", Role.OWNER)
        known = evening(school, learner, "wren") | dict.fromkeys(NUMBERED, large)
        for client in (learner, owner):
            client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
        for one in requests(school.app):
            client = owner if one.path.startswith(("/people", "/gradebook")) else learner
            place = one.path
            for name, value in fill_path(place, known, defaultdict(lambda: "0")).items():
                place = place.replace(f"{{{name}}}", str(value))
            numbers = dict.fromkeys(("number", "version", "before", "position", "bar"), large)
            if large in place or one.path.endswith(("/log", "/back", "/file", "/compare")):
                query = numbers | {"left": f"{known['song']}:{large}"}
                answer = client.request(
                    one.method, place, params=query, data=numbers, follow_redirects=False
                )
                if answer.status_code >= 500:
                    wrong.append(f"{one}: {answer.status_code}")
    assert "\n".join(wrong) == ""
