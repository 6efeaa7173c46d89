"""The order in which measures are played: repeats, endings and jumps written out.

Repeat signs, endings, da capo, dal segno, coda and fine mean what the standard and common practice
say: after a jump repeats are not taken again (unless the sign says so) and the last ending is
played. What is not clear is refused by the number of its measure, never guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NoReturn

from trainer.errors import FileError
from trainer.export.score import Measure

__all__ = ["played_order"]


def played_order(measures: Sequence[Measure], source: str, most: int) -> list[int]:
    """The places of the measures in the order in which they are played, at most `most`.

    Raises FileError, which names the measure, for repeats that cannot be followed.
    """
    return _Player(measures, source, most).play()


class _Player:
    """Walks through the measures as a player does."""

    def __init__(self, measures: Sequence[Measure], source: str, most: int) -> None:
        self.measures, self.source, self.most = measures, source, most
        self.order: list[int] = []
        self.at = self.start = 0
        self.turn = 1
        self.jumped = False
        self.last_turns = self._last_turns()
        self.to_coda = self._to_coda()
        self._check()

    def _refuse(self, at: int, found: str, expected: str) -> NoReturn:
        where = f"{self.source}: measure {self.measures[at].name}"
        raise FileError(f"{where}: found {found}, expected {expected}")

    def _to_coda(self) -> frozenset[int]:
        """Where one leaves for the coda; of two plain coda signs it is the first."""
        said = [at for at, each in enumerate(self.measures) if each.repeat.to_coda]
        signs = [at for at, each in enumerate(self.measures) if each.repeat.coda]
        return frozenset(signs[:1] if not said and len(signs) == 2 else said)

    def _check(self) -> None:
        """Refuse signs that contradict each other."""
        open_at: int | None = None
        jumps = 0
        for at, measure in enumerate(self.measures):
            repeat = measure.repeat
            if repeat.forward:
                if open_at is not None and not self._may_begin_anew(open_at, at):
                    self._refuse(at, "a repeat that begins inside another", "one after the other")
                open_at = at
            if 0 in repeat.endings:
                self._refuse(at, "an ending without a number", "one such as 1, 2")
            if repeat.backward:
                open_at = open_at if repeat.endings else None
            jumps += repeat.da_capo or repeat.dal_segno
            if jumps > 1:
                self._refuse(at, "a second da capo or dal segno", "one jump back")

    def _may_begin_anew(self, open_at: int, at: int) -> bool:
        """Whether the repeat that began at `open_at` has been closed before `at`."""
        return any(each.repeat.backward for each in self.measures[open_at:at])

    def _last_turns(self) -> list[int]:
        """For each measure in an ending, the last turn that its group of endings names."""
        last = [0] * len(self.measures)
        for at in range(len(self.measures) - 1, -1, -1):
            endings = self.measures[at].repeat.endings
            if endings:
                after = last[at + 1] if at + 1 < len(self.measures) else 0
                last[at] = max(after, *endings)
        for at in range(1, len(self.measures)):
            if self.measures[at].repeat.endings and last[at - 1]:
                last[at] = last[at - 1]
        return last

    def play(self) -> list[int]:
        """Walk from the first measure to the end."""
        while self.at < len(self.measures):
            measure = self.measures[self.at]
            if measure.repeat.forward and self.start != self.at:
                self.start, self.turn = self.at, 1
            if self._is_skipped(self.at):
                self._leave(self.at)
                self.at += 1
                continue
            if len(self.order) == self.most:
                self._refuse(self.at, f"more than {self.most} bars when played", "fewer")
            self.order.append(self.at)
            if measure.repeat.fine and self.jumped:
                break
            self.at = self._next(self.at)
        return self.order

    def _is_skipped(self, at: int) -> bool:
        """Whether a measure belongs to the ending of another turn."""
        endings = self.measures[at].repeat.endings
        if not endings:
            return False
        turn = self.last_turns[at] if self._skips_repeats(at) else self.turn
        return turn not in endings

    def _skips_repeats(self, at: int) -> bool:
        """Whether repeats are not taken, as after a jump."""
        if not self.jumped:
            return False
        for measure in self.measures[at:]:
            if measure.repeat.backward:
                return not measure.repeat.after_jump
        return True

    def _leave(self, at: int) -> None:
        """Begin to count turns anew after the last measure of a group of endings."""
        if not self.last_turns[at]:
            return
        if at + 1 == len(self.measures) or not self.last_turns[at + 1]:
            self.start, self.turn = at + 1, 1

    def _next(self, at: int) -> int:
        """Where the song goes on after a measure."""
        repeat = self.measures[at].repeat
        if at in self.to_coda and self.jumped:
            return self._coda(at)
        if repeat.backward and (not self.jumped or repeat.after_jump):
            total = max(repeat.times or 2, self.last_turns[at])
            if self.turn < total:
                self.turn += 1
                return self.start
            if not repeat.endings:
                self.start, self.turn = at + 1, 1
        if (repeat.da_capo or repeat.dal_segno) and not self.jumped:
            self.jumped, self.start, self.turn = True, 0, 1
            return 0 if repeat.da_capo else self._segno(at)
        self._leave(at)
        return at + 1

    def _segno(self, at: int) -> int:
        places = [place for place in range(at + 1) if self.measures[place].repeat.segno]
        if len(places) != 1:
            self._refuse(at, f"dal segno with {len(places)} signs before it", "one sign")
        return places[0]

    def _coda(self, at: int) -> int:
        places = [
            place
            for place in range(at + 1, len(self.measures))
            if self.measures[place].repeat.coda and place not in self.to_coda
        ]
        if len(places) != 1:
            self._refuse(at, f"to coda with {len(places)} codas after it", "one coda")
        return places[0]
