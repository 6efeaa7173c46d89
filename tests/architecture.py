"""Reads every import under trainer/, lazy ones too, and checks it against one table.

The tables are the contract: which room may import which, where each third-party library lives,
and which of them may load at start-up.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

PACKAGE = "trainer"

# Room -> the rooms it may import. Itself and errors are free to all.
ROOMS: dict[str, frozenset[str]] = {
    room: frozenset(allowed.split())
    for room, allowed in {
        "errors": "",
        "chart": "",
        "generate": "chart",
        "band": "chart",
        "grade": "chart",
        "sound": "band",
        "exercise": "generate chart",
        "practice": "grade exercise",
        "recording": "chart",
        "export": "chart band",
        "store": "grade practice exercise",
        "drill": "chart store practice grade exercise band",
        # The songbook reads its texts, has the grader lay two charts side by side, makes exercises
        # of its songs, and lets the band play them.
        "songbook": "chart grade exercise band store export",
        "classroom": "drill store export exercise practice grade songbook chart",
        "web": "chart generate band grade sound exercise practice recording export store drill "
        "songbook classroom",
        "cli": "chart generate band grade sound exercise practice recording export store drill "
        "songbook classroom web",
    }.items()
}

# Third-party library -> the rooms it lives in.
LIBRARIES: dict[str, frozenset[str]] = {
    library: frozenset(homes.split())
    for library, homes in {
        "alembic": "store",
        "anyio": "web",
        "argon2": "classroom",
        "authlib": "web",
        "fastapi": "web",
        "fluidsynth": "sound",
        "fsrs": "practice",
        "httpx2": "web",
        "itsdangerous": "web",
        "jinja2": "web",
        "joserfc": "web",
        "mido": "export",
        "msgspec": "store web",
        "numpy": "grade sound",
        "openpyxl": "classroom",
        "platformdirs": "store",
        "pretty_midi": "band export",
        "rich": "cli",
        "sounddevice": "sound",
        "soundfile": "sound",
        "sqlalchemy": "store",
        "starlette": "web",
        "typer": "cli",
        "typst": "export",
        "uvicorn": "web",
    }.items()
}

# May load when the program starts; every other library waits until it is used.
AT_START = frozenset({"typer"})


@dataclass(frozen=True)
class Import:
    """One import: in which module, on which line, of what, and whether merely loading runs it."""

    path: Path
    line: int
    module: str
    target: str
    at_load: bool

    @property
    def room(self) -> str:
        """The room the import stands in; "" for the package's own top."""
        return room_of(self.module)

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.module} imports {self.target}"


def room_of(module: str) -> str:
    """The room of a dotted module name; "" for the package itself."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


def modules_under(root: Path) -> dict[str, Path]:
    """Every module of the package in the folder `root`, by dotted name."""
    found = {}
    for path in sorted((root / PACKAGE).rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


class _Reader(ast.NodeVisitor):
    """Collects the imports of one module."""

    def __init__(self, module: str, path: Path, known: Mapping[str, Path]) -> None:
        self.module, self.path, self.known = module, path, known
        self.found: list[Import] = []
        self.depth = 0

    def add(self, node: ast.AST, target: str) -> None:
        line = getattr(node, "lineno", 0)
        self.found.append(Import(self.path, line, self.module, target, self.depth == 0))

    def visit_Import(self, node: ast.Import) -> None:
        for name in node.names:
            self.add(node, name.name)

    def visit_ImportFrom(self, node: ast.ImportFrom) -> None:
        base = node.module or ""
        if node.level:
            is_package = self.path.name == "__init__.py"
            parts = self.module.split(".")
            kept = parts[: len(parts) - node.level + is_package]
            base = ".".join([*kept, base]) if base else ".".join(kept)
        for name in node.names:
            full = f"{base}.{name.name}"
            # A name imported from the package's top may be a room.
            is_module = full in self.known or (base == PACKAGE and name.name in ROOMS)
            self.add(node, full if is_module else base)

    def visit_Call(self, node: ast.Call) -> None:
        called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        called = node.func.id if isinstance(node.func, ast.Name) else called
        if called in ("import_module", "__import__") and node.args:
            self.add(node, self.dynamic_target(node.args[0]))
        self.generic_visit(node)

    def dynamic_target(self, name: ast.expr) -> str:
        """What a dynamic import names, as far as reading can tell; "?" if it cannot."""
        first = name.values[0] if isinstance(name, ast.JoinedStr) else name
        if isinstance(first, ast.FormattedValue):
            first = first.value
        if isinstance(first, ast.Name) and first.id == "__name__":
            return self.module
        if isinstance(first, ast.Constant) and isinstance(first.value, str):
            is_whole = first is name
            text = first.value
            if text.startswith("."):
                return self.module
            return text if is_whole else "?"
        return "?"

    def visit_If(self, node: ast.If) -> None:
        if ast.unparse(node.test) in ("TYPE_CHECKING", "typing.TYPE_CHECKING"):
            self.inside(node.body)
            for child in node.orelse:
                self.visit(child)
        else:
            self.generic_visit(node)

    def inside(self, nodes: list[ast.stmt]) -> None:
        """Visit what merely loading the module does not run."""
        self.depth += 1
        for child in nodes:
            self.visit(child)
        self.depth -= 1

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self.inside(node.body)

    def visit_AsyncFunctionDef(self, node: ast.AsyncFunctionDef) -> None:
        self.inside(node.body)


def imports_under(root: Path) -> list[Import]:
    """Every import of every module of the package in the folder `root`."""
    known = modules_under(root)
    found = []
    for module, path in known.items():
        reader = _Reader(module, path, known)
        reader.visit(ast.parse(path.read_text(encoding="utf-8"), str(path)))
        found += reader.found
    return found


def offences(root: Path) -> list[str]:
    """The places where the package in the folder `root` breaks the rules of the tables, one line
    each.
    """
    imports = imports_under(root)
    return [
        *_strange_rooms(root),
        *_bad_edges(imports),
        *_bad_starts(imports),
        *_circles(imports),
    ]


def _strange_rooms(root: Path) -> Iterator[str]:
    for module, path in modules_under(root).items():
        room = room_of(module)
        if room and room not in ROOMS and room != "__main__":
            yield f"{path}:1: there is no room {room!r} in the table"


def _bad_edges(imports: list[Import]) -> Iterator[str]:
    for found in imports:
        room = "cli" if found.room == "__main__" else found.room
        library = found.target.split(".")[0]
        if library == PACKAGE:
            target = room_of(found.target)
            if target not in {"", "errors", room, *ROOMS.get(room, ())}:
                yield f"{found} ({room or PACKAGE} may not import {target})"
        elif library == "?":
            yield f"{found} (a dynamic import that cannot be read)"
        elif library not in sys.stdlib_module_names and room not in LIBRARIES.get(library, ()):
            homes = ", ".join(sorted(LIBRARIES.get(library, ()))) or "nowhere"
            yield f"{found} ({library} lives in: {homes})"


def _circles(imports: list[Import]) -> Iterator[str]:
    """Modules that import each other, directly or by way of others, whenever that happens."""
    targets: dict[str, set[str]] = {}
    for found in imports:
        # A room's __init__ may load its own modules by name.
        if found.target != found.module:
            targets.setdefault(found.module, set()).add(found.target)
    told: set[str] = set()
    for module in sorted(targets):
        path = _way_back(module, targets)
        if path and told.isdisjoint(path):
            told.update(path)
            yield f"a circle of imports: {' -> '.join([*path, module])}"


def _way_back(module: str, targets: Mapping[str, set[str]]) -> list[str]:
    """The shortest way of imports from a module back to itself; empty if there is none."""
    waiting, seen = [[module]], {module}
    for path in waiting:
        for target in sorted(targets.get(path[-1], ())):
            if target == module:
                return path
            if target not in seen:
                seen.add(target)
                waiting.append([*path, target])
    return []


def _bad_starts(imports: list[Import]) -> Iterator[str]:
    """Libraries that loading a room's __init__, or the command, would pull in."""
    at_load: dict[str, list[Import]] = {}
    for found in imports:
        if found.at_load:
            at_load.setdefault(found.module, []).append(found)
    told = set()
    for start in [*(f"{PACKAGE}.{room}" for room in ROOMS), f"{PACKAGE}.cli.main"]:
        for chain in _reached(start, at_load):
            last = chain[-1]
            library = last.target.split(".")[0]
            is_free = library in (PACKAGE, *AT_START) or library in sys.stdlib_module_names
            if not is_free and last not in told:
                told.add(last)
                via = " -> ".join([start, *(step.target for step in chain)])
                yield f"{last} (loads at start: {via})"


def _reached(start: str, at_load: Mapping[str, list[Import]]) -> Iterator[tuple[Import, ...]]:
    """Every import that runs when `start` is loaded, as the chain of imports leading there."""
    seen: set[str] = set()
    waiting: list[tuple[str, tuple[Import, ...]]] = [(start, ())]
    while waiting:
        module, chain = waiting.pop()
        if module in seen:
            continue
        seen.add(module)
        for found in at_load.get(module, ()):
            yield (*chain, found)
            parts = found.target.split(".")
            # Loading a.b.c loads a and a.b first.
            loaded = (".".join(parts[: end + 1]) for end in range(len(parts)))
            waiting.extend((name, (*chain, found)) for name in loaded)
