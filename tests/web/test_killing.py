from __future__ import annotations

from pathlib import Path

import pytest

from tests.web.killing import kill_often


@pytest.mark.slow
def test_no_confirmed_attempt_is_lost(tmp_path: Path) -> None:
    """However often the server is killed while attempts come in, all it confirmed are there."""
    found = kill_often(tmp_path / "record", runs=2, seed=3)
    assert found.runs == 2
    assert found.confirmed
    assert found.lost == set()
    assert found.stored >= len(found.confirmed)
    assert found.rebuilt
