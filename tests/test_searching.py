"""How properties are searched, that this stands in one place, and what the tracer is off for."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from hypothesis import settings

TESTS = Path(__file__).parent


def test_a_default_run_says_the_same_everywhere() -> None:
    """The default profile draws the same examples in every run, remembers none and has no clock."""
    default = settings.get_profile("default")
    assert default.derandomize
    assert default.database is None
    assert default.deadline is None


def test_a_thorough_run_draws_new_and_more_examples() -> None:
    """The thorough profile draws anew each time, five times as many, and has no clock either."""
    default, thorough = map(settings.get_profile, ("default", "thorough"))
    assert not thorough.derandomize
    assert thorough.deadline is None
    assert thorough.max_examples >= 5 * default.max_examples


def test_no_property_leaves_its_profile() -> None:
    """A property that takes fewer examples takes a part of its profile's, never a fixed number."""
    own = re.compile(r"max_examples=\s*[\d_]+|derandomize=|deadline=|@seed\(")
    found = [
        f"{path.relative_to(TESTS)}:{number}: {line.strip()}"
        for path in TESTS.rglob("*.py")
        if path.name != "conftest.py" and path != Path(__file__)
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if own.search(line)
    ]
    assert found == []


def test_the_tracer_is_off_where_coverage_is_not_counted() -> None:
    """In a test that does not count no tracer of coverage runs, in a worker of pytest-xdist
    neither."""
    assert "coverage" not in type(sys.gettrace()).__module__
