"""The page's server: when it answers, what it weighs, how soon a sound comes over HTTP.

Sounds are asked for over the loopback address by httpx, from a real server.
"""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from statistics import median

import httpx

from tests.benchmarks import Row, against, at_most, best_in_turns, seen
from tests.benchmarks.sound import three_minutes
from tests.web.audio.conftest import served
from trainer.band import Arrangement, arrange
from trainer.generate import Settings, generate
from trainer.sound import Synth, find_soundfont, write_audio
from trainer.web.audio import AudioLibrary

MAIN = "from trainer.cli.main import main; main()"
SONGS = 9
TABS = 8
HTML = {"accept": "text/html"}
WARM_WITHIN_S = 60.0


@contextmanager
def page(data: Path) -> Iterator[tuple[int, str, float]]:
    """The whole program, started anew: process, address, seconds from its start to an answer."""
    start = time.perf_counter()
    line = [sys.executable, "-c", MAIN, "--no-browser", "--data", str(data)]
    process = subprocess.Popen(line, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    found = re.search(r"http://\S+/", process.stdout.readline())
    assert found is not None
    try:
        answer = httpx.get(found[0], trust_env=False, follow_redirects=True, headers=HTML)
        answer.raise_for_status()
        yield process.pid, found[0], time.perf_counter() - start
    finally:
        process.send_signal(signal.SIGINT)
        process.communicate()


def memory_mib(pid: int) -> tuple[float, float]:
    """Resident memory, and the part of it that is no file's, MiB."""
    said = dict(re.findall(r"(\w+):\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text("ascii")))
    return int(said["VmRSS"]) / 1024, int(said["RssAnon"]) / 1024


def when_idle(pid: int) -> None:
    """Wait until a process has used no time for a second: it is warm."""
    ticks, since = -1, time.monotonic()
    while time.monotonic() - since < WARM_WITHIN_S:
        fields = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()
        used = int(fields[11]) + int(fields[12])
        if used - ticks <= 1 and ticks >= 0:
            return
        ticks = used
        time.sleep(1.0)


def program() -> list[Row]:
    """Rows of the whole program."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder)
        with page(data) as (_, _, first_s):
            pass
        answered = []
        for _ in range(3):
            with page(data) as (pid, _, seconds):
                answered.append(seconds)
                when_idle(pid)
                resident, own = memory_mib(pid)
    return [
        at_most("first page after the program's start", min(answered), 1.5, "s"),
        seen("first page after the very first start (the record is made)", first_s, "s"),
        seen("idle memory, warm, resident", resident, "MiB"),
        seen("of that, not pages of files", own, "MiB"),
    ]


def songs(first_seed: int) -> list[Arrangement]:
    """Fresh songs."""
    made = []
    for seed in range(first_seed, first_seed + SONGS):
        rng = random.Random(seed)
        made.append(arrange(generate(Settings(), rng), rng=rng))
    return made


def first_byte_s(client: httpx.Client, path: str, **headers: str) -> float:
    """Seconds from asking to the first byte of audio."""
    start = time.perf_counter()
    with client.stream("GET", path, headers=headers) as answer:
        answer.raise_for_status()
        got = 0
        for part in answer.iter_raw():
            got += len(part)
            if got > 44 or headers:
                break
    return time.perf_counter() - start


def of_library(library: AudioLibrary, client: httpx.Client, song: Arrangement) -> list[Row]:
    """Rows of one warm library."""

    def path(arrangement: Arrangement) -> str:
        return f"/audio/{library.register(arrangement)}.wav"

    def ended(place: str) -> None:
        client.get(place).raise_for_status()

    firsts, offers = [], []
    for fresh in songs(20_000):
        start = time.perf_counter()
        place = path(fresh)
        offers.append(time.perf_counter() - start)
        firsts.append(first_byte_s(client, place))
        ended(place)
    place = path(song)
    size = library.wav_size(place[7:-4])
    end = first_byte_s(client, place, range=f"bytes={size - 1}-")
    kept = first_byte_s(client, place, range=f"bytes={size - 1}-")
    tabs = [path(fresh) for fresh in songs(30_000)[:TABS]]
    with ThreadPoolExecutor(TABS) as pool:
        together = list(pool.map(lambda tab: first_byte_s(client, tab), tabs))
    for tab in tabs:
        ended(tab)
    return [
        seen("a song offered, median", 1000 * median(offers), "ms"),
        at_most("first byte of a fresh song, warm, median of 9", 1000 * median(firsts), 150, "ms"),
        seen("the same, slowest", 1000 * max(firsts), "ms"),
        seen(
            f"{TABS} fresh songs asked for at once, slowest first byte", 1000 * max(together), "ms"
        ),
        at_most("last byte of a fresh song of 3 min, by the clock", 1000 * end, 500, "ms"),
        at_most("last byte of a song that is made", 1000 * kept, 150, "ms"),
    ]


def run() -> list[Row]:
    """All rows."""
    rows = program()
    _, song = three_minutes()
    soundfont = find_soundfont()
    with tempfile.TemporaryDirectory() as folder:
        cold = AudioLibrary(soundfont, Path(folder) / "cold")
        with served(cold) as client:
            cold_s = first_byte_s(client, f"/audio/{cold.register(song)}.wav")
            rows.append(seen("first byte of a fresh song, nothing warm", 1000 * cold_s, "ms"))
        cold.close()
        library = AudioLibrary(soundfont, Path(folder) / "warm")
        library._pool.warm_up()
        with served(library) as client:
            rows += of_library(library, client, song)
            before = memory_mib(os.getpid())[1]
            synth = Synth(soundfont)
            turn = iter(range(1, 100))

            def over_http() -> None:
                # Another length, so that each turn is a sound of its own.
                other = song.length_quarters + next(turn) / 1000
                key = library.register(replace(song, length_quarters=other))
                with client.stream("GET", f"/audio/{key}.wav") as answer:
                    answer.raise_for_status()
                    for _ in answer.iter_raw():
                        pass

            ours, other = best_in_turns(
                over_http,
                lambda: write_audio(synth.render(song), Path(folder) / "song.wav"),
            )
            rows.append(
                against(
                    "3 min over HTTP, made and fetched by one process, against our own "
                    "writing of a file",
                    ours,
                    other,
                )
            )
            grown = memory_mib(os.getpid())[1] - before
            rows.append(seen("memory grown by streaming 3 min three times", grown, "MiB"))
        library.close()
    return rows
