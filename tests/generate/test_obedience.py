"""Every song obeys what was asked, whatever was asked."""

from __future__ import annotations

import random
from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.generate.draws import (
    CHANGE_THE_PLAN,
    SEEDS,
    all_settings,
    base,
    chords_of,
    everyday,
    rates,
)
from tests.generate.everyday import EVERYDAY
from trainer.chart import Articulation, Chart, format_chart, parse
from trainer.generate import STYLES, Features, Settings, generate
from trainer.generate.tokens import token_of

REST = {False: "1", True: "1-"}


@given(all_settings(), SEEDS)
@example(Settings(size="song", chords=("1", "5"), features=Features(splits=1.0)), 3)
@example(Settings(size="song", styles=("waltz",), features=Features(splits=1.0)), 3)
@example(
    Settings(chords=("1-", "5"), minor=1.0, phrase_bars=2, features=Features(later_changes=1.0)),
    0,
)
@example(Settings(phrase_bars=1, features=Features(later_changes=1.0)), 0)
def test_songs_are_charts_in_our_notation(settings: Settings, seed: int) -> None:
    """What is generated reads back from its own text as the same chart."""
    chart = generate(settings, random.Random(seed))
    assert parse(format_chart(chart)) == chart


@given(all_settings(), SEEDS)
def test_only_allowed_chords_sound(settings: Settings, seed: int) -> None:
    """Within a vocabulary no other chord sounds but by extension or bass, where these are asked."""
    chart = generate(settings, random.Random(seed))
    if not settings.chords:
        return
    allowed = {token_of(name) for name in settings.chords}
    for chord in chords_of(chart.bars()):
        assert token_of(base(chord)) in allowed
        if not settings.extensions:
            plain = f"{base(chord)}^{chord.extension}" if chord.extension else base(chord)
            assert plain in settings.chords


@given(all_settings(), SEEDS)
def test_split_bars_change(settings: Settings, seed: int) -> None:
    """No bar is split between a chord and itself."""
    for bar in generate(settings, random.Random(seed)).bars():
        for left, right in pairwise(bar.events):
            assert left.chord != right.chord


def _has(chart: Chart, name: str, settings: Settings) -> bool:
    """Whether a chart shows a feature."""
    bars = chart.bars()
    articulations = {event.articulation for bar in bars for event in bar.events}
    led_in = bars[0].meter.quarters < chart.meter.quarters
    full = bars[1:] if led_in else bars
    phrases = [phrase for section in chart.sections for phrase in section.phrases]
    lengths = {len(phrase.bars) - (led_in and not at) for at, phrase in enumerate(phrases)}
    shown = {
        "splits": any(len(bar.events) > 1 for bar in bars),
        "uneven_splits": any(not bar.is_even for bar in bars),
        "slash_chords": any(chord.bass for chord in chords_of(bars)),
        "odd_phrases": lengths != {settings.phrase_bars},
        "holds": Articulation.HOLD in articulations,
        "pushes": Articulation.PUSH in articulations,
        "chokes": Articulation.CHOKE in articulations,
        "short_bars": any(bar.meter != chart.meter for bar in full),
        "key_change": any(bar.key_change for bar in bars),
        "silent_bars": any(event.chord is None for bar in bars for event in bar.events),
        "pickup": led_in,
        "fade": any(bar.fades for bar in bars),
        "tag": any(section.kind == "tag" for section in chart.sections),
    }
    return shown[name]


FEATURES = [
    name
    for name in Features.__dataclass_fields__
    if name not in ("later_changes", *CHANGE_THE_PLAN)
]


@given(all_settings(), SEEDS)
def test_a_rate_of_0_means_never(settings: Settings, seed: int) -> None:
    """No feature whose rate is 0 is heard."""
    chart = generate(settings, random.Random(seed))
    for name in FEATURES:
        if not getattr(settings.features, name):
            assert not _has(chart, name, settings), name


@given(SEEDS, st.sampled_from([name for name in STYLES if not STYLES[name].blues]))
def test_without_later_changes_sections_return_the_same(seed: int, style: str) -> None:
    """At rate 0 a section that comes back is bar for bar the same, but for how the song ends."""
    chart = generate(Settings(styles=(style,)), random.Random(seed))
    known: dict[str, object] = {}
    for section in chart.sections[:-1]:
        assert known.setdefault(section.kind, section.phrases) == section.phrases


@given(all_settings(), SEEDS)
def test_songs_come_home(settings: Settings, seed: int) -> None:
    """The last chord of a whole song that does not fade is its 1."""
    chart = generate(settings, random.Random(seed))
    if settings.size == "song" and not any(bar.fades for bar in chart.bars()):
        assert base(chords_of(chart.bars())[-1]) == REST[chart.key.minor]


@given(all_settings(features=False), SEEDS)
def test_a_phrase_without_features_is_plain(settings: Settings, seed: int) -> None:
    """One phrase is `phrase_bars` bars of one chord each that moves and ends in a cadence."""
    settings = Settings(
        size="phrase",
        styles=settings.styles,
        chords=settings.chords,
        minor=settings.minor,
        phrase_bars=settings.phrase_bars,
    )
    chart = generate(settings, random.Random(seed))
    assert len(chart.sections) == len(chart.sections[0].phrases) == 1
    bars = chart.bars()
    assert len(bars) == settings.phrase_bars
    assert all(len(bar.events) == 1 for bar in bars)
    names = [base(chord) for chord in chords_of(bars)]
    assert len(set(names)) > 1
    assert names[-1] in ("1", "1-", "5", "5-", "b7")


@pytest.mark.many
def test_form_is_what_a_leader_writes() -> None:
    """Intros come first, outros and tags last, verses count up, sections are never one bar."""
    for chart in everyday(200):
        kinds = [section.kind for section in chart.sections]
        assert "intro" not in kinds[1:]
        assert not {"outro", "tag"} & set(kinds[:-1])
        assert kinds[-1] not in ("intro", "pre-chorus", "turnaround", "interlude")
        names = [s.name for s in chart.sections if s.kind == "verse"]
        if len(names) > 1:
            assert names == [f"Verse {n}" for n in range(1, len(names) + 1)]
        for section in chart.sections:
            bars = [bar for phrase in section.phrases for bar in phrase.bars]
            if section.kind in ("verse", "chorus"):
                assert len(bars) >= 3
        assert all(
            at + 1 < len(kinds) and kinds[at + 1] == "chorus"
            for at, kind in enumerate(kinds)
            if kind == "pre-chorus"
        )


@pytest.mark.many
def test_orders_are_as_odd_as_real_ones() -> None:
    """Three verses or choruses in a row, more than five verses, two bridges in a row and two
    instrumental sections in a row are as rare as in the corpus of the tables (.06, .05, .02, .01
    and .20 of the songs), within what 300 songs can tell."""
    instrumental = ("intro", "solo", "interlude", "turnaround")
    counts: Counter[str] = Counter()
    for chart in everyday(300):
        kinds = [section.kind for section in chart.sections]
        pairs = list(pairwise(kinds))
        counts["verses"] += ("verse",) * 3 in zip(kinds, kinds[1:], kinds[2:], strict=False)
        counts["choruses"] += ("chorus",) * 3 in zip(kinds, kinds[1:], kinds[2:], strict=False)
        counts["many verses"] += kinds.count("verse") > 5
        counts["bridges"] += ("bridge", "bridge") in pairs
        counts["instrumental"] += any(a in instrumental and b in instrumental for a, b in pairs)
    assert counts["verses"] <= 30
    assert counts["choruses"] <= 25
    assert counts["many verses"] <= 18
    assert counts["bridges"] <= 9
    assert counts["instrumental"] <= 75


@pytest.mark.many
def test_holds_and_stops_wait_for_the_end() -> None:
    """In everyday songs a chord rings or is choked in the last bar of a section, nowhere else."""
    for chart in everyday(150):
        for section in chart.sections:
            bars = [bar for phrase in section.phrases for bar in phrase.bars]
            for bar in bars[:-1]:
                articulations = {event.articulation for event in bar.events}
                assert not articulations & {Articulation.HOLD, Articulation.CHOKE}, (
                    f"{bar} in {section.name} of {chart.title}"
                )


@pytest.mark.many
def test_key_changes_lead_up_into_the_end() -> None:
    """A song moves key once at most, one or two semitones up, where a verse or chorus returns."""
    moved = 0
    for chart in everyday(300):
        places = [place for place in chart.placed_bars() if place.bar.key_change]
        assert len(places) <= 1
        for place in places:
            moved += 1
            section = chart.sections[place.section]
            assert place.bar.key_change in (1, 2)
            assert place.phrase == place.index == 0
            assert section.kind in ("verse", "chorus")
            assert section.kind in [s.kind for s in chart.sections[: place.section]]
    assert moved > 10


@pytest.mark.many
def test_tags_repeat_the_end() -> None:
    """A tag is the last bars sung before it again, and rests on the 1."""
    tagged = [c for c in everyday(300) if c.sections[-1].kind == "tag"]
    assert len(tagged) > 15
    for chart in tagged:
        *_, song, tag = chart.sections
        sung = [base(c) for c in chords_of(tuple(b for p in song.phrases for b in p.bars))]
        names = [base(c) for phrase in tag.phrases for c in chords_of(phrase.bars)]
        assert names[0] in sung
        assert len(set(names)) > 1 or len(set(sung)) == 1


def test_blues_is_twelve_bars() -> None:
    """Each verse of a blues is three phrases of four bars: 1; 4 then 1; a turn home (common
    practice, no source)."""
    settings = Settings(styles=("twelve-bar blues",))
    for seed in range(60):
        chart = generate(settings, random.Random(seed))
        for section in chart.sections:
            if section.kind not in ("verse", "solo") or len(section.phrases) != 3:
                continue
            lines = [[base(c) for c in chords_of(phrase.bars)] for phrase in section.phrases]
            assert [len(phrase.bars) for phrase in section.phrases] == [4, 4, 4]
            assert lines[0][0] == lines[0][2] == lines[0][3] == "1"
            assert lines[1] == ["4", "4", "1", "1"]
            assert lines[2][0] in ("5", "2-")


@given(SEEDS, rates, st.booleans(), st.booleans())
def test_blues_keeps_to_its_chords(seed: int, rate: float, minor: bool, limited: bool) -> None:
    """A blues, major or minor, split or not, plays the chords allowed and comes home."""
    chords = ("1-", "4-", "5") if minor else ("1", "4", "5")
    settings = Settings(
        styles=("twelve-bar blues",),
        chords=chords if limited else (),
        minor=float(minor),
        features=Features(splits=rate, tag=rate, later_changes=rate),
    )
    chart = generate(settings, random.Random(seed))
    names = {base(chord) for chord in chords_of(chart.bars())}
    assert names <= {*chords, *(() if limited else ("2-", "6-", "b6"))}
    assert base(chords_of(chart.bars())[-1]) == REST[minor]


def test_tempo_and_keys_are_those_asked() -> None:
    """Tempos stay within what is asked, keys are drawn from those asked."""
    settings = Settings(tempo_bpm=(100, 110), keys=("G", "D minor"), styles=("straight pop",))
    found = {
        (str(c.key), c.tempo) for c in (generate(settings, random.Random(s)) for s in range(60))
    }
    assert {key for key, _ in found} == {"G", "D"}
    assert all(100 <= tempo <= 110 for _, tempo in found)


def test_favoured_chords_are_heard() -> None:
    """Most phrases hold the chord that a level introduces."""
    settings = Settings(size="phrase", chords=("1", "4", "5", "6-"), favour=("6-",))
    held = sum(
        "6-" in map(base, chords_of(generate(settings, random.Random(s)).bars()))
        for s in range(100)
    )
    assert held > 85


def test_everyday_needs_no_limits() -> None:
    """The everyday settings draw every style."""
    assert set(EVERYDAY.styles) == set(STYLES)
