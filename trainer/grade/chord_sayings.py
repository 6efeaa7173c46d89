"""What a teacher would say about chords, splits and articulations.

Each saying takes the finding and the aligned charts, and says only what it has looked up there:
which bars, what was played, what was written, what the two share, what to listen for.
"""

from __future__ import annotations

from trainer.grade.findings import Finding
from trainer.grade.scoring import Scored
from trainer.grade.tones import Sound, note_name, note_names
from trainer.grade.words import beats_text, count, listing, place_text

__all__ = [
    "articulation_added",
    "articulation_left_out",
    "bass_added",
    "bass_left_out",
    "extension_added",
    "extension_left_out",
    "inside",
    "other_articulation",
    "other_bass",
    "other_chord",
    "place",
    "plain_number",
    "rest_missed",
    "rest_written",
    "split_added",
    "split_misplaced",
    "split_missed",
    "split_otherwise",
    "third",
]

MARKS = {"d": "a hold (diamond)", "p": "a push", "s": "a stop"}
HEAR = {
    "d": "a held chord rings and nothing is struck after it",
    "p": "a pushed chord comes an eighth before its beat",
    "s": "a stopped chord is choked and leaves silence",
}


def place(finding: Finding, scored: Scored) -> str:
    """Where a finding is, to start a sentence."""
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


def _the_notes(notes: int) -> str:
    return f"the note{'s' * (notes.bit_count() > 1)} {_notes(notes)}"


def _do(notes: int, one: str, several: str) -> str:
    """Notes with their verb."""
    return f"{_notes(notes)} {one if notes.bit_count() == 1 else several}"


def _start(finding: Finding, scored: Scored) -> str:
    """Where, what was played and what is written."""
    return f"{place(finding, scored)}: {_pairs(finding)}."


def plain_number(finding: Finding, scored: Scored) -> str:
    """A plain 2, 3 or 6 where the minor chord was played."""
    return (
        f"{_start(finding, scored)} A plain number is a major chord; write the "
        "minus where the chord is minor."
    )


def _sounds(finding: Finding) -> tuple[Sound, Sound]:
    _, _, played, written = finding.places[0]
    assert isinstance(played, Sound)
    assert isinstance(written, Sound)
    return played, written


def third(finding: Finding, scored: Scored) -> str:
    """Major for minor, or the other way round."""
    played, written = _sounds(finding)
    third = _notes(played.tones & ~written.tones)
    other = _notes(written.tones & ~played.tones)
    minor = played.chord is not None and played.chord.quality == "-"
    sound = "dark (minor)" if minor else "bright (major)"
    return (
        f"{_start(finding, scored)} The root is right; only the third differs. "
        f"Listen to the third: it is {third}, {sound}, not {other}."
    )


def inside(finding: Finding, scored: Scored) -> str:
    """Chords on one root and one bass whose notes differ."""
    played, written = _sounds(finding)
    text = f"{_start(finding, scored)} The root is right."
    more, less = played.tones & ~written.tones, written.tones & ~played.tones
    if more and less:
        notes = "note" if more.bit_count() == 1 else "notes"
        heard = _do(more, "sounds", "sound")
        return f"{text} Listen inside the chord: the {notes} {heard}, not {_notes(less)}."
    if more:
        return f"{text} Listen inside the chord for {_the_notes(more)}."
    does = "does" if less.bit_count() == 1 else "do"
    return f"{text} Listen inside the chord: {_the_notes(less)} {does} not sound."


def extension_left_out(finding: Finding, scored: Scored) -> str:
    """The chord without what was added to it."""
    played, written = _sounds(finding)
    text = f"{_start(finding, scored)} The chord is right but there is more in it:"
    if not _is_one_pair(finding):
        return f"{text} listen for the note that colours it."
    return f"{text} listen for {_the_notes(played.tones & ~written.tones)}."


def extension_added(finding: Finding, scored: Scored) -> str:
    """Something added to a plain chord."""
    played, written = _sounds(finding)
    text = f"{_start(finding, scored)} The chord is right but plain:"
    if not _is_one_pair(finding):
        return f"{text} nothing is added to its three notes."
    notes = written.tones & ~played.tones
    verb = "is" if notes.bit_count() == 1 else "are"
    return f"{text} listen, {_the_notes(notes)} {verb} not there."


def _is_one_pair(finding: Finding) -> bool:
    return len({(case.played, case.written) for case in finding.cases}) == 1


def bass_left_out(finding: Finding, scored: Scored) -> str:
    """The chord without its slash bass."""
    played, written = _sounds(finding)
    text = f"{_start(finding, scored)} The chord is right, but not its bass: listen"
    if not _is_one_pair(finding):
        return f"{text} to the lowest note and write it after the slash."
    return (
        f"{text} to the lowest note. It is {note_name(played.bass)}, not {note_name(written.bass)}."
    )


def bass_added(finding: Finding, scored: Scored) -> str:
    """A slash bass under a chord that stands on its root."""
    return f"{_start(finding, scored)} The chord is right, and the bass is on its root: no slash."


def other_bass(finding: Finding, scored: Scored) -> str:
    """The chord over another bass."""
    played, written = _sounds(finding)
    return (
        f"{_start(finding, scored)} The chord is right; the lowest note is "
        f"{note_name(played.bass)}, not {note_name(written.bass)}."
    )


def other_chord(finding: Finding, scored: Scored) -> str:
    """A chord on another root or another bass."""
    played, written = _sounds(finding)
    both = played.tones & written.tones
    share = (
        "They share no note"
        if not both
        else f"They share {count(both.bit_count())} note{'s' * (both.bit_count() > 1)} "
        f"({_notes(both)})"
    )
    if played.bass != written.bass:
        hint = f"it is on {note_name(played.bass)}, not {note_name(written.bass)}"
        return f"{_start(finding, scored)} {share}; listen to the bass: {hint}."
    more, less = played.tones & ~written.tones, written.tones & ~played.tones
    share = f"{share} and the bass" if both else f"The bass is right: {note_name(played.bass)}"
    text = f"{_start(finding, scored)} {share}; listen above it:"
    if more and less:
        return f"{text} {_do(more, 'sounds', 'sound')}, not {_notes(less)}."
    if more:
        return f"{text} {_do(more, 'sounds', 'sound')} too."
    return f"{text} {_do(less, 'is', 'are')} not there."


def rest_missed(finding: Finding, scored: Scored) -> str:
    """A chord where the band was silent."""
    return (
        f"{place(finding, scored)}: no chord was played, {finding.cases[0].written} is written. "
        "Write 0 where the band is silent."
    )


def rest_written(finding: Finding, scored: Scored) -> str:
    """Silence where a chord was played."""
    return (
        f"{place(finding, scored)}: {finding.cases[0].played} was played, no chord is written. A "
        "chord lasts until the next one unless the band stops."
    )


def _split(finding: Finding, scored: Scored) -> tuple[str, str, str]:
    """The place, the chords of the reference's bar with their lengths, and the bar written."""
    bar = scored.reference.bars[finding.bars[0] - 1]
    chords = listing(["0" if event.chord is None else str(event.chord) for event in bar.events])
    held = f"{chords} were played, {beats_text([event.beats for event in bar.events])}"
    return place(finding, scored), held, finding.cases[0].written


def split_missed(finding: Finding, scored: Scored) -> str:
    """One chord where the bar was split."""
    at, held, written = _split(finding, scored)
    return (
        f"{at}: {held}; {written} is written for the whole bar. Listen for the bass moving inside "
        "the bar."
    )


def split_added(finding: Finding, scored: Scored) -> str:
    """A split where one chord was played."""
    case = finding.cases[0]
    bars, number = scored.reference.bars, finding.bars[0]
    early = case.written.rpartition("_")[2].rstrip("'dps")
    following = bars[number].events[0].chord if number < len(bars) else None
    hint = "One chord sounds from its first beat to its last."
    if following is not None and str(following) == early:
        hint = f"The {early} comes with the next bar line: wait for it before you write a change."
    return (
        f"{place(finding, scored)}: {case.played} was played all through the bar, {case.written} "
        f"is written. {hint}"
    )


def split_misplaced(finding: Finding, scored: Scored) -> str:
    """The right chords, changing in the wrong place."""
    at, held, written = _split(finding, scored)
    return (
        f"{at}: the chords are right, but not where they change. {held}; {written} is written. "
        "Count the beats up to the change."
    )


def split_otherwise(finding: Finding, scored: Scored) -> str:
    """A bar split otherwise."""
    at, held, written = _split(finding, scored)
    return f"{at}: {held}; {written} is written. Count the beats to where the bass moves."


def _marked(text: str) -> str:
    """The articulation letter in a bar's text that is not d, p or s by being a chord: the last."""
    return next((letter for letter in reversed(text) if letter in MARKS), "d")


def articulation_left_out(finding: Finding, scored: Scored) -> str:
    """A hold, push or stop that is not written."""
    case = finding.cases[0]
    letter = _marked(case.played)
    example = f": {case.played}" if len(finding.bars) == 1 else ""
    return (
        f"{place(finding, scored)}: {MARKS[letter]} was played and is not written{example}. "
        f"Listen: {HEAR[letter]}."
    )


def articulation_added(finding: Finding, scored: Scored) -> str:
    """A hold, push or stop that was not played."""
    case = finding.cases[0]
    letter = _marked(case.written)
    return (
        f"{place(finding, scored)}: {MARKS[letter]} is written where none was played. "
        f"Listen: {HEAR[letter]}."
    )


def other_articulation(finding: Finding, scored: Scored) -> str:
    """One articulation for another."""
    case = finding.cases[0]
    one, other = _marked(case.played), _marked(case.written)
    return (
        f"{place(finding, scored)}: {MARKS[one]} was played, {MARKS[other]} is written. "
        f"Listen: {HEAR[one]}."
    )
