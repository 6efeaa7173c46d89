"""Kill the server at random moments and look for every attempt it confirmed.

`python -m tests.web.killing --runs 200 --seed 1` prints what was found; the test of the same name
does a few runs.
"""

from __future__ import annotations

import argparse
import random
import signal
import subprocess
import sys
import tempfile
import threading
from collections import deque
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import httpx

from tests.patience import PATIENCE_S
from tests.store.samples import check_store
from trainer.drill import Drills, rebuild
from trainer.exercise import load_course, make_exercise
from trainer.store import Store

NAME = "Wren Halloway"
ANSWER = "1 4 5 1"
COMMAND = "from trainer.cli.main import main; main()"
# A kill comes within this time from the first attempt that the server confirmed.
LONGEST_LIFE_S = 2.0
# More than a server takes in so short a life.
MOST_IN_A_LIFE = 150

Begun = deque[tuple[str, str]]


@dataclass(slots=True)
class Found:
    """What the runs came to: attempts confirmed, those that are not there, attempts in all."""

    runs: int = 0
    confirmed: set[str] = field(default_factory=set)
    lost: set[str] = field(default_factory=set)
    stored: int = 0
    rebuilt: bool = False


def kill_often(folder: Path, runs: int, seed: int) -> Found:
    """Start the server on one record, hand in without pause, kill it; `runs` times."""
    drills = _begin_drills(folder, runs * MOST_IN_A_LIFE)
    rng, found = random.Random(seed), Found()
    for _ in range(runs):
        found.confirmed |= _one_life(folder, drills, rng.uniform(0, LONGEST_LIFE_S))
        found.runs += 1
    with Store(folder) as store:
        check_store(store)
        learner = store.learners.get(NAME)
        assert learner is not None
        kept = {attempt.token for attempt in store.attempts.history(learner, limit=1_000_000)}
        found.stored, found.lost = len(kept), found.confirmed - kept
        before = store.ratings.state(learner)
        rebuild(store, learner)
        found.rebuilt = store.ratings.state(learner) == before
    return found


def _begin_drills(folder: Path, count: int) -> Begun:
    """Begin as many drills; their exercises and tokens."""
    level = load_course()[0]
    with Store(folder) as store:
        now = datetime.now(UTC)
        learner = store.learners.caution_shown(store.learners.get_or_add(NAME, now), now)
        with store.transaction() as within:
            drills = Drills(within, learner, lambda: now)
            begun = [drills.begin(make_exercise(level.recipe, n, level)) for n in range(count)]
    return deque((each.record.key, each.token) for each in begun)


def _one_life(folder: Path, drills: Begun, life_s: float) -> set[str]:
    """Tokens of the attempts that one server confirmed before it was killed."""
    line = [sys.executable, "-c", COMMAND, "--no-browser", "--data", str(folder)]
    server = subprocess.Popen(
        [*line, "--learner", NAME], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    try:
        assert server.stdout is not None
        said = server.stdout.readline()
        address = said.split("at ")[1].split()[0]
        confirmed: set[str] = set()
        sender = threading.Thread(target=_hand_in, args=(address, drills, confirmed))
        sender.start()
        while not confirmed and sender.is_alive():
            sender.join(0.01)
        sender.join(life_s)
    finally:
        server.send_signal(signal.SIGKILL)
        server.wait()
        if server.stdout is not None:
            server.stdout.close()
    sender.join()
    return confirmed


def _hand_in(address: str, drills: Begun, confirmed: set[str]) -> None:
    """Hand in one drill after another until the server is gone, or all are handed in."""
    with httpx.Client(trust_env=False, timeout=PATIENCE_S) as client:
        while drills:
            exercise_id, token = drills.popleft()
            data = {"token": token, "text": ANSWER}
            try:
                answer = client.post(f"{address}write/{exercise_id}", data=data)
            except httpx.TransportError:
                return
            if answer.status_code != httpx.codes.SEE_OTHER:
                raise AssertionError(f"{answer.status_code}: {answer.text}")
            confirmed.add(token)


def main() -> int:
    """Run and tell; 1 if an attempt was lost."""
    parser = argparse.ArgumentParser(prog="python -m tests.web.killing")
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = kill_often(Path(folder), options.runs, options.seed)
    sys.stdout.write(
        f"{found.runs} kills, {len(found.confirmed)} attempts confirmed, {found.stored} stored, "
        f"{len(found.lost)} lost, ratings made anew {'equal' if found.rebuilt else 'DIFFER'}\n"
    )
    return 0 if not found.lost and found.rebuilt else 1


if __name__ == "__main__":
    sys.exit(main())
