"""The signs that ship, and what is wrong in a file of signs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from trainer.chart import Articulation
from trainer.errors import SettingsError, SettingsErrorGroup
from trainer.exercise import load_signs

SIGN = """
[[signs]]
id = "{}"
group = "Chords"
write = ["6-"]
means = "A minor chord."
chart = "{}"
"""


def test_the_signs_that_ship_stand_by_group() -> None:
    """Every sign has a chart in which it is heard; those of a group stand together."""
    signs = load_signs()
    groups = [sign.group for sign in signs]
    assert len(dict.fromkeys(groups)) == sum(
        one != other for one, other in zip(groups, [None, *groups], strict=False)
    )
    events = [event for sign in signs for bar in sign.chart.bars() for event in bar.events]
    assert {event.articulation for event in events} == {None, *Articulation}
    assert {event.chord.quality for event in events if event.chord} >= {"", "-", "o", "+"}
    assert any(event.chord is None for event in events)
    assert any(event.chord and event.chord.bass for event in events)
    bars = [bar for sign in signs for bar in sign.chart.bars()]
    assert {str(bar.meter) for bar in bars} == {"4/4", "2/4"}
    assert any(bar.key_change for bar in bars)
    assert any(bar.fades for bar in bars)
    assert {len(bar.events) for bar in bars} == {1, 2}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", [r"signs.toml: signs: found nothing, expected tables \[\[signs\]\]"]),
        ("signs = 3", [r"signs.toml: signs: found 3, expected tables \[\[signs\]\]"]),
        (
            "colour = 1" + SIGN.format("a", "1"),
            [r"signs.toml: colour: found an unknown key, expected a list of tables \[\[signs\]\]"],
        ),
        (
            SIGN.format("a", "1 x") + SIGN.format("b", "1").replace("write", "wrote"),
            [
                r"signs.toml: signs\[1\].chart, line 1, column 3: found .*x.*, expected .*",
                r"signs.toml: signs\[2\].wrote: found an unknown key, expected one of id, .*",
                r"signs.toml: signs\[2\].write: found nothing, expected a list of texts, .*",
            ],
        ),
        (
            SIGN.format("a", "1") * 2,
            [r"signs.toml: signs: found a twice, expected a different id for each sign"],
        ),
    ],
)
def test_every_mistake_of_the_file_is_told(tmp_path: Path, text: str, told: list[str]) -> None:
    """Each mistake has a line with its place, what was found and what was expected."""
    (tmp_path / "signs.toml").write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        load_signs(tmp_path)
    lines = str(caught.value).splitlines()
    if isinstance(caught.value, SettingsErrorGroup):
        assert len(caught.value.errors) == len(told)
    assert len(lines) == len(told), lines
    for line, pattern in zip(lines, told, strict=True):
        assert re.fullmatch(pattern, line), line


def test_what_is_said_to_the_players_has_signs() -> None:
    """Notes, hits, comments, capo and count-off are each shown in a chart of their own."""
    charts = {sign.id: sign.chart for sign in load_signs()}
    assert any(bar.notes for bar in charts["note"].bars())
    assert charts["section-note"].sections[1].notes == ("lift",)
    assert any(bar.hits for bar in charts["hits"].bars())
    assert charts["comment"].sections[0].phrases[0].comments
    assert charts["capo"].capo == 3
    assert charts["count-off"].count_off == 2
