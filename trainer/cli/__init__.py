"""The terminal: `chart-trainer` and its commands. No musical or scoring logic lives here."""

from trainer.cli.main import main

__all__ = ["main"]
