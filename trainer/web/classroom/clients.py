"""What somebody signs in from, in words, as far as the browser says."""

from __future__ import annotations

__all__ = ["client_in_words"]

# In this order: most browsers also name those that came before them.
_BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser", "Samsung Internet"),
    ("Firefox/", "Firefox"),
    ("FxiOS", "Firefox"),
    ("CriOS", "Chrome"),
    ("Chromium/", "Chromium"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
)
_SYSTEMS = (
    ("iPhone", "an iPhone"),
    ("iPad", "an iPad"),
    ("Android", "Android"),
    ("CrOS", "a Chromebook"),
    ("Windows", "Windows"),
    ("Macintosh", "a Mac"),
    ("Linux", "Linux"),
)


def client_in_words(user_agent: str) -> str:
    """A browser and its system by the `User-Agent` header, such as "Firefox on Linux"."""
    browser = next((name for mark, name in _BROWSERS if mark in user_agent), "A browser")
    system = next((name for mark, name in _SYSTEMS if mark in user_agent), "")
    return f"{browser} on {system}" if system else browser
