"""The start page while many listeners stream fresh songs: 64 streams of 16 songs at once.

The whole program runs in a process of its own and the listeners in another, all on the loopback
address. The listeners read as fast as the bytes come and stop after `LISTEN_S` seconds.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

import httpx

from tests.benchmarks import Row, at_most, seen
from tests.benchmarks.web_audio import HTML, page, when_idle

SONGS, STREAMS = 16, 64
LISTEN_S = 15.0
ASK_EVERY_S = 0.1
LEVEL = "24"

# Reads all addresses given and prints, for each, seconds to the first byte of audio and to the end.
LISTENERS = """
import json, selectors, socket, sys, time
host, port, within_s, *paths = sys.argv[1:]
ready = selectors.DefaultSelector()
start = time.perf_counter()
for path in paths:
    one = socket.create_connection((host, int(port)))
    one.sendall(f"GET {path} HTTP/1.1\\r\\nHost: {host}:{port}\\r\\nConnection: close\\r\\n\\r\\n"
                .encode())
    one.setblocking(False)
    ready.register(one, selectors.EVENT_READ, [0, None, None])
buffer = bytearray(2**18)
told = []
print("listening", flush=True)
while ready.get_map() and time.perf_counter() - start < float(within_s):
    for key, _ in ready.select(0.1):
        got = key.fileobj.recv_into(buffer)
        key.data[0] += got
        if key.data[1] is None and key.data[0] > 1000:
            key.data[1] = time.perf_counter() - start
        if not got:
            told.append((key.data[1], time.perf_counter() - start, key.data[0]))
            ready.unregister(key.fileobj)
told += [(key.data[1], None, key.data[0]) for key in list(ready.get_map().values())]
print(json.dumps(told))
"""


def fresh_songs(client: httpx.Client) -> list[str]:
    """Paths of the sounds of new exercises, as their pages name them."""
    paths = []
    for seed in range(SONGS):
        answer = client.post("/begin", data={"level": LEVEL, "seed": str(seed)})
        found = re.search(r'<audio id="song"[^>]* src="([^"]+)"', answer.text)
        assert found is not None, answer.text
        paths.append(found[1])
    return paths


def answers_s(client: httpx.Client, until: float) -> list[float]:
    """Seconds that the start page takes, asked for again and again."""
    took = []
    while time.perf_counter() < until:
        start = time.perf_counter()
        client.get("/").raise_for_status()
        took.append(time.perf_counter() - start)
        time.sleep(ASK_EVERY_S)
    return took


def processor_s(pid: int) -> float:
    """Processor time that a process has used."""
    fields = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def run() -> list[Row]:
    """All rows."""
    with (
        tempfile.TemporaryDirectory() as folder,
        page(Path(folder)) as (pid, address, _),
        httpx.Client(
            base_url=address, trust_env=False, timeout=60, follow_redirects=True, headers=HTML
        ) as client,
    ):
        client.post("/hearing").raise_for_status()
        when_idle(pid)
        alone = answers_s(client, time.perf_counter() + 2)
        paths = fresh_songs(client) * (STREAMS // SONGS)
        where = httpx.URL(address)
        line = [sys.executable, "-c", LISTENERS, where.host, str(where.port), str(LISTEN_S), *paths]
        listeners = subprocess.Popen(line, stdout=subprocess.PIPE, text=True)
        assert listeners.stdout is not None
        listeners.stdout.readline()
        used_s = -processor_s(pid)
        took = answers_s(client, time.perf_counter() + LISTEN_S - 2)
        told = json.loads(listeners.communicate()[0])
        used_s += processor_s(pid)
    firsts = [first if first is not None else LISTEN_S for first, _, _ in told]
    megabytes = sum(size for *_, size in told) / 1e6
    return [
        seen("start page, nothing else asked for, median", 1000 * median(alone), "ms"),
        at_most("with 64 streams of 16 songs running, median", 1000 * median(took), 200, "ms"),
        at_most("the same, slowest", 1000 * max(took), 200, "ms"),
        seen("first byte of a stream, median", median(firsts), "s"),
        seen("the same, slowest", max(firsts), "s"),
        seen("streams that ended in time", sum(end is not None for _, end, _ in told), ""),
        seen("read by all", megabytes, "MB"),
        seen("processor time of the server meanwhile", used_s, "s"),
    ]
