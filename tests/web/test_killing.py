from __future__ import annotations

from pathlib import Path

import pytest

from tests.web.killing import kill_often


@pytest.mark.slow
def test_no_confirmed_attempt_is_lost(tmp_path: Path) -> None:
    """A server that is killed while attempts come in has kept all that it confirmed."""
    found = kill_often(tmp_path / "record", runs=1, seed=3)
    assert found.runs == 1
    assert found.confirmed
    assert found.lost == set()
    assert found.stored >= len(found.confirmed)
    assert found.rebuilt
