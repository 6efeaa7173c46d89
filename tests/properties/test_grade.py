"""The invariants of grading, for every chart that the model can hold."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from hypothesis import assume, given
from hypothesis import strategies as st

from trainer.chart import Bar, Chart, Chord, Key, Phrase, Section, pitch_classes
from trainer.grade import Advice, Report, Weights, grade, report_to_json
from trainer.grade.compare import compare, credit
from trainer.grade.report import Case
from trainer.grade.sheet import shape_of

from .strategies import bars, charts, keys

NOTES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")
NUMBERS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6}
WEIGHTS = Weights()


def rebuilt(chart: Chart, listed: list[list[list[Bar]]]) -> Chart | None:
    """The chart with other bars in its phrases; what is left empty goes."""
    sections = []
    for section, phrases in zip(chart.sections, listed, strict=True):
        kept = tuple(Phrase(tuple(phrase)) for phrase in phrases if phrase)
        if kept:
            sections.append(Section(section.name, kept))
    return replace(chart, sections=tuple(sections)) if sections else None


def opened(chart: Chart) -> list[list[list[Bar]]]:
    """The bars of a chart by section and phrase."""
    return [[list(phrase.bars) for phrase in section.phrases] for section in chart.sections]


def places(chart: Chart) -> list[tuple[int, int, int]]:
    """Where each bar stands."""
    return [(place.section, place.phrase, place.index) for place in chart.walk()]


@st.composite
def answered(draw: st.DrawFn) -> tuple[Chart, Chart]:
    """A chart, and an answer to it with bars left out, added, doubled, changed and made up."""
    chart = draw(charts())
    listed = opened(chart)
    for s, p, b in reversed(places(chart)):
        way = draw(st.integers(0, 9))
        phrase = listed[s][p]
        if way == 0:
            del phrase[b]
        elif way == 1:
            phrase.insert(b, phrase[b])
        elif way == 2:
            phrase[b] = draw(bars(chart.meter))
        elif way == 3:
            phrase[b] = draw(st.sampled_from(chart.bars()))
        elif way == 4:
            phrase[b] = nudged(draw, phrase[b])
        elif way == 5:
            phrase.insert(b + 1, draw(bars(chart.meter)))
    answer = rebuilt(chart, listed)
    assume(answer is not None)
    assert answer is not None
    return chart, answer


def nudged(draw: st.DrawFn, bar: Bar) -> Bar:
    """The bar with one small thing changed."""
    k = draw(st.integers(0, len(bar.events) - 1))
    event = bar.events[k]
    if event.chord is None:
        event = replace(event, chord=Chord(1))
    else:
        root, quality = event.chord.root, event.chord.quality
        event = draw(
            st.sampled_from(
                (
                    replace(event, chord=Chord(*root, quality)),
                    replace(event, chord=Chord(*root, "-" if quality == "" else "")),
                    replace(event, chord=replace(event.chord, bass=None)),
                    replace(event, articulation=None),
                    replace(event, chord=None, articulation=None),
                )
            )
        )
    return replace(bar, events=(*bar.events[:k], event, *bar.events[k + 1 :]))


@given(charts())
def test_a_chart_graded_against_itself_is_perfect(chart: Chart) -> None:
    """grade(x, x) is 1 in everything, and there is nothing to advise."""
    report = grade(chart, chart)
    assert report.score == report.root == report.strict == 1.0
    for bar in report.bars:
        assert bar.reference == bar.answer
        parts = (bar.score, bar.root, bar.quality, bar.bass, bar.placement, bar.articulation)
        assert {*parts, bar.meter, bar.key_change, bar.strict} == {1.0}
    assert report.phrases.f == report.form.order == report.form.lengths == 1.0
    assert report.home_shift is None
    assert not report.happenings
    assert not report.confusions
    assert [one.kind for one in report.advice] == ["all right"]


@given(answered(), keys(), keys())
def test_keys_change_nothing(pair: tuple[Chart, Chart], one: Key, other: Key) -> None:
    """Transposing either side, or both, leaves the report as it is."""
    reference, answer = pair
    one, other = (replace(key, minor=reference.key.minor) for key in (one, other))
    report = grade(reference, answer)
    assert grade(replace(reference, key=one), replace(answer, key=other)) == report


@given(answered())
def test_every_number_is_a_share_and_every_bar_stands_once(pair: tuple[Chart, Chart]) -> None:
    """Scores are 0 to 1, rows hold each bar of either side once and in order; JSON is plain."""
    reference, answer = pair
    report = grade(reference, answer)
    assert [bar.reference for bar in report.bars if bar.reference] == list(
        range(1, len(reference.bars()) + 1)
    )
    assert [bar.answer for bar in report.bars if bar.answer] == list(
        range(1, len(answer.bars()) + 1)
    )
    numbers = [report.score, report.root, report.strict, report.phrases.f, report.form.score]
    for bar in report.bars:
        numbers += [bar.score, bar.root, bar.quality, bar.bass, bar.placement, bar.articulation]
        numbers += [bar.meter, bar.key_change, bar.strict]
        assert (bar.score == 1.0) >= (bar.strict == bar.placement == bar.articulation == 1.0
                                      and bar.meter == bar.key_change == 1.0)  # fmt: skip
    assert all(0 <= number <= 1 for number in numbers)
    assert len(report.advice) <= 3
    assert report_to_json(report)["score"] == report.score


@given(charts(), st.data())
def test_one_bar_left_out_costs_that_bar_alone(chart: Chart, data: st.DataObject) -> None:
    """With one bar left out of n, every other bar scores 1."""
    where = data.draw(st.sampled_from(places(chart)))
    _leave_out_one(chart, where)


@given(bars(), st.lists(st.integers(1, 6), min_size=1, max_size=4), st.data())
def test_also_in_a_song_on_one_bar(bar: Bar, lengths: list[int], data: st.DataObject) -> None:
    """Repetition gives the alignment nothing to go by, and costs nothing."""
    bar = replace(bar, key_change=0)
    chart = data.draw(charts(1))
    phrases = tuple(Phrase((bar,) * length) for length in lengths)
    chart = replace(chart, sections=(Section("", phrases),))
    _leave_out_one(chart, data.draw(st.sampled_from(places(chart))))


def _leave_out_one(chart: Chart, where: tuple[int, int, int]) -> None:
    listed = opened(chart)
    del listed[where[0]][where[1]][where[2]]
    answer = rebuilt(chart, listed)
    number = len(chart.bars())
    if answer is None:
        assert grade(chart, None).score == 0
        return
    report = grade(chart, answer)
    assert sorted(bar.score for bar in report.bars) == [0.0] + [1.0] * (number - 1)
    assert [bar.answer for bar in report.bars].count(None) == 1
    if len(chart.sections[where[0]].phrases[where[1]].bars) > 1:
        assert report.phrases.f == report.form.order == 1.0


@given(charts(), st.data())
def test_one_bar_too_many_costs_no_other(chart: Chart, data: st.DataObject) -> None:
    """A doubled bar leaves every bar of the song at 1."""
    s, p, b = data.draw(st.sampled_from(places(chart)))
    listed = opened(chart)
    listed[s][p].insert(b, replace(listed[s][p][b], key_change=0))
    answer = rebuilt(chart, listed)
    report = grade(chart, answer)
    assert [bar.score for bar in report.bars if bar.reference] == [1.0] * len(chart.bars())


def is_worse(reference: Chart, old: Bar, new: Bar) -> bool:
    """Whether a bar agrees with no bar of the reference better than the one it replaces."""
    old_shape, new_shape = shape_of(old), shape_of(new)
    return all(
        credit(compare(shape, new_shape), WEIGHTS) <= credit(compare(shape, old_shape), WEIGHTS)
        for shape in map(shape_of, reference.bars())
    )


@given(charts(), st.data())
def test_another_error_never_raises_a_grade(chart: Chart, data: st.DataObject) -> None:
    """From a right copy, each further bar made worse leaves the grade as it is or lowers it.

    Worse is a bar that agrees with no bar of the song better than the one it replaces: one that
    does may by chance make the answer right under another alignment.
    """
    listed = opened(chart)
    before = 1.0
    for s, p, b in data.draw(st.permutations(places(chart))):
        new = data.draw(bars(chart.meter))
        if not is_worse(chart, listed[s][p][b], new):
            continue
        listed[s][p][b] = new
        score = grade(chart, rebuilt(chart, listed)).score
        assert score <= before + 1e-6
        before = score


@given(charts(), st.data())
def test_leaving_out_more_never_raises_a_grade(chart: Chart, data: st.DataObject) -> None:
    """From a right copy, each further bar left out lowers the bars' credit or leaves it."""
    listed = opened(chart)
    weights = Weights(phrases=0.0, form=0.0)
    before = 1.0
    for s, p, b in sorted(data.draw(st.sets(st.sampled_from(places(chart)))), reverse=True):
        del listed[s][p][b]
        score = grade(chart, rebuilt(chart, listed), weights=weights).score
        assert score <= before + 1e-9
        before = score


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
    if "share no note" in text:
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
    elif advice.kind in ("swapped", "split written as two bars", "two bars written as one"):
        check_happening(advice, report, reference, answer, k)
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


def check_happening(
    advice: Advice, report: Report, reference: Chart, answer: Chart, k: int
) -> None:
    """Whole bars were swapped, split or joined as said."""
    case = advice.cases[k]
    happening = next(
        one
        for one in report.happenings
        if one.kind == advice.kind
        and (case.reference in one.reference or case.answer in one.answer)
    )
    song = [reference.bars()[bar - 1] for bar in happening.reference]
    own = [answer.bars()[bar - 1] for bar in happening.answer]
    for bar in report.bars if report.home_shift is None else report.home_shift.bars:
        # What is written there stands beside what was played there.
        inside = bar.reference in happening.reference, bar.answer in happening.answer
        assert inside[0] == inside[1] or None in (bar.reference, bar.answer)
    if advice.kind != "swapped":
        assert changes(song) == changes(own)
    elif happening.unit == "bar":
        assert len(song) == len(own)
    else:
        assert song != own
        assert sorted(map(repr, song)) == sorted(map(repr, own))


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


@given(answered())
def test_no_advice_is_false_for_the_bars_it_cites(pair: tuple[Chart, Chart]) -> None:
    """Each case of each advice is checked against the two charts."""
    reference, answer = pair
    report = grade(reference, answer)
    costs = [advice.cost for advice in report.advice]
    assert costs == sorted(costs, reverse=True)
    for advice in report.advice:
        assert advice.text[0].isupper()
        assert advice.text.endswith(".")
        for k in range(len(advice.cases)):
            check_case(advice, report, reference, answer, k)
        if advice.listen is not None:
            assert 1 <= advice.listen[0] <= advice.listen[1] <= len(reference.bars())


@given(answered())
def test_what_happened_is_named_once(pair: tuple[Chart, Chart]) -> None:
    """No bar takes part in two happenings; each gap is in one unless its bars were swapped."""
    reference, answer = pair
    report = grade(reference, answer)
    for side in ("reference", "answer"):
        named = [bar for happening in report.happenings for bar in getattr(happening, side)]
        assert len(named) == len(set(named))
    if report.home_shift is None:
        for side, other in (("reference", "answer"), ("answer", "reference")):
            gaps = {getattr(bar, side) for bar in report.bars if getattr(bar, other) is None}
            bars_named = {bar for one in report.happenings for bar in getattr(one, side)}
            assert gaps <= bars_named
