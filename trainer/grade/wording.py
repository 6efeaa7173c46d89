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
    Articulation.HOLD: "on a hold, the band strikes the chord once and lets it ring",
    Articulation.PUSH: "on a push, the chord comes an eighth before the beat",
    Articulation.CHOKE: "on a choke, the band cuts the chord dead and leaves silence",
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
    return f"the band played {chords_text(bar)}, {beats}"


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


def _split_missed(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word one chord where the bar was split."""
    played = _played_bars(mistake)
    if len(played) > 1:
        moving = {_what_moves(content) for content, _ in mistake.contents}
        hint = moving.pop() if len(moving) == 1 else "the chord changing inside the bar"
        return (
            f"{_where(mistake, aligned)} are split, {_some(played)}, and you wrote only the first "
            f"chord of each. Listen for {hint}."
        )
    bar, _ = _first_bars(mistake)
    written = _written_bars(mistake)
    return (
        f"{_where(mistake, aligned)}: {_held(bar)}, and you wrote {_some(written)} for the whole "
        f"bar. Listen for {_what_moves(mistake.contents[0][0])}."
    )


def _split_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a split where one chord was played."""
    written = _written_bars(mistake)
    if mistake.detail:
        return (
            f"{_where(mistake, aligned)}: the band is silent for the whole bar, and you wrote "
            f"{_some(written)}. Write 0 when the band is silent."
        )
    if len(mistake.bars) > 1 and len(written) > 1:
        return (
            f"{_where(mistake, aligned)} have one chord each, and you wrote split bars: "
            f"{_some(written)}. Check whether the chord really changes before the next downbeat."
        )
    played = _played_bars(mistake)
    whole = "for the whole bar" if len(played) == 1 else "for a whole bar each"
    return (
        f"{_where(mistake, aligned)}: the band played {_some(played)} {whole}, and you wrote "
        f"{_some(written)}. The chord doesn't change before the next downbeat."
    )


def _left_open(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars that were left open."""
    played = ["nothing" if bar == "0" else bar for bar in _played_bars(mistake)]
    where = location_text(aligned.reference, mistake.bars)
    return (
        f"You left {where} open: the band played {_some(played)}. A guess costs no more than an "
        "open bar."
    )


def _beats(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word the right chords on the wrong beats."""
    at, (played, written) = _where(mistake, aligned), _first_bars(mistake)
    texts = bar_text(played), _written_bars(mistake)[0]
    inside = f"{at}: {_last(played)} comes inside the bar, {texts[0]}"
    match mistake.detail[0]:
        case "early, into the bar before":
            return (
                f"{at}: you wrote {_last(written)} too early, {texts[1]} instead of {texts[0]}. "
                "It comes on the next downbeat, so wait for it."
            )
        case "late, after the bar line":
            return (
                f"{at}: you wrote {texts[0]} too late, {texts[1]}. The band plays it on the "
                "downbeat."
            )
        case "late, on the bar line":
            return (
                f"{inside}, but you wrote it on the next downbeat, which is too late. Count the "
                "beats up to the change."
            )
        case "early, on the bar line":
            return (
                f"{inside}, but you wrote it on the downbeat, which is too early. Count the beats "
                "up to the change."
            )
    return (
        f"{at}: you have the right chords on the wrong beats. {_capital(_held(played))}, and you "
        f"wrote {texts[1]}. Count the beats up to the change."
    )


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def _last(bar: Bar) -> str:
    return str(bar.events[-1].chord or 0)


def _split_otherwise(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a bar split into other chords, or elsewhere."""
    played, _ = _first_bars(mistake)
    written = _written_bars(mistake)[0]
    basses = "bass moves" if "bass" in _what_moves(mistake.contents[0][0]) else "chord changes"
    return (
        f"{_where(mistake, aligned)}: {_held(played)}, and you wrote {written}. Count the beats "
        f"until the {basses}."
    )


def _other_order(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word the two chords of a bar in the other order."""
    played, _ = _first_bars(mistake)
    return (
        f"{_where(mistake, aligned)}: you have the right two chords in the wrong order. The band "
        f"played {bar_text(played)}, and you wrote {_written_bars(mistake)[0]}. Listen for which "
        "comes first."
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
        return f"{at}: the band played a {name}, {bar_text(played)}, and you missed it. {listen}"
    if len(mistake.places) == sum(counts):
        return f"You missed all of the {PLURALS[articulation]}: {bars_text(mistake.bars)}. {listen}"
    return (
        f"{at}: the band played a {name} in each, and you missed it ({len(mistake.bars)} of the "
        f"{len(counts)} bars with one). {listen}"
    )


def _articulation_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a hold, push or choke that was not played."""
    articulation = articulation_of(mistake)
    return (
        f"{_where(mistake, aligned)}: you wrote a {NAMES[articulation]}, but the band didn't play "
        f"one. Listen: {SOUNDS_LIKE[articulation]}."
    )


def _other_articulation(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word one articulation for another."""
    played, written = articulation_of(mistake), articulation_of(mistake, 1)
    return (
        f"{_where(mistake, aligned)}: the band played a {NAMES[played]} and you wrote a "
        f"{NAMES[written]}. Listen: {SOUNDS_LIKE[played]}."
    )


def _articulation_elsewhere(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a hold, push or choke that is written on another chord, or in another bar."""
    articulation = articulation_of(mistake)
    listen = f"Listen: {SOUNDS_LIKE[articulation]}."
    if not mistake.moves:
        played, written = _first_bars(mistake)
        return (
            f"{_where(mistake, aligned)}: the {NAMES[articulation]} is in the wrong place in the "
            f"bar. The band played {bar_text(played)}, and you wrote {bar_text(written)}. {listen}"
        )
    there, here = ([move[k] for move in mistake.moves] for k in (0, 1))
    if len(there) == 1:
        where = location_text(aligned.reference, there)
        return f"The {NAMES[articulation]} is in {where}, but you put it in bar {here[0]}. {listen}"
    return (
        f"The {PLURALS[articulation]} are in {bars_text(there)}, but you put them in "
        f"{bars_text(here)}. {listen}"
    )


def _meter(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars of another length."""
    played, written = (bar.meter for bar in _first_bars(mistake))
    every = [bar.meter for bar in aligned.reference.bars]
    if every.count(played) == len(every) and len(mistake.bars) == len(every):
        return (
            f"The song is in {played}, and you wrote it in {written}. Count the beats from one "
            "downbeat to the next."
        )
    at, short = _where(mistake, aligned), played.quarters < written.quarters
    if played == written:
        # The answer's other bars are in another meter, which is read as the song's.
        bars = "this bar is" if len(mistake.bars) == 1 else "these bars are"
        song, own = (_against_most(chart, played) for chart in (aligned.reference, aligned.answer))
        return (
            f"{at}: {bars} {song} in the song, and {own} in your chart. Count the beats from one "
            "downbeat to the next."
        )
    if 2 * every.count(played) < len(every) and played.quarters != written.quarters:
        bar = "is a {} bar" if len(mistake.bars) == 1 else "are {} bars"
        bar = bar.format("short" if short else "long")
        soon = "sooner" if short else "later"
        return (
            f"{at} {bar} of {played} ({_beats_of(played)}), and you wrote {written}. Count the "
            f"beats: the next downbeat comes {soon}."
        )
    return (
        f"{at}: the band played in {played} and you wrote {written}. Count the beats from one "
        "downbeat to the next."
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
            f"The bar of {beats}/{unit} is {where}, but you wrote it at bar {here[0]}. Count the "
            "beats from one downbeat to the next."
        )
    return (
        f"The bars of {beats}/{unit} are {bars_text(there)}, but you wrote them at "
        f"{bars_text(here)}. Count the beats from one downbeat to the next."
    )


def _beats_of(meter: Meter) -> str:
    noun = {8: "eighth", 16: "sixteenth"}.get(meter.unit, "beat")
    return count_text(meter.beats, noun)


def _key_change(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a key change that is missing, made up or by another interval."""
    played, written = (bar.key_change for bar in _first_bars(mistake))
    at = _where(mistake, aligned)
    if not played:
        return (
            f"{at}: you wrote a key change, but the key stays the same. Sing the 1 across the bar "
            "line."
        )
    moved = f"the key moves {'up' if played > 0 else 'down'} {interval_text(abs(played))} here"
    wrong = f"you wrote {format_key_change(written)}" if written else "you missed it"
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
