"""A warm synth with the small soundfont that pretty_midi carries."""

from __future__ import annotations

from pathlib import Path

import pytest

from trainer.sound import Synth
from trainer.sound.soundfonts import bundled_soundfont


@pytest.fixture(scope="session")
def small_soundfont() -> Path:
    """The soundfont that comes with pretty_midi."""
    return bundled_soundfont()


@pytest.fixture(scope="session")
def synth(small_soundfont: Path) -> Synth:
    """One warm synth for all tests."""
    return Synth(small_soundfont)
