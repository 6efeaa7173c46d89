"""What a teacher would say about each kind of mistake.

Each saying takes the finding and the aligned charts, and says only what it has looked up there:
which bars, what was played, what was written, what the two share, what to listen for.
"""

from __future__ import annotations

from collections.abc import Callable

from trainer.grade.findings import Finding
from trainer.grade.scoring import Scored
from trainer.grade.tones import Sound, note_name, note_names
from trainer.grade.words import (
    bar_text,
    bars_text,
    beats_text,
    count,
    interval_text,
    listing,
    place_text,
)

__all__ = ["say"]

Saying = Callable[[Finding, Scored], str]
MARKS = {"d": "a hold (diamond)", "p": "a push", "s": "a stop"}
HEAR = {
    "d": "a held chord rings and nothing is struck after it",
    "p": "a pushed chord comes an eighth before its beat",
    "s": "a stopped chord is choked and leaves silence",
}


def say(finding: Finding, scored: Scored) -> str:
    """Say what happened. Raises KeyError for a kind without a saying."""
    return SAYINGS[finding.kind](finding, scored)


def _at(finding: Finding, scored: Scored) -> str:
    return place_text(scored.reference, finding.bars, capital=True)


def _pairs(finding: Finding) -> str:
    """The chords of the cases, played and written: "2- and 6- were played, 2 and 6 are written"."""
    pairs = list(dict.fromkeys((case.played, case.written) for case in finding.cases))[:4]
    played = list(dict.fromkeys(one for one, _ in pairs))
    written = list(dict.fromkeys(other for _, other in pairs))
    was, is_ = ("was", "were")[len(played) > 1], ("is", "are")[len(written) > 1]
    return f"{listing(played)} {was} played, {listing(written)} {is_} written"


def _notes(notes: int) -> str:
    return listing(note_names(notes))


def _plain_number(finding: Finding, scored: Scored) -> str:
    return (
        f"{_at(finding, scored)}: {_pairs(finding)}. A plain number is a major chord; write the "
        "minus where the chord is minor."
    )


def _sounds(finding: Finding) -> tuple[Sound, Sound]:
    _, _, played, written = finding.places[0]
    assert isinstance(played, Sound)
    assert isinstance(written, Sound)
    return played, written


def _third(finding: Finding, scored: Scored) -> str:
    played, written = _sounds(finding)
    third = _notes(played.tones & ~written.tones)
    other = _notes(written.tones & ~played.tones)
    minor = played.chord is not None and played.chord.quality == "-"
    sound = "dark (minor)" if minor else "bright (major)"
    return (
        f"{_at(finding, scored)}: {_pairs(finding)}. The root is right; only the third differs. "
        f"Listen to the third: it is {third}, {sound}, not {other}."
    )


def _inside(finding: Finding, scored: Scored) -> str:
    """Chords on one root and one bass whose notes differ."""
    played, written = _sounds(finding)
    text = f"{_at(finding, scored)}: {_pairs(finding)}. The root is right."
    more, less = played.tones & ~written.tones, written.tones & ~played.tones
    if more and less:
        return f"{text} Listen inside the chord: {_notes(more)} sounds, not {_notes(less)}."
    if more:
        return f"{text} Listen inside the chord for {_notes(more)}."
    return f"{text} Listen inside the chord: {_notes(less)} does not sound."


def _extension_left_out(finding: Finding, scored: Scored) -> str:
    text = f"{_at(finding, scored)}: {_pairs(finding)}. The chord is right, the extension is not"
    return text + " there: listen for the note that colours it."


def _extension_added(finding: Finding, scored: Scored) -> str:
    text = f"{_at(finding, scored)}: {_pairs(finding)}. The chord is right but plain:"
    return text + " nothing is added to its three notes."


def _bass_left_out(finding: Finding, scored: Scored) -> str:
    return (
        f"{_at(finding, scored)}: {_pairs(finding)}. The chord is right, but the bass is not on "
        "its root: listen to the lowest note, and write it after the slash."
    )


def _bass_added(finding: Finding, scored: Scored) -> str:
    return (
        f"{_at(finding, scored)}: {_pairs(finding)}. The chord is right, and the bass is on its "
        "root: no slash."
    )


def _other_bass(finding: Finding, scored: Scored) -> str:
    played, written = _sounds(finding)
    return (
        f"{_at(finding, scored)}: {_pairs(finding)}. The chord is right; the lowest note is "
        f"{note_name(played.bass)}, not {note_name(written.bass)}."
    )


def _other_chord(finding: Finding, scored: Scored) -> str:
    played, written = _sounds(finding)
    both = played.tones & written.tones
    share = (
        "They share no note"
        if not both
        else f"They share {count(both.bit_count())} note{'s' * (both.bit_count() > 1)} "
        f"({_notes(both)})"
    )
    if played.bass != written.bass:
        hint = f"the bass is on {note_name(played.bass)}, not {note_name(written.bass)}"
        return f"{_at(finding, scored)}: {_pairs(finding)}. {share}; listen to the bass: {hint}."
    more, less = played.tones & ~written.tones, written.tones & ~played.tones
    text = f"{_at(finding, scored)}: {_pairs(finding)}. {share} and the bass; listen above it:"
    if more and less:
        return f"{text} {_notes(more)} sounds, not {_notes(less)}."
    return f"{text} {_notes(more)} sounds too." if more else f"{text} {_notes(less)} is not there."


def _rest_missed(finding: Finding, scored: Scored) -> str:
    return (
        f"{_at(finding, scored)}: no chord was played, {finding.cases[0].written} is written. "
        "Write 0 where the band is silent."
    )


def _rest_written(finding: Finding, scored: Scored) -> str:
    return f"{_at(finding, scored)}: {finding.cases[0].played} was played, no chord is written."


def _split(finding: Finding, scored: Scored) -> tuple[str, str, str]:
    """The place, the chords of the reference's bar with their lengths, and the bar written."""
    bar = scored.reference.bars[finding.bars[0] - 1]
    chords = listing(["0" if event.chord is None else str(event.chord) for event in bar.events])
    held = f"{chords}, {beats_text([event.beats for event in bar.events])}"
    return _at(finding, scored), held, finding.cases[0].written


def _split_missed(finding: Finding, scored: Scored) -> str:
    at, held, written = _split(finding, scored)
    number = len(scored.reference.bars[finding.bars[0] - 1].events)
    return (
        f"{at}: {count(number)} chords were played, {held}; {written} is written for the whole "
        "bar. Listen for the bass moving inside the bar."
    )


def _split_added(finding: Finding, scored: Scored) -> str:
    case = finding.cases[0]
    return (
        f"{_at(finding, scored)}: {case.played} was played all through the bar, {case.written} is "
        "written. Wait for the next bar line before you write a change."
    )


def _split_misplaced(finding: Finding, scored: Scored) -> str:
    at, held, written = _split(finding, scored)
    return (
        f"{at}: the chords are right but not where they change. {held} were played; {written} is "
        "written. Count the beats up to the change."
    )


def _split_otherwise(finding: Finding, scored: Scored) -> str:
    at, held, written = _split(finding, scored)
    return f"{at}: {held} were played; {written} is written. Count where the bass moves."


def _marked(text: str) -> str:
    """The articulation letter in a bar's text that is not d, p or s by being a chord: the last."""
    return next((letter for letter in reversed(text) if letter in MARKS), "d")


def _articulation_left_out(finding: Finding, scored: Scored) -> str:
    case = finding.cases[0]
    letter = _marked(case.played)
    return (
        f"{_at(finding, scored)}: {MARKS[letter]} was played and is not written: {case.played}. "
        f"Listen: {HEAR[letter]}."
    )


def _articulation_added(finding: Finding, scored: Scored) -> str:
    case = finding.cases[0]
    letter = _marked(case.written)
    return (
        f"{_at(finding, scored)}: {MARKS[letter]} is written where none was played. "
        f"Listen: {HEAR[letter]}."
    )


def _other_articulation(finding: Finding, scored: Scored) -> str:
    case = finding.cases[0]
    one, other = _marked(case.played), _marked(case.written)
    return (
        f"{_at(finding, scored)}: {MARKS[one]} was played, {MARKS[other]} is written. "
        f"Listen: {HEAR[one]}."
    )


def _meter(finding: Finding, scored: Scored) -> str:
    first = finding.cases[0]
    assert first.reference is not None
    assert first.answer is not None
    played = scored.reference.bars[first.reference - 1].meter
    written = scored.answer.bars[first.answer - 1].meter
    return (
        f"{_at(finding, scored)}: {played} was played, {written} is written. Count the beats from "
        "one bar line to the next."
    )


def _key_change(finding: Finding, scored: Scored) -> str:
    case = finding.cases[0]
    assert case.reference is not None
    assert case.answer is not None
    played = scored.reference.bars[case.reference - 1].key_change
    written = scored.answer.bars[case.answer - 1].key_change
    at = _at(finding, scored)
    if not played:
        return f"{at}: a key change is written, but the key stays. Sing the 1 across the bar line."
    moved = f"the key moves {'up' if played > 0 else 'down'} {interval_text(abs(played))} here"
    wrong = f"{written:+d} is written" if written else "that is not written"
    return f"{at}: {moved}, and {wrong}. Write (key {played:+d}) before the bar."


def _bars(scored: Scored, bars: tuple[int, ...], own: bool = False) -> str:
    """The first bars of a run, in notation."""
    sheet = scored.answer if own else scored.reference
    texts = [bar_text(sheet.bars[bar - 1]) for bar in bars[:4]]
    return " ".join(texts) + (" …" if len(bars) > 4 else "")


def _left_out(finding: Finding, scored: Scored) -> str:
    happening = finding.happening
    assert happening is not None
    bars, sheet = happening.reference, scored.reference
    at = place_text(sheet, bars, capital=True)
    played = _bars(scored, bars)
    if bars[-1] == len(sheet) and len(bars) > 2 and bars[0] > 1:
        return (
            f"The chart stops after bar {bars[0] - 1}: bars {bars[0]}–{bars[-1]} ({played}) are "
            "not written."
        )
    if happening.unit == "section":
        names = listing(list(dict.fromkeys(sheet.parts[sheet.sections[b - 1]].name for b in bars)))
        return f"The whole of {names}, {bars_text(bars)} ({played}), is left out."
    if happening.unit == "phrase":
        return (
            f"{at}, a whole phrase ({played}), {'is' if len(bars) == 1 else 'are'} left out. "
            "Listen for each time the vocal starts over."
        )
    text = f"{at} ({played}) {'is' if len(bars) == 1 else 'are'} left out."
    phrases = {sheet.phrases[bar - 1] for bar in bars}
    if len(phrases) > 1:
        return text + " Count the bars, not the changes."
    phrase = phrases.pop()
    length = sheet.limits[phrase + 1] - sheet.limits[phrase]
    left = sum(
        row.reference is not None
        and row.answer is not None
        and sheet.phrases[row.reference - 1] == phrase
        for row in scored.rows
    )
    return (
        f"{text} The phrase has {count(length)} bars and {count(left)} of them "
        f"{'is' if left == 1 else 'are'} written: count the bars until the vocal starts over."
    )


def _added(finding: Finding, scored: Scored) -> str:
    happening = finding.happening
    assert happening is not None
    own = happening.answer
    what = {"bar": "bar", "phrase": "phrase", "section": "section"}[happening.unit]
    row = next(k for k, (_, other) in enumerate(scored.pairs) if other == own[0] - 1)
    before = sum(one is not None for one, _ in scored.pairs[:row])
    if before == len(scored.reference):
        where = f"the song ends after bar {before}"
    elif before == 0:
        where = "the song starts after it"
    else:
        where = f"the song goes straight from bar {before} to bar {before + 1}"
    your = f"Your bar {own[0]}" if len(own) == 1 else f"Your bars {own[0]}–{own[-1]}"
    text = f"{your} ({_bars(scored, own, own=True)})"
    if happening.kind == "doubled":
        whole = f", a {what}," if what != "bar" and len(own) > 1 else ""
        number = "repeats the bar" if len(own) == 1 else "repeat the bars"
        return f"{text}{whole} {number} before and {_was(own)} not played again: {where}."
    return f"{text} {_was(own)} not played: {where}."


def _was(bars: tuple[int, ...]) -> str:
    return "was" if len(bars) == 1 else "were"


def _swapped(finding: Finding, scored: Scored) -> str:
    happening = finding.happening
    assert happening is not None
    song, own = happening.reference, happening.answer
    at = place_text(scored.reference, song, capital=True)
    played, written = _bars(scored, song), _bars(scored, own, own=True)
    if happening.unit == "bar":
        return f"{at}: {played} was played, {written} is written: the same bars in another order."
    if happening.unit == "section":
        names = [scored.reference.parts[scored.reference.sections[bar - 1]].name for bar in song]
        order = list(dict.fromkeys(names))
        return f"{at}: {listing(order)} are written in the other order; {order[0]} came first."
    return (
        f"{at}: two phrases are written in the other order; the one that starts "
        f"{_bars(scored, song[:2])} came first."
    )


def _as_two(finding: Finding, scored: Scored) -> str:
    happening = finding.happening
    assert happening is not None
    at = place_text(scored.reference, happening.reference, capital=True)
    return (
        f"{at} is one bar, {_bars(scored, happening.reference)}; it is written as two, "
        f"{_bars(scored, happening.answer, own=True)}. Count the beats: the chord changes inside "
        "the bar."
    )


def _as_one(finding: Finding, scored: Scored) -> str:
    happening = finding.happening
    assert happening is not None
    at = place_text(scored.reference, happening.reference, capital=True)
    return (
        f"{at} are two bars, {_bars(scored, happening.reference)}; they are written as one, "
        f"{_bars(scored, happening.answer, own=True)}. Count the beats: each of them lasts a bar."
    )


SAYINGS: dict[str, Saying] = {
    "plain number": _plain_number,
    "third": _third,
    "quality": _inside,
    "other extension": _inside,
    "extension left out": _extension_left_out,
    "extension added": _extension_added,
    "bass left out": _bass_left_out,
    "bass added": _bass_added,
    "other bass": _other_bass,
    "other chord": _other_chord,
    "rest missed": _rest_missed,
    "rest written": _rest_written,
    "split missed": _split_missed,
    "split added": _split_added,
    "split misplaced": _split_misplaced,
    "split otherwise": _split_otherwise,
    "articulation left out": _articulation_left_out,
    "articulation added": _articulation_added,
    "other articulation": _other_articulation,
    "meter": _meter,
    "key change": _key_change,
    "left out": _left_out,
    "added": _added,
    "doubled": _added,
    "swapped": _swapped,
    "split written as two bars": _as_two,
    "two bars written as one": _as_one,
}
