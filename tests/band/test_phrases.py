"""What the guide voice must do, measured over whole generated songs rather than one."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

import pytest

from tests.generate.everyday import EVERYDAY
from trainer.band import Arrangement, Note, arrange
from trainer.band.drums import HIGH_TOM, LOW_TOM, MID_TOM
from trainer.band.feels import Role
from trainer.band.timeline import Timeline, TimelinePhrase
from trainer.band.voice import SUNG_KINDS
from trainer.chart import Chart
from trainer.generate import generate

SEEDS = range(1, 11)
NEAR = 0.02
BREATH = 0.45


@dataclass(frozen=True)
class Sung:
    """A song of `everyday`, its plan, and what its voice sings, from the first bar line."""

    chart: Chart
    plan: Timeline
    played: Arrangement
    notes: tuple[Note, ...]

    def phrases(self) -> list[tuple[TimelinePhrase, list[Note], bool]]:
        """Each sung phrase, its notes but for a pickup into the next, and whether it has one."""
        found = []
        for phrase in self.plan.phrases:
            inside = self.inside(phrase.start, phrase.end)
            if phrase.bars[0].kind not in SUNG_KINDS or not inside:
                continue
            last = inside[-1]
            before = inside[-2] if len(inside) > 1 else None
            leads = (
                before is not None
                and last.start_quarters - before.start_quarters - before.length_quarters >= BREATH
                and last.start_quarters >= phrase.end - 1 - NEAR
            )
            found.append((phrase, inside[:-1] if leads else inside, leads))
        return found

    def inside(self, start: float, end: float) -> list[Note]:
        """Notes that start between two times."""
        return [n for n in self.notes if start - NEAR <= n.start_quarters < end - NEAR]


@pytest.fixture(scope="module")
def songs() -> list[Sung]:
    """Ten songs."""
    found = []
    for seed in SEEDS:
        chart = generate(EVERYDAY, random.Random(seed))
        played = arrange(chart, rng=random.Random(seed))
        lead_in = played.count_off_quarters
        voice = next(part for part in played.parts if part.name == "voice")
        notes = tuple(
            Note(n.start_quarters - lead_in, n.length_quarters, n.pitch, n.velocity)
            for n in voice.notes
        )
        plan = Timeline.of(chart, chart.meter.quarters)
        found.append(Sung(chart, plan, played, notes))
    return found


@pytest.mark.many
def test_every_phrase_takes_a_breath(songs: list[Sung]) -> None:
    """After the last note of every phrase nothing is sung for at least an eighth."""
    for song in songs:
        for _, notes, _ in song.phrases():
            end = notes[-1].start_quarters + notes[-1].length_quarters
            after = [n.start_quarters for n in song.notes if n.start_quarters >= end - NEAR / 2]
            assert min(after, default=end + 1) - end >= BREATH


def test_strong_beats_have_chord_tones(songs: list[Sung]) -> None:
    """Every note on a strong beat is a tone of its chord."""
    for song in songs:
        for phrase, notes, _ in song.phrases():
            for note in notes:
                span = next(
                    s for s in reversed(phrase.spans) if s.start <= note.start_quarters + NEAR
                )
                strong = any(
                    abs(note.start_quarters - span.bar.start - cell.start) < NEAR
                    for cell in span.bar.cells
                    if cell.role in (Role.DOWN, Role.MID)
                )
                assert not strong or note.pitch % 12 in span.pitch_classes


def test_the_line_is_for_a_voice(songs: list[Sung]) -> None:
    """Each song stays in a tenth; over all, six in ten moves are a step or none, and no leap is
    wider than an octave."""
    moves: list[int] = []
    for song in songs:
        pitches = [note.pitch for note in song.notes]
        assert max(pitches) - min(pitches) <= 16
        for _, notes, _ in song.phrases():
            moves += [abs(b.pitch - a.pitch) for a, b in pairwise(notes)]
    assert max(moves) <= 12
    assert sum(move <= 2 for move in moves) >= 0.6 * len(moves)


def test_leaps_stand_where_a_line_opens(songs: list[Sung]) -> None:
    """4 to 10% of the moves are a fourth or wider; nine in ten of these are among the first three
    moves of a phrase, and nine in ten are followed by a step the other way."""
    count, early, recovered, leaps = 0, 0, 0, 0
    for song in songs:
        for _, notes, _ in song.phrases():
            moves = [b.pitch - a.pitch for a, b in pairwise(notes)]
            count += len(moves)
            for place, move in enumerate(moves):
                if abs(move) >= 5:
                    leaps += 1
                    early += place < 3
                    after = next((m for m in moves[place + 1 :] if m), 0)
                    recovered += 0 < abs(after) <= 2 and (after > 0) != (move > 0)
    assert 0.04 * count <= leaps <= 0.1 * count
    assert early >= 0.9 * leaps
    assert recovered >= 0.9 * leaps


def test_a_line_returns_with_its_melody(songs: list[Sung]) -> None:
    """A line that comes back in a section of the same kind keeps its first bar in nine cases of
    ten, and over all more than eight in ten of its notes; of the verses' lines a third or more are
    sung with another rhythm or ending, of the choruses' fewer."""
    openings: Counter[bool] = Counter()
    kept: Counter[bool] = Counter()
    varied: dict[str, Counter[bool]] = {"verse": Counter(), "chorus": Counter()}
    for song in songs:
        first: dict[object, list[tuple[float, int]]] = {}
        for phrase, notes, _ in song.phrases():
            bar = phrase.bars[0]
            written = song.chart.sections[bar.section].phrases[bar.phrase]
            sung = [
                (float(round(6 * (n.start_quarters - bar.start))), n.pitch - bar.tonic)
                for n in notes
            ]
            before = first.setdefault((bar.kind, bar.phrase, written), sung)
            if before is sung:
                continue
            end = 6 * (bar.end - bar.start)
            openings[
                [note for note in before if note[0] < end]
                == [note for note in sung if note[0] < end]
            ] += 1
            kept.update(note in sung for note in before)
            if bar.kind in varied:
                varied[bar.kind][before != sung] += 1
    assert openings.total() >= 50
    assert openings[True] >= 0.9 * openings.total()
    assert kept[True] > 0.8 * kept.total()
    shares = {kind: found[True] / found.total() for kind, found in varied.items()}
    assert shares["verse"] > 0.33
    assert shares["chorus"] < shares["verse"]


def test_pickups_lead_on(songs: list[Sung]) -> None:
    """Seven in ten phrases before another sung one end with a pickup into it; holds, chokes and
    pushes leave none."""
    led: Counter[bool] = Counter()
    for song in songs:
        for phrase, _, leads in song.phrases():
            following = next((p for p in song.plan.phrases if p.start >= phrase.end - NEAR), None)
            if following is not None and following.bars[0].kind in SUNG_KINDS:
                led[leads] += 1
    assert led[True] >= 0.7 * led.total()


def test_an_odd_bar_is_filled(songs: list[Sung]) -> None:
    """In phrases of an odd number of bars the singer hangs on for two fifths of the last."""
    checked = 0
    for song in songs:
        for phrase, _, _ in song.phrases():
            last = phrase.bars[-1]
            if len(phrase.bars) % 2 == 0 or len(phrase.bars) == 1:
                continue
            checked += 1
            sounding = sum(
                max(
                    0.0,
                    min(n.start_quarters + n.length_quarters, last.end)
                    - max(n.start_quarters, last.start),
                )
                for n in song.notes
            )
            assert sounding >= 0.4 * (last.end - last.start)
    assert checked >= 5


def test_toms_lead_into_sections_only(songs: list[Sung]) -> None:
    """Toms are struck in the last bar of a section and nowhere else."""
    toms = 0
    for song in songs:
        drums = next(part for part in song.played.parts if part.name == "drums")
        for note in drums.notes:
            if note.pitch in (LOW_TOM, MID_TOM, HIGH_TOM):
                at = note.start_quarters - song.played.count_off_quarters
                bar = next(b for b in reversed(song.plan.bars) if b.start <= at + NEAR)
                assert bar.last_in_section
                toms += 1
    assert toms >= 50
