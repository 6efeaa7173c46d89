"""Rates are kept, and songs as a whole are like real ones."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.generate.draws import CHANGE_THE_PLAN, base, chords_of, everyday, songs
from tests.generate.everyday import EVERYDAY
from trainer.chart import Articulation, Chart
from trainer.generate import STYLES, Features, Settings
from trainer.generate.rhythm import split_odds
from trainer.generate.tables import table

pytestmark = pytest.mark.many

MARKS = {
    "holds": Articulation.HOLD,
    "pushes": Articulation.PUSH,
    "chokes": Articulation.CHOKE,
}


OF_SONGS: dict[str, Callable[[Chart], bool]] = {
    "tag": lambda chart: any(section.kind == "tag" for section in chart.sections),
    "key_change": lambda chart: any(bar.key_change for bar in chart.bars()),
    "pickup": lambda chart: chart.bars()[0].meter != chart.meter,
}


def _realised(name: str, charts: list[Chart]) -> float:
    """How often a feature happens: a bar, a phrase or a song, as its rate is meant."""
    bars = [bar for chart in charts for bar in chart.bars()]
    phrases = [p for chart in charts for section in chart.sections for p in section.phrases]
    if name in MARKS:
        return sum(any(e.articulation is MARKS[name] for e in b.events) for b in bars) / len(bars)
    if name == "odd_phrases":
        return sum(len(phrase.bars) != 4 for phrase in phrases) / len(phrases)
    if name in OF_SONGS:
        return sum(map(OF_SONGS[name], charts)) / len(charts)
    if name == "silent_bars":
        return sum(phrase.bars[-1].events[0].chord is None for phrase in phrases) / len(phrases)
    tests = {
        "splits": lambda bar: len(bar.events) > 1,
        "slash_chords": lambda bar: any(e.chord and e.chord.bass for e in bar.events),
        "short_bars": lambda bar: bar.meter.beats == 2,
    }
    return sum(map(tests[name], bars)) / len(bars)


@pytest.mark.parametrize(
    "name",
    [
        name
        for name in Features.__dataclass_fields__
        if name not in ("uneven_splits", "later_changes", *CHANGE_THE_PLAN)
    ],
)
@pytest.mark.parametrize("rate", [0.1, 0.2])
def test_rates_are_kept(name: str, rate: float) -> None:
    """Over many songs each feature happens as often as its rate says."""
    settings = Settings(features=Features(**{name: rate}))
    within = 0.07 if name in OF_SONGS else 0.035
    assert _realised(name, list(songs(settings, 150))) == pytest.approx(rate, abs=within)


def test_varied_songs_fade_as_often_as_asked() -> None:
    """Of songs that vary as real ones do, as many fade as asked, none where none should."""
    for rate in (0.0, 0.4, 1.0):
        settings = Settings(variety=1.0, features=Features(splits=0.2, fade=rate))
        fading = [any(bar.fades for bar in chart.bars()) for chart in songs(settings, 150)]
        assert sum(fading) / len(fading) == pytest.approx(rate, abs=0.1)


def test_uneven_is_a_share_of_the_splits() -> None:
    """As many splits are uneven as asked."""
    charts = list(songs(Settings(features=Features(splits=0.4, uneven_splits=0.3)), 60))
    split = [bar for chart in charts for bar in chart.bars() if len(bar.events) > 1]
    assert sum(not bar.is_even for bar in split) / len(split) == pytest.approx(0.3, abs=0.06)


def test_extensions_are_kept() -> None:
    """As many chords carry an extension as asked."""
    charts = list(songs(Settings(extensions=0.3), 150))
    chords = [chord for chart in charts for chord in chords_of(chart.bars())]
    assert sum(bool(c.extension) for c in chords) / len(chords) == pytest.approx(0.3, abs=0.05)


def test_more_later_changes_change_more() -> None:
    """The higher the rate, the more songs have a section that comes back differently."""

    def changed(rate: float) -> float:
        found = 0
        charts = list(songs(Settings(features=Features(later_changes=rate)), 80))
        for chart in charts:
            known: dict[str, object] = {}
            for section in chart.sections[:-1]:
                if known.setdefault(section.kind, section.phrases) != section.phrases:
                    found += 1
                    break
        return found / len(charts)

    shares = [changed(rate) for rate in (0.0, 0.5, 1.0)]
    assert shares[0] == 0
    assert shares[1] == pytest.approx(0.5, abs=0.15)
    assert shares[2] > 0.9


@pytest.mark.parametrize("group", "abcd")
def test_split_odds_are_solved(group: str) -> None:
    """The odds found for a share of split bars rise with the share."""
    odds = [split_odds(group, share) for share in (0.0, 0.1, 0.3, 0.6, 0.9)]
    assert odds[0] == 0
    assert odds == sorted(odds)


def test_roots_are_those_of_a_second_corpus() -> None:
    """Rock styles move to 1, 4, 5 and 6 as often as 100 rock songs do, within 0.05.

    T. de Clercq and D. Temperley, "A corpus analysis of rock harmony", Popular Music 30/1, 2011;
    shares as reprinted by de Clercq, 2021.
    """
    published = {"1": 0.328, "4": 0.226, "5": 0.163, "6": 0.072}
    settings = replace(
        EVERYDAY,
        styles=("half-time rock", "straight pop", "shuffle"),
        style_weights=(0.3, 0.5, 0.2),
        minor=0.18,
    )
    roots: Counter[str] = Counter()
    for chart in songs(settings, 250):
        before = ""
        for chord in chords_of(chart.bars()):
            if base(chord) != before:
                roots[str(chord.root)] += 1
            before = base(chord)
    for root, share in published.items():
        assert roots[root] / roots.total() == pytest.approx(share, abs=0.05), root


def test_styles_lean_as_they_declare() -> None:
    """A chord that a style leans to is played more in it than in a style that leans away."""

    def share(style: str, name: str) -> float:
        chords = [
            base(c)
            for chart in songs(Settings(styles=(style,)), 100)
            for c in chords_of(chart.bars())
        ]
        return chords.count(name) / len(chords)

    assert STYLES["half-time rock"].tilt["b7"] > 1 > STYLES["ballad"].tilt["b7"]
    assert share("half-time rock", "b7") > 2 * share("ballad", "b7")
    assert share("ballad", "6-") > share("string-band", "6-")
    assert share("minor-key", "1-") > 0.2


def test_songs_vary_as_real_ones_do() -> None:
    """Everyday songs have 4 to 8 different chords as a rule, and repeat most of their phrases."""
    charts = everyday(200)
    counts = sorted(len({base(c) for c in chords_of(chart.bars())}) for chart in charts)
    assert 3 <= counts[50] <= 5
    assert 5 <= counts[100] <= 7
    assert 6 <= counts[150] <= 9


@pytest.mark.parametrize("name", ["chords", "rhythm", "form"])
def test_tables_say_where_they_are_from(name: str) -> None:
    """Each table carries its citation."""
    assert "McGill Billboard annotations 2.0" in table(name)["source"]
    assert "CC0" in table(name)["source"]
