from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.sound.pieces import part, piece, whole
from trainer.band.parts import Note
from trainer.errors import FileError, SoundfontMissing
from trainer.sound import Synth, find_soundfont, soundfonts

HEAD = b"RIFF\x04\x00\x00\x00sfbk"


@pytest.fixture
def nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A machine without any soundfont: a checkout and one system folder, both empty."""
    for name in ("checkout/soundfonts", "system"):
        (tmp_path / name).mkdir(parents=True)
    monkeypatch.setattr(soundfonts, "CHECKOUT", tmp_path / "checkout")
    monkeypatch.setattr(soundfonts, "SYSTEM_FOLDERS", (tmp_path / "system", tmp_path / "absent"))
    monkeypatch.setattr(soundfonts, "bundled_soundfont", lambda: tmp_path / "carried.sf2")
    return tmp_path


def put(path: Path, content: bytes = HEAD) -> Path:
    """Write a file that starts like a soundfont."""
    path.write_bytes(content)
    return path


def test_the_order_of_places(nowhere: Path) -> None:
    """The option wins over the checkout, that over the system, that over the carried one."""
    carried = put(nowhere / "carried.sf2")
    assert find_soundfont() == carried
    system = put(nowhere / "system" / "band.sf3")
    assert find_soundfont() == system
    own = put(nowhere / "checkout" / "soundfonts" / "own.SF2")
    assert find_soundfont() == own
    given = put(nowhere / "given.sf2")
    assert find_soundfont(given) == given
    assert find_soundfont(str(given)) == given


def test_the_readme_tells_the_order() -> None:
    """The folder's README names every place, in the order in which they are looked at."""
    readme = (soundfonts.CHECKOUT / "soundfonts" / "README.md").read_text(encoding="utf-8")
    order = readme[readme.index("## Which one the band uses") :]
    named = re.findall(r"`([~/][^`]+)`", order)
    assert named == [str(folder) for folder in soundfonts.SYSTEM_FOLDERS]
    places = ["--soundfont FILE", "`soundfonts/`", named[0], "`pretty_midi`", "`default`"]
    assert [order.index(place) for place in places] == sorted(order.index(p) for p in places)


def test_the_systems_default_comes_first(nowhere: Path) -> None:
    """In a folder, the one named default is taken before the alphabet."""
    put(nowhere / "system" / "a.sf2")
    default = put(nowhere / "system" / "default-GM.sf2")
    put(nowhere / "system" / "notes.txt")
    assert find_soundfont() == default


def test_none_anywhere(nowhere: Path) -> None:
    """With none found, every place looked at is listed, with what is wrong, and what to do."""
    put(nowhere / "system" / "broken.sf2", b"hello")
    with pytest.raises(SoundfontMissing) as caught:
        find_soundfont()
    text = str(caught.value)
    for place in ("checkout/soundfonts", "system", "absent: no such folder", "carried.sf2"):
        assert place in text
    assert "broken.sf2: found b'hello' at its start" in text
    assert "apt-get install fluid-soundfont-gm" in text


@pytest.mark.parametrize(
    ("content", "said"),
    [(b"", "an empty file"), (b"RIFF\x00\x00\x00\x00WAVE", "RIFF"), (None, "No such file")],
)
def test_an_option_that_is_no_soundfont(nowhere: Path, content: bytes | None, said: str) -> None:
    """A soundfont named by the person and not usable is refused, never silently replaced."""
    put(nowhere / "carried.sf2")
    wrong = nowhere / "wrong.sf2"
    if content is not None:
        wrong.write_bytes(content)
    with pytest.raises(FileError, match=f"wrong.sf2: .*{said}"):
        find_soundfont(wrong)


def test_a_folder_is_no_soundfont(nowhere: Path) -> None:
    """A folder named as the soundfont is refused."""
    with pytest.raises(FileError, match="system"):
        find_soundfont(nowhere / "system")


@pytest.mark.parametrize("kept", [12, 1000, 3_000_000])
def test_a_soundfont_cut_short(small_soundfont: Path, tmp_path: Path, kept: int) -> None:
    """A soundfont cut short is refused with both sizes."""
    broken = put(tmp_path / "broken.sf2", small_soundfont.read_bytes()[:kept])
    with pytest.raises(FileError, match=rf"broken\.sf2: found {kept} bytes, expected 5994284"):
        Synth(broken)


@pytest.mark.audio
@pytest.mark.parametrize("damage", [slice(12, 400), slice(-50_000, None)])
def test_a_damaged_soundfont(small_soundfont: Path, tmp_path: Path, damage: slice) -> None:
    """A soundfont with damaged tables is refused with FluidSynth's reason."""
    content = bytearray(small_soundfont.read_bytes())
    content[damage] = b"\xff" * len(content[damage])
    with pytest.raises(FileError, match=r"broken\.sf2: FluidSynth cannot load it \(.+\)"):
        Synth(put(tmp_path / "broken.sf2", bytes(content)))


@pytest.mark.audio
def test_after_a_broken_one_all_is_well(small_soundfont: Path, tmp_path: Path) -> None:
    """An error of one synth is not blamed on the next."""
    with pytest.raises(FileError):
        Synth(put(tmp_path / "broken.sf2"))
    samples = whole(Synth(small_soundfont).render(piece(part([Note(0, 1, 60, 90)]))))
    assert samples.any()
