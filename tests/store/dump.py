"""Write a store with a learner's evening in it as SQL text: `python -m tests.store.dump FILE`."""

from __future__ import annotations

import sqlite3
import sys
import tempfile
from contextlib import closing
from datetime import timedelta
from pathlib import Path

from tests.store.samples import NOW, exercise, hand_in
from trainer.store import FILE_NAME, Store


def main(target: str) -> None:
    """Fill a store and dump it; refuses to write over a dump that is there."""
    with tempfile.TemporaryDirectory() as folder:
        with Store(folder) as store:
            for name in ("Wren Halloway", "Zoë Ångström"):
                learner = store.learners.get_or_add(name, NOW)
                for number in (1, 2, 3):
                    kept = store.exercises.keep(exercise(number, level=number))
                    hand_in(store, learner, kept, NOW + timedelta(days=number), token=f"t{number}")
                store.seats.listen(learner, kept, 80, 2, f"{name}'s next", NOW)
                store.drafts.save(learner, kept, "1 1 ♭7", NOW)
        with (
            closing(sqlite3.connect(Path(folder) / FILE_NAME)) as connection,
            Path(target).open("x", encoding="utf-8") as out,
        ):
            out.writelines(line + "\n" for line in connection.iterdump())


if __name__ == "__main__":
    main(sys.argv[1])
