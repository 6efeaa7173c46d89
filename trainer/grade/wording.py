"""Word each kind of mistake as a teacher would.

Chords are worded in `chord_wording`, whole bars in `bar_wording`; here stand splits, beats,
articulations, meters and key changes, and the table of all kinds. Each function for a kind takes
the mistake and the aligned charts, and says which bars, what was played, what is written, what to
listen for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from trainer.chart.format import format_key_change
from trainer.chart.model import Articulation, Bar, Meter
from trainer.grade.aligned import AlignedCharts
from trainer.grade.bar_wording import BAR_WORDINGS
from trainer.grade.chord_wording import CHORD_WORDINGS
from trainer.grade.content import BarContent, ChartContent
from trainer.grade.mistakes import Mistake, articulation_of, bar_text
from trainer.grade.read_names import read_bar
from trainer.grade.text_pieces import (
    bars_text,
    beats_text,
    chords_text,
    count_text,
    interval_text,
    join_words,
    location_text,
    usual_meter,
)

__all__ = ["WORDINGS", "word_mistake"]

NAMES = {
    Articulation.HOLD: "hold (diamond)",
    Articulation.PUSH: "push",
    Articulation.CHOKE: "choke",
}
PLURALS = {
    Articulation.HOLD: "holds (diamonds)",
    Articulation.PUSH: "pushes",
    Articulation.CHOKE: "chokes",
}
SOUNDS_LIKE = {
    Articulation.HOLD: "a held chord rings and nothing is struck after it",
    Articulation.PUSH: "a pushed chord comes an eighth before its beat",
    Articulation.CHOKE: "a choked chord is cut dead and leaves silence",
}
SHOWN = 3


def _where(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Return where a mistake is, to start a sentence."""
    return location_text(aligned.reference, mistake.bars, capital=True)


def _first_bars(mistake: Mistake) -> tuple[Bar, Bar]:
    """Return the bar that was played in the first place, and the one that is written for it."""
    played, written = mistake.contents[0]
    return played.bar, written.bar


def _held(bar: Bar) -> str:
    """Say which chords a split bar has, and how long each lasts."""
    beats = beats_text([event.beats for event in bar.events], bar.meter.unit)
    return f"{chords_text(bar)} were played, {beats}"


def _what_moves(content: BarContent) -> str:
    """Say what to listen for where a chord changes inside a bar."""
    if any(sonority.chord is None for sonority in content.sonorities):
        return "where the band stops inside the bar"
    basses = [sonority.bass for sonority in content.sonorities]
    moves = all(basses[k] != basses[k - 1] for k in range(1, len(basses)))
    return f"the {'bass moving' if moves else 'chord changing'} inside the bar"


def _played_bars(mistake: Mistake) -> list[str]:
    """Name the bars that were played in the places, each once."""
    return list(dict.fromkeys(bar_text(played.bar) for played, _ in mistake.contents))


def _written_bars(mistake: Mistake) -> list[str]:
    """Name the bars that are written in the places, as they are read, each once."""
    return list(dict.fromkeys(read_bar(*pair) for pair in mistake.contents))


def _some(texts: Sequence[str]) -> str:
    """Name the first few of several bars."""
    if len(texts) > SHOWN + 1:
        return f"{', '.join(texts[:SHOWN])} and {len(texts) - SHOWN} others"
    return join_words(texts)


def _is(bars: Sequence[str]) -> str:
    return "is" if len(bars) == 1 else "are"


def _split_missed(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word one chord where the bar was split."""
    played = _played_bars(mistake)
    if len(played) > 1:
        moving = {_what_moves(content) for content, _ in mistake.contents}
        hint = moving.pop() if len(moving) == 1 else "the chord changing inside the bar"
        return (
            f"{_where(mistake, aligned)} are split, {_some(played)}, and only the first chord of "
            f"each is written. Listen for {hint}."
        )
    bar, _ = _first_bars(mistake)
    written = _written_bars(mistake)
    return (
        f"{_where(mistake, aligned)}: {_held(bar)}; {_some(written)} {_is(written)} written for "
        "the whole bar. "
        f"Listen for {_what_moves(mistake.contents[0][0])}."
    )


def _split_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a split where one chord was played."""
    written = _written_bars(mistake)
    if mistake.detail:
        return (
            f"{_where(mistake, aligned)}: the band is silent all through the bar, {_some(written)} "
            f"{_is(written)} written. Write 0 where the band is silent."
        )
    if len(mistake.bars) > 1 and len(written) > 1:
        return (
            f"{_where(mistake, aligned)} have one chord each, and a split is written: "
            f"{_some(written)}. Listen whether anything changes before the next bar line."
        )
    played = _played_bars(mistake)
    was = "was" if len(played) == 1 else "were"
    return (
        f"{_where(mistake, aligned)}: {_some(played)} {was} played all through the bar, "
        f"{_some(written)} {_is(written)} written. One chord sounds from its first beat to its "
        "last."
    )


def _left_open(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars that were left open."""
    played = ["nothing" if bar == "0" else bar for bar in _played_bars(mistake)]
    was = "was" if len(mistake.bars) == 1 else "were"
    return (
        f"{_where(mistake, aligned)} {was} left open: {_some(played)} "
        f"{'was' if len(played) == 1 else 'were'} played. A guess costs no more than an open bar."
    )


def _beats(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word the right chords on the wrong beats."""
    at, (played, written) = _where(mistake, aligned), _first_bars(mistake)
    texts = bar_text(played), _written_bars(mistake)[0]
    inside = f"{at}: {_last(played)} comes inside the bar, {texts[0]}"
    match mistake.detail[0]:
        case "early, into the bar before":
            return (
                f"{at}: {_last(written)} is written too early, {texts[1]} for {texts[0]}. It "
                "comes with the next bar line: wait for it."
            )
        case "late, after the bar line":
            return (
                f"{at}: {texts[0]} is written too late, {texts[1]}. It is there on the first beat."
            )
        case "late, on the bar line":
            return (
                f"{inside}; you wrote it with the next bar line, too late. Count the beats up to "
                "the change."
            )
        case "early, on the bar line":
            return (
                f"{inside}; you wrote it from the first beat, too early. Count the beats up to the "
                "change."
            )
    return (
        f"{at}: the chords are right, but not where they change. {_held(played)}; {texts[1]} is "
        "written. Count the beats up to the change."
    )


def _last(bar: Bar) -> str:
    return str(bar.events[-1].chord or 0)


def _split_otherwise(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a bar split into other chords, or elsewhere."""
    played, _ = _first_bars(mistake)
    written = _written_bars(mistake)[0]
    basses = "bass moves" if "bass" in _what_moves(mistake.contents[0][0]) else "chord changes"
    return (
        f"{_where(mistake, aligned)}: {_held(played)}; {written} is written. Count the "
        f"beats to where the {basses}."
    )


def _other_order(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word the two chords of a bar in the other order."""
    played, _ = _first_bars(mistake)
    return (
        f"{_where(mistake, aligned)}: the two chords in the other order; {bar_text(played)} was "
        f"played, {_written_bars(mistake)[0]} is written. Listen for which of them comes first."
    )


def _in_song(aligned: AlignedCharts, articulation: Articulation) -> list[int]:
    """Return how many times each bar of the song that has an articulation has it."""
    counts = [
        [what for _, what in bar.articulations].count(articulation)
        for bar in aligned.reference.contents
    ]
    return [count for count in counts if count]


def _articulation_left_out(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a hold, push or choke that is not written."""
    articulation = articulation_of(mistake)
    name, listen = NAMES[articulation], f"Listen: {SOUNDS_LIKE[articulation]}."
    at, counts = _where(mistake, aligned), _in_song(aligned, articulation)
    if len(mistake.bars) == 1:
        played, _ = _first_bars(mistake)
        return f"{at}: a {name} was played and is not written: {bar_text(played)}. {listen}"
    if len(mistake.places) == sum(counts):
        return (
            f"None of the {PLURALS[articulation]} is written: {bars_text(mistake.bars)}. {listen}"
        )
    return (
        f"{at}: a {name} was played in each and is not written ({len(mistake.bars)} of the "
        f"{len(counts)} bars with one). {listen}"
    )


def _articulation_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a hold, push or choke that was not played."""
    articulation = articulation_of(mistake)
    return (
        f"{_where(mistake, aligned)}: a {NAMES[articulation]} is written where none was played. "
        f"Listen: {SOUNDS_LIKE[articulation]}."
    )


def _other_articulation(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word one articulation for another."""
    played, written = articulation_of(mistake), articulation_of(mistake, 1)
    return (
        f"{_where(mistake, aligned)}: a {NAMES[played]} was played, a {NAMES[written]} is written. "
        f"Listen: {SOUNDS_LIKE[played]}."
    )


def _articulation_elsewhere(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a hold, push or choke that is written on another chord, or in another bar."""
    articulation = articulation_of(mistake)
    listen = f"Listen: {SOUNDS_LIKE[articulation]}."
    if not mistake.moves:
        played, written = _first_bars(mistake)
        return (
            f"{_where(mistake, aligned)}: the {NAMES[articulation]} is in another place in the "
            f"bar; {bar_text(played)} was played, {bar_text(written)} is written. {listen}"
        )
    there, here = ([move[k] for move in mistake.moves] for k in (0, 1))
    if len(there) == 1:
        where = location_text(aligned.reference, there)
        return f"The {NAMES[articulation]} is on {where}; you put it on bar {here[0]}. {listen}"
    return (
        f"The {PLURALS[articulation]} are on {bars_text(there)}; you put them on "
        f"{bars_text(here)}. {listen}"
    )


def _meter(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars of another length."""
    played, written = (bar.meter for bar in _first_bars(mistake))
    every = [bar.meter for bar in aligned.reference.bars]
    if every.count(played) == len(every) and len(mistake.bars) == len(every):
        return (
            f"The song is in {played}, your chart in {written}. Count the beats from one 1 to the "
            "next."
        )
    at, short = _where(mistake, aligned), played.quarters < written.quarters
    if played == written:
        # The answer's other bars are in another meter, which is read as the song's.
        bars = "this bar is" if len(mistake.bars) == 1 else "these bars are"
        song, own = (_against_most(chart, played) for chart in (aligned.reference, aligned.answer))
        return (
            f"{at}: {bars} {song} in the song, and {own} in your chart. Count the beats from one "
            "bar line to the next."
        )
    if 2 * every.count(played) < len(every) and played.quarters != written.quarters:
        bar = "is a {} bar" if len(mistake.bars) == 1 else "are {} bars"
        bar = bar.format("short" if short else "long")
        soon = "sooner" if short else "later"
        return (
            f"{at} {bar} of {played} ({_beats_of(played)}); {written} is written. Count the beats: "
            f"the next bar line comes {soon}."
        )
    return (
        f"{at}: {played} was played, {written} is written. Count the beats from one bar line to "
        "the next."
    )


def _against_most(chart: ChartContent, meter: Meter) -> str:
    """Say how long bars of a meter are among the bars of a chart."""
    usual = usual_meter(chart)
    if meter.quarters == usual.quarters:
        return "as long as most"
    return "shorter than most" if meter.quarters < usual.quarters else "longer than most"


def _meter_elsewhere(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars of another length that are written a bar or two from their place."""
    beats, unit = mistake.contents[0][0].meter
    there, here = ([move[k] for move in mistake.moves] for k in (0, 1))
    if len(there) == 1:
        where = location_text(aligned.reference, there)
        return (
            f"The bar of {beats}/{unit} is {where}; you wrote it at bar {here[0]}. Count the beats "
            "from one bar line to the next."
        )
    return (
        f"The bars of {beats}/{unit} are {bars_text(there)}; you wrote them at {bars_text(here)}. "
        "Count the beats from one bar line to the next."
    )


def _beats_of(meter: Meter) -> str:
    noun = {8: "eighth", 16: "sixteenth"}.get(meter.unit, "beat")
    return count_text(meter.beats, noun)


def _key_change(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a key change that is missing, made up or by another interval."""
    played, written = (bar.key_change for bar in _first_bars(mistake))
    at = _where(mistake, aligned)
    if not played:
        return f"{at}: a key change is written, but the key stays. Sing the 1 across the bar line."
    moved = f"the key moves {'up' if played > 0 else 'down'} {interval_text(abs(played))} here"
    wrong = f"{format_key_change(written)} is written" if written else "that is not written"
    return f"{at}: {moved}, and {wrong}. Write {format_key_change(played)} before the bar."


Wording = Callable[[Mistake, AlignedCharts], str]


def word_mistake(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Say what the mistake is. Raises KeyError for a kind without a wording."""
    return WORDINGS[mistake.kind](mistake, aligned)


WORDINGS: dict[str, Wording] = {
    **CHORD_WORDINGS,
    **BAR_WORDINGS,
    "left open": _left_open,
    "split missed": _split_missed,
    "split added": _split_added,
    "beats": _beats,
    "split otherwise": _split_otherwise,
    "articulation left out": _articulation_left_out,
    "articulation added": _articulation_added,
    "articulation elsewhere": _articulation_elsewhere,
    "other articulation": _other_articulation,
    "meter": _meter,
    "meter elsewhere": _meter_elsewhere,
    "chords in the other order": _other_order,
    "key change": _key_change,
}
