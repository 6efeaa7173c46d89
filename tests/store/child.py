"""A program that hands in attempts for ever and confirms each: `child.py LOCATION START`."""

from __future__ import annotations

import itertools
import sys
from datetime import timedelta

from tests.store.samples import NOW, exercise, hand_in
from trainer.store import Store


def main(location: str, start: int) -> None:
    """Write out the token of every attempt once it is stored."""
    with Store(location) as store:
        learner = store.learners.get_or_add("Wren Halloway", NOW)
        kept = store.exercises.keep(exercise())
        for number in itertools.count(start):
            store.drafts.save(learner, kept, f"draft {number}", NOW)
            hand_in(store, learner, kept, NOW + timedelta(seconds=number), token=str(number))
            sys.stdout.write(f"{number}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
