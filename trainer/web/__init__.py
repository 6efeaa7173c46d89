"""The page: listen, write, see what you heard.

Importing this room loads nothing heavy; FastAPI is loaded when `create_app` is first asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.web.app import create_app

__all__ = ["create_app"]

_HOMES = {"create_app": "app"}


def __getattr__(name: str) -> Any:
    """Load a public name from its module on first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
