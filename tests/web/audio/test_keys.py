from __future__ import annotations

import hashlib
import hmac
import stat
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from tests.sound.pieces import part, piece, song
from tests.store.samples import NOW
from trainer.band.parts import Bend, Note
from trainer.store import Store
from trainer.web.audio.keys import (
    audio_key,
    file_stem,
    load_secret,
    renderer_fingerprint,
    shared_secret,
)

SECRET = bytes(range(32))


def key(arrangement: object = None) -> str:
    """The key of a small song unless another is given."""
    return audio_key(SECRET, arrangement or song(1))  # type: ignore[arg-type]


def test_the_same_sound_has_the_same_key() -> None:
    """Two arrangements made apart with the same content share their key."""
    assert key(song(1)) == key(song(1))
    assert len(key()) == 40


def test_what_is_not_heard_is_not_in_the_key() -> None:
    """Bar lines and names of parts change nothing."""
    arrangement = song(1)
    renamed = tuple(replace(one, name=f"player of {one.name}") for one in arrangement.parts)
    assert key(replace(arrangement, bars=(), parts=renamed)) == key(arrangement)


NOTE = Note(0.0, 1.0, 60, 80)
PLAIN = part([NOTE, Note(1.0, 1.0, 62, 80)])
OTHERS = {
    "a note later": part([NOTE, Note(1.25, 1.0, 62, 80)]),
    "a note longer": part([NOTE, Note(1.0, 2.0, 62, 80)]),
    "a note higher": part([NOTE, Note(1.0, 1.0, 63, 80)]),
    "a note louder": part([NOTE, Note(1.0, 1.0, 62, 81)]),
    "a note less": part([NOTE]),
    "another program": replace(PLAIN, program=PLAIN.program + 1),
    "drums": replace(PLAIN, is_drum=True),
    "another level": replace(PLAIN, level=PLAIN.level - 1),
    "another side": replace(PLAIN, pan=0.5),
    "a bend": replace(PLAIN, bends=(Bend(0.5, 100),)),
}


@pytest.mark.parametrize("other", OTHERS.values(), ids=OTHERS)
def test_what_is_heard_is_in_the_key(other: object) -> None:
    """Any audible difference gives another key."""
    assert key(piece(other)) != key(piece(PLAIN))  # type: ignore[arg-type]


def test_time_is_in_the_key() -> None:
    """Another tempo or length gives another key."""
    keys = [
        key(),
        key(song(1, seconds_per_quarter=0.6)),
        key(replace(song(1), length_quarters=40.0)),
    ]
    assert len(set(keys)) == len(keys)


def test_the_bytes_have_a_name_for_each_origin_and_rate() -> None:
    """Another soundfont, program version or sample rate makes other bytes of the same sound."""
    names = [
        file_stem(key(), "here", 44100),
        file_stem(key(), "elsewhere", 44100),
        file_stem(key(), "here", 48000),
        file_stem(key(song(2)), "here", 44100),
    ]
    assert len(set(names)) == len(names)
    assert {len(name) for name in names} == {40}
    assert file_stem(key(), "here", 44100) == names[0]


def test_notes_moved_between_parts_give_another_key() -> None:
    """Where one part ends and the next begins is in the key."""
    one, two = part([NOTE]), part([NOTE, NOTE])
    assert key(piece(one, two)) != key(piece(two, one))


def test_without_the_secret_a_key_cannot_be_had() -> None:
    """Another secret gives another key, and no plain digest of the same content gives it."""
    assert audio_key(bytes(32), song(1)) != key()
    text = repr(song(1)).encode()
    plain = {hashlib.sha256(text).hexdigest()[:40], hmac.digest(b"", text, "sha256").hex()[:40]}
    assert key() not in plain


def test_the_origin_names_the_soundfont_by_what_is_in_it(tmp_path: Path) -> None:
    """The same soundfont is the same origin on every machine; one changed at its start or its end
    is another, and so is none."""
    places = [tmp_path / name for name in ("one.sf2", "two.sf2", "start.sf2", "end.sf2")]
    middle = bytes(2**20)
    contents = (b"12" + middle, b"12" + middle, b"13" + middle, b"12" + middle[:-1] + b"1")
    for place, content in zip(places, contents, strict=True):
        place.write_bytes(content)
    one, two, start, end = map(renderer_fingerprint, places)
    assert one == two
    assert len({one, start, end, renderer_fingerprint(None)}) == 4


def test_processes_share_the_secret_of_their_store(location: Path | str) -> None:
    """Two stores over one database give the same secret, whichever is asked first."""
    with Store(location) as one, Store(location) as two:
        secret = shared_secret(one, NOW)
        assert shared_secret(two, NOW + timedelta(days=1)) == secret
        assert len(secret) == 32


class TestSecret:
    def test_it_is_kept(self, tmp_path: Path) -> None:
        """The same folder gives the same secret again, another folder another."""
        secret = load_secret(tmp_path / "new")
        assert secret == load_secret(tmp_path / "new") != load_secret(tmp_path / "other")
        assert len(secret) == 32

    def test_only_its_owner_reads_it(self, tmp_path: Path) -> None:
        """The file is readable by its owner alone, and nothing else is left beside it."""
        load_secret(tmp_path)
        (file,) = tmp_path.iterdir()
        assert stat.S_IMODE(file.stat().st_mode) == 0o600

    def test_a_damaged_one_is_made_anew(self, tmp_path: Path) -> None:
        """A file that is too short is replaced, and then kept."""
        (tmp_path / "secret").write_bytes(b"short")
        assert load_secret(tmp_path) == load_secret(tmp_path) != b"short"

    def test_without_a_folder_there_is_one_for_this_run(
        self, tmp_path: Path, caplog: pytest.LogCaptureFixture
    ) -> None:
        """Where nothing can be written, a secret is made all the same and the log says why."""
        (tmp_path / "file").write_text("in the way")
        assert len(load_secret(tmp_path / "file" / "sounds")) == 32
        assert "will not be kept" in caplog.text
