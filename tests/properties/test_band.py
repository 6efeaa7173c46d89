from __future__ import annotations

import random

from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.band.heard import (
    ACCOMPANIMENT,
    INSTRUMENTAL,
    KICK,
    NEAR,
    Heard,
    Played,
    play,
    sounding_in,
)
from tests.properties.strategies import charts, noted_charts
from trainer.band import BANDS, Mix, Note, arrange
from trainer.chart import Articulation, Chart, parse, without_notes

PITCHED = (*ACCOMPANIMENT, "voice")
EVERYONE = (*PITCHED, "drums")
# A strong beat's note may be a person's few milliseconds off it.
BESIDE_S = 0.03
# A stroke of the beat that follows a chord's first attack is never nearer to it, in quarters.
SECOND_STROKE = 0.14


# Every property plays whole charts, which is slow: a quarter of the profile's examples for each.
few = settings(max_examples=settings().max_examples // 4)


def performances() -> st.SearchStrategy[Played]:
    """Every chart, played by every band."""
    return st.builds(
        play,
        charts(),
        seed=st.integers(0, 99),
        band=st.sampled_from(BANDS),
        count_off=st.booleans(),
    )


def _end(note: Note) -> float:
    return note.start_quarters + note.length_quarters


def _attacked(played: Played, chord: Heard, *names: str) -> list[tuple[str, Note]]:
    """Notes that start with a chord's first attack."""
    late = min(played.late(chord), SECOND_STROKE)
    return [
        (name, note)
        for name, note in played.notes(*names)
        if chord.start - NEAR <= note.start_quarters <= chord.start + late
    ]


def _is_approach(note: Note, chord: Heard, following: Heard | None) -> bool:
    """Whether a bass note is a passing note into the next chord, where one is allowed."""
    return (
        following is not None
        and following.bass is not None
        and chord.length >= 2 * chord.pulse - NEAR
        and note.start_quarters >= chord.end - 1 - 0.1
        and min((note.pitch - following.bass) % 12, (following.bass - note.pitch) % 12) <= 2
    )


@few
@given(performances())
def test_every_note_of_the_band_belongs_to_its_chord(played: Played) -> None:
    """A pitched note is of the chord it sounds in, but for bass notes that lead into the next."""
    after = dict(zip(played.chords, played.chords[1:], strict=False))
    for name, note in played.notes(*ACCOMPANIMENT):
        chord = sounding_in(played, note)
        if note.pitch % 12 not in chord.tones:
            assert name == "bass"
            assert _is_approach(note, chord, after.get(chord))


@few
@given(performances())
def test_nothing_rings_into_the_next_chord(played: Played) -> None:
    """Every pitched note ends with its chord; only the last may ring on after the song."""
    for _, note in played.notes(*PITCHED):
        chord = sounding_in(played, note)
        if chord is not played.chords[-1]:
            assert _end(note) <= chord.end + NEAR


# The tenth of eleven chords falls close before a beat, on which the bass plays the fifth.
FIFTH_AT_ONCE = "meter: 12/2\ntempo: 151\nfeel: two-beat\n\nVerse 1:\n(0 0 0 0 0 0 0 0 0 1 0)\n"


@few
@given(performances())
@example(play(parse(FIFTH_AT_ONCE), seed=0, band="small", count_off=False))
def test_every_change_is_struck(played: Played) -> None:
    """Each chord starts with bass and chord instruments together, the lowest note its bass."""
    for chord in played.chords:
        if chord.chord is None:
            continue
        struck = _attacked(played, chord, "bass", "guitar", "keys", "pad")
        present = {part.name for part in played.arrangement.parts}
        assert {name for name, _ in struck} == present & {"bass", "guitar", "keys", "pad"}
        lowest = min(note.pitch for _, note in struck)
        assert lowest % 12 == chord.bass


@few
@given(performances())
def test_the_bass_plays_the_slash_degree_in_its_register(played: Played) -> None:
    """The first bass note of a chord is its bass degree; all lie between E1 and G3."""
    for _, note in played.notes("bass"):
        assert 28 <= note.pitch <= 55
    if played.part("bass") is None:
        return
    for chord in played.chords:
        if chord.chord is not None:
            assert _attacked(played, chord, "bass")[0][1].pitch % 12 == chord.bass


@few
@given(performances())
def test_no_chord_is_silent_of_pitch(played: Played) -> None:
    """Where the chart says no chord, no pitched instrument sounds."""
    for _, note in played.notes(*PITCHED):
        assert sounding_in(played, note).chord is not None


@few
@given(performances())
def test_a_hold_rings_and_nothing_follows(played: Played) -> None:
    """A held chord is struck once by everybody and lasts until the next."""
    for chord in played.chords:
        if chord.articulation is not Articulation.HOLD:
            continue
        late = chord.start + played.late(chord)
        for name, note in played.notes(*EVERYONE):
            assert not late < note.start_quarters < chord.end - NEAR
            if name in ACCOMPANIMENT[:-1] and chord.start - NEAR <= note.start_quarters <= late:
                assert _end(note) >= chord.end - NEAR


@few
@given(performances())
def test_a_stop_is_choked_and_silent(played: Played) -> None:
    """A choked chord is struck and cut within half a beat; then nobody plays until it ends."""
    for chord in played.chords:
        if chord.articulation is not Articulation.CHOKE:
            continue
        late = chord.start + played.late(chord)
        for name, note in played.notes(*EVERYONE):
            assert not late < note.start_quarters < chord.end - NEAR
            if name != "drums" and chord.start - NEAR <= note.start_quarters <= late:
                assert _end(note) <= chord.start + 0.5


# A seventh of a sixteenth, pushed: the next chord is struck within 30 ms of the pushed one's beat.
SHORT_PUSH = "tempo: 86\n\nVerse 1:\n0 [1/16] (1p 1 0 0 0 0 0)\n"


@few
@given(performances())
@example(play(parse(SHORT_PUSH), seed=0, band="work tape", count_off=False))
def test_a_push_comes_early_and_leaves_the_downbeat(played: Played) -> None:
    """A pushed chord and the kick sound before the beat, and none of its pitches strikes on it."""
    for chord in played.chords:
        # In a chord of less than half a beat a strum takes longer than the push.
        if chord.written_start - chord.start < 0.3:
            continue
        beside = BESIDE_S / played.arrangement.tempo_map.seconds_per_quarter
        beside = min(beside, (chord.written_start - chord.start) / 4)
        for name, note in played.notes(*EVERYONE):
            if note.start_quarters < chord.end and (name != "drums" or note.pitch == KICK):
                assert not abs(note.start_quarters - chord.written_start) < beside
        if played.part("drums") is not None:
            kicks = [n for _, n in _attacked(played, chord, "drums") if n.pitch == KICK]
            assert kicks


@few
@given(performances())
def test_the_voice_keeps_to_a_tenth_and_rests_in_instrumental_sections(played: Played) -> None:
    """The guide voice spans at most a major tenth and is silent where nobody sings."""
    notes = [note for _, note in played.notes("voice")]
    if notes:
        pitches = [note.pitch for note in notes]
        assert max(pitches) - min(pitches) <= 16
    for note in notes:
        chord = sounding_in(played, note)
        # A pickup belongs to the section that it leads into.
        pickup = chord.end - note.start_quarters <= 1 + NEAR
        assert chord.kind not in INSTRUMENTAL or pickup


@few
@given(performances())
def test_the_voice_breathes_at_every_phrase_end(played: Played) -> None:
    """Between one phrase's last note and the next one's first, half a beat at least is silent."""
    notes = [note for _, note in played.notes("voice")]
    phrases = sorted({chord.place[:2] for chord in played.chords})
    for phrase in phrases:
        inside = [chord for chord in played.chords if chord.place[:2] == phrase]
        start, end = inside[0].start, inside[-1].end
        sung = [n for n in notes if start - NEAR <= n.start_quarters < end - NEAR]
        edges = [start, *(_end(n) for n in sung)]
        starts = [*(n.start_quarters for n in sung), end]
        gaps = [
            (begin, rest - begin)
            for begin, rest in zip(edges, starts, strict=True)
            if rest > end - 2 or not sung
        ]
        assert end - start < 0.5 or max(length for _, length in gaps) >= 0.5 - NEAR


@few
@given(performances())
def test_the_voice_sings_chord_tones_on_strong_beats(played: Played) -> None:
    """On the first beat of a bar, at every chord change and on long notes it sings a chord tone."""
    starts = {bar.start_quarters for bar in played.arrangement.bars}
    beside = BESIDE_S / played.arrangement.tempo_map.seconds_per_quarter
    for _, note in played.notes("voice"):
        chord = sounding_in(played, note)
        on_bar = any(0 <= note.start_quarters - start < beside for start in starts)
        changed = note.start_quarters - chord.start < min(beside, 0.2)
        long = note.length_quarters > chord.pulse + 0.3
        if on_bar or changed or long:
            assert note.pitch % 12 in chord.tones


@few
@given(performances())
def test_people_are_a_few_milliseconds_late_at_most(played: Played) -> None:
    """The first attack of each chord lies within 25 ms after its place, never before it."""
    for chord in played.chords:
        if chord.chord is None:
            continue
        first = min(note.start_quarters for _, note in _attacked(played, chord, "guitar"))
        lag_s = played.arrangement.tempo_map.seconds(first - chord.start)
        assert -1e-9 <= lag_s <= 0.025


@few
@given(performances())
def test_bar_times_are_the_charts(played: Played) -> None:
    """Bars follow each other without gaps from the end of the lead-in, each as long as written."""
    at = played.arrangement.count_off_quarters
    for bar, time in zip(played.chart.bars(), played.arrangement.bars, strict=True):
        assert abs(time.start_quarters - at) < NEAR
        assert time.length_quarters == float(bar.meter.quarters)
        at += time.length_quarters
    assert abs(played.arrangement.length_quarters - at) < NEAR


@few
@given(performances())
def test_notes_are_playable(played: Played) -> None:
    """Notes have a length, MIDI pitch and velocity, start at 0 or later, and never overlap
    themselves."""
    for part in played.arrangement.parts:
        until: dict[int, float] = {}
        for note in part.notes:
            assert note.length_quarters > 0
            assert 0 <= note.pitch <= 127
            assert 1 <= note.velocity <= 127
            assert note.start_quarters >= until.get(note.pitch, 0.0) - NEAR
            until[note.pitch] = _end(note)


@few
@given(charts(), st.integers(0, 99), st.sampled_from(BANDS))
def test_the_same_seed_plays_the_same(chart: Chart, seed: int, band: str) -> None:
    """The same chart and seed give the same arrangement; without the voice the rest stays."""
    once, again = play(chart, seed, band), play(chart, seed, band)
    assert once.arrangement == again.arrangement
    silent = play(chart, seed, band, Mix(guide=False)).arrangement
    rest = tuple(part for part in once.arrangement.parts if part.name != "voice")
    assert silent.parts == rest


@few
@given(noted_charts(), st.sampled_from(BANDS), st.integers(0, 99))
def test_every_chart_with_notes_can_be_played(chart: Chart, band: str, seed: int) -> None:
    """The band plays whatever is said: bars where they were, every note within the song's time."""
    said = arrange(chart, rng=random.Random(seed), band=band)
    bare = arrange(without_notes(chart), rng=random.Random(seed), band=band)
    assert (said.bars, said.meters, said.keys) == (bare.bars, bare.meters, bare.keys)
    for part in said.parts:
        for note in part.notes:
            assert 0 <= note.start_quarters < said.length_quarters
            assert note.length_quarters > 0
            assert 0 <= note.pitch <= 127
            assert 1 <= note.velocity <= 127


@few
@given(noted_charts(), st.integers(0, 99))
def test_hits_are_where_everybody_strikes(chart: Chart, seed: int) -> None:
    """In a bar with hits no pitched player strikes anywhere else, but for a chord that is pushed
    into the next bar."""
    played = arrange(chart, rng=random.Random(seed))
    bars = chart.bars()
    for place, bar in enumerate(bars):
        if not bar.hits:
            continue
        time = played.bars[place]
        pushed = place + 1 < len(bars) and bars[place + 1].events[0].articulation == "push"
        end = time.length_quarters - (0.55 if pushed else 0.03)
        nearest = 0.42 if chart.feel == "shuffle" else 0.25
        beat = 4 / bar.meter.unit
        for part in played.parts:
            for note in part.notes if not part.is_drum else ():
                at = note.start_quarters - time.start_quarters
                if 0 <= at < end:
                    assert any(-0.13 < at - float(hit) * beat < nearest for hit in bar.hits)
