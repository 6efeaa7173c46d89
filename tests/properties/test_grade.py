"""The invariants of grading, for every chart that the model can hold."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import accumulate, pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.grade.advice_checker import check_advice, missing_cases
from tests.grade.worked import MISTAKES
from tests.thorough import is_thorough
from trainer.chart import Bar, Chart, Chord, Key, Phrase, Section
from trainer.grade import SCHEMES, Timing, Weights, grade, report_to_json
from trainer.grade.charging import find_mistakes
from trainer.grade.compare import bar_credit, compare
from trainer.grade.content import bar_content, chart_content
from trainer.grade.edits import find_edits
from trainer.grade.home import find_reading
from trainer.grade.wording import WORDINGS

from .strategies import bars, charts, keys
from .truth import check_listening, check_speed, seconds

WEIGHTS = Weights()
# Answers that are wrong all over take longest, since each is read in every way there is: in a
# normal run these properties look at fewer of them.
lighter = settings(max_examples=settings().max_examples // (1 if is_thorough() else 3))


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
    return [(place.section, place.phrase, place.index) for place in chart.placed_bars()]


def songs(most_sections: int = 3) -> st.SearchStrategy[Chart]:
    """Every chart that a band may play: no bar of it is left open."""
    return charts(most_sections).map(closed)


def closed(chart: Chart) -> Chart:
    """The chart with silence where a bar was open, and without a fade, which no grade counts."""
    listed = [
        [[replace(bar, is_open=False, fades=False) for bar in phrase] for phrase in section]
        for section in opened(chart)
    ]
    found = rebuilt(chart, listed)
    assert found is not None
    return found


@st.composite
def answered(draw: st.DrawFn) -> tuple[Chart, Chart]:
    """A chart, and an answer to it with bars left out, added, doubled, changed and made up."""
    chart = draw(songs())
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
        elif way == 6 and len(phrase[b].events) > 1:
            phrase[b : b + 1] = halves(phrase[b])
    turn(draw, listed)
    answer = rebuilt(chart, listed)
    assume(answer is not None)
    assert answer is not None
    return chart, answer


def halves(bar: Bar) -> list[Bar]:
    """A split bar as two bars, its first chord and the rest."""
    first, *rest = bar.events
    beats = Fraction(bar.meter.beats)
    even = tuple(replace(event, beats=beats / len(rest)) for event in rest)
    return [
        replace(bar, events=(replace(first, beats=beats),)),
        replace(bar, events=even, key_change=0),
    ]


def turn(draw: st.DrawFn, listed: list[list[list[Bar]]]) -> None:
    """Now and then, two phrases of a section or two sections change places."""
    way = draw(st.integers(0, 5))
    turned: list = listed if way == 1 else draw(st.sampled_from(listed))
    if way < 2 and len(turned) > 1:
        k = draw(st.integers(0, len(turned) - 2))
        turned[k], turned[k + 1] = turned[k + 1], turned[k]


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
    events = (*bar.events[:k], event, *bar.events[k + 1 :])
    return replace(bar, events=events, is_open=False)


@given(songs())
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
    assert not report.edits
    assert not report.confusions
    assert [one.kind for one in report.advice] == ["all right"]


@lighter
@given(answered(), keys(), keys())
def test_keys_change_nothing(pair: tuple[Chart, Chart], one: Key, other: Key) -> None:
    """Transposing either side, or both, leaves the report as it is."""
    reference, answer = pair
    one, other = (replace(key, minor=reference.key.minor) for key in (one, other))
    report = grade(reference, answer)
    assert grade(replace(reference, key=one), replace(answer, key=other)) == report


@lighter
@given(answered())
def test_every_number_is_a_share_and_every_bar_stands_once(pair: tuple[Chart, Chart]) -> None:
    """Scores are 0 to 1, rows hold each bar of either side once, in order unless swapped; JSON is
    plain.
    """
    reference, answer = pair
    report = grade(reference, answer)
    assert [bar.reference for bar in report.bars if bar.reference] == list(
        range(1, len(reference.bars()) + 1)
    )
    written = [bar.answer for bar in report.bars if bar.answer]
    assert sorted(written) == list(range(1, len(answer.bars()) + 1))
    if not any(one.kind == "swapped" for one in report.edits):
        assert written == sorted(written)
    numbers = [report.score, report.root, report.strict, report.phrases.f, report.form.score]
    for bar in report.bars:
        numbers += [bar.score, bar.root, bar.quality, bar.bass, bar.placement, bar.articulation]
        numbers += [bar.meter, bar.key_change, bar.strict]
        assert (bar.score == 1.0) >= (bar.strict == bar.placement == bar.articulation == 1.0
                                      and bar.meter == bar.key_change == 1.0)  # fmt: skip
    assert all(0 <= number <= 1 for number in numbers)
    assert report_to_json(report)["score"] == report.score


@given(songs(), st.data())
def test_one_bar_left_out_costs_that_bar_alone(chart: Chart, data: st.DataObject) -> None:
    """With one bar left out of n, every other bar scores 1."""
    where = data.draw(st.sampled_from(places(chart)))
    _leave_out_one(chart, where)


@given(bars(), st.lists(st.integers(1, 6), min_size=1, max_size=4), st.data())
def test_also_in_a_song_on_one_bar(bar: Bar, lengths: list[int], data: st.DataObject) -> None:
    """Repetition gives the alignment nothing to go by, and costs nothing."""
    bar = replace(bar, key_change=0, is_open=False)
    chart = data.draw(songs(1))
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


@given(songs(), st.data())
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
    old_content, new_content = bar_content(old), bar_content(new)
    return all(
        bar_credit(compare(content, new_content), WEIGHTS)
        <= bar_credit(compare(content, old_content), WEIGHTS)
        for content in map(bar_content, reference.bars())
    )


def is_in_another_key(
    chart: Chart, listed: list[list[list[Bar]]], place: tuple[int, int, int]
) -> bool:
    """Whether some bar from a place on stands in another key than the song's, by the signs."""
    signs = [listed[s][p][b].key_change for s, p, b in places(chart)]
    off = accumulate(
        played.key_change - written for played, written in zip(chart.bars(), signs, strict=True)
    )
    return any(here % 12 for here in [*off][places(chart).index(place) :])


@lighter
@given(songs(), st.data())
def test_another_error_never_raises_a_grade(chart: Chart, data: st.DataObject) -> None:
    """From a right copy, each further bar made worse leaves the grade as it is or lowers it.

    Worse is a bar that agrees with no bar of the song better than the one it replaces: one that
    does may by chance make the answer right under another alignment. Nor does it put right the key
    of later bars: a second sign that is missing may bring the answer back into the song's key.
    """
    listed = opened(chart)
    before = 1.0
    for s, p, b in data.draw(st.permutations(places(chart))):
        old, new = listed[s][p][b], data.draw(bars(chart.meter))
        if not is_worse(chart, old, new):
            continue
        if new.key_change != old.key_change and is_in_another_key(chart, listed, (s, p, b)):
            continue
        listed[s][p][b] = new
        score = grade(chart, rebuilt(chart, listed)).score
        assert score <= before + 1e-6
        before = score


@lighter
@given(songs(), st.data())
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


@st.composite
def timed(draw: st.DrawFn, reference: Chart, answer: Chart) -> Timing | None:
    """When each bar was written, or nothing."""
    if draw(st.booleans()):
        return None
    starts = [0.0, *accumulate(seconds(reference, reference))]
    behind = draw(st.lists(st.floats(0, 30), min_size=1, max_size=4))
    done = tuple(
        starts[min(k, len(starts) - 1)] + behind[k % len(behind)] for k in range(len(answer.bars()))
    )
    return Timing(done, tuple(pairwise(starts)), 60 / reference.tempo, draw(st.integers(0, 3)))


@lighter
@given(answered(), st.data())
def test_no_advice_is_false_for_the_bars_it_cites(
    pair: tuple[Chart, Chart], data: st.DataObject
) -> None:
    """Each sentence is checked against the two charts, under every scheme, and every bar that lost
    something is cited.
    """
    reference, answer = pair
    scheme = data.draw(st.sampled_from(sorted(SCHEMES)))
    timing = data.draw(timed(reference, answer))
    report = grade(reference, answer, weights=SCHEMES[scheme], timing=timing)
    # A forgotten flat or sharp comes behind what is harder to hear, a copied section before what
    # is wrong by that.
    elsewhere = ("accidental left out", "copied")
    costs = [one.cost for one in report.advice if one.kind not in elsewhere]
    assert costs == sorted(costs, reverse=True)
    check_advice(report.advice, reference, answer)
    wrong = [(bar.reference, bar.answer) for bar in report.bars if bar.score < 1.0]
    assert missing_cases(report.advice, wrong) == []
    for advice in report.advice:
        check_listening(advice, report, reference, answer)
        assert advice.kind not in NOT_ASKED.get(scheme, ())
        if advice.kind == "speed":
            check_speed(advice, report)


NOT_ASKED = {
    "roots": {
        *("plain number", "third", "quality", "extension left out", "extension added"),
        *("other extension", "bass left out", "bass added", "other bass"),
        *("articulation left out", "articulation added", "other articulation"),
        "articulation elsewhere",
    },
    "symbols": {
        *("articulation left out", "articulation added", "other articulation"),
        "articulation elsewhere",
        *("meter", "key change", "phrases", "form"),
    },
}


def test_worked_mistakes_bring_advice_of_every_kind_but_a_few() -> None:
    """The page of worked mistakes shows nearly all that can be said; tests.grade holds the rest."""
    kinds = {advice.kind.split(":")[0] for one in MISTAKES for advice in one.report().advice}
    rare = {"exchanged", "articulation elsewhere", "key change"}
    assert kinds >= {*WORDINGS, "phrases", "form", "speed", "far off", "home", "empty"} - rare


@lighter
@given(answered())
def test_edits_are_named_once(pair: tuple[Chart, Chart]) -> None:
    """No bar takes part in two edits, but that swapped phrases and sections may hold some;
    each gap is in one.
    """
    reference, answer = pair
    report = grade(reference, answer)
    swaps = [one for one in report.edits if one.kind == "swapped" and one.unit != "bar"]
    others = [one for one in report.edits if one not in swaps]
    for side in ("reference", "answer"):
        for listed in (swaps, others):
            named = [bar for edit in listed for bar in getattr(edit, side)]
            assert len(named) == len(set(named))
    view = report.bars if report.home_shift is None else report.home_shift.bars
    for side, other in (("reference", "answer"), ("answer", "reference")):
        gaps = {getattr(bar, side) for bar in view if getattr(bar, other) is None}
        assert gaps <= {bar for one in others for bar in getattr(one, side)}


@lighter
@given(answered())
def test_advice_accounts_for_what_the_bars_lost(pair: tuple[Chart, Chart]) -> None:
    """Everything found costs, all together, what the bars lost: nothing is charged twice.

    What is spared is not charged, and what a reading takes away is charged to the reading.
    """
    reference, answer = pair
    weights = Weights(phrases=0.0, form=0.0)
    report = grade(reference, answer, weights=weights)
    ours, theirs = chart_content(reference), chart_content(answer)
    aligned = find_reading(reference, answer, ours, theirs, weights).aligned
    lost = sum(one.lost_bars for one in find_mistakes(aligned, find_edits(aligned), weights))
    lost += aligned.surcharge
    found = max(0.0, 1 - lost / len(reference.bars()))
    if min(aligned.keeps) < 1.0 or aligned.keys_off:
        assert found >= report.score - 1e-9
    else:
        assert found == pytest.approx(report.score, abs=1e-9)
