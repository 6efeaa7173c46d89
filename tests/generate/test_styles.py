"""Styles differ from the average of songs the way their tables declare."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from tests.generate.draws import base, chords_of, songs
from tests.generate.everyday import EVERYDAY
from trainer.band import BANDS
from trainer.chart import Articulation, Bar, Chart
from trainer.generate import STYLES, Settings, Style, check_settings
from trainer.generate import song as making
from trainer.generate.form import LETTERS
from trainer.generate.tokens import token_of

pytestmark = pytest.mark.many

SONGS = 220
MARKS = {
    "holds": Articulation.HOLD,
    "pushes": Articulation.PUSH,
    "chokes": Articulation.CHOKE,
}
AVERAGE = "an average song"


def _charts(style: str) -> list[Chart]:
    return list(songs(replace(EVERYDAY, styles=(style,), style_weights=(), minor=0.0), SONGS))


@pytest.fixture(scope="module", params=STYLES.values(), ids=list(STYLES))
def style(request: pytest.FixtureRequest) -> Style:
    """Every style in turn."""
    found: Style = request.param
    return found


@pytest.fixture(scope="module")
def played(style: Style) -> tuple[list[Chart], list[Chart]]:
    """Songs of a style, and songs of the same feel and tempo that lean to nothing."""
    plain = replace(
        style, name=AVERAGE, tilt={}, rates={}, extensions=1.0, forms={}, form_share=0.0
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(STYLES, AVERAGE, plain)
        _forget()
        usual = _charts(AVERAGE)
    _forget()
    return _charts(style.name), usual


def _forget() -> None:
    """Drop what is remembered by a style's name."""
    for remembered in (making._vocabularies, making._features, making._styles, check_settings):
        remembered.cache_clear()


def _changes(charts: list[Chart]) -> dict[str, float]:
    """Share of each chord among the chords moved to."""
    counts: Counter[str] = Counter()
    for chart in charts:
        before = ""
        for chord in chords_of(chart.bars()):
            name = token_of(base(chord))
            counts[name] += name != before
            before = name
    return {name: count / counts.total() for name, count in counts.items()}


def _rate(name: str, charts: list[Chart]) -> float:
    """How often a feature is heard, a bar (of the split ones for uneven splits)."""

    def shows(bar: Bar) -> bool:
        if name in MARKS:
            return any(event.articulation is MARKS[name] for event in bar.events)
        if name == "slash_chords":
            return any(chord.bass for chord in chords_of((bar,)))
        if name == "extensions":
            return any(chord.extension for chord in chords_of((bar,)))
        return not bar.is_even if name == "uneven_splits" else len(bar.events) > 1

    bars = [bar for chart in charts for bar in chart.bars()]
    if name == "uneven_splits":
        bars = [bar for bar in bars if len(bar.events) > 1]
    return sum(map(shows, bars)) / len(bars)


def _leans(share: float, usual: float, declared: float, part: float) -> bool:
    """Whether a share stands apart by at least `part` of the declared factor, in octaves."""
    ratio = (share + 1e-6) / (usual + 1e-6)
    return ratio >= declared**part if declared > 1 else ratio <= declared**part


def test_chords_lean_as_declared(style: Style, played: tuple[list[Chart], list[Chart]]) -> None:
    """Every chord that a style leans to by a sixth or more is moved to more, or less, as declared.

    A fifth of the declared factor, in octaves, is asked for: songs that lean to several chords at
    once, which seldom go together, cannot lean to each in full.
    """
    ours, usual = map(_changes, played)
    for chord, tilt in style.tilt.items():
        if not 0.86 < tilt < 1.16:
            assert _leans(ours.get(chord, 0.0), usual.get(chord, 0.0), tilt, 0.2), (
                f"{chord}: {ours.get(chord, 0.0):.3f} against {usual.get(chord, 0.0):.3f}"
            )


def test_rates_lean_as_declared(style: Style, played: tuple[list[Chart], list[Chart]]) -> None:
    """Every feature that a style's rates name, and extensions, come as much more often, or less."""
    ours, usual = played
    for name, scale in {**style.rates, "extensions": style.extensions}.items():
        if not 0.86 < scale < 1.16:
            assert _leans(_rate(name, ours), _rate(name, usual), scale, 0.4), name


def test_feel_meter_tempo_and_mode_are_the_style_s(
    style: Style, played: tuple[list[Chart], list[Chart]]
) -> None:
    """Every song of a style has its feel, its meter, a tempo in its range and its mode."""
    tempos = []
    for chart in played[0]:
        assert (chart.feel, chart.meter, chart.key.minor) == (style.feel, style.meter, style.minor)
        tempos.append(chart.tempo)
    low, high = style.tempo_bpm
    assert low <= min(tempos) < max(tempos) <= high
    assert max(tempos) - min(tempos) > (high - low) / 2


@pytest.mark.parametrize("style", [s for s in STYLES.values() if s.forms], ids=lambda s: s.name)
def test_forms_come_as_often_as_declared(style: Style) -> None:
    """At least the declared share of a style's songs take one of its own section orders."""
    forms = {form.replace(" ", "") for form in style.forms}
    letters = {kind: letter for letter, kind in LETTERS.items()}
    settings = Settings(styles=(style.name,))
    orders = [
        "".join(letters[section.kind] for section in chart.sections)
        for chart in songs(settings, SONGS)
    ]
    share = sum(order in forms for order in orders) / SONGS
    assert share >= style.form_share - 0.08


def test_forms_are_orders_a_leader_writes(style: Style) -> None:
    """No declared order but a blues has three sections alike in a row, none has an intro within or
    a loose end."""
    for form in style.forms:
        order = form.replace(" ", "")
        assert style.blues or not any(letter * 3 in order for letter in LETTERS)
        assert "I" not in order[1:]
        assert "O" not in order[:-1]
        assert order[-1] not in "INTPB"


def test_styles_name_a_band(style: Style) -> None:
    """The band that plays a style by default is one of those there are."""
    assert style.band in BANDS


def test_styles_stand_apart() -> None:
    """No two styles have the same feel, meter, tempo and leanings."""
    table = [(s.feel, s.meter, s.tempo_bpm, str(s.tilt), s.minor) for s in STYLES.values()]
    assert len(set(table)) == len(STYLES) == 12
