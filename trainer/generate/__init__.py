"""Songs invented from settings: form, phrases, harmony and what makes each come alive."""

from trainer.generate.check import check_settings
from trainer.generate.settings import EVERYDAY, Features, Settings
from trainer.generate.song import GENERATOR_VERSION, generate
from trainer.generate.styles import STYLES, Style

__all__ = [
    "EVERYDAY",
    "GENERATOR_VERSION",
    "STYLES",
    "Features",
    "Settings",
    "Style",
    "check_settings",
    "generate",
]
