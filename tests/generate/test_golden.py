"""Five songs pinned: the same settings and seed give the same chart everywhere.

To renew them after a deliberate change, raise GENERATOR_VERSION, run
`python tests/golden/regenerate_songs.py`, and read the difference as a session leader would.
"""

from __future__ import annotations

import random
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

from tests.generate.everyday import EVERYDAY
from trainer.chart import parse
from trainer.generate import GENERATOR_VERSION, generate

GOLDEN = Path(__file__).parent.parent / "golden"
SONGS = runpy.run_path(str(GOLDEN / "regenerate_songs.py"))["songs"]()


@pytest.mark.parametrize("name", SONGS)
def test_songs_are_pinned(name: str) -> None:
    """A pinned song comes out as it is stored."""
    text = (GOLDEN / f"song-{name}.txt").read_text("utf-8")
    assert SONGS[name] == text
    assert f"generator {GENERATOR_VERSION}" in text.splitlines()[0]
    parse(text.split("\n", 1)[1])


def test_songs_depend_on_nothing_but_the_seed() -> None:
    """Another process with another hash seed makes the same songs; songs before change nothing."""
    code = (
        "import random\n"
        "from trainer.chart import format_chart\n"
        "from tests.generate.everyday import EVERYDAY\n"
        "from trainer.generate import generate\n"
        "for seed in (30, 20, 10):\n"
        "    generate(EVERYDAY, random.Random(seed + 500))\n"
        "    print(format_chart(generate(EVERYDAY, random.Random(seed))))\n"
    )
    made = {
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            check=True,
            env={"PYTHONHASHSEED": str(hash_seed)},
        ).stdout
        for hash_seed in (1, 2)
    }
    assert len(made) == 1
    charts = [generate(EVERYDAY, random.Random(seed)) for seed in (30, 20, 10)]
    assert [chart.title in made.copy().pop() for chart in charts] == [True] * 3
