from __future__ import annotations

import ast
import importlib
import inspect
from pathlib import Path

import pytest

from tests.architecture import ROOMS, modules_under

ROOT = Path(__file__).parent.parent
MODULES = modules_under(ROOT)
BUILT = sorted(room for room in ROOMS if f"trainer.{room}" in MODULES)


@pytest.mark.parametrize("room", BUILT)
def test_a_room_lists_what_it_offers(room: str) -> None:
    """Each room's __all__ names things that exist, each once, none private."""
    module = importlib.import_module(f"trainer.{room}")
    names = module.__all__
    assert len(names) == len(set(names))
    assert [name for name in names if name.startswith("_")] == []
    assert [name for name in names if not hasattr(module, name)] == []


@pytest.mark.parametrize("room", BUILT)
def test_what_a_room_offers_is_described(room: str) -> None:
    """Each class and function that a room offers has a docstring of its own."""
    module = importlib.import_module(f"trainer.{room}")
    offered = {name: getattr(module, name) for name in module.__all__}
    bare = [
        name
        for name, value in offered.items()
        if (inspect.isclass(value) or inspect.isroutine(value)) and not _is_described(value)
    ]
    assert bare == []


def _is_described(value: object) -> bool:
    # A dataclass without a docstring is given its signature as one.
    text = (value.__doc__ or "").strip()
    return bool(text) and not text.startswith(f"{getattr(value, '__name__', '')}(")


@pytest.mark.parametrize("module", sorted(MODULES))
def test_a_module_says_what_it_is_for(module: str) -> None:
    """Each module starts with a docstring."""
    assert ast.get_docstring(ast.parse(MODULES[module].read_text(encoding="utf-8")))
