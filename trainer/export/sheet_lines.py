"""The bars of a section put on lines, phrase by phrase; all lengths are in em."""

from __future__ import annotations

from trainer.export.sheet_signs import DrawnBar

__all__ = ["FilledLine", "fill_lines"]

BAR_GAP, DOT_GAP, HANGING = 0.42, 0.7, 0.9
# The room after a bar with a boxed key or meter, so that the box is not read with the next bar.
BOXED_GAP = 0.8

# The bars of a line with where each begins, and where dots part its phrases.
FilledLine = tuple[list[tuple[float, DrawnBar]], list[float]]


def fill_lines(
    phrases: list[list[DrawnBar]], width: float, stop: float, most: int, *, wraps: bool
) -> list[FilledLine] | None:
    """The lines of a section, each `width` wide with at most so many phrases.

    Three phrases stand on a line only where that saves a line. A phrase too long for a line goes
    over several if `wraps` allows it; otherwise there are no lines, and None is returned.
    """
    found: list[FilledLine] | None = None
    for count in range(min(2, most), most + 1):
        filler = _Filler(width, stop, count, wraps=wraps)
        if not all(filler.add(phrase) for phrase in phrases):
            return None
        filler.end_line()
        if found is None or len(filler.lines) < len(found):
            found = filler.lines
    return found


class _Filler:
    """Fills the lines of a section with phrases, one after another."""

    def __init__(self, width: float, stop: float, most: int, *, wraps: bool) -> None:
        self.width, self.stop, self.most, self.wraps = width, stop, most, wraps
        self.lines: list[FilledLine] = []
        self.bars: list[tuple[float, DrawnBar]] = []
        self.dots: list[float] = []
        self.phrases = 0
        self.next = 0.0

    def add(self, phrase: list[DrawnBar]) -> bool:
        """Add a phrase to the line, or begin a new one; whether there is room for it."""
        if self.bars and self.phrases < self.most:
            dot = self.next
            if self._take(phrase, self.next + DOT_GAP):
                self.dots.append(dot)
                return True
        self.end_line()
        return self._take(phrase, 0.0) or (self.wraps and self._wrap(phrase))

    def end_line(self) -> None:
        """Begin a new line, if anything stands on this one."""
        if self.bars:
            self.lines.append((self.bars, self.dots))
        self.bars, self.dots, self.phrases, self.next = [], [], 0, 0.0

    def _take(self, phrase: list[DrawnBar], first: float) -> bool:
        """Put a phrase on the line from `first` on; whether it fits."""
        placed, at = [], first
        for bar in phrase:
            if at + bar.width > self.width:
                return False
            placed.append((at, bar))
            at = self._after(at, first, bar)
        self.bars += placed
        self.phrases += 1
        self.next = at
        return True

    def _after(self, at: float, first: float, bar: DrawnBar) -> float:
        """Where the bar after one may begin: at the next stop of its phrase."""
        gap = BOXED_GAP if bar.tags else BAR_GAP
        stops = -(-(at - first + bar.width + gap) // self.stop)
        return first + stops * self.stop

    def _wrap(self, phrase: list[DrawnBar]) -> bool:
        """A phrase over several lines, those after its first hanging inside."""
        at = first = 0.0
        for bar in phrase:
            if at + bar.width > self.width:
                self.end_line()
                at = first = HANGING
                if at + bar.width > self.width:
                    return False
            self.bars.append((at, bar))
            at = self._after(at, first, bar)
        self.phrases, self.next = self.most, at
        return True
