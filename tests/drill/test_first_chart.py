"""The first chart sounds as its steps say."""

from __future__ import annotations

from trainer.drill import play_first_bars


def test_the_bass_climbs_as_the_steps_say() -> None:
    """From home the bass goes up to the 4, one more step to the 5, and lands on the 1."""
    played = play_first_bars(4)
    bass = next(part for part in played.parts if part.name == "bass")
    first = [
        min(
            (note for note in bass.notes if abs(note.start_quarters - bar.start_quarters) < 0.2),
            key=lambda note: note.start_quarters,
        ).pitch
        for bar in played.bars
    ]
    assert [pitch - first[0] for pitch in first[:3]] == [0, 5, 7]
    assert (first[3] - first[0]) % 12 == 0


def test_the_other_key_plays_the_same_chart() -> None:
    """In C every chord stands three half steps higher, at the same time."""
    own, other = play_first_bars(4), play_first_bars(4, in_other_key=True)
    assert own.bar_times_s == other.bar_times_s
    basses = [
        {note.pitch % 12 for part in played.parts if part.name == "bass" for note in part.notes}
        for played in (own, other)
    ]
    roots = [{(pitch + up) % 12 for pitch in (9, 2, 4)} for up in (0, 3)]
    assert all(root <= heard for root, heard in zip(roots, basses, strict=True))
