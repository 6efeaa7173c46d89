"""What attempts showed of each skill, kept in memory: a class of thirty with thirty songs each has
thirty thousand graded bars, and what was summed over them once never changes.

Each server process has sums of its own. They say only what the store says, so that it does not
matter which process is asked, or that one has to work them out first.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Collection, Mapping
from datetime import datetime
from threading import Lock

__all__ = ["MOST_KEPT", "AttemptKey", "SkillSums", "Sums"]

# About 2 kB each.
MOST_KEPT = 10_000

# The uid of the account, which no two stores share, the number of the attempt, and when it was
# handed in: a store that was restored from a backup gives the numbers since then again.
AttemptKey = tuple[str, int, datetime]
# For each skill: in how many bars it was, the sum of credits, and how many bars were right.
Sums = Mapping[str, tuple[int, float, int]]


class SkillSums:
    """The sums of the attempts that were looked at last, at most `most`; safe to use from
    threads."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self._most, self._lock = most, Lock()
        self._kept: OrderedDict[AttemptKey, Sums] = OrderedDict()

    def of(
        self,
        keys: Collection[AttemptKey],
        make: Callable[[list[AttemptKey]], Mapping[AttemptKey, Sums]],
    ) -> Mapping[AttemptKey, Sums]:
        """The sums of some attempts; `make` works out those that are not kept."""
        with self._lock:
            found = {key: self._kept[key] for key in keys if key in self._kept}
        lacking = [key for key in keys if key not in found]
        if lacking:
            found |= make(lacking)
        with self._lock:
            for key in keys:
                self._kept[key] = found[key]
                self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return found
