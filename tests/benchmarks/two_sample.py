"""Can a classifier tell songs of `EVERYDAY` from real ones?

Usage: python -m tests.benchmarks.two_sample CORPUS [--blocks N] [--seed S] [--table ROWS], where
CORPUS is a folder with `sequences.json` (see `idiom`). This is the classifier two-sample test
(D. Lopez-Paz and M. Oquab, "Revisiting classifier two-sample tests", ICLR 2017): gradient boosting
learns from four fifths of the songs which are real and is tested on the last fifth, in five turns;
the area under its ROC curve is .5 where it can only guess. Each block has as many songs of ours as
there are real ones. The floor is one half of the real songs against the other. There are two views:
`harmony` sees no labels and no lengths, `all` sees everything. Two more judges guard against
fitting one list of features to one classifier: a random forest on the same features, and logistic
regression on n-grams of bars and chords with their places.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Sequence
from pathlib import Path
from statistics import mean
from typing import Any

import numpy as np
from sklearn.ensemble import HistGradientBoostingClassifier, RandomForestClassifier
from sklearn.feature_extraction import FeatureHasher
from sklearn.inspection import permutation_importance
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import StratifiedKFold
from sklearn.preprocessing import normalize
from threadpoolctl import threadpool_limits

from tests.benchmarks.song_features import form_features, harmony_features
from tests.benchmarks.written_songs import WrittenSong, read_chart, read_corpus
from tests.generate.everyday import EVERYDAY
from trainer.generate import generate

FOLDS = 5
BLOCKS = (0, 50_000, 100_000)


def matrix(songs: Sequence[WrittenSong], view: str) -> tuple[list[str], Any]:
    """Return the names of a view's features and their values, a row for each song."""
    rows = [
        harmony_features(song) | (form_features(song) if view == "all" else {}) for song in songs
    ]
    names = sorted({name for row in rows for name in row})
    return names, np.array([[row.get(name, 0.0) for name in names] for row in rows])


def boosting(seed: int) -> HistGradientBoostingClassifier:
    """Return the judge."""
    return HistGradientBoostingClassifier(
        max_iter=150,
        learning_rate=0.06,
        max_leaf_nodes=12,
        l2_regularization=1.0,
        random_state=seed,
    )


def forest(seed: int) -> RandomForestClassifier:
    """Return another judge of the same features."""
    return RandomForestClassifier(200, min_samples_leaf=2, random_state=seed, n_jobs=1)


def logistic(seed: int) -> LogisticRegression:
    """Return the judge of n-grams."""
    return LogisticRegression(C=0.5, max_iter=300, random_state=seed)


def area(make: Any, x: Any, y: Any, seed: int = 0) -> float:
    """Return the area under the ROC curve of a classifier, over five folds."""
    scores = []
    for train, test in StratifiedKFold(FOLDS, shuffle=True, random_state=seed).split(x, y):
        model = make(seed).fit(x[train], y[train])
        scores.append(roc_auc_score(y[test], model.predict_proba(x[test])[:, 1]))
    return mean(scores)


def grams(song: WrittenSong) -> list[str]:
    """Return n-grams of bars of a song, plain and with their place in the line, and of sections."""
    found = []
    for section in song.sections:
        for line in section.lines:
            words = [
                "_".join(
                    f"{e.chord}{'^' if e.extension else ''}{'/' if e.bass else ''}" for e in bar
                )
                for bar in line
            ]
            for order in (1, 2, 3, 4):
                for at in range(len(words) - order + 1):
                    text = " ".join(words[at : at + order])
                    found += [text, f"{min(at, 4)}:{text}"]
    chords = [e.chord for bar in song.bars() for e in bar]
    chords = [c for at, c in enumerate(chords) if not at or chords[at - 1] != c]
    for order in (2, 3, 4, 5):
        found += ["c " + " ".join(chords[at : at + order]) for at in range(len(chords) - order + 1)]
    return found


def hashed(songs: Sequence[WrittenSong]) -> Any:
    """Return the n-grams of songs as rows of square-rooted shares."""
    hasher = FeatureHasher(2**15, input_type="string", alternate_sign=False)
    counts = hasher.transform(grams(song) for song in songs)
    counts.data = np.sqrt(counts.data)
    return normalize(counts)


def block(seed: int, count: int) -> list[WrittenSong]:
    """Return so many songs of ours."""
    return [read_chart(generate(EVERYDAY, random.Random(seed + at))) for at in range(count)]


def judged(real: Sequence[WrittenSong], ours: Sequence[WrittenSong]) -> dict[str, float]:
    """Return the area of every judge and view."""
    songs = [*real, *ours]
    y = np.array([0] * len(real) + [1] * len(ours))
    harmony, everything = matrix(songs, "harmony")[1], matrix(songs, "all")[1]
    return {
        "harmony": area(boosting, harmony, y),
        "all": area(boosting, everything, y),
        "harmony, forest": area(forest, harmony, y),
        "all, forest": area(forest, everything, y),
        "n-grams": area(logistic, hashed(songs), y),
    }


def giveaways(
    real: Sequence[WrittenSong], ours: Sequence[WrittenSong], view: str
) -> list[tuple[str, float, float, float, float]]:
    """Return the name of each feature, its joint importance (how much the area falls where it is
    shuffled), its own area, and its means in real songs and ours; the most telling first."""
    songs = [*real, *ours]
    y = np.array([0] * len(real) + [1] * len(ours))
    names, x = matrix(songs, view)
    joint = np.zeros(len(names))
    for train, test in StratifiedKFold(FOLDS, shuffle=True, random_state=0).split(x, y):
        model = boosting(0).fit(x[train], y[train])
        shuffled = permutation_importance(
            model, x[test], y[test], scoring="roc_auc", n_repeats=2, random_state=0
        )
        joint += shuffled.importances_mean / FOLDS
    rows = [
        (
            name,
            float(joint[at]),
            float(roc_auc_score(y, x[:, at])),
            float(x[y == 0, at].mean()),
            float(x[y == 1, at].mean()),
        )
        for at, name in enumerate(names)
    ]
    return sorted(rows, key=lambda row: -row[1])


def print_giveaways(rows: list[tuple[str, float, float, float, float]], most: int) -> None:
    """Print what gives our songs away, jointly and singly."""
    singly = sorted(rows, key=lambda row: -abs(row[2] - 0.5))
    for title, ranked in (("jointly", rows), ("singly", singly)):
        print(f"\n{title:44}{'joint':>8}{'single':>8}{'real':>9}{'ours':>9}")
        for name, joint, single, theirs, mine in ranked[:most]:
            print(f"{name:44}{joint:8.4f}{single:8.3f}{theirs:9.3f}{mine:9.3f}")


def main() -> None:
    """Print the areas and what gives our songs away."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("corpus", type=Path)
    parser.add_argument("--blocks", type=int, default=3)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--table", type=int, default=25, help="rows of each table, 0 for none")
    asked = parser.parse_args()
    # Threads that wait for each other lose minutes on a machine where others are at work.
    threadpool_limits(1)
    real = read_corpus(asked.corpus)
    columns = {"floor": judged(real[::2], real[1::2])}
    ours: list[WrittenSong] = []
    for start in BLOCKS[: asked.blocks]:
        ours = block(asked.seed + start, len(real))
        columns[f"seeds {asked.seed + start}"] = judged(real, ours)
    print(f"{'area under the curve':24}" + "".join(f"{name:>16}" for name in columns))
    for view in columns["floor"]:
        print(f"{view:24}" + "".join(f"{column[view]:16.3f}" for column in columns.values()))
    for view in ("harmony", "all"):
        if asked.table:
            print(f"\nWhat gives our songs away, {view}")
            print_giveaways(giveaways(real, ours, view), asked.table)


if __name__ == "__main__":
    main()
