"""The library over HTTP: a real server, asked by httpx and curl."""

from __future__ import annotations

import io
import shutil
import socket
import subprocess
import threading
import wave
from pathlib import Path

import httpx
import pytest
import soundfile

from tests.patience import PATIENCE_S, until
from tests.sound.pieces import song
from tests.web.audio.conftest import MakeLibrary, served
from tests.web.audio.gated import BLOCK_BYTES, Gated
from tests.web.audio.reading import settled
from trainer.sound import Synth, write_audio
from trainer.web.audio import AudioLibrary

SONG = song(3, bars=2)


@pytest.fixture
def path(library: AudioLibrary) -> str:
    """Where the song is."""
    return f"/audio/{library.register(SONG)}.wav"


@pytest.fixture
def made(gated: Gated, client: httpx.Client, path: str, library: AudioLibrary) -> bytes:
    """The song's bytes, all made and kept."""
    gated.let()
    assert client.get(path).content == gated.wav
    # The last bytes go out a moment before the file is put in its place.
    settled(library)
    return gated.wav


class TestWhole:
    @pytest.mark.audio
    def test_the_body_is_the_file_that_render_writes(
        self, client: httpx.Client, path: str, small_soundfont: Path, tmp_path: Path
    ) -> None:
        """Streamed while it is made, and again from the cache, it is the file of `write_audio`."""
        write_audio(Synth(small_soundfont).render(SONG), tmp_path / "song.wav")
        expected = (tmp_path / "song.wav").read_bytes()
        for _ in range(2):
            answer = client.get(path)
            assert answer.content == expected
            assert answer.headers["content-length"] == str(len(expected))
            assert answer.headers["content-type"] == "audio/wav"

    @pytest.mark.audio
    def test_independent_readers_take_it(self, client: httpx.Client, path: str) -> None:
        """Python's wave reader takes the WAV, libsndfile the FLAC, of the promised length."""
        answer = client.get(path)
        with wave.open(io.BytesIO(answer.content)) as file:
            frames = file.getnframes()
        flac = client.get(path.replace(".wav", ".flac"))
        assert flac.headers["content-type"] == "audio/flac"
        assert soundfile.info(io.BytesIO(flac.content)).frames == frames
        assert 44 + 4 * frames == int(answer.headers["content-length"])

    def test_the_length_is_told_before_a_note_is_made(
        self, client: httpx.Client, gated: Gated, path: str
    ) -> None:
        """HEAD gives length, validator and ranges, and makes nothing."""
        answer = client.head(path)
        assert answer.status_code == 200
        assert answer.headers["content-length"] == str(len(gated.wav))
        assert answer.headers["accept-ranges"] == "bytes"
        assert answer.headers["etag"].startswith('"')
        assert answer.content == b""
        assert gated.iterated == 0

    def test_head_says_what_get_says(self, client: httpx.Client, path: str, made: bytes) -> None:
        """Headers of HEAD and GET differ in their date at most (RFC 9110, section 9.3.2)."""
        told = [dict(client.request(method, path).headers) for method in ("HEAD", "GET")]
        for headers in told:
            headers.pop("date")
        assert told[0] == told[1]

    def test_flac_has_ranges_too(self, client: httpx.Client, path: str, made: bytes) -> None:
        """A part of the FLAC is a slice of it; its validator is not the WAV's."""
        path = path.replace(".wav", ".flac")
        whole = client.get(path)
        part = client.get(path, headers={"range": "bytes=10-99"})
        assert part.status_code == 206
        assert part.content == whole.content[10:100]
        assert client.head(path).headers["content-length"] == str(len(whole.content))
        assert whole.headers["etag"] != client.head(path.replace(".flac", ".wav")).headers["etag"]


RANGES = ["0-0", "0-43", "44-99", "100-", "-1", "-1000", "5000-70000", "90000-999999999"]


class TestRanges:
    @pytest.mark.parametrize("asked", RANGES)
    def test_a_part_is_a_slice(
        self, client: httpx.Client, path: str, made: bytes, asked: str
    ) -> None:
        """206 with the slice, its place and the size of the whole."""
        answer = client.get(path, headers={"range": f"bytes={asked}"})
        first, _, last = asked.partition("-")
        start = int(first) if first else len(made) - int(last)
        expected = made[start : int(last) + 1] if first and last else made[start:]
        assert answer.status_code == 206
        assert answer.content == expected
        assert answer.headers["content-range"] == (
            f"bytes {start}-{start + len(expected) - 1}/{len(made)}"
        )
        assert answer.headers["content-length"] == str(len(expected))

    def test_beyond_the_end(self, client: httpx.Client, path: str, made: bytes) -> None:
        """416 says how long the whole is."""
        answer = client.get(path, headers={"range": f"bytes={len(made)}-"})
        assert answer.status_code == 416
        assert answer.headers["content-range"] == f"bytes */{len(made)}"

    def test_several_at_once_give_the_whole(
        self, client: httpx.Client, path: str, made: bytes
    ) -> None:
        """A request of several ranges is answered with everything."""
        answer = client.get(path, headers={"range": "bytes=0-1,5-6"})
        assert (answer.status_code, answer.content) == (200, made)

    def test_if_range(self, client: httpx.Client, path: str, made: bytes) -> None:
        """The right validator gives the part, another the whole."""
        etag = client.head(path).headers["etag"]
        for known, status in ((etag, 206), ('"other"', 200), (f"W/{etag}", 200)):
            answer = client.get(path, headers={"range": "bytes=50-59", "if-range": known})
            assert answer.status_code == status
            assert answer.content == (made[50:60] if status == 206 else made)

    def test_what_is_known_is_not_sent_again(
        self, client: httpx.Client, path: str, made: bytes
    ) -> None:
        """If-None-Match with the validator is answered 304 without a body."""
        etag = client.head(path).headers["etag"]
        answer = client.get(path, headers={"if-none-match": etag})
        assert (answer.status_code, answer.content) == (304, b"")
        assert answer.headers["etag"] == etag

    def test_the_validator_outlives_the_program(
        self, client: httpx.Client, path: str, made: bytes, make_library: MakeLibrary
    ) -> None:
        """A download continues where it stopped after the server has been restarted."""
        etag = client.head(path).headers["etag"]
        with served(make_library()) as again:
            answer = again.get(path, headers={"range": "bytes=9000-", "if-range": etag})
        assert (answer.status_code, answer.content) == (206, made[9000:])


class TestWhileItIsMade:
    def test_bytes_arrive_before_the_rest_is_made(
        self, client: httpx.Client, gated: Gated, path: str
    ) -> None:
        """One block made is one block sent, under the whole's exact length."""
        gated.let(1)
        with client.stream("GET", path) as answer:
            parts = answer.iter_raw()
            found = b""
            while len(found) < 44 + BLOCK_BYTES:
                found += next(parts)
            assert found == gated.wav[: 44 + BLOCK_BYTES]
            assert answer.headers["content-length"] == str(len(gated.wav))
            gated.let()
            assert found + b"".join(parts) == gated.wav

    def test_a_range_ahead_is_answered_at_once(
        self, client: httpx.Client, gated: Gated, path: str
    ) -> None:
        """Status and length come with the first block, bytes when the rendering comes there."""
        gated.let(1)
        with client.stream("GET", path, headers={"range": "bytes=-100"}) as answer:
            assert answer.status_code == 206
            assert answer.headers["content-range"].endswith(f"/{len(gated.wav)}")
            gated.let()
            assert answer.read() == gated.wav[-100:]
        assert client.get(path).content == gated.wav
        assert gated.iterated == 1

    def test_several_tabs_share_one_rendering(
        self, client: httpx.Client, gated: Gated, path: str
    ) -> None:
        """Whole and parts asked for at the same time are of one rendering."""
        asked = [None, "bytes=40000-", "bytes=100-200", None, "bytes=-5000"]
        found: dict[int, bytes] = {}

        def ask(place: int) -> None:
            headers = {"range": value} if (value := asked[place]) else {}
            found[place] = client.get(path, headers=headers).content

        threads = [threading.Thread(target=ask, args=(place,)) for place in range(len(asked))]
        for thread in threads:
            thread.start()
        gated.let()
        for thread in threads:
            thread.join(PATIENCE_S)
        whole = gated.wav
        assert [found[place] for place in range(5)] == [
            whole,
            whole[40000:],
            whole[100:201],
            whole,
            whole[-5000:],
        ]
        assert gated.iterated == 1

    def test_other_requests_are_answered_meanwhile(
        self, client: httpx.Client, gated: Gated, path: str
    ) -> None:
        """Readers that wait for a sound keep nobody else waiting."""
        gated.let(1)
        streams = [client.stream("GET", path) for _ in range(50)]
        client._transport = httpx.HTTPTransport(limits=httpx.Limits(max_connections=None))
        for stream in streams:
            assert stream.__enter__().status_code == 200
        assert client.get("/alive").json() == "yes"
        gated.let()
        for stream in streams:
            stream.__exit__(None, None, None)

    def test_who_hangs_up_stops_nothing(
        self, client: httpx.Client, library: AudioLibrary, gated: Gated, path: str
    ) -> None:
        """A reader gone midway leaves a sound that is finished, kept and held by nobody."""
        gated.let(1)
        with client.stream("GET", path) as answer:
            next(answer.iter_raw())
        gated.let()
        assert client.get(path).content == gated.wav
        settled(library)
        assert gated.iterated == 1
        assert client.get(path).content == gated.wav


class TestAbandoned:
    """Requests on raw connections, whose clients hang up."""

    @staticmethod
    def ask(client: httpx.Client, path: str) -> socket.socket:
        """A request whose answer is not read."""
        where = client.base_url
        connection = socket.create_connection((where.host, where.port or 80), timeout=PATIENCE_S)
        head = f"GET {path} HTTP/1.1\r\nHost: {where.host}:{where.port}\r\n\r\n"
        connection.sendall(head.encode())
        return connection

    def test_finished_sounds_do_not_wait_for_others(
        self, client: httpx.Client, library: AudioLibrary, gated: Gated, path: str, made: bytes
    ) -> None:
        """With many FLAC and WAV requests waiting for a sound, one that is there comes at once."""
        other = library.register(song(4, bars=2))
        held = [self.ask(client, f"/audio/{other}.{kind}") for kind in ["flac"] * 20 + ["wav"] * 20]
        until(lambda: readers(library) >= 21)
        assert client.get(path).content == made
        for connection in held:
            connection.close()
        gated.let()

    def test_who_hangs_up_waits_no_longer(
        self, client: httpx.Client, library: AudioLibrary, gated: Gated
    ) -> None:
        """FLAC, whole and parts that nobody waits for any more are given up although no byte of
        them has come."""
        key = library.register(song(4, bars=2))
        held = [self.ask(client, f"/audio/{key}.{kind}") for kind in ["flac"] * 8 + ["wav"] * 8]
        # One for all who wait for FLAC.
        until(lambda: readers(library) == 9)
        for connection in held:
            connection.close()
        until(lambda: readers(library) == 0)
        until(lambda: not library._flac._encodings)
        gated.let()

    def test_who_hangs_up_midway_reads_no_longer(
        self, client: httpx.Client, library: AudioLibrary, gated: Gated
    ) -> None:
        """A stream whose next bytes have not come ends when its client goes."""
        key = library.register(song(4, bars=2))
        gated.let(1)
        connection = self.ask(client, f"/audio/{key}.wav")
        assert connection.recv(100)
        connection.close()
        until(lambda: readers(library) == 0)
        gated.let()


def readers(library: AudioLibrary) -> int:
    """How many read sounds that are being rendered."""
    return sum(job.readers for job in list(library._pool._jobs.values()))


class TestFaults:
    def test_no_such_sound(self, client: httpx.Client) -> None:
        """A key never offered, or none at all, is told in plain text."""
        for name in ("0" * 40, "nonsense", "..%2f..%2fsecret", "secret"):
            for kind in ("wav", "flac"):
                answer = client.get(f"/audio/{name}.{kind}")
                assert answer.status_code == 404
        assert client.get(f"/audio/{'0' * 40}.wav").text.startswith("This sound is no longer here")

    def test_no_soundfont(self, make_library: MakeLibrary, tmp_path: Path) -> None:
        """503 and the reason in plain text; what needs no sound goes on."""
        library = make_library(soundfont=tmp_path / "missing.sf2")
        key = library.register(SONG)
        with served(library) as client:
            for method in ("GET", "HEAD"):
                for kind in ("wav", "flac"):
                    answer = client.request(method, f"/audio/{key}.{kind}")
                    assert answer.status_code == 503
                    assert answer.headers["content-type"].startswith("text/plain")
            assert "missing.sf2" in client.get(f"/audio/{key}.wav").text
            assert client.get("/alive").status_code == 200

    def test_a_rendering_that_fails_at_its_start(
        self, client: httpx.Client, gated: Gated, path: str
    ) -> None:
        """Before the first note there is still time to say why."""
        gated.fail()
        answer = client.get(path)
        assert answer.status_code == 503
        assert answer.text == "No sound: the sound could not be made: no more notes\n"

    def test_a_rendering_that_breaks_off(
        self, client: httpx.Client, gated: Gated, path: str
    ) -> None:
        """Afterwards the connection breaks: a short body never looks whole."""
        gated.let(1)
        with client.stream("GET", path) as answer:
            gated.fail()
            with pytest.raises(httpx.RemoteProtocolError):
                answer.read()
        assert client.get("/alive").status_code == 200


@pytest.mark.skipif(shutil.which("curl") is None, reason="curl is not installed")
class TestCurl:
    def test_a_part(self, client: httpx.Client, path: str, made: bytes, tmp_path: Path) -> None:
        """`curl -r` gets the part."""
        out = tmp_path / "part"
        subprocess.run(
            ["curl", "-sS", "--fail", "-r", "1000-2999", "-o", out, f"{client.base_url}{path}"],
            check=True,
        )
        assert out.read_bytes() == made[1000:3000]

    def test_a_download_that_goes_on(
        self, client: httpx.Client, path: str, made: bytes, tmp_path: Path
    ) -> None:
        """`curl -C -` completes a file that was broken off."""
        out = tmp_path / "song.wav"
        out.write_bytes(made[:30_000])
        subprocess.run(
            ["curl", "-sS", "--fail", "-C", "-", "-o", out, f"{client.base_url}{path}"], check=True
        )
        assert out.read_bytes() == made
