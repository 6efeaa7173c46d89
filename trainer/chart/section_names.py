"""What kind of section a name stands for, as musicians write it.

Names are written out ("Verse 2", "Middle 8") or shortened ("V2", "Ch", "TA"). Case does not matter,
and a number may follow with or without a space. Some short names can be read in more than one way:
"Int" is an intro or an interlude. A single letter is either short for a kind ("B" for a bridge) or
names a part of the form (A A B A), as a number does ("Part 2"). The name alone does not say which
is meant, but the whole chart may.
"""

from __future__ import annotations

import re
from functools import lru_cache

__all__ = [
    "OTHER",
    "SECTION_KINDS",
    "form_letter",
    "possible_kinds",
    "section_kind",
    "split_repeats",
]

SECTION_KINDS = (
    "pre-chorus",
    "intro",
    "verse",
    "chorus",
    "bridge",
    "turnaround",
    "solo",
    "interlude",
    "tag",
    "outro",
)
OTHER = "other"
MOST_CACHED = 1 << 12
MOST_SEARCHED = 200

# Names with the kinds that they may stand for, the likeliest first. A name that holds the name of a
# kind ("Last Chorus") needs no entry.
SHORT_NAMES = {
    "v vs vr vrs ver vers vse": ("verse",),
    "c ch cho chor chr chrs ref refr refrain hook": ("chorus",),
    "p pc pch pre prech prec lift climb build channel": ("pre-chorus",),
    "b br brg brdg bri m mid middle release": ("bridge",),
    "i int": ("intro", "interlude"),
    "in intr introduction opening": ("intro",),
    "inter intl link": ("interlude",),
    "ta tr trn turn turnround": ("turnaround",),
    "s sol lead ride": ("solo",),
    "inst instr instrumental": ("solo", "interlude", "intro", "turnaround"),
    "break brk breakdown": ("interlude", "solo"),
    "vamp": ("interlude", "outro", "intro", "turnaround", "tag"),
    "t": ("tag", "turnaround"),
    "r": ("chorus", "turnaround"),
    "o outr fade": ("outro",),
    "out end ending coda finale": ("outro", "tag"),
}
KINDS_OF_SHORT_NAMES = {
    name: kinds for names, kinds in SHORT_NAMES.items() for name in names.split()
} | {kind: (kind,) for kind in SECTION_KINDS}
# Words that say which of several sections is meant or how it is played, and nothing of its kind.
PART_WORDS = frozenset(("part", "section", "letter", "theme", "strain"))
NUMBERING = "the first second third fourth st nd rd th ii iii iv last final"
MANNER = "double dbl half short long new quiet soft loud big full down repeat rpt x post eight"
PLAYERS = "gtr guitar piano sax"
QUALIFIERS = PART_WORDS.union(NUMBERING.split(), MANNER.split(), PLAYERS.split())
LETTERS = re.compile(r"[^\W\d_]+")
ROMAN = {"i": "1", "ii": "2", "iii": "3", "iv": "4"}
# How often a section is played, after its name: "Chorus 2x", "Verse 1 (x2)".
REPEATS = re.compile(r"(?:\s+|\s*[(\[]\s*)(?:[x×]([2-8])|([2-8])[x×])\s*[)\]]?", re.IGNORECASE)
NUMBERED = re.compile(rf"(?:{'|'.join(sorted(PART_WORDS))})\s*(?P<number>[1-9]|iv|i{{1,3}})")


def section_kind(name: str) -> str:
    """Return the likeliest kind of a section by its name; "other" for a name that is not known.

    >>> section_kind("Verse 2"), section_kind("V2"), section_kind("TA"), section_kind("Synth")
    ('verse', 'verse', 'turnaround', 'other')
    """
    return possible_kinds(name)[0]


@lru_cache(maxsize=MOST_CACHED)
def possible_kinds(name: str) -> tuple[str, ...]:
    """Return the kinds that a section's name may stand for, at least one, the likeliest first.

    >>> possible_kinds("Int")
    ('intro', 'interlude')
    """
    lowered = name.lower().replace("prechorus", "pre-chorus").replace("pre chorus", "pre-chorus")
    written_out = next((kind for kind in SECTION_KINDS if kind in lowered), None)
    if written_out is not None:
        return (written_out,)
    words = [word for word in LETTERS.findall(lowered) if word not in QUALIFIERS]
    whole = KINDS_OF_SHORT_NAMES.get("".join(words))
    if whole is not None:
        return whole
    each = [KINDS_OF_SHORT_NAMES.get(word, (OTHER,)) for word in words]
    if not each or (OTHER,) in each:
        return (OTHER,)
    return tuple(dict.fromkeys(kind for kinds in each for kind in kinds))


@lru_cache(maxsize=MOST_CACHED)
def form_letter(name: str) -> str | None:
    """Return the letter, in upper case, of a section that is named by a letter; None for a word.

    A number after "Part" or "Section", Arabic or Roman, is taken for a letter: "2" for "Part II".

    >>> form_letter("A2"), form_letter("Part b"), form_letter("Part 2"), form_letter("Bridge")
    ('A', 'B', '2', None)
    """
    numbered = NUMBERED.fullmatch(name.strip().lower())
    if numbered is not None:
        return ROMAN.get(numbered["number"], numbered["number"])
    words = [word for word in LETTERS.findall(name) if word.lower() not in PART_WORDS]
    return words[0].upper() if len(words) == 1 and len(words[0]) == 1 else None


def split_repeats(name: str) -> tuple[str, int]:
    """Split a section's name into the name itself and how often it is played (once if it doesn't
    say).

    >>> split_repeats("Chorus 2x"), split_repeats("Verse 1 (x2)"), split_repeats("Verse 2")
    (('Chorus', 2), ('Verse 1', 2), ('Verse 2', 1))
    """
    # A longer text is no name, and its spaces are not to be searched again and again.
    if len(name) > MOST_SEARCHED:
        return name, 1
    for match in REPEATS.finditer(name):
        if match.end() == len(name) and match.start() and name[: match.start()].strip():
            return name[: match.start()], int(match[1] or match[2])
    return name, 1
