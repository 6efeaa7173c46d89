"""Fixtures for every room (each adds its own in its folder), how far properties are searched, and
which tests count towards coverage.

The profile `default` draws the same examples in every run on every machine, so that a run says
something about the change and nothing about luck. `thorough` draws new and more examples each
time; `scripts/test --thorough` uses it.

Coverage of the pure rooms counts what their own tests of single cases reach. The tracer makes code
of generators several times slower, so it is off in properties, in tests marked `many` or `audio`,
in the cases of a test that repeat its contract with another feel, seed or band, and in the tests of
other rooms, which all call the same code over and over.
"""

from __future__ import annotations

import gc
import random
import secrets
from collections.abc import Generator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from coverage import Coverage
from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import providers
from hypothesis.internal.constants_ast import Constants

pytest_plugins = ("tests.databases",)

COUNTED = ("chart", "generate", "band", "grade", "exercise", "practice", "drill")
NOT_COUNTED = ("hypothesis", "many", "audio")
# Parameters of tests; only cases with the first value of each count.
REPEATING = ("feel", "seed", "band")

# Charts are large values, and busy processors are slow: neither says anything about the code.
settings.register_profile(
    "default",
    max_examples=60,
    derandomize=True,
    database=None,
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.register_profile(
    "thorough", settings.get_profile("default"), max_examples=500, derandomize=False
)


def pytest_configure(config: pytest.Config) -> None:
    """Load the profile that was asked for, the default one without constants of our modules.

    Hypothesis draws some values from the constants in the modules that are loaded at that moment.
    Which ones those are depends on the tests that ran before in the same process.
    """
    name = config.getoption("--hypothesis-profile") or "default"
    settings.load_profile(name)
    if name == "default":
        none = Constants()
        providers._get_local_constants = lambda: none


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Draw the songs and keys that the program chooses at random from the test's own name, so that
    a test hears the same songs in every run. Tokens stay random."""
    own = random.Random(item.nodeid)
    vars(secrets).update(randbelow=own.randrange, choice=own.choice)


def pytest_collection() -> None:
    """Collect no garbage while tests are collected: everything that is made then is kept."""
    gc.disable()


def pytest_collection_finish() -> None:
    """Collect garbage again, without looking through what the collected tests hold."""
    gc.freeze()
    gc.enable()


def _counts(item: pytest.Item) -> bool:
    """Whether a test counts towards coverage."""
    room = item.path.relative_to(Path(__file__).parent).parts[0]
    case = getattr(item, "callspec", None)
    values = case.indices if case is not None else {}
    # What runs on a server runs on a file, too.
    again = "postgresql" in item.name or any(values.get(name) for name in REPEATING)
    return room in COUNTED and not again and not any(map(item.get_closest_marker, NOT_COUNTED))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, bool | None, bool | None]:
    """Stop the tracer around tests that do not count, their fixtures included."""
    if _counts(item):
        return (yield)
    stopped = _stop_tracers()
    try:
        return (yield)
    finally:
        for tracer in reversed(stopped):
            tracer.start()


def _stop_tracers() -> list[Coverage]:
    """Stop every tracer; those that ran, the newest first.

    A worker of pytest-xdist has two of them, and the older one goes on when the newer one stops.
    """
    stopped = []
    while (tracer := Coverage.current()) is not None:
        tracer.stop()
        stopped.append(tracer)
    return stopped


@pytest.fixture
def rng() -> random.Random:
    """Randomness that is the same in every run."""
    return random.Random(7)


@pytest.fixture(scope="session")
def fixed_now() -> datetime:
    """A moment, aware and in UTC: Monday morning at the Millrace school."""
    return datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
