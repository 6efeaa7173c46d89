"""Simulated learners: whether the estimates come true and the daily set teaches.

`python -m trainer.practice.simulate --learners 100 --days 30 --seed 1 --json`
"""
