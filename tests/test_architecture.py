from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture import AT_START, LIBRARIES, ROOMS, modules_under, offences

ROOT = Path(__file__).parent.parent


def test_every_import_is_allowed() -> None:
    """No room imports another than the table allows, no library away from home or at start."""
    found = offences(ROOT)
    assert not found, "\n" + "\n".join(found)


# What is written where, and what must be said about it; None: nothing.
BAD_TREES = {
    "upward": (
        "chart/model.py",
        "from trainer.band.parts import Note",
        "chart may not import band",
    ),
    "lazy": (
        "chart/model.py",
        "def f():\n    import trainer.grade.align\n",
        "model.py:2: trainer.chart.model imports trainer.grade.align",
    ),
    "for types only": (
        "sound/synth.py",
        "import typing\nif typing.TYPE_CHECKING:\n    from trainer.chart import Chart\n",
        "synth.py:3: trainer.sound.synth imports trainer.chart",
    ),
    "relative": ("chart/model.py", "from ..store import Store", "chart may not import store"),
    "relative name": ("chart/model.py", "from .. import store", "chart may not import store"),
    "from the top": ("grade/report.py", "from trainer import sound", "grade may not import sound"),
    "dynamic": (
        "chart/model.py",
        "import importlib\nx = importlib.import_module('trainer.store')\n",
        "chart may not import store",
    ),
    "unreadable": ("chart/model.py", "def f(x):\n    return __import__(x)\n", "cannot be read"),
    "the page uses the terminal": ("web/app.py", "import trainer.cli", "web may not import cli"),
    "not at home": (
        "chart/model.py",
        "def f():\n    import numpy\n",
        "numpy lives in: grade, sound",
    ),
    "unknown library": (
        "store/tables.py",
        "def f():\n    import torch\n",
        "torch lives in: nowhere",
    ),
    "unknown room": ("helpers/text.py", "x = 1\n", "there is no room 'helpers'"),
    "at start": (
        "grade/__init__.py",
        "import numpy\n",
        "__init__.py:1: trainer.grade imports numpy (loads at start: trainer.grade -> numpy)",
    ),
    "at start in a class": (
        "sound/__init__.py",
        "class Synth:\n    import fluidsynth\n",
        "loads at start",
    ),
    "allowed edge": ("sound/synth.py", "from trainer.band import arrange\n", None),
    "errors are free": ("chart/model.py", "from trainer.errors import ChartError\n", None),
    "library at home, used late": ("sound/synth.py", "def f():\n    import numpy\n", None),
    "library in a module loaded late": ("store/tables.py", "import sqlalchemy\n", None),
    "dynamic in its own room": (
        "store/__init__.py",
        "import importlib\ndef f(x):\n    return importlib.import_module(f'{__name__}.{x}')\n",
        None,
    ),
}


@pytest.mark.parametrize(("place", "text", "said"), BAD_TREES.values(), ids=BAD_TREES)
def test_the_reader_sees(tmp_path: Path, place: str, text: str, said: str | None) -> None:
    """A forbidden import is told with its file and line, an allowed one is not."""
    path = tmp_path / "trainer" / place
    path.parent.mkdir(parents=True)
    path.write_text(text, encoding="utf-8")
    found = offences(tmp_path)
    if said is None:
        assert found == []
    else:
        assert len(found) == 1, found
        assert said in found[0]
        assert str(path) in found[0]


def test_a_library_reached_through_other_modules_loads_at_start(tmp_path: Path) -> None:
    """The chain from the command to a heavy library is told."""
    files = {
        "cli/main.py": "from trainer.store import Store\n",
        "store/__init__.py": "from trainer.store.tables import Store\n",
        "store/tables.py": "import sqlalchemy\n",
    }
    for place, text in files.items():
        path = tmp_path / "trainer" / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    found = offences(tmp_path)
    assert len(found) == 1
    assert "trainer.store -> trainer.store.tables -> sqlalchemy" in found[0]


def test_a_circle_of_imports_is_told(tmp_path: Path) -> None:
    """Two modules that import each other are told, for types only and inside functions too."""
    files = {
        "chart/model.py": "def f():\n    from trainer.chart.parse import parse\n",
        "chart/parse.py": "import typing\nif typing.TYPE_CHECKING:\n"
        "    from trainer.chart.model import Chart\n",
        "chart/keys.py": "from trainer.chart.model import Chart\n",
    }
    for place, text in files.items():
        path = tmp_path / "trainer" / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    assert offences(tmp_path) == [
        "a circle of imports: trainer.chart.model -> trainer.chart.parse -> trainer.chart.model"
    ]


HEAVY = sorted(
    {*LIBRARIES, "scipy", "pyloudnorm", "matplotlib", "librosa", "fastapi"} - AT_START - {"rich"}
)


START_POINTS = sorted(
    {*(f"trainer.{room}" for room in ROOMS), "trainer.cli.main"} & modules_under(ROOT).keys()
)


@pytest.mark.parametrize("module", START_POINTS)
def test_loading_stays_light(module: str) -> None:
    """Loading a room, or the command, loads none of the heavy libraries."""
    code = f"import sys, {module}; print(*(m for m in {HEAVY!r} if m in sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == ""
