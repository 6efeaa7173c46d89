"""How properties are searched, that this stands in one place, and what the tracer is off for."""

from __future__ import annotations

import importlib.util
import re
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

TESTS = Path(__file__).parent


def test_a_default_run_says_the_same_everywhere() -> None:
    """The default profile draws the same examples in every run, remembers none and has no clock."""
    default = settings.get_profile("default")
    assert default.derandomize
    assert default.database is None
    assert default.deadline is None


def test_examples_do_not_depend_on_what_is_loaded(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A module with constants of its own that is loaded in between changes no example."""
    if request.config.getoption("--hypothesis-profile") == "thorough":
        pytest.skip("a thorough run draws anew each time")
    drawn: list[list[int]] = []

    @given(st.lists(st.integers(), min_size=10))
    def draw(found: list[int]) -> None:
        drawn[-1] += found

    path = tmp_path / "full_of_constants.py"
    path.write_text(f"NUMBERS = {list(range(3000, 3900, 7))}\n", encoding="utf-8")
    for _ in range(2):
        drawn.append([])
        draw()
        spec = importlib.util.spec_from_file_location(path.stem, path)
        assert spec is not None
        monkeypatch.setitem(sys.modules, path.stem, importlib.util.module_from_spec(spec))
    assert len(drawn[0]) > 100
    assert drawn[0] == drawn[1]


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
