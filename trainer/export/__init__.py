"""A chart as a file for others: MIDI parts and canonical text."""

from trainer.export.files import EXPORT_FORMATS, export_chart

__all__ = ["EXPORT_FORMATS", "export_chart"]
