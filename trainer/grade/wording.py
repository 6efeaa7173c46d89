"""Word each kind of mistake: chords, splits and articulations here, whole bars in `bar_wording`.

Each function for a kind of mistake takes the mistake and the aligned charts. It says as a teacher
would what it has looked up there: which bars, what was played, what was written, what the two
share, what to listen for.
"""

from __future__ import annotations

from collections.abc import Callable

from trainer.grade import bar_wording
from trainer.grade.bar_wording import beats_text, join_words, number_word, place
from trainer.grade.content import Sonority, note_name, note_names
from trainer.grade.mistakes import Mistake
from trainer.grade.scoring import AlignedCharts

__all__ = ["WORDINGS", "word_mistake"]

NAMES = {"d": "a hold (diamond)", "p": "a push", "s": "a stop"}
SOUNDS_LIKE = {
    "d": "a held chord rings and nothing is struck after it",
    "p": "a pushed chord comes an eighth before its beat",
    "s": "a stopped chord is choked and leaves silence",
}


def _pairs(mistake: Mistake) -> str:
    """Name the chords of the cases: "2- and 6- were played, 2 and 6 are written"."""
    pairs = list(dict.fromkeys((case.played, case.written) for case in mistake.cases))[:4]
    played = list(dict.fromkeys(one for one, _ in pairs))
    written = list(dict.fromkeys(other for _, other in pairs))
    was, is_ = ("was", "were")[len(played) > 1], ("is", "are")[len(written) > 1]
    return f"{join_words(played)} {was} played, {join_words(written)} {is_} written"


def _notes(notes: int) -> str:
    return join_words(note_names(notes))


def _the_notes(notes: int) -> str:
    return f"the note{'s' * (notes.bit_count() > 1)} {_notes(notes)}"


def _do(notes: int, one: str, several: str) -> str:
    """Name notes with their verb."""
    return f"{_notes(notes)} {one if notes.bit_count() == 1 else several}"


def _start(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Say where a mistake is, what was played and what is written."""
    return f"{place(mistake, aligned)}: {_pairs(mistake)}."


def plain_number(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a plain 2, 3 or 6 where the minor chord was played."""
    return (
        f"{_start(mistake, aligned)} A plain number is a major chord; write the "
        "minus where the chord is minor."
    )


def _sonorities(mistake: Mistake) -> tuple[Sonority, Sonority]:
    """Return the chords of the first place, played and written."""
    _, _, played, written = mistake.places[0]
    assert isinstance(played, Sonority)
    assert isinstance(written, Sonority)
    return played, written


def third(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word major for minor, or the other way round."""
    played, written = _sonorities(mistake)
    third = _notes(played.tones & ~written.tones)
    other = _notes(written.tones & ~played.tones)
    minor = played.chord is not None and played.chord.quality == "-"
    sound = "dark (minor)" if minor else "bright (major)"
    return (
        f"{_start(mistake, aligned)} The root is right; only the third differs. "
        f"Listen to the third: it is {third}, {sound}, not {other}."
    )


def quality(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word chords on one root and one bass whose notes differ."""
    played, written = _sonorities(mistake)
    text = f"{_start(mistake, aligned)} The root is right."
    more, less = played.tones & ~written.tones, written.tones & ~played.tones
    if more and less:
        notes = "note" if more.bit_count() == 1 else "notes"
        heard = _do(more, "sounds", "sound")
        return f"{text} Listen inside the chord: the {notes} {heard}, not {_notes(less)}."
    if more:
        return f"{text} Listen inside the chord for {_the_notes(more)}."
    does = "does" if less.bit_count() == 1 else "do"
    return f"{text} Listen inside the chord: {_the_notes(less)} {does} not sound."


def extension_left_out(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord without the extension that was played."""
    played, written = _sonorities(mistake)
    text = f"{_start(mistake, aligned)} The chord is right but there is more in it:"
    if not _is_one_pair(mistake):
        return f"{text} listen for the note that colours it."
    return f"{text} listen for {_the_notes(played.tones & ~written.tones)}."


def extension_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord with an extension that was not played."""
    played, written = _sonorities(mistake)
    text = f"{_start(mistake, aligned)} The chord is right but plain:"
    if not _is_one_pair(mistake):
        return f"{text} nothing is added to its three notes."
    notes = written.tones & ~played.tones
    verb = "is" if notes.bit_count() == 1 else "are"
    return f"{text} listen, {_the_notes(notes)} {verb} not there."


def _is_one_pair(mistake: Mistake) -> bool:
    return len({(case.played, case.written) for case in mistake.cases}) == 1


def bass_left_out(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord without its slash bass."""
    played, written = _sonorities(mistake)
    text = f"{_start(mistake, aligned)} The chord is right, but not its bass: listen"
    if not _is_one_pair(mistake):
        return f"{text} to the lowest note and write it after the slash."
    return (
        f"{text} to the lowest note. It is {note_name(played.bass)}, not {note_name(written.bass)}."
    )


def bass_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a slash bass under a chord whose bass is its root."""
    return f"{_start(mistake, aligned)} The chord is right, and the bass is on its root: no slash."


def other_bass(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord over another bass."""
    played, written = _sonorities(mistake)
    return (
        f"{_start(mistake, aligned)} The chord is right; the lowest note is "
        f"{note_name(played.bass)}, not {note_name(written.bass)}."
    )


def other_chord(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord on another root or another bass."""
    played, written = _sonorities(mistake)
    both = played.tones & written.tones
    share = (
        "They share no note"
        if not both
        else f"They share {number_word(both.bit_count())} note{'s' * (both.bit_count() > 1)} "
        f"({_notes(both)})"
    )
    if played.bass != written.bass:
        hint = f"it is on {note_name(played.bass)}, not {note_name(written.bass)}"
        return f"{_start(mistake, aligned)} {share}; listen to the bass: {hint}."
    more, less = played.tones & ~written.tones, written.tones & ~played.tones
    share = f"{share} and the bass" if both else f"The bass is right: {note_name(played.bass)}"
    text = f"{_start(mistake, aligned)} {share}; listen above it:"
    if more and less:
        return f"{text} {_do(more, 'sounds', 'sound')}, not {_notes(less)}."
    if more:
        return f"{text} {_do(more, 'sounds', 'sound')} too."
    return f"{text} {_do(less, 'is', 'are')} not there."


def rest_missed(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a chord where the band was silent."""
    return (
        f"{place(mistake, aligned)}: no chord was played, {mistake.cases[0].written} is written. "
        "Write 0 where the band is silent."
    )


def rest_written(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word silence where a chord was played."""
    return (
        f"{place(mistake, aligned)}: {mistake.cases[0].played} was played, no chord is written. A "
        "chord lasts until the next one unless the band stops."
    )


def _split(mistake: Mistake, aligned: AlignedCharts) -> tuple[str, str, str]:
    """Return the place, the chords of the reference's bar with their lengths, the bar written."""
    bar = aligned.reference.bars[mistake.bars[0] - 1]
    chords = join_words(["0" if event.chord is None else str(event.chord) for event in bar.events])
    held = f"{chords} were played, {beats_text([event.beats for event in bar.events])}"
    return place(mistake, aligned), held, mistake.cases[0].written


def split_missed(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word one chord where the bar was split."""
    at, held, written = _split(mistake, aligned)
    return (
        f"{at}: {held}; {written} is written for the whole bar. Listen for the bass moving inside "
        "the bar."
    )


def split_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a split where one chord was played."""
    case = mistake.cases[0]
    bars, number = aligned.reference.bars, mistake.bars[0]
    early = case.written.rpartition("_")[2].rstrip("'dps")
    following = bars[number].events[0].chord if number < len(bars) else None
    hint = "One chord sounds from its first beat to its last."
    if following is not None and str(following) == early:
        hint = f"The {early} comes with the next bar line: wait for it before you write a change."
    return (
        f"{place(mistake, aligned)}: {case.played} was played all through the bar, {case.written} "
        f"is written. {hint}"
    )


def split_misplaced(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word the right chords, changing in the wrong place."""
    at, held, written = _split(mistake, aligned)
    return (
        f"{at}: the chords are right, but not where they change. {held}; {written} is written. "
        "Count the beats up to the change."
    )


def split_otherwise(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a bar split into other chords."""
    at, held, written = _split(mistake, aligned)
    return f"{at}: {held}; {written} is written. Count the beats to where the bass moves."


def _articulation_letter(text: str) -> str:
    """Return the last articulation letter in a bar's text, "d" if there is none."""
    return next((letter for letter in reversed(text) if letter in NAMES), "d")


def articulation_left_out(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a hold, push or stop that is not written."""
    case = mistake.cases[0]
    letter = _articulation_letter(case.played)
    example = f": {case.played}" if len(mistake.bars) == 1 else ""
    return (
        f"{place(mistake, aligned)}: {NAMES[letter]} was played and is not written{example}. "
        f"Listen: {SOUNDS_LIKE[letter]}."
    )


def articulation_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a hold, push or stop that was not played."""
    case = mistake.cases[0]
    letter = _articulation_letter(case.written)
    return (
        f"{place(mistake, aligned)}: {NAMES[letter]} is written where none was played. "
        f"Listen: {SOUNDS_LIKE[letter]}."
    )


def other_articulation(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word one articulation for another."""
    case = mistake.cases[0]
    one, other = _articulation_letter(case.played), _articulation_letter(case.written)
    return (
        f"{place(mistake, aligned)}: {NAMES[one]} was played, {NAMES[other]} is written. "
        f"Listen: {SOUNDS_LIKE[one]}."
    )


Wording = Callable[[Mistake, AlignedCharts], str]


def word_mistake(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Say what the mistake is. Raises KeyError for a kind without a wording."""
    return WORDINGS[mistake.kind](mistake, aligned)


WORDINGS: dict[str, Wording] = {
    "plain number": plain_number,
    "third": third,
    "quality": quality,
    "other extension": quality,
    "extension left out": extension_left_out,
    "extension added": extension_added,
    "bass left out": bass_left_out,
    "bass added": bass_added,
    "other bass": other_bass,
    "other chord": other_chord,
    "rest missed": rest_missed,
    "rest written": rest_written,
    "split missed": split_missed,
    "split added": split_added,
    "split misplaced": split_misplaced,
    "split otherwise": split_otherwise,
    "articulation left out": articulation_left_out,
    "articulation added": articulation_added,
    "other articulation": other_articulation,
    "meter": bar_wording.meter,
    "key change": bar_wording.key_change,
    "left out": bar_wording.left_out,
    "added": bar_wording.added,
    "doubled": bar_wording.added,
    "swapped": bar_wording.swapped,
    "split written as two bars": bar_wording.split,
    "two bars written as one": bar_wording.merged,
}
