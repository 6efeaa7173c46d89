#!/usr/bin/env python3
"""Say how much each family of facts tells about which chords go with a plan.

Usage: scripts/fit_weights.py CORPUS, where CORPUS is the folder that `corpus` describes. Prints the
weights that `likelihood_tables` has in `WEIGHTS`, rounded there.

Each real song is set against itself with two of its chords exchanged, or with one chord of another
song in place of one of its own. A logistic regression without intercept learns to tell the real one
by how much likelier its facts are, a column for each family of facts; the song's own counts are
left out. (Contrastive estimation: M. Gutmann and A. Hyvärinen, "Noise-contrastive estimation",
AISTATS 2010.) Needs scikit-learn, which requirements-dev.lock has.
"""

from __future__ import annotations

import random
import sys
from collections import defaultdict
from collections.abc import Mapping
from math import log
from pathlib import Path

import numpy as np
from corpus import Song, read_songs
from likelihood_tables import NAMED, WEIGHTS, ModeLikelihoods, family, motion
from plan_tables import half_of, is_usable, plan_of, ranked_chords
from sklearn.linear_model import LogisticRegression

from trainer.generate.harmony import mode_name
from trainer.generate.plan_facts import Fact, facts_of
from trainer.generate.plans import read_plan

# Others that each song is set against, the seed that draws them, and the regression's penalty.
OTHERS, SEED, PENALTY = 8, 3, 1.0


class Known:
    """A real song: its mode, the facts of its plan, and its chords by the plan's numbers."""

    def __init__(self, song: Song, half: int) -> None:
        plan = read_plan(plan_of(song, half))
        self.mode = mode_name(plan.minor)
        self.facts: tuple[Fact, ...] = facts_of(plan)
        self.chords = ranked_chords(song)


def known_songs(corpus: Path) -> list[Known]:
    """The songs of the corpus that have a plan."""
    songs = read_songs(corpus)
    return [
        Known(song, half_of(at))
        for at, song in enumerate(songs)
        if is_usable(song) and plan_of(song, half_of(at)) is not None
    ]


def other_chords(rng: random.Random, song: Known, elsewhere: list[str]) -> list[str] | None:
    """The song's chords with two of them exchanged, or one from elsewhere; home stays."""
    chords = list(song.chords)
    if len(chords) < 2:
        return None
    a = rng.randrange(1, len(chords))
    if len(chords) > 2 and rng.random() < 0.5:
        b = rng.choice([at for at in range(1, len(chords)) if at != a])
        chords[a], chords[b] = chords[b], chords[a]
        return chords
    chords[a] = rng.choice(elsewhere)
    return None if chords[a] in song.chords else chords


def evidence(counts: ModeLikelihoods, facts: tuple[Fact, ...], chords: list[str]) -> list[float]:
    """How much likelier the facts are with these chords than a coarser estimate says, as the sum of
    logarithms in each family of `WEIGHTS`."""
    sums: Mapping[str, float] = defaultdict(float)
    for group, numbers in facts:
        tokens = tuple(chords[number] for number in numbers)
        name = family(group)
        if name in NAMED:
            sums[name] += log(counts.named_ratio(group, tokens))
        else:
            sums[name] += log(counts.chance(group, tokens) / counts.coarser(group, tokens))
        if name == "pair":
            moved = motion(*tokens)
            sums["motion"] += log(counts.chance("motion", moved) / counts.coarser("motion", moved))
    return [sums[name] for name in WEIGHTS]


def differences(songs: list[Known]) -> list[list[float]]:
    """The evidence for each song less that for each of the others it is set against."""
    counts = {"major": ModeLikelihoods(), "minor": ModeLikelihoods()}
    for song in songs:
        counts[song.mode].add(song.facts, song.chords)
    elsewhere = {
        mode: [chord for song in songs if song.mode == mode for chord in song.chords[1:]]
        for mode in counts
    }
    rng = random.Random(SEED)
    rows = []
    for song in songs:
        counts[song.mode].add(song.facts, song.chords, -1)
        own = evidence(counts[song.mode], song.facts, song.chords)
        for _ in range(OTHERS):
            others = other_chords(rng, song, elsewhere[song.mode])
            if others is not None:
                theirs = evidence(counts[song.mode], song.facts, others)
                rows.append([a - b for a, b in zip(own, theirs, strict=True)])
        counts[song.mode].add(song.facts, song.chords)
    return rows


def main() -> None:
    """Print the weight of each family, and how often the real song is told."""
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    rows = np.array(differences(known_songs(Path(sys.argv[1]))))
    # Every second row is turned round, so that there are two classes.
    signs = np.where(np.arange(len(rows)) % 2, -1, 1)
    x, y = rows * signs[:, None], signs > 0
    fitted = LogisticRegression(C=PENALTY, fit_intercept=False).fit(x, y)
    for name, weight in zip(WEIGHTS, fitted.coef_[0], strict=True):
        print(f"{name:10} {weight:6.2f}   {WEIGHTS[name][0]:.2f} in use")
    print(f"{len(rows)} pairs, of which the real one is told in {fitted.score(x, y):.1%}")


if __name__ == "__main__":
    main()
