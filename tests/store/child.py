"""A program that submits answers for ever and confirms each: `child.py LOCATION START`."""

from __future__ import annotations

import itertools
import sys
from datetime import timedelta

from tests.store.samples import NOW, TEXT, exercise
from trainer.drill import Drills, submit
from trainer.store import Store


def main(location: str, start: int) -> None:
    """Write out the token of every attempt once it is stored."""
    with Store(location) as store:
        learner = store.learners.get_or_add("Wren Halloway", NOW)
        for number in itertools.count(start):
            moment = NOW + timedelta(seconds=number)
            drills = Drills(store, learner, lambda: moment)  # noqa: B023 - used in this round only
            drill = drills.begin(exercise(number))
            drills.listen(drill.record.key)
            drills.keep_text(drill.record.key, TEXT, token=drill.token)
            submit(drills, drill.record.key, TEXT, token=drill.token)
            sys.stdout.write(f"{drill.token}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
