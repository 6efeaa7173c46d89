"""A trainer for writing number charts by ear."""

__version__ = "0.1.0"
