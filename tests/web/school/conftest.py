"""A class server that believes a provider of the tests' own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import Any

import pytest

from tests.classroom.people import Clock
from tests.web.classroom.school import School
from tests.web.fakes import FakeLibrary
from tests.web.school.platform import WeirPlatform
from tests.web.school.platform import settings as platform_settings
from tests.web.school.provider import LockgateProvider, settings
from trainer.store import Store
from trainer.web.school.settings import SchoolSettings


@pytest.fixture
def clock() -> Clock:
    """The clock of the server and the provider."""
    return Clock()


@pytest.fixture
def provider(clock: Clock) -> LockgateProvider:
    """The provider."""
    return LockgateProvider(clock)


@pytest.fixture
def make_school(
    store: Store, library: FakeLibrary, clock: Clock, provider: LockgateProvider
) -> Iterator[Callable[..., School]]:
    """Makes a class server with other settings than the usual ones."""
    with ExitStack() as stack:

        def make(origin: str = "http://testserver", **changed: Any) -> School:
            systems = SchoolSettings(settings(**changed))
            return School(store, library, stack, clock, origin, systems, provider.transport)

        yield make


@pytest.fixture
def school(make_school: Callable[..., School]) -> School:
    """A class server on which everybody gets a learner's account whom the provider signs in."""
    return make_school()


@pytest.fixture
def platform(clock: Clock) -> WeirPlatform:
    """A learning platform."""
    return WeirPlatform(clock)


@pytest.fixture
def make_college(
    store: Store, library: FakeLibrary, clock: Clock, platform: WeirPlatform
) -> Iterator[Callable[..., School]]:
    """Makes a class server that works with the learning platform."""
    with ExitStack() as stack:

        def make(origin: str = "http://testserver", **changed: Any) -> School:
            systems = SchoolSettings(platforms=(platform_settings(**changed),))
            made = School(store, library, stack, clock, origin, systems, platform.transport)
            platform.tool = origin
            platform.tool_keys = lambda: made.browser().get("/lti/keys").json()
            return made

        yield make


@pytest.fixture
def college(make_college: Callable[..., School]) -> School:
    """A class server that works with the learning platform as usual."""
    return make_college()
