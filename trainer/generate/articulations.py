"""Holds, pushes, chokes and short bars: where a band plays them (common practice, no source).

Holds ring at the ends of sections and songs; pushes bring a new chord in early at a bar line,
mostly one that fills its bar, and a song keeps to every other bar with them; chokes clear the air
before the singer comes back in; short bars cut the last bar of a phrase. Only high rates, which
these places cannot fill, spill over to others.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from trainer.generate.settings import Features
from trainer.generate.sketch import SharedBar
from trainer.generate.weighted_choice import happens, poisson_sample

__all__ = ["add_articulations", "add_rare_articulations", "shorten_bars"]

# The weight of a hold or choke within a phrase, and the rate from which such bars are used.
ELSEWHERE, SPILLS = 0.001, 0.1
# Kinds whose last bar rings rather than drives on, and the other way round.
RESTFUL = ("bridge", "tag", "outro")
DRIVING = ("pre-chorus", "turnaround", "interlude")


def shorten_bars(rng: random.Random, shared_bars: list[SharedBar], rate: float) -> None:
    """Make a share (`rate`, 0 to 1) of the bars half as long: last bars of phrases, sometimes the
    one before."""
    if rate <= 0:
        return
    copies = [shared.copies for shared in shared_bars]
    weights = [_short_weight(shared) for shared in shared_bars]
    for at in poisson_sample(rng, weights, copies, rate * sum(copies)):
        bar = shared_bars[at].bar
        half = sum(bar.beats) // 2
        same = bar.chords[0] == bar.chords[-1]
        keep = [0] if same or half % 2 else [0, len(bar.beats) - 1]
        bar.beats = (half // len(keep),) * len(keep)
        bar.chords = [bar.chords[k] for k in keep]
        bar.forms, bar.basses = list(bar.chords), [""] * len(keep)
        bar.articulations, bar.short = [""] * len(keep), True


def _short_weight(shared: SharedBar) -> float:
    """The weight of a bar for being cut; 0 for the last of the song and for bars in 3/4 or 6/8."""
    first = shared.first
    length = len(first.phrase.bars)
    if not all(shared.bar.chords):
        return 0.0
    if sum(shared.bar.beats) not in (4, 12) or length < 3 or shared.ends_song:
        return 0.0
    if first.ends_phrase:
        return 1.0
    return 0.2 if first.number == length - 2 and length > 4 else 0.0


def add_articulations(rng: random.Random, shared_bars: list[SharedBar], features: Features) -> None:
    """Add holds, then chokes, then pushes at the rates of the features, at most one to a bar."""
    copies = [shared.copies for shared in shared_bars]
    total = sum(copies)
    turn = 1 if happens(rng, 0.75) else 0
    kinds: tuple[tuple[str, float, Callable[[SharedBar], float]], ...] = (
        ("d", features.holds, _hold_weight),
        ("c", features.chokes, _choke_weight),
        ("p", features.pushes, lambda shared: _push_weight(shared, turn)),
    )
    for articulation, rate, weigh in kinds:
        if rate <= 0:
            continue
        weights = [
            0.0 if any(shared.bar.articulations) else weigh(shared) for shared in shared_bars
        ]
        if rate < SPILLS and articulation != "p":
            weights = [weight if weight >= 0.1 else 0.0 for weight in weights]
        for at in poisson_sample(rng, weights, copies, rate * total):
            if articulation == "d" and _beside_hold(shared_bars[at]):
                continue
            bar = shared_bars[at].bar
            bar.articulations[-1 if articulation == "c" else 0] = articulation


# The weights of a section's last bar for a hold where holds are events: at the song's end, in a
# section that rests, on home before the band goes on, elsewhere.
END_HOLD, REST_HOLD, HOME_HOLD, OTHER_HOLD = 400.0, 3.0, 0.02, 0.6
MOST_EVENTS = 2
# Of the bars that a rate asks for, so many are played: events are rarer than a rate for every bar.
EVENT_SHARE = 0.5


def add_rare_articulations(
    rng: random.Random, shared_bars: list[SharedBar], features: Features
) -> None:
    """Add holds and chokes as events, at most `MOST_EVENTS` of each in a song, then pushes.

    The last bars of the sections must be bars of their own.
    """
    copies = [shared.copies for shared in shared_bars]
    total = sum(copies)
    for articulation, rate, weigh in (
        ("d", features.holds, _event_hold_weight),
        ("c", features.chokes, _event_choke_weight),
    ):
        weights = [
            0.0 if any(shared.bar.articulations) else weigh(shared) for shared in shared_bars
        ]
        expected = EVENT_SHARE * rate * total
        for at in poisson_sample(rng, weights, copies, expected)[:MOST_EVENTS]:
            shared_bars[at].bar.articulations[-1 if articulation == "c" else 0] = articulation
    turn = 1 if happens(rng, 0.75) else 0
    weights = [
        0.0 if any(shared.bar.articulations) else _push_weight(shared, turn)
        for shared in shared_bars
    ]
    for at in poisson_sample(rng, weights, copies, features.pushes * total):
        shared_bars[at].bar.articulations[0] = "p"


def _event_hold_weight(shared: SharedBar) -> float:
    """The weight of a bar for a hold that is an event."""
    first = shared.first
    bar = shared.bar
    if not first.ends_section or not bar.whole or not bar.chords[0] or bar.short:
        return 0.0
    if first.last:
        return 0.0 if first.section.fades_from >= 0 else END_HOLD
    if first.section.kind in RESTFUL:
        return REST_HOLD
    return HOME_HOLD if bar.chords[0] in ("1", "1-") else OTHER_HOLD


def _event_choke_weight(shared: SharedBar) -> float:
    """The weight of a bar for a choke that is an event: before a section that is sung."""
    first = shared.first
    if not first.ends_section or not shared.bar.chords[-1] or shared.bar.short or first.last:
        return 0.0
    return 1.0


def _beside_hold(shared: SharedBar) -> bool:
    """Whether the bar before or after is held already, except where the song ends."""
    return any(
        "d" in bar.articulations
        for each in shared.occurrences
        if not each.last
        for bar in (each.before, each.after)
        if bar
    )


def _hold_weight(shared: SharedBar) -> float:
    """The weight of a bar for a hold."""
    if not shared.bar.whole:
        return 0.0
    least = 400.0
    for each in shared.occurrences:
        if each.last:
            return 400.0
        if not each.ends_phrase:
            return ELSEWHERE
        if each.ends_section:
            kind = each.section.kind
            least = min(least, 8.0 if kind in RESTFUL else 0.5 if kind in DRIVING else 3.0)
        else:
            least = min(least, ELSEWHERE * 40)
    return least


def _choke_weight(shared: SharedBar) -> float:
    """The weight of a bar for a choke on its last chord."""
    if not all(each.ends_phrase for each in shared.occurrences):
        return ELSEWHERE
    return 6.0 if all(each.ends_section and not each.last for each in shared.occurrences) else 0.05


def _push_weight(shared: SharedBar, turn: int) -> float:
    """The weight of a bar for a push on its first chord.

    It is 0 where the chord is not new at the bar line, lowest where a section begins, and highest
    in every other bar from `turn` (0 or 1) on.
    """
    if shared.bar.short or not shared.bar.chords[0]:
        return 0.0
    for before, _ in shared.around():
        if (
            before is None
            or before.chords[-1] == shared.bar.chords[0]
            or before.articulations[-1] == "c"
        ):
            return 0.0
    first = shared.first
    if first.opens_section:
        return 0.1
    usual = 1.0 if first.number % 2 == turn else 0.02
    return usual * (1.0 if shared.bar.whole else 0.3) * (0.3 if first.number == 0 else 1.0)
