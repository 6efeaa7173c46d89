"""The keys of the page stand in one list, which the buttons and the text agree with."""

from __future__ import annotations

import re
from importlib.resources import files

from trainer.chart import parse_tolerant

WEB = files("trainer.web")
SCRIPT = (WEB / "static" / "shortcuts.js").read_text("utf-8")
LISTED = re.findall(r'keys: "([^"]+)", does: "([^"]+)", where: WHERE\.(\w+)', SCRIPT)


def test_every_key_on_a_button_is_listed() -> None:
    """A key that a page says for one of its buttons is in the list."""
    said = set()
    for path in (WEB / "templates").iterdir():
        said |= set(re.findall(r'aria-keyshortcuts="([^"]+)"', path.read_text("utf-8")))
    assert "Alt+P" in said
    assert said <= {keys for keys, _, _ in LISTED}


def test_no_key_stands_for_two_things_in_one_place() -> None:
    """Where keys work, each of them is listed once."""
    places = [(keys, where) for keys, _, where in LISTED]
    assert len(places) > 20
    assert len(set(places)) == len(places)


def test_a_sign_that_does_something_means_nothing_in_a_chart() -> None:
    """The single keys of the text are no signs of the notation, but the gap, which is one."""
    signs = {keys for keys, _, where in LISTED if where == "text"}
    assert signs == {"=", "&", "?", "!"}
    for sign in signs:
        read = parse_tolerant(f"1 {sign} 4")
        assert bool(read.problems) != bool(read.gaps), sign
