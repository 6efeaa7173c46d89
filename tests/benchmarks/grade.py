"""Charts graded: many of usual length, a long one without a repeat, and the memory many take."""

from __future__ import annotations

import difflib
import random
import resource
import sys
from collections.abc import Iterator
from dataclasses import replace

from tests.benchmarks import Row, against, at_most, best_in_turns
from trainer.chart import Bar, Chart, Chord, Event, parse
from trainer.chart.chords import EXTENSIONS
from trainer.generate import Settings, generate
from trainer.grade import grade

ANSWERS, BARS = 1000, range(78, 83)
LONG = 300
GRADES, WARM = 10_000, 2_000

Pair = tuple[Chart, Chart]


def with_slips(chart: Chart, rng: random.Random) -> Chart:
    """What a learner might write: a tenth of the chords wrong, here and there a bar left out."""

    def slip(bar: Bar) -> Bar:
        if rng.random() > 0.1:
            return bar
        wrong = Chord(rng.randint(1, 7), quality=rng.choice(("", "-")))
        first: Event = replace(bar.events[0], chord=wrong)
        return replace(bar, events=(first, *bar.events[1:]))

    return replace(
        chart,
        sections=tuple(
            replace(
                section,
                phrases=tuple(
                    replace(
                        phrase,
                        bars=tuple(
                            slip(bar)
                            for n, bar in enumerate(phrase.bars)
                            if n == 0 or rng.random() > 0.02
                        ),
                    )
                    for phrase in section.phrases
                ),
            )
            for section in chart.sections
        ),
    )


def songs(rng: random.Random) -> Iterator[Pair]:
    """Generated songs of about 80 bars, each with an answer."""
    while True:
        chart = generate(Settings(), rng)
        if len(chart.bars()) in BARS:
            yield chart, with_slips(chart, rng)


def many() -> list[Row]:
    """A thousand answers, each to a song of its own; beside them the same bars as text, by the
    standard library's differ, which knows nothing of music.
    """
    coming = songs(random.Random(2))
    pairs = [next(coming) for _ in range(ANSWERS)]
    texts = [tuple([str(bar) for bar in chart.bars()] for chart in pair) for pair in pairs]

    def mark() -> None:
        for reference, answer in pairs:
            grade(reference, answer)

    def differ() -> None:
        for reference, answer in texts:
            difflib.SequenceMatcher(None, reference, answer, autojunk=False).get_opcodes()

    ours, other = best_in_turns(mark, differ)
    return [
        at_most(f"{ANSWERS} answers of 80 bars graded", ours, 2, "s"),
        against("the same against difflib's opcodes", ours, other, 0.1),
    ]


def _bar(rng: random.Random) -> str:
    """A bar of one or two chords, hardly ever twice the same."""
    chords = []
    for _ in range(rng.choice((1, 2))):
        quality = rng.choice(("", "-"))
        extension = rng.choice(("", "", *EXTENSIONS[quality]))
        chords.append(f"{rng.choice('1234567')}{quality}{'^' * bool(extension)}{extension}")
    return chords[0] if len(chords) == 1 else f"({' '.join(chords)})"


def long_one() -> Row:
    """One answer of 300 bars, all different, to a song never seen: the dearest there is."""
    rng = random.Random(5)

    def pair() -> Pair:
        bars: set[str] = set()
        while len(bars) < LONG:
            bars.add(_bar(rng))
        listed = sorted(bars)
        rng.shuffle(listed)
        lines = [" ".join(listed[k : k + 4]) for k in range(0, LONG, 4)]
        chart = parse("\n".join(lines))
        return chart, with_slips(chart, rng)

    pairs = iter([pair() for _ in range(5)])
    took = best_in_turns(lambda: grade(*next(pairs)), times=5)[0]
    return at_most(f"one answer of {LONG} different bars", took * 1000, 50, "ms")


def longest() -> Row:
    """The longest answer there can be, its sections in any order: most has to be tried."""
    rng = random.Random(1)
    parts = []
    for number in range(50):
        lines = [" ".join(rng.choices(("1", "4", "5", "6-"), k=4)) for _ in range(10)]
        parts.append("\n".join([f"Part {number + 1}:", *lines]))
    reference = parse("\n".join(parts))
    rng.shuffle(parts)
    answer = parse("\n".join(parts))
    took = best_in_turns(lambda: grade(reference, answer), times=2)[0]
    return at_most("an answer of 2,000 bars, shuffled", took, 1, "s")


def memory() -> Row:
    """How much the most memory grew after the first grades, new answers every time."""
    rng = random.Random(7)
    coming = songs(rng)
    charts = [next(coming)[0] for _ in range(50)]
    before = 0
    for number in range(GRADES):
        chart = charts[number % len(charts)]
        grade(chart, with_slips(chart, rng))
        if number == WARM:
            before = _most_kb()
    grown = (_most_kb() - before) / 1024
    return at_most(f"memory grown from grade {WARM} to {GRADES}", grown, 4, "MB")


def _most_kb() -> int:
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most // 1024 if sys.platform == "darwin" else most


def run() -> list[Row]:
    """All rows."""
    return [*many(), long_one(), longest(), memory()]
