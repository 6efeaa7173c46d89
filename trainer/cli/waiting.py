"""A progress bar on a terminal, nothing in a pipe."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

__all__ = ["progress_bar"]


@contextmanager
def progress_bar(what: str, total: int) -> Iterator[Callable[[int], None]]:
    """Show progress on standard error while the block runs; call the value with the amount done."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=total)
        yield lambda done: bar.update(task, completed=done)
