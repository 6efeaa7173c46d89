"""`python -m trainer.practice.simulate --learners 100 --days 30 --seed 1 --json`."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable
from statistics import fmean
from typing import Any

from trainer.practice.simulate.learners import KINDS
from trainer.practice.simulate.policies import POLICIES
from trainer.practice.simulate.pool import make_pool
from trainer.practice.simulate.run import measure, run_practice

MAIN_KIND = "as published"
OUR_POLICY = "daily set"
FEWEST = 5


def simulate(
    learners: int, days: int, seed: int, kinds: Iterable[str] = tuple(KINDS)
) -> dict[str, Any]:
    """All figures; of each kind but the main one there are a twentieth as many learners."""
    pool = make_pool()
    found: dict[str, Any] = {"learners": learners, "days": days, "seed": seed, "kinds": {}}
    for kind in kinds:
        many = learners if kind == MAIN_KIND else min(learners, max(FEWEST, learners // 20))
        gains, retained = {}, {}
        for policy in POLICIES:
            trajectories = [
                run_practice(
                    kind, policy, pool, days, f"{seed} {n}", predicting=policy == OUR_POLICY
                )
                for n in range(many)
            ]
            gains[policy] = fmean(each.gain for each in trajectories)
            retained[policy] = fmean(each.retained for each in trajectories)
            if policy == OUR_POLICY:
                measured = measure(trajectories, days)
        others = {name: gain for name, gain in gains.items() if name != OUR_POLICY}
        found["kinds"][kind] = {
            "what": KINDS[kind],
            "learners": many,
            **measured,
            "gain_logits": gains,
            "kept_a_week_later_logits": retained,
            "gain_over": {name: gains[OUR_POLICY] / gain - 1 for name, gain in others.items()},
        }
    return found


def _print(found: dict[str, Any]) -> None:
    out = sys.stdout
    for kind, each in found["kinds"].items():
        out.write(f"{kind} ({each['learners']} learners): {each['what']}\n")
        error = each["rating_error_logits"]
        out.write(
            f"  rating error {'none measured' if error is None else f'{error:.2f} logits'} "
            f"({each['skills_measured']} skills), Brier {each['brier']:.4f} "
            f"({each['brier_over_bound']:+.1%} over the bound), "
            f"right after a week {each['accuracy_after_first_week']:.1%}\n"
        )
        gains = ", ".join(f"{name} {gain:.2f}" for name, gain in each["gain_logits"].items())
        out.write(f"  ability gained, logits: {gains}\n")
        retained = ", ".join(
            f"{name} {gain:.2f}" for name, gain in each["kept_a_week_later_logits"].items()
        )
        out.write(f"  of it a week later: {retained}\n")
    out.write("expected against actual (as published):\n")
    for line in found["kinds"][MAIN_KIND]["reliability"]:
        out.write(f"  {line['expected']:.3f}  {line['actual']:.3f}  {line['parts']:>8}\n")


def main() -> None:
    """Read the options, run, print."""
    parser = argparse.ArgumentParser(prog="python -m trainer.practice.simulate")
    parser.add_argument("--learners", type=int, default=20)
    parser.add_argument("--days", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true", help="print JSON")
    options = parser.parse_args()
    if options.learners < 1 or options.days < 1:
        parser.error(
            f"found {options.learners} learners, {options.days} days, expected 1 or more of each"
        )
    found = simulate(options.learners, options.days, options.seed)
    if options.json:
        sys.stdout.write(json.dumps(found, indent=1) + "\n")
    else:
        _print(found)


if __name__ == "__main__":
    main()
