from __future__ import annotations

import io
import os
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.sound.pieces import song, whole
from trainer.errors import FileError, InputError
from trainer.sound import (
    AUDIO_FORMATS,
    LoudnessMeter,
    Rendering,
    Synth,
    measure,
    measure_file,
    wav_header,
    write_audio,
)


@pytest.mark.parametrize("frames", [0, 1, 44100, 10**9])
@pytest.mark.parametrize("rate", [44100, 48000])
def test_the_header_says_the_exact_length(frames: int, rate: int) -> None:
    """Python's own wave reader finds the frames, channels, width and rate in the header."""
    with wave.open(io.BytesIO(wav_header(frames, rate))) as file:
        assert file.getparams()[:4] == (2, 2, rate, frames)


def test_a_wav_has_an_end() -> None:
    """More than a WAV file can say is refused."""
    with pytest.raises(InputError, match="under 4 GiB"):
        wav_header(2**30)


@pytest.mark.audio
class TestWriting:
    @pytest.fixture
    def rendering(self, synth: Synth) -> Rendering:
        """Four bars of a small band."""
        return synth.render(song(3, bars=4))

    def test_wav_is_header_and_blocks(self, rendering: Rendering, tmp_path: Path) -> None:
        """A WAV file is, byte for byte, the header and the rendering's blocks."""
        write_audio(rendering, tmp_path / "song.wav")
        expected = wav_header(rendering.frames) + whole(rendering).tobytes()
        assert (tmp_path / "song.wav").read_bytes() == expected

    def test_flac_is_the_same_sound(self, rendering: Rendering, tmp_path: Path) -> None:
        """A FLAC file gives back the very same samples, and is smaller than a WAV."""
        write_audio(rendering, str(tmp_path / "song.FLAC"))
        samples, rate = soundfile.read(tmp_path / "song.FLAC", dtype="int16")
        assert rate == rendering.sample_rate
        assert np.array_equal(samples, whole(rendering))
        assert soundfile.info(tmp_path / "song.FLAC").format == "FLAC"
        assert (tmp_path / "song.FLAC").stat().st_size < 0.8 * samples.nbytes

    def test_progress_and_loudness_on_the_way(self, rendering: Rendering, tmp_path: Path) -> None:
        """Progress rises to all frames; a meter given along reads what the file reads."""
        done: list[int] = []
        meter = LoudnessMeter(rendering.sample_rate)
        write_audio(rendering, tmp_path / "song.wav", progress=done.append, meter=meter)
        assert done == sorted(set(done))
        assert done[-1] == rendering.frames
        assert meter.result() == measure(rendering, rendering.sample_rate)
        assert measure_file(tmp_path / "song.wav").lufs == pytest.approx(meter.result().lufs)

    @pytest.mark.parametrize("name", ["song.mp3", "song", "wav"])
    def test_other_extensions(self, rendering: Rendering, tmp_path: Path, name: str) -> None:
        """Any other extension is refused before anything is made, naming those allowed."""
        with pytest.raises(InputError, match=r"expected one of \.wav, \.flac"):
            write_audio(rendering, tmp_path / name)
        assert list(tmp_path.iterdir()) == []
        assert list(AUDIO_FORMATS) == [".wav", ".flac"]

    def test_a_folder_that_is_not_there(self, rendering: Rendering, tmp_path: Path) -> None:
        """A path into nowhere is named, with the reason."""
        with pytest.raises(FileError, match=r"none/song\.wav: No such file"):
            write_audio(rendering, tmp_path / "none" / "song.wav")

    def test_a_folder_in_the_files_place(self, rendering: Rendering, tmp_path: Path) -> None:
        """Where a folder has the file's name, it stays and the error names it."""
        (tmp_path / "song.wav").mkdir()
        with pytest.raises(FileError, match=r"song\.wav"):
            write_audio(rendering, tmp_path / "song.wav")
        assert [path.name for path in tmp_path.iterdir()] == ["song.wav"]

    def test_the_umask_of_the_process_is_left_alone(
        self, rendering: Rendering, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """A file has the rights of any new file; the umask, which threads share, stays as it is."""
        plain = tmp_path / "plain"
        plain.touch()

        def refuse(_mask: int) -> int:
            raise AssertionError

        monkeypatch.setattr(os, "umask", refuse)
        write_audio(rendering, tmp_path / "song.wav")
        assert (tmp_path / "song.wav").stat().st_mode == plain.stat().st_mode

    def test_broken_off(self, rendering: Rendering, tmp_path: Path) -> None:
        """Broken off half way, the old file is untouched and nothing is left lying about."""
        target = tmp_path / "song.wav"
        target.write_bytes(b"old")

        def stop(done: int) -> None:
            if done > rendering.frames / 2:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            write_audio(rendering, target, progress=stop)
        assert target.read_bytes() == b"old"
        assert list(tmp_path.iterdir()) == [target]
