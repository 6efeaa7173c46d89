"""An independent listener hears what was written. `tests/benchmarks/listener.py` asks more songs,
holds them to 95%, and their beats to librosa's beat tracker; here few are asked, so the margins
are wider.
"""

from __future__ import annotations

from functools import reduce
from operator import add

import pytest

from tests.listening import NOTHING, Listener
from tests.thorough import how_many
from trainer.sound import find_soundfont
from trainer.sound.soundfonts import bundled_soundfont

pytestmark = [pytest.mark.audio, pytest.mark.many, pytest.mark.hypothesis]

SONGS, THOROUGH_SONGS = 6, 12


def test_librosa_hears_what_is_written() -> None:
    """In sections of many styles, librosa's chroma and plain triads recover at least 92% of the
    one-chord bars, and low pitch finds 90% of the slash basses."""
    listener = Listener((bundled_soundfont(), find_soundfont()), size="section")
    songs = range(how_many(SONGS, THOROUGH_SONGS))
    heard = reduce(add, (listener.listen(number, beats=False) for number in songs), NOTHING)
    listener.close()
    assert heard.chords.total() >= 6 * len(songs)
    assert heard.chord_share >= 0.92
    assert heard.basses.total() >= 3
    assert heard.bass_share >= 0.9
