"""A chart exported as a file for others: the band's parts as MIDI, or the canonical text."""

from trainer.export.files import EXPORT_FORMATS, export_chart

__all__ = ["EXPORT_FORMATS", "export_chart"]
