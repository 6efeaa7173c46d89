"""Run every benchmark, or those named: `python -m tests.benchmarks [sound core …]`."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from importlib import import_module
from pathlib import Path

from tests.benchmarks import Row

HEADS = ("", "ours", "other", "ratio", "target", "", "")


def modules(wanted: list[str]) -> list[str]:
    """Names of the benchmark modules: those wanted, or all that have a `run`."""
    found = sorted(
        path.stem
        for path in Path(__file__).parent.glob("*.py")
        if not path.stem.startswith("_") and "\ndef run(" in path.read_text(encoding="utf-8")
    )
    unknown = [name for name in wanted if name not in found]
    if unknown:
        sys.exit(f"benchmarks: found {', '.join(unknown)}, expected some of {', '.join(found)}")
    return wanted or found


def cells(row: Row) -> tuple[str, ...]:
    """A row as text."""
    numbers = (
        "" if value is None else f"{value:,.3g}" if value < 1000 else f"{value:,.0f}"
        for value in (row.ours, row.other, row.ratio)
    )
    verdict = {True: "reached", False: "MISSED", None: ""}[row.ok]
    return (row.name, *numbers, row.target, row.unit, verdict)


def table(rows: Iterable[Row]) -> str:
    """The rows under their heads, columns aligned."""
    lines = [HEADS, *(cells(row) for row in rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(HEADS))]
    return "\n".join(
        "  ".join(
            cell.rjust(width) if column in (1, 2, 3) else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    )


def main() -> int:
    """Print the table; 1 if a target was missed."""
    rows: list[Row] = []
    for name in modules(sys.argv[1:]):
        print(f"running {name} …", file=sys.stderr)
        rows += import_module(f"tests.benchmarks.{name}").run()
    print(table(rows))
    return 1 if any(row.ok is False for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
