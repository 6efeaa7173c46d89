"""Guitar shapes: where the fingers go for a chord, and where a capo helps.

A shape gives the fret of each string, low E first, None for a string left out: "x32010". Open and
movable shapes are common practice, no source; other chords are searched for. The tuning is E2 A2 D3
G3 B3 E4.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache

__all__ = ["TUNING", "Shape", "choose_capo", "find_shape", "is_open", "pitches"]

TUNING = (40, 45, 50, 55, 59, 64)
HIGHEST_CAPO = 7
# What a capo costs, and each fret up: an open chord is worth 1, a low barre half.
CAPO_COST, FRET_COST = 0.05, 0.03
# What it costs that a capo lifts the bass of a slash chord to this pitch or higher: that is the
# register of the chord, where nobody hears a bass.
LIFTED_COST, LIFTED = 5.0, 48
LOW_BARRE = 2
HIGHEST_FRET = 9
REACH = 3
GOOD_GRIP = 6.0
# In a slash chord, what each string costs that lies within so many semitones of the bass.
CLOSE_COST, FIFTH = 1.5, 7
# Costs are sums of tenths: less apart than this they are the same.
NEAR = 1e-9

Shape = tuple[int | None, ...]

C, D, E, F, G, A, B = 0, 2, 4, 5, 7, 9, 11

# Open shapes of the C, A, G, E and D forms: (root, quality, extension) -> shape.
OPEN: dict[tuple[int, str, str], str] = {
    (C, "", ""): "x32010",
    (C, "", "7"): "x32310",
    (C, "", "maj7"): "x32000",
    (C, "", "add9"): "x32030",
    (C, "", "6"): "x32210",
    (C, "", "sus4"): "x33011",
    (C, "", "sus2"): "x30013",
    (A, "", ""): "x02220",
    (A, "-", ""): "x02210",
    (A, "", "7"): "x02020",
    (A, "-", "7"): "x02010",
    (A, "", "maj7"): "x02120",
    (A, "", "sus4"): "x02230",
    (A, "", "sus2"): "x02200",
    (A, "", "6"): "x02222",
    (A, "-", "6"): "x02212",
    (A, "", "7sus4"): "x02030",
    (A, "", "5"): "x022xx",
    (A, "+", ""): "x03221",
    (G, "", ""): "320003",
    (G, "", "7"): "320001",
    (G, "", "maj7"): "320002",
    (G, "", "6"): "320000",
    (G, "", "sus4"): "3x0013",
    (G, "", "add9"): "3x0203",
    (G, "", "5"): "3x0033",
    (E, "", ""): "022100",
    (E, "-", ""): "022000",
    (E, "", "7"): "020100",
    (E, "-", "7"): "020000",
    (E, "", "maj7"): "021100",
    (E, "", "sus4"): "022200",
    (E, "", "6"): "022120",
    (E, "-", "6"): "022020",
    (E, "", "7sus4"): "020200",
    (E, "", "add9"): "024100",
    (E, "-", "add9"): "024000",
    (E, "", "5"): "022xxx",
    (E, "+", ""): "032110",
    (D, "", ""): "xx0232",
    (D, "-", ""): "xx0231",
    (D, "", "7"): "xx0212",
    (D, "-", "7"): "xx0211",
    (D, "", "maj7"): "xx0222",
    (D, "", "sus4"): "xx0233",
    (D, "", "sus2"): "xx0230",
    (D, "", "6"): "xx0202",
    (D, "-", "6"): "xx0201",
    (D, "", "7sus4"): "xx0213",
    (F, "", "maj7"): "xx3210",
    (B, "", "7"): "x21202",
    (B, "-", "7"): "x20202",
}
# Slash chords on open shapes, the bass on a low string: (root, quality, bass) -> shape.
OPEN_SLASH: dict[tuple[int, str, int], str] = {
    (G, "", B): "x20003",
    (G, "", D): "xx0003",
    (D, "", F + 1): "200232",
    (D, "", A): "x00232",
    (C, "", E): "032010",
    (C, "", G): "332010",
    (C, "", B): "x22010",
    (A, "", E): "002220",
    (A, "", C + 1): "x42220",
    (A, "-", G): "302210",
    (A, "-", E): "002210",
    (A, "-", C): "x32210",
    (E, "-", D): "xx0000",
    (E, "-", B): "x22000",
    (E, "", G + 1): "4x2400",
    (E, "", B): "x22100",
    (D, "-", F): "1x0231",
    (D, "-", A): "x00231",
    (D, "-", C): "x30231",
    (F, "", A): "x03211",
    (F, "", C): "x33211",
    (F, "", G): "3x3211",
    (G, "", F): "1x0003",
    (G, "", A): "x00003",
    (C, "", D): "xx0010",
    (C, "", A + 1): "x1x010",
    (D, "", C): "x30232",
    (D, "", E): "0x0232",
    (A, "", G): "3x2220",
    (A, "", B): "x22220",
    (E, "", D): "xx0100",
    (F, "", D + 1): "xx1211",
    (A, "-", D): "xx0210",
    (A, "-", F + 1): "2x2210",
    (D, "-", B): "x20231",
    (D, "-", G): "3x0231",
    (E, "-", A): "x02000",
    (B, "-", A): "x04432",
    (B, "-", F + 1): "224432",
    (B, "-", D): "xx0432",
}
# Barre shapes by (quality, extension): the E form, root on the low string, and the A form, root on
# the next one; frets above the barre.
E_FORM: dict[tuple[str, str], str] = {
    ("", ""): "022100",
    ("-", ""): "022000",
    ("", "7"): "020100",
    ("-", "7"): "020000",
    ("", "maj7"): "0x110x",
    ("", "sus4"): "022200",
    ("", "7sus4"): "020200",
    ("", "5"): "022xxx",
}
A_FORM: dict[tuple[str, str], str] = {
    ("", ""): "x02220",
    ("-", ""): "x02210",
    ("", "7"): "x02020",
    ("-", "7"): "x02010",
    ("", "maj7"): "x02120",
    ("", "sus4"): "x02230",
    ("", "sus2"): "x02200",
    ("", "7sus4"): "x02030",
    ("", "5"): "x022xx",
    ("ø", ""): "x0101x",
    ("ø", "7"): "x0101x",
    ("o", ""): "x0121x",
    ("+", ""): "x0322x",
}


def parse_shape(text: str) -> Shape:
    """Read a shape such as "x32010"."""
    return tuple(None if sign == "x" else int(sign) for sign in text)


def pitches(shape: Shape, capo: int = 0) -> tuple[tuple[int, int], ...]:
    """The (string, MIDI pitch) of each sounding string, low E (string 0) first."""
    return tuple(
        (string, TUNING[string] + capo + fret)
        for string, fret in enumerate(shape)
        if fret is not None
    )


def is_open(root: int, quality: str, extension: str, bass: int) -> bool:
    """Whether a chord has an open shape; pitch classes count from the capo."""
    if bass == root:
        return (root, quality, extension) in OPEN
    return not extension and (root, quality, bass) in OPEN_SLASH


def _ease(root: int, quality: str, extension: str, bass: int) -> float:
    """How easy a chord is: 1 for an open shape, half or less for a barre, by its fret."""
    if is_open(root, quality, extension, bass):
        return 1.0
    at = [
        (root - open_root) % 12
        for forms, open_root in ((E_FORM, E), (A_FORM, A))
        if (quality, extension) in forms
    ]
    return 0.5 if bass == root and at and min(at) <= LOW_BARRE else 0.0


def _barre(root: int, quality: str, extension: str) -> Shape | None:
    """The lower of the two barre shapes of a chord; None if it has none."""
    found = []
    for forms, open_root in ((E_FORM, E), (A_FORM, A)):
        text = forms.get((quality, extension))
        if text is not None:
            fret = (root - open_root) % 12
            shape = tuple(None if at is None else at + fret for at in parse_shape(text))
            found.append((fret, shape))
    lowest = min(found, default=None, key=lambda item: item[0])
    return lowest[1] if lowest and lowest[0] <= HIGHEST_FRET else None


def _frets(string: int, allowed: frozenset[int], position: int) -> Iterator[int]:
    """Frets of a string that give an allowed pitch class, open or within reach of a position."""
    for fret in (0, *range(max(position, 1), position + REACH + 1)):
        if (TUNING[string] + fret) % 12 in allowed:
            yield fret


def _fingers(shape: Shape) -> int:
    """How many fingers a shape needs; one may lie across its lowest fret if no string is open."""
    fretted = [fret for fret in shape if fret]
    if not fretted:
        return 0
    lowest = min(fretted)
    barred = fretted.count(lowest) if 0 not in shape else 1
    return len(fretted) - barred + 1


def _grips(
    bass_string: int,
    bass_fret: int,
    allowed: frozenset[int],
    position: int,
    is_promising: Callable[[Shape], bool],
) -> Iterator[Shape]:
    """Every grip over a bass note that leaves out at most one string inside.

    A grip begun from the low strings that is not promising is not completed.
    """
    bass_pitch = TUNING[bass_string] + bass_fret

    def extend(shape: Shape, left_out: int) -> Iterator[Shape]:
        string = len(shape)
        if not is_promising(shape):
            return
        if string == len(TUNING):
            yield shape
            return
        for fret in _frets(string, allowed, position):
            if TUNING[string] + fret > bass_pitch:
                yield from extend((*shape, fret), left_out)
        if not left_out or string == len(TUNING) - 1:
            yield from extend((*shape, None), left_out + 1)

    yield from extend((None,) * bass_string + (bass_fret,), 0)


def _missing_costs(tones: tuple[int, ...], bass: int) -> tuple[tuple[int, float], ...]:
    """What each tone costs a grip that leaves it out, as (pitch class, cost)."""
    # The fifth is the tone to leave out first, then the root where the bass is another.
    return tuple(
        (tone, 1.0 if (tone - tones[0]) % 12 == 7 else 3.0 if tone == tones[0] != bass else 8.0)
        for tone in tones
    )


def _hand_costs(shape: Shape) -> tuple[float, float]:
    """The costs of the fingers and of the height of a shape; more strings never lower either."""
    fingers = _fingers(shape)
    highest = max(fret for fret in shape if fret is not None)
    return max(0, fingers - 4) * 20.0 + fingers * 0.3, highest * 0.4


def _cost(shape: Shape, missing_costs: tuple[tuple[int, float], ...], close_cost: float) -> float:
    """How unwelcome a grip is: its missing tones, fingers, few strings and high frets.

    `close_cost` is what each string costs that lies within a fifth of the lowest and blurs it.
    """
    fretted = [fret for fret in shape if fret is not None]
    lowest, *others = [pitch for _, pitch in pitches(shape)]
    sounding = {pitch % 12 for pitch in (lowest, *others)}
    blurred = close_cost * sum([pitch - lowest <= FIFTH for pitch in others])
    weight = sum([cost for tone, cost in missing_costs if tone not in sounding])
    thin = max(0, 4 - len(fretted)) * 4.0
    first = next(string for string, fret in enumerate(shape) if fret is not None)
    inner = (len(shape) - first - len(fretted)) * 0.5
    fingers, height = _hand_costs(shape)
    return weight + blurred + fingers + thin + inner + height


def _essential(tones: tuple[int, ...]) -> tuple[int, ...]:
    """The tones that a guitar plays of a large chord: without its fifth, then without its ninth."""
    spare = [(tones[0] + step) % 12 for step in (7, 2)][: max(0, len(tones) - 4)]
    return tuple(tone for tone in tones if tone not in spare)


@lru_cache(maxsize=4096)
def _search(tones: tuple[int, ...], bass: int) -> Shape:
    """The grip of least cost whose lowest string plays the bass."""
    wanted = _essential(tones)
    allowed, missing_costs = frozenset((*wanted, bass)), _missing_costs(wanted, bass)
    close_cost = CLOSE_COST if bass != tones[0] else 0.0
    best: tuple[float, Shape] | None = None

    def is_promising(shape: Shape) -> bool:
        return best is None or sum(_hand_costs(shape)) < best[0] + NEAR

    for bass_string in range(3):
        if best is not None and best[0] < GOOD_GRIP:
            break
        bass_fret = (bass - TUNING[bass_string]) % 12
        positions = {max(1, bass_fret - REACH), max(1, bass_fret - 1), max(1, bass_fret)}
        for position in positions if bass_fret else (1,):
            for grip in _grips(bass_string, bass_fret, allowed, position, is_promising):
                cost = _cost(grip, missing_costs, close_cost)
                if best is None or cost < best[0]:
                    best = (cost, grip)
    assert best is not None  # a bass note alone is a grip
    return best[1]


@lru_cache(maxsize=4096)
def find_shape(root: int, quality: str, extension: str, tones: tuple[int, ...], bass: int) -> Shape:
    """The shape for a chord. Pitch classes count from the capo; `tones` has the root first."""
    if bass != root:
        text = None if extension else OPEN_SLASH.get((root, quality, bass))
        return parse_shape(text) if text else _search(tones, bass)
    text = OPEN.get((root, quality, extension))
    if text:
        return parse_shape(text)
    return _barre(root, quality, extension) or _search(tones, bass)


def _lowest(bass: int, capo: int) -> int:
    """The lowest pitch of a pitch class that a guitar has over a capo."""
    lowest = TUNING[0] + capo
    return lowest + (bass - lowest) % 12


def choose_capo(chords: Iterable[tuple[int, str, str, int]]) -> int:
    """The fret of the capo that makes most chords of a song easy; low frets are preferred.

    `chords` are (root, quality, extension, bass) with sounding pitch classes, one for each chord
    played. The capo keeps the basses of slash chords low, also where a bassist plays them, so that
    a song has one capo on the sheet, on a work tape and with a band.
    """
    played = list(chords)
    if not played:
        return 0

    def worth(capo: int) -> float:
        ease = sum(
            _ease((root - capo) % 12, quality, extension, (bass - capo) % 12)
            - (LIFTED_COST if bass != root and _lowest(bass, capo) >= LIFTED else 0.0)
            for root, quality, extension, bass in played
        )
        return ease / len(played) - (CAPO_COST + FRET_COST * capo if capo else 0.0)

    return max(range(HIGHEST_CAPO + 1), key=worth)
