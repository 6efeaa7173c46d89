"""What graded bars add up to: the sums behind the progress page."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator

from trainer.practice.evidence import WHOLLY_RIGHT, attempt_credits
from trainer.practice.graded import GradedBar

__all__ = ["Tally"]


class Tally:
    """Sums over graded bars.

    `skills` holds for each skill (bars, sum of credits, bars wholly right), where the credit is
    that of the part of the bar which the skill is about, as the ratings take it. `chords` counts
    pairs (played, written): how often each chord was written as which, itself included; `written`
    "" is a chord of a missing bar, `played` "" one of an added bar.

    Parameters: `ask` and `home_shift` as in `trainer.practice.gather`.
    """

    def __init__(
        self,
        bars: Iterable[GradedBar] = (),
        ask: str = "everything",
        home_shift: str | None = None,
    ) -> None:
        self.skills: defaultdict[str, tuple[int, float, int]] = defaultdict(lambda: (0, 0.0, 0))
        self.chords: Counter[tuple[str, str]] = Counter()
        graded = tuple(bars)
        for bar, shown in zip(graded, attempt_credits(graded, ask, home_shift), strict=True):
            self.chords.update(_chord_pairs(bar))
            for skill, credit in shown.items():
                self._add(skill, (1, credit, int(credit >= WHOLLY_RIGHT)))

    def add(self, other: Tally) -> None:
        """Add another attempt's sums, in the order of addition that the stored sums have."""
        self.chords.update(other.chords)
        for skill, more in other.skills.items():
            self._add(skill, more)

    def _add(self, skill: str, more: tuple[int, float, int]) -> None:
        bars, credit, right = self.skills[skill]
        self.skills[skill] = (bars + more[0], credit + more[1], right + more[2])


def _chord_pairs(bar: GradedBar) -> Iterator[tuple[str, str]]:
    """What each chord of a bar was written as: itself, another, or "" where a bar is missing."""
    if not bar.written:
        yield from ((chord, "") for chord in bar.played)
        return
    if not bar.played:
        yield from (("", chord) for chord in bar.written)
        return
    yield from bar.confusions
    confused = {played for played, _ in bar.confusions}
    yield from ((chord, chord) for chord in bar.played if chord not in confused)
