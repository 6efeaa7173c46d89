"""Advise on the labels of sections, and on a section that is written as an earlier one was."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import pairwise

from trainer.chart.section_names import OTHER, form_letter, possible_kinds
from trainer.grade.aligned import AlignedCharts
from trainer.grade.content import ChartContent
from trainer.grade.mistakes import bar_text
from trainer.grade.report import Advice, AlignmentEdit, Case, FormGrade
from trainer.grade.text_pieces import bars_text, join_words

__all__ = ["advise_on_copies", "advise_on_form"]

# A section of fewer bars may be like another by chance.
LEAST_COPIED = 4


@dataclass(frozen=True, slots=True)
class _Labelled:
    """A section of the song, its bars from 0, and the section of the answer that it stands in.

    `own` is the number of the answer's section, None if no bar of it is written.
    """

    name: str
    kind: str
    start: int
    end: int
    own: int | None

    @property
    def location(self) -> str:
        """Name and first bar."""
        return f"{self.name} (bar {self.start + 1})"


def advise_on_form(
    aligned: AlignedCharts, form: FormGrade, share: float, edits: Sequence[AlignmentEdit]
) -> list[Advice]:
    """Advise on sections that have no label, or another than they should.

    Nothing is said where an advice on whole sections says it. `share` is what the form makes up of
    the score.
    """
    if form.order == 1.0 or any(one.unit == "section" for one in edits):
        return []
    told = _wrong_labels(aligned)
    gone = {
        bar for one in edits if one.kind in ("left out", "not written") for bar in one.reference
    }
    start = 0
    missing = False
    for pair in form.sections:
        bars = range(start + 1, (start := start + pair.reference_bars) + 1)
        missing |= bool(pair.answer is None and pair.reference and not gone.issuperset(bars))
    if not told and missing:
        played = join_words([one.name or "no name" for one in aligned.reference.sections])
        own = join_words([one.name or "no label" for one in aligned.answer.sections])
        told = [(f"the song has {played}, and you wrote {own}", _first_cases(aligned))]
    if not told:
        return []
    text = f"Section labels: {'; '.join(part for part, _ in told)}."
    cases = tuple(dict.fromkeys(case for _, inside in told for case in inside))
    return [Advice("form", text, share * (1.0 - form.order), cases)]


def _first_cases(aligned: AlignedCharts) -> list[Case]:
    return [
        Case(start + 1, None, section.name, "")
        for section, start in zip(
            aligned.reference.sections, aligned.reference.section_boundaries, strict=False
        )
    ]


def _labelled(aligned: AlignedCharts) -> list[_Labelled]:
    """Return the sections of the song, each with the answer's section that has most of it."""
    song, answer = aligned.reference, aligned.answer
    inside: list[Counter[int]] = [Counter() for _ in song.sections]
    section_of, own_section_of = song.section_of_bar, answer.section_of_bar
    together = Counter(
        [
            (section_of[one], own_section_of[other])
            for (one, _), other in zip(aligned.pairs, aligned.sources, strict=True)
            if one is not None and other is not None
        ]
    )
    for (number, own_number), bars in together.items():
        inside[number][own_number] = bars
    bounds = pairwise(song.section_boundaries)
    found = []
    for number, (start, end) in enumerate(bounds):
        name, kind = song.sections[number].name, song.section_kinds[number]
        own = max(inside[number], key=lambda k: (inside[number][k], -k), default=None)
        found.append(_Labelled(name, name if kind == OTHER else kind, start, end, own))
    return found


def _agree(name: str, label: str) -> bool:
    """Whether a label stands for a section's name as names usually do."""
    if form_letter(name) and form_letter(label):
        return form_letter(name) == form_letter(label)
    return not set(possible_kinds(name)).isdisjoint(possible_kinds(label))


def _wrong_labels(aligned: AlignedCharts) -> list[tuple[str, list[Case]]]:
    """Return what is wrong with the labels, each with the places that it is about."""
    sections = [one for one in _labelled(aligned) if one.own is not None and one.name]
    unlabelled, told = [], []
    first_label: dict[str, tuple[str, _Labelled]] = {}
    meaning: dict[str, _Labelled] = {}
    for one in sections:
        label = aligned.answer.sections[one.own or 0].name
        case = [Case(one.start + 1, None, one.name, "")]
        together = [each for each in sections if each.own == one.own]
        if not label:
            unlabelled.append(one)
        elif _agree(one.name, label):
            first_label.setdefault(one.kind, (label, one))
            meaning.setdefault(label, one)
        elif len(together) > 1:
            bars = bars_text(range(one.start + 1, one.end + 1))
            text = f"you put {one.name} ({bars}) under"
            after = [
                each for each in together if each.start > one.start and _agree(each.name, label)
            ]
            begins = f", and {after[0].name} begins at bar {after[0].start + 1}" if after else ""
            told.append((f"{text} {label}{begins}", case))
        elif not form_letter(label) and possible_kinds(label) != (OTHER,):
            told.append((f"you labelled {one.location} {label}", case))
        elif one.kind in first_label:
            before, where = first_label[one.kind]
            if before != label:
                text = f"you labelled {one.location} {label}, but {where.location} {before}"
                told.append((text, case))
        elif label in meaning and meaning[label].kind != one.kind:
            told.append(
                (f"you labelled {one.location} {label}, like {meaning[label].location}", case)
            )
        else:
            first_label[one.kind] = label, one
            meaning[label] = one
    if unlabelled:
        names = list(dict.fromkeys(one.name for one in unlabelled))
        cases = [Case(one.start + 1, None, one.name, "") for one in unlabelled]
        told.insert(0, (f"you gave {join_words(names)} no label", cases))
    return told


def advise_on_copies(aligned: AlignedCharts) -> list[Advice]:
    """Say where a section of the answer is an earlier one again, and the song's is not.

    What the bars lost by it is said, and charged, besides.
    """
    answer = aligned.answer
    own = [_bars_of(answer, number) for number in range(len(answer.sections))]
    if len(set(own)) == len(own):
        return []
    found, sections = [], _labelled(aligned)
    for k, one in enumerate(sections):
        for before in sections[:k]:
            bars = _copied(aligned, before, one)
            if bars:
                found.append(_on_copy(aligned, before, one, bars))
                break
    return found


def _copied(aligned: AlignedCharts, before: _Labelled, one: _Labelled) -> list[int]:
    """Return the bars of a section, from 1, in which it is not as the earlier one, if it is copied.

    It is where the answer has the same bars twice, and the song differs in half of them at most.
    """
    if before.own is None or one.own is None or before.own >= one.own or before.kind != one.kind:
        return []
    own = [_bars_of(aligned.answer, number) for number in (before.own, one.own)]
    if own[0] != own[1] or len(own[0]) < LEAST_COPIED:
        return []
    song = aligned.reference
    ours = [
        [(bar.meter, bar.events) for bar in song.bars[each.start : each.end]]
        for each in (before, one)
    ]
    chords = [
        [bar.progression for bar in song.contents[each.start : each.end]] for each in (before, one)
    ]
    if chords[0] == chords[1]:
        return []
    blocks = SequenceMatcher(None, ours[0], ours[1], autojunk=False).get_matching_blocks()
    same = {bar for block in blocks for bar in range(block.b, block.b + block.size)}
    bars = [one.start + bar + 1 for bar in range(len(ours[1])) if bar not in same]
    return bars if 2 * len(bars) <= len(ours[1]) else []


def _bars_of(chart: ChartContent, section: int) -> tuple[object, ...]:
    start, end = chart.section_boundaries[section : section + 2]
    return chart.contents[start:end]


def _on_copy(
    aligned: AlignedCharts, before: _Labelled, one: _Labelled, bars: Sequence[int]
) -> Advice:
    here, there = (
        f"{each.name or 'the section'} ({bars_text(range(each.start + 1, each.end + 1))})"
        for each in (one, before)
    )
    text = (
        f"You wrote {here} the same as {there}, but the song differs in {bars_text(bars)}. Listen "
        "for what's new when a section comes back."
    )
    cases = tuple(Case(bar, None, bar_text(aligned.reference.bars[bar - 1]), "") for bar in bars)
    return Advice("copied", text, 0.0, cases)
