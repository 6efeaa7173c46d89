"""A chart arranged for a band: who is in it, and what each member plays."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from math import log10

from trainer.band.bass import play_bass
from trainer.band.drums import play_drums
from trainer.band.guitar import play_guitar
from trainer.band.humanize import Attack, PerformanceTiming, humanize
from trainer.band.keyboards import play_keyboard, swell_bends
from trainer.band.lead_in import play_count_off, play_tonic
from trainer.band.obey import NotedBars, noted_bars, obey
from trainer.band.parts import (
    Arrangement,
    BarTime,
    KeyChange,
    LowRegister,
    MeterChange,
    Part,
    TempoMap,
    VolumeStep,
)
from trainer.band.pocket import POCKETS, drift_quarters, place_s
from trainer.band.stop_time import fade_steps, play_foot
from trainer.band.strength import strength_line
from trainer.band.timeline import Timeline
from trainer.band.voice import play_lead, play_voice
from trainer.chart import Articulation, Chart, Feel
from trainer.errors import SettingsError

__all__ = ["BANDS", "Mix", "arrange", "playing_time_s", "room_s"]

BANDS = ("work tape", "small", "full")
# General MIDI 1 programs, counted from 0. They were chosen by the partials that the free soundfonts
# give them: a third and a fifth partial as loud as the fundamental make a major chord of every
# note. A clarinet, a harmonica and the upper notes of a jazz guitar have such partials; an "ooh",
# an electric piano and a recorder hardly have them. The fretless bass has more fundamental than
# others.
# Levels are set so that voice, bass, guitar and drums stand within a few decibels of each other.
PIANO, ELECTRIC_PIANO, RECORDER = 0, 4, 74
NYLON_STRINGS, STEEL_STRINGS, JAZZ_GUITAR, FRETLESS_BASS = 24, 25, 26, 35
VOICE_OOHS = 53
# The acoustic guitars of FluidR3_GM have hardly any fundamental under C sharp 3, the jazz guitar
# has. A guitar alone, which has to say the bass, sounds its low notes with it.
WOUND_STRINGS = LowRegister(49, JAZZ_GUITAR)
# A hand damps the strings at a change; some soundfonts let them ring for a second. SoundFont 2.04's
# NRPN 120/38 shortens the release of a channel to an eighth (−3600 timecents, in steps of 2 around
# 8192); other instruments ignore it. From memory, and measured with FluidSynth.
_SHORTER = 8192 - 1800
DAMPED = ((99, 120), (98, 38), (38, _SHORTER % 128), (6, _SHORTER // 128))
PAD_FEELS = (Feel.TWO_BEAT, Feel.TRAIN_BEAT, Feel.WALTZ)
SLOW_PULSE_S = 0.75

# The seconds for which the last notes ring, and those of silence before a count-off or the 1.
RING_S, ROOM_S = 2.0, 0.5
LOUDEST_LEVEL = 127


@dataclass(frozen=True, slots=True)
class Mix:
    """Aids to hearing.

    `bass_lift_db` raises the bass against the others; `tonic_first` plays the 1 chord for a bar
    before the count-off; `guide` is whether the guide voice sings.
    """

    bass_lift_db: float = 0.0
    tonic_first: bool = False
    guide: bool = True


PLAIN_MIX = Mix()


@dataclass(frozen=True, slots=True)
class _BandMember:
    """A member of the band: the part it plays and its place in the mix.

    `program`, `level`, `pan`, `controls` and `low` mean what they do in `Part`.
    """

    name: str
    program: int
    level: int
    pan: float
    play: Callable[[random.Random], list[Attack]]
    is_drum: bool = False
    controls: tuple[tuple[int, int], ...] = ()
    low: LowRegister | None = None


def _members(
    chart: Chart, timeline: Timeline, band: str, mix: Mix, tempo_map: TempoMap
) -> list[_BandMember]:
    """The members of a band."""
    quarter_s = tempo_map.seconds_per_quarter
    pulse_s = tempo_map.seconds(float(chart.meter.pulse_quarters))
    alone, light = band != "full", band == "small"

    def guitar(rng: random.Random) -> list[Attack]:
        return play_guitar(timeline, quarter_s, rng, band, chart.capo)

    def drums(rng: random.Random) -> list[Attack]:
        return play_drums(timeline, quarter_s, rng, light)

    def voice(rng: random.Random) -> list[Attack]:
        return play_voice(timeline, pulse_s, rng)

    if band == "work tape":
        strings, low = NYLON_STRINGS, WOUND_STRINGS
    else:
        strings, low = STEEL_STRINGS, None
    level = 92 if alone else 84
    members = [_BandMember("guitar", strings, level, -0.3, guitar, controls=DAMPED, low=low)]
    if band != "work tape":
        members.append(
            _BandMember("bass", FRETLESS_BASS, 97, 0.0, lambda rng: play_bass(timeline, rng))
        )
        members.append(_BandMember("drums", 0, 114 if light else 120, 0.0, drums, is_drum=True))
    if band == "full":
        members += _colours(chart, timeline, pulse_s)
    if band == "work tape":
        members.append(_BandMember("foot", 0, 100, 0.0, lambda _: play_foot(timeline), True))
    if mix.guide:
        members.append(_BandMember("voice", VOICE_OOHS, 90, 0.0, voice, controls=DAMPED))
    return members


def _colours(chart: Chart, timeline: Timeline, pulse_s: float) -> list[_BandMember]:
    """What a full band adds: keys or a steel-like pad, and a lead where nobody sings."""

    def lead(rng: random.Random) -> list[Attack]:
        return play_lead(timeline, pulse_s, rng)

    if chart.feel in PAD_FEELS:
        return [
            _BandMember(
                "pad",
                ELECTRIC_PIANO,
                86,
                0.35,
                lambda rng: play_keyboard(timeline, rng, pad=True),
            ),
            _BandMember("lead", RECORDER, 62, 0.2, lead),
        ]
    piano, level = (ELECTRIC_PIANO, 90) if pulse_s >= SLOW_PULSE_S else (PIANO, 122)
    return [
        _BandMember(
            "keys",
            piano,
            level,
            0.35,
            lambda rng: play_keyboard(timeline, rng, pad=False),
        ),
        _BandMember("lead", ELECTRIC_PIANO, 78, 0.2, lead),
    ]


def _levels(members: list[_BandMember], lift_db: float) -> dict[str, int]:
    """Channel volumes by member, with the bass `lift_db` decibels above its usual place in the mix.

    Where the bass cannot be raised that far, the others are lowered by the rest. A channel volume v
    attenuates by 40·log10(v/127) dB (SoundFont 2.04, section 8.4).
    """
    lifted = {member.name: float(member.level) for member in members}
    if lift_db and "bass" in lifted:
        room = 40 * log10(LOUDEST_LEVEL / lifted["bass"])
        rise = min(lift_db, room)
        for name in lifted:
            lifted[name] *= 10 ** ((rise if name == "bass" else rise - lift_db) / 40)
    return {name: max(0, min(LOUDEST_LEVEL, round(level))) for name, level in lifted.items()}


def _lead_in_parts(
    chart: Chart, tonic: bool, count_at: float | None, quarter_s: float, rng: random.Random
) -> list[Part]:
    """The parts that sound before the first bar."""
    timing = PerformanceTiming(0.0, quarter_s, 0.0, float("inf"))
    parts = []
    if tonic:
        notes = humanize(play_tonic(chart, 0.0), timing, rng)
        parts.append(Part("home", PIANO, False, notes, level=92))
    if count_at is not None:
        notes = humanize(play_count_off(chart, count_at, chart.count_off), timing, rng)
        parts.append(Part("count-off", 0, True, notes, level=100))
    return parts


def _member_parts(
    members: list[_BandMember],
    bass_lift_db: float,
    timeline: Timeline,
    noted: NotedBars | None,
    fade: tuple[VolumeStep, ...],
    timing: PerformanceTiming,
    band: str,
    seed: int,
) -> list[Part]:
    """The parts of the members that play at all: a song of verses only has no lead."""
    levels = _levels(members, bass_lift_db)
    parts = []
    for member in members:
        # Each member has a seed of its own: leaving one out changes nothing for the others.
        own = random.Random(f"{member.name} {seed}")
        placed = replace(timing, place_s=place_s(member.name, band))
        notes = humanize(obey(member.name, member.play(own), noted), placed, own)
        if not notes:
            continue
        bends = swell_bends(timeline, timing.lead_in, own) if member.name == "pad" else ()
        parts.append(
            Part(
                member.name,
                member.program,
                member.is_drum,
                notes,
                levels[member.name],
                member.pan,
                bends,
                member.controls,
                fade,
                member.low,
            )
        )
    return parts


def _fade(chart: Chart, timeline: Timeline, lead_in: float) -> tuple[VolumeStep, ...]:
    """The volume of every member, where the song fades."""
    first = chart.fade_bar
    if first is None:
        return ()
    return fade_steps(timeline.bars[first - 1].start + lead_in, timeline.end + lead_in)


def _meters(chart: Chart, timeline: Timeline, lead_in: float) -> tuple[MeterChange, ...]:
    """Where the meter changes. The lead-in is in the meter of the song."""
    changes = [MeterChange(0.0, chart.meter.beats, chart.meter.unit)] if lead_in else []
    before = chart.meter if lead_in else None
    for bar in timeline.bars:
        if bar.meter != before:
            changes.append(MeterChange(bar.start + lead_in, bar.meter.beats, bar.meter.unit))
            before = bar.meter
    return tuple(changes)


def _keys(chart: Chart, timeline: Timeline, lead_in: float) -> tuple[KeyChange, ...]:
    """Where the key changes. The lead-in is in the first key of the song."""
    tonic = chart.key.pitch_class
    changes = [KeyChange(0.0, tonic, chart.key.minor)]
    for bar in timeline.bars:
        if bar.tonic != tonic:
            at = bar.start + lead_in
            changes = [change for change in changes if change.at_quarters < at]
            tonic = bar.tonic
            changes.append(KeyChange(at, tonic, chart.key.minor))
    return tuple(changes)


def playing_time_s(
    chart: Chart, *, mix: Mix = PLAIN_MIX, tempo: float | None = None, count_off: bool = True
) -> float:
    """How long a chart plays, in seconds, before it is arranged; parameters as in `arrange`."""
    lead_in = _lead_in_quarters(chart, mix, count_off)
    quarters = float(sum(bar.meter.quarters for bar in chart.bars())) + lead_in
    tempo_map = TempoMap.of(chart, tempo, lead_in)
    return room_s(chart, mix, tempo, count_off) + tempo_map.seconds(quarters)


def room_s(
    chart: Chart, mix: Mix = PLAIN_MIX, tempo: float | None = None, count_off: bool = True
) -> float:
    """The silence before the first sound, in seconds; parameters as in `arrange`.

    It is half a second at the chart's tempo and longer at a slower one, so that a place in the
    sound stays the same share of it. Where neither the count-off nor the 1 comes first, there is
    none: bars that are compared are heard at once.
    """
    if not _lead_in_quarters(chart, mix, count_off):
        return 0.0
    return ROOM_S * chart.tempo / (chart.tempo if tempo is None else tempo)


def _lead_in_quarters(chart: Chart, mix: Mix, count_off: bool) -> float:
    return float(chart.meter.quarters * (count_off * chart.count_off + mix.tonic_first))


def arrange(
    chart: Chart,
    *,
    rng: random.Random,
    band: str = "full",
    mix: Mix = PLAIN_MIX,
    tempo: float | None = None,
    count_off: bool = True,
) -> Arrangement:
    """Turn a chart into the parts of a band.

    The same chart and the same state of `rng` give the same notes.

    Parameters
    ----------
    band : one of `BANDS`.
    mix : aids to hearing.
    tempo : pulses a minute; None for the chart's own tempo.
    count_off : whether the bars of stick clicks that the chart asks for come first.

    Raises SettingsError for an unknown band or a tempo that no chart may have.
    """
    if band not in BANDS:
        raise SettingsError("band", repr(band), "one of " + ", ".join(BANDS))
    count = chart.meter.quarters * chart.count_off if count_off else Fraction(0)
    lead_in = _lead_in_quarters(chart, mix, count_off)
    tempo_map = TempoMap.of(chart, tempo, lead_in)
    timeline = Timeline.of(chart, count)
    members = _members(chart, timeline, band, mix, tempo_map)
    count_at = lead_in - float(count) if count else None
    quarter_s = tempo_map.seconds_per_quarter
    parts = _lead_in_parts(chart, mix.tonic_first, count_at, quarter_s, rng)
    last = timeline.spans[-1]
    seed = rng.getrandbits(64)
    pocket = POCKETS[band]
    shared = random.Random(f"pocket {seed}")
    timing = PerformanceTiming(
        pocket.stroke_sd_s,
        quarter_s,
        lead_in,
        timeline.end,
        0.0 if last.articulation is Articulation.CHOKE else RING_S / quarter_s,
        drift_quarters(pocket, timeline.end, quarter_s, shared),
        strength=strength_line(timeline),
    )
    fade = _fade(chart, timeline, lead_in)
    noted = noted_bars(chart, timeline)
    parts += _member_parts(members, mix.bass_lift_db, timeline, noted, fade, timing, band, seed)
    bars = tuple(
        BarTime(plan.number, plan.start + lead_in, plan.end - plan.start) for plan in timeline.bars
    )
    meters, keys = _meters(chart, timeline, lead_in), _keys(chart, timeline, lead_in)
    end = timeline.end + lead_in
    room = room_s(chart, mix, tempo, count_off)
    return Arrangement(tuple(parts), bars, tempo_map, lead_in, end, meters, keys, room)
