"""Simulated learners, which show whether estimates are right and whether the daily set teaches.

`python -m trainer.practice.simulate --learners 100 --days 30 --seed 1 --json`
"""
