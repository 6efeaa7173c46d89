"""The real band through the real server: what is heard is what the synth makes."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from tests.web.browser.house import House, Opened, begin
from trainer.drill import play_song
from trainer.sound import Synth, write_audio
from trainer.store import Store
from trainer.web.audio import AudioLibrary

pytestmark = pytest.mark.audio


@pytest.fixture
def concert(tmp_path: Path, record: Path, fixed_now: datetime) -> Iterator[House]:
    """A server with the band's own sound."""
    with Store.open(record) as store:
        store.learners.caution_shown(store.learners.get_or_add("me", fixed_now), fixed_now)
        library = AudioLibrary(None, tmp_path / "audio")
        made = House(store, library)
        made.open()
        yield made
        made.close()
        library.close()


def test_the_page_plays_what_render_makes(
    concert: House, open_page: Opened, tmp_path: Path
) -> None:
    """The song's time advances, and its bytes are those that the same arrangement is written as."""
    page = open_page(concert.url)
    begin(page)
    page.locator("#play").click()
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.5")
    digest = page.evaluate(
        """async () => {
          const answer = await fetch(document.getElementById("song").src);
          const hash = await crypto.subtle.digest("SHA-256", await answer.arrayBuffer());
          return [...new Uint8Array(hash)].map((b) => b.toString(16).padStart(2, "0")).join("");
        }"""
    )
    drill = concert.drills.find(page.url.rpartition("/")[2])
    assert drill is not None
    path = tmp_path / "song.wav"
    synth = Synth()
    write_audio(synth.render(play_song(drill.exercise)), path)
    synth.close()
    assert digest == hashlib.sha256(path.read_bytes()).hexdigest()


def test_the_browser_hears_sound(concert: House, open_page: Opened) -> None:
    """What the browser decodes is two channels of the length shown, and not silence."""
    page = open_page(concert.url)
    begin(page)
    seconds, channels, loudest = page.evaluate(
        """async () => {
          const answer = await fetch(document.getElementById("song").src);
          const decoded = await new OfflineAudioContext(2, 1, 44100)
            .decodeAudioData(await answer.arrayBuffer());
          const loudest = Math.max(...[0, 1].map((n) =>
            decoded.getChannelData(n).reduce((most, one) => Math.max(most, Math.abs(one)), 0)));
          return [decoded.duration, decoded.numberOfChannels, loudest];
        }"""
    )
    minutes, rest = page.locator("#duration").inner_text().split(":")
    assert int(minutes) * 60 + int(rest) == int(seconds)
    assert channels == 2
    assert 0.1 < loudest <= 1
