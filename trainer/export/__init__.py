"""A chart as a file for others: MIDI parts and canonical text."""

from trainer.export.files import FORMATS, export

__all__ = ["FORMATS", "export"]
