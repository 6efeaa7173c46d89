"""How like people the players play: the voice's line, timing, strength, drum bars, guitar bars.

Everything is read from the notes of a fixed set of songs, without audio: the hand-written songs of
the course and one song in every feel, each played with several seeds. The grid of each bar comes
from the timeline, so that swung and compound bars are measured like straight ones.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from statistics import correlation, mean, pstdev

from tests.band.songs import river_song
from tests.benchmarks import Row, seen
from tests.benchmarks.__main__ import table
from tests.benchmarks.performances import Line, Performance, perform
from tests.benchmarks.players_bars import drum_rows, guitar_rows, line_rows
from tests.benchmarks.players_strength import strength_rows
from trainer.chart import Chart, Feel
from trainer.exercise import load_songs

SEEDS = range(3)
LEAST_LEAP, WIDEST_LEAP, STEP = 5, 12, 2
OPENING_MOVES = 3


def songs() -> list[Chart]:
    """The charts that are played."""
    written = [exercise.chart for exercise in load_songs()]
    return written + [river_song(feel) for feel in Feel]


def _is_recovered(moves: list[int], place: int) -> bool:
    """Whether the next move after a leap that is no repeated note is a step the other way."""
    after = next((move for move in moves[place + 1 :] if move), 0)
    return 0 < abs(after) <= STEP and (after > 0) != (moves[place] > 0)


def voice_rows(played: list[Performance]) -> list[Row]:
    """How far the voice moves, and how lines that come back compare with their first time."""
    sizes: Counter[int] = Counter()
    leaps: list[tuple[int, bool]] = []
    for performance in played:
        for line in performance.lines():
            moves = [b.pitch - a.pitch for a, b in pairwise(line.led_in)]
            sizes.update(abs(move) for move in moves)
            leaps += [
                (place, _is_recovered(moves, place))
                for place, move in enumerate(moves)
                if abs(move) >= LEAST_LEAP
            ]
    count = sizes.total()
    leap_share = sum(n for size, n in sizes.items() if LEAST_LEAP <= size <= WIDEST_LEAP) / count
    step_share = sum(n for size, n in sizes.items() if size <= STEP) / count
    opening = [place < OPENING_MOVES for place, _ in leaps]
    rows = [
        seen("voice: moves", count, ""),
        seen("… steps and repeated notes", 100 * step_share, "%"),
        seen("… a fourth to an octave", 100 * leap_share, "%"),
        seen("… widest", max(sizes), "semitones"),
        seen("leaps in the first three moves of a line", 100 * mean(opening or [0]), "%"),
        seen("… recovered by a step", 100 * mean([good for _, good in leaps] or [0]), "%"),
    ]
    return rows + _return_rows(played)


def _return_rows(played: list[Performance]) -> list[Row]:
    """How like its first time a line is sung in the later sections of its kind."""
    kinds: dict[str, list[tuple[float, bool, bool, bool, bool]]] = {"verse": [], "chorus": []}
    for performance in played:
        first: dict[tuple[object, ...], Line] = {}
        for line in performance.lines():
            before = first.setdefault(line.key, line)
            if before is line or line.key[0] not in kinds:
                continue
            old, new = before.relative, line.relative
            bar = line.phrase.bars[0].end - line.phrase.bars[0].start - 0.02
            kinds[str(line.key[0])].append(
                (
                    sum(note in new for note in old) / len(old),
                    [at for at, _ in old] == [at for at, _ in new],
                    old[-1] == new[-1],
                    old == new,
                    [n for n in old if n[0] < bar] == [n for n in new if n[0] < bar],
                )
            )
    names = (
        "notes the same",
        "rhythm the same",
        "last note the same",
        "note for note",
        "first bar",
    )
    return [
        seen(
            f"{kind} lines that come back ({len(found)}): {name}" if place == 0 else f"… {name}",
            100 * mean(float(each[place]) for each in found),
            "%",
        )
        for kind, found in kinds.items()
        for place, name in enumerate(names)
    ]


def timing_rows(played: list[Performance], group: str) -> list[Row]:
    """Spread, place and likeness of the players' deviations from the beat, in milliseconds."""
    late: dict[str, list[dict[float, float]]] = {}
    for performance in played:
        for name in ("drums", "bass", "guitar", "keys", "voice"):
            found = performance.deviations_ms(name)
            if len(found) > 20:
                late.setdefault(name, []).append(found)
            else:
                late.setdefault(name, []).append({})
    rows = []
    for name, every in late.items():
        series = [list(found.values()) for found in every if found]
        if not series:
            continue
        following = [correlation(one[:-1], one[1:]) for one in series]
        rows += [
            seen(f"{name}{group}: standard deviation", mean(map(pstdev, series)), "ms"),
            seen("… mean", mean(map(mean, series)), "ms after the beat"),
            seen("… correlation of a beat with the next", mean(following), ""),
        ]
    for one, other in (("drums", "bass"), ("drums", "guitar"), ("bass", "guitar")):
        pairs = [
            (
                [a[at] for at in sorted(a.keys() & b.keys())],
                [b[at] for at in sorted(a.keys() & b.keys())],
            )
            for a, b in zip(late[one], late[other], strict=True)
            if len(a.keys() & b.keys()) > 20
        ]
        if pairs:
            behind = mean(mean(b) - mean(a) for a, b in pairs)
            rows += [
                seen(f"{one} with {other}: correlation", mean(correlation(*p) for p in pairs), ""),
                seen(f"… {other} after {one}", behind, "ms"),
            ]
    return rows


def run() -> list[Row]:
    """All rows."""
    charts = songs()
    full = [perform(chart, seed, "full") for chart in charts for seed in SEEDS]
    tape = [perform(chart, seed, "work tape") for chart in charts for seed in SEEDS]
    return [
        *voice_rows(full),
        *timing_rows(full, ""),
        *timing_rows(tape, " (work tape)"),
        *strength_rows(full),
        *drum_rows(full),
        *guitar_rows(full),
        *line_rows(full, "bass"),
        *line_rows(full, "keys"),
    ]


if __name__ == "__main__":
    print(table(run()))
