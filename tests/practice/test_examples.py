from __future__ import annotations

import doctest
from importlib import import_module

import pytest


@pytest.mark.parametrize("name", ["catalogue", "confusions", "daily"])
def test_the_examples_are_true(name: str) -> None:
    """What a docstring shows is what comes out."""
    found = doctest.testmod(import_module(f"trainer.practice.{name}"))
    assert found.attempted
    assert not found.failed
