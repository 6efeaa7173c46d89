"""Whether advice is true: each thing said is looked up in the two charts, by other means than
grading's.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from trainer.chart import Bar, Chart, Chord, pitch_classes
from trainer.grade import Advice, Report
from trainer.grade.report import Case

__all__ = ["check_advice", "seconds"]

NOTES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")
NUMBERS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6}
WHOLE = ("empty", "far off", "form", "speed")


def check_advice(advice: Advice, report: Report, reference: Chart, answer: Chart) -> None:
    """Everything that an advice says and cites is so, and there is something to hear."""
    assert advice.text[0].isupper()
    assert advice.text.endswith(".")
    if advice.kind in WHOLE:
        check_whole(advice, report, reference, answer)
    else:
        for k in range(len(advice.cases)):
            check_case(advice, report, reference, answer, k)
    if advice.kind == "all right":
        assert report.score == 1.0 or all(bar.score == 1.0 for bar in report.bars)
        assert (advice.listen, advice.listen_answer) == (None, None)
        return
    check_stretch(advice.listen, reference, reference)
    check_stretch(advice.listen_answer, answer, reference)


def check_stretch(bars: tuple[int, int] | None, chart: Chart, song: Chart) -> None:
    """Bars of the chart that last 5 to 15 seconds, unless it is too short or its bars too long."""
    assert bars is not None
    lasts = seconds(chart, song)
    assert 1 <= bars[0] <= bars[1] <= len(lasts)
    heard = sum(lasts[bars[0] - 1 : bars[1]])
    assert heard <= 15 + 1e-6 or bars[0] == bars[1]
    beside = [lasts[at] for at in (bars[0] - 2, bars[1]) if 0 <= at < len(lasts)]
    assert heard >= 5 - 1e-6 or all(heard + more > 15 - 1e-6 for more in beside)


def seconds(chart: Chart, song: Chart) -> list[float]:
    """How long each bar lasts at the song's tempo."""
    pulse = 60 / song.tempo / song.meter.pulse_quarters
    return [float(bar.meter.quarters * pulse) for bar in chart.bars()]


def check_whole(advice: Advice, report: Report, reference: Chart, answer: Chart) -> None:
    """Advice that is not about single bars."""
    match advice.kind:
        case "far off":
            paired = [bar for bar in report.bars if bar.reference and bar.answer]
            joins = [one for one in report.edits if "two bars" in one.kind]
            joined = {bar for one in joins for bar in one.reference}
            right = sum(bar.root >= 0.5 or bar.reference in joined for bar in paired)
            assert right < 0.3 * len(paired)
            assert f"Of the {len(answer.bars())} bars written, {right or 'none'} ha" in advice.text
        case "form":
            names = [section.name for section in reference.sections]
            starts = {
                place.number: reference.sections[place.section].name
                for place in reference.placed_bars()
                if place.phrase == place.index == 0
            }
            for case in advice.cases:
                assert case.reference is not None
                assert starts[case.reference] == case.played
            assert report.form.order < 1.0
            assert any(name in advice.text for name in names) or "was not played" in advice.text
        case "speed":
            assert report.speed is not None
            assert f"bar {report.speed.fell_behind}." in advice.text
            lags = report.speed.lag_beats
            assert report.speed.median_lag_beats is not None
            here = lags[(report.speed.fell_behind or 0) - 1]
            assert here is not None
            assert here > report.speed.median_lag_beats
        case "empty":
            assert all(bar.answer is None for bar in report.bars)


def at_once(reference: Bar, answer: Bar, played: str, written: str) -> bool:
    """Whether two chords sound at the same time in two bars laid over each other."""
    return any(
        start < other_end and other_start < end
        for start, end in spans(reference, played)
        for other_start, other_end in spans(answer, written)
    )


def spans(bar: Bar, text: str) -> list[tuple[Fraction, Fraction]]:
    """Where a chord sounds in a bar, as shares of it."""
    return [
        (start / bar.meter.beats, (start + event.beats) / bar.meter.beats)
        for start, event in zip(bar.starts(), bar.events, strict=True)
        if ("0" if event.chord is None else str(event.chord)) == text
    ]


def chord_in(bar: Bar, text: str) -> Chord:
    """The chord of a bar by its text."""
    return next(e.chord for e in bar.events if e.chord is not None and str(e.chord) == text)


def notes(chord: Chord) -> set[int]:
    """The chord's notes without its bass."""
    return set(pitch_classes(replace(chord, bass=None)))


def bass(chord: Chord) -> int:
    """The lowest note."""
    return (chord.root if chord.bass is None else chord.bass).semitones


def check_other_chord(text: str, played: Chord, written: Chord) -> None:
    """What is said about shared notes and basses is so."""
    both = notes(played) & notes(written)
    if "share no note" in text or "The bass is right: " in text:
        assert not both
    else:
        found = re.search(r"share (\w+) notes? \(([^)]*)\)", text)
        assert found is not None
        assert NUMBERS[found[1]] == len(both)
        assert set(re.split(", | and ", found[2])) == {NOTES[note] for note in both}
    if hint := re.search(r"it is on (\S+), not (\S+)\.", text):
        assert hint.groups() == (NOTES[bass(played)], NOTES[bass(written)])
    else:
        assert bass(played) == bass(written)


def check_chords(advice: Advice, played: Chord, written: Chord) -> None:
    """Two chords differ in the way that the advice says."""
    same_notes, same_bass = notes(played) == notes(written), bass(played) == bass(written)
    same_root = played.root.semitones == written.root.semitones
    match advice.kind:
        case "other chord":
            check_other_chord(advice.text, played, written)
        case "plain number":
            assert (played.quality, written.quality, same_root) == ("-", "", True)
        case "third":
            assert {played.quality, written.quality} == {"", "-"}
            assert same_root
            assert len(notes(played) - notes(written)) == 1
        case "extension left out":
            assert same_root
            assert played.extension
            assert not written.extension
        case "extension added":
            assert same_root
            assert written.extension
            assert not played.extension
        case "bass left out":
            assert same_notes
            assert not same_bass
            assert written.bass is None
        case "bass added":
            assert same_notes
            assert not same_bass
            assert played.bass is None
        case "other bass":
            assert same_notes
            assert not same_bass
            assert played.bass
            assert written.bass
        case _:
            assert same_root
            assert not same_notes


def check_case(advice: Advice, report: Report, reference: Chart, answer: Chart, k: int) -> None:
    """The k-th case of an advice is true of the bars that it cites."""
    case = advice.cases[k]
    view = report.bars if report.home_shift is None else report.home_shift.bars
    rows = {(bar.reference, bar.answer): bar for bar in view}
    if advice.kind in ("left out", "added", "doubled"):
        assert (case.reference, case.answer) in rows
        number = str(case.reference or case.answer)
        # Of many, the last are only counted.
        assert number in advice.text or "–" in advice.text or " more " in advice.text
    elif advice.kind in ("swapped", "split written as two bars", "two bars written as one"):
        check_edit(advice, report, reference, answer, k)
    elif advice.kind == "phrases":
        assert (case.reference is None) != (case.answer is None)
    elif advice.kind.startswith("home"):
        assert rows[case.reference, case.answer].root == 1.0
    else:
        assert rows[case.reference, case.answer].score < 1.0
        assert case.reference is not None
        assert case.answer is not None
        played = reference.bars()[case.reference - 1]
        check_bar(advice, case, played, answer.bars()[case.answer - 1])


def check_edit(advice: Advice, report: Report, reference: Chart, answer: Chart, k: int) -> None:
    """Whole bars were swapped, split or joined as said."""
    case = advice.cases[k]
    edit = min(
        (
            one
            for one in report.edits
            if one.kind == advice.kind
            and case.reference in (*one.reference, None)
            and case.answer in (*one.answer, None)
        ),
        key=lambda one: len(one.reference),
    )
    song = [reference.bars()[bar - 1] for bar in edit.reference]
    own = [answer.bars()[bar - 1] for bar in edit.answer]
    view = report.bars if report.home_shift is None else report.home_shift.bars
    for bar in view:
        # What is written there stands beside what was played there.
        inside = bar.reference in edit.reference, bar.answer in edit.answer
        assert inside[0] == inside[1] or None in (bar.reference, bar.answer)
    if advice.kind != "swapped":
        assert changes(song) == changes(own)
    elif edit.unit == "bar":
        assert len(song) == len(own)
    else:
        check_swap(edit.reference, {bar.reference: bar.answer for bar in view})


def check_swap(song: tuple[int, ...], written: dict[int | None, int | None]) -> None:
    """The bars fall into two parts, of which the later one was written first."""
    places = [place for bar in song if (place := written[bar]) is not None]
    falls = [k for k in range(1, len(places)) if places[k] < places[k - 1]]
    assert len(falls) == 1
    assert max(places[falls[0] :]) < min(places[: falls[0]])


def check_bar(advice: Advice, case: Case, played: Bar, written: Bar) -> None:
    """One bar is as the advice says."""
    match advice.kind:
        case "meter":
            assert f"{played.meter} was played, {written.meter} is" in advice.text
        case "key change":
            assert (played.key_change - written.key_change) % 12
        case "split missed":
            assert len(played.events) > 1
            assert len(set(map(sound, written.events))) == 1
        case "split added":
            assert len(written.events) > 1
            assert len(set(map(sound, played.events))) == 1
        case "split misplaced" | "split otherwise":
            assert min(len(played.events), len(written.events)) > 1
        case "articulation left out" | "articulation added" | "other articulation":
            assert marks(played) != marks(written)
        case _:
            assert at_once(played, written, case.played, case.written)
            if "0" in (case.played, case.written):
                assert advice.kind == ("rest missed" if case.played == "0" else "rest written")
            else:
                check_chords(advice, chord_in(played, case.played), chord_in(written, case.written))


def marks(bar: Bar) -> list[tuple[Fraction, object]]:
    """Where what is articulated, as shares of the bar."""
    return [
        (start / bar.meter.beats, event.articulation)
        for start, event in zip(bar.starts(), bar.events, strict=True)
        if event.articulation is not None
    ]


def changes(listed: list[Bar]) -> list[object]:
    """What sounds, bar by bar, a chord that goes on in its bar counted once."""
    return [
        sound(event)
        for bar in listed
        for k, event in enumerate(bar.events)
        if not k or sound(event) != sound(bar.events[k - 1])
    ]


def sound(event: object) -> object:
    """What an event sounds: pitch classes and bass."""
    chord = getattr(event, "chord", None)
    return None if chord is None else (pitch_classes(chord), bass(chord))
