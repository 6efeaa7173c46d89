"""Charts typed the way one would in a message to a friend: forty bars in each of several styles.

No style is documented anywhere; they are habits of session leaders (common practice, no source).
"""

from __future__ import annotations

import pytest

from trainer.chart import Chart, Phrase, parse, parse_tolerant

# The song that all of them write.
SONG = """Intro:
1 4 1 5

Verse 1:
1 5/7 6- 4 . 1 5/7 4 4
2-^7 5 1 1

Chorus:
4 5 1 6- . 2-^7 5^7 1 (1 1/3)

Verse 2:
1 5/7 6- 4 . 1 5/7 4 4
2-^7 5 1 1

Tag:
2-^7 5^sus4 5 1d
"""

BAR_LINES = """Intro
| 1 | 4 | 1 | 5 |
Verse 1
| 1 | 5/7 | 6m | 4 |
| 1 | 5/7 | 4 | % |
| 2m7 | 5 | 1 | % |
Chorus
| 4 | 5 | 1 | 6m |
| 2m7 | 5^7 | 1 | 1 1/3 |
Verse 2
| 1 | 5/7 | 6m | 4 |
| 1 | 5/7 | 4 | % |
| 2m7 | 5 | 1 | % |
Tag
| 2m7 | 5sus | 5 | <1> |
"""

ONE_LINE_EACH = """Intro: 1 4 1 5
V1: 1 5/7 6- 4, 1 5/7 4 -, 2-7 5 1 -
Chorus: 4 5 1 6-, 2-7 5⁷ 1 (1 1/3)
V2: 1 5/7 6- 4, 1 5/7 4 -, 2-7 5 1 -
Tag: 2-7 5sus4 5 1D
"""

SQUARE_BRACKETS = """[Intro]
1, 4, 1, 5
[Verse 1]
1, 5/7, 6min, 4
1, 5/7, 4, 4
2min7, 5, 1, 1
[Chorus]
4, 5, 1, 6min
2min7, 5^7, 1, (1, 1/3)
[Verse 2]
1, 5/7, 6min, 4
1, 5/7, 4, 4
2min7, 5, 1, 1
[Tag]
2min7, 5sus4, 5, ◇1
"""

ROMAN = """Intro:
I IV I V

Verse 1:
I V/7 vi IV . I V/VII IV IV
ii7 V I %

Chorus:
IV V I vi . ii7 V7 I (I I/III)

Verse 2:
I V/7 vi IV . I V/VII IV IV
ii7 V I %

Tag:
ii7 Vsus4 V Id
"""

LETTERS = """key: G
chords: letters
Intro
G C G D
Verse 1
G D/F# Em C
G D/F# C C
Am7 D G G
Chorus
C D G Em
Am7 D7 G (G G/B)
Verse 2
G D/F# Em C
G D/F# C C
Am7 D G G
Tag
Am7 Dsus4 D Gd
"""

NO_SPACES = """in:
1415
v1:
15/76m4
15/744
2m7 511
ch:
4516m
2m7 5^7 1(11/3)
v2:
15/76m4
15/744
2m7 511
tag:
2m7 5sus 5 1◇
"""

PHONE = """Intro：
１ ４ １ ５
Verse 1：
1 5/7 6– 4
1 5/7 4 %
2–⁷ 5 1 %
Chorus
4 5 1 6–
2–⁷ 5⁷ 1 (1 1/3)
Verse 2
1 5/7 6– 4
1 5/7 4 %
2–⁷ 5 1 %
Tag
2–⁷ 5ˢᵘˢ⁴ 5 1d
"""

SLASHES_FOR_BEATS = """Intro
1 / / / 4 / / / 1 / / / 5 / / /
Verse 1
1 / / / 5/7 / / / 6m / / / 4 / / /
1 / / / 5/7 / / / 4 / / / 4 / / /
2m7 / / / 5 / / / 1 / / / 1 / / /
Chorus
4 / / / 5 / / / 1 / / / 6m / / /
2m7 / / / 5^7 / / / 1 / / / 1 / 1/3 /
Verse 2
1 / / / 5/7 / / / 6m / / / 4 / / /
1 / / / 5/7 / / / 4 / / / 4 / / /
2m7 / / / 5 / / / 1 / / / 1 / / /
Tag
2m7 / / / 5sus / / / 5 / / / 1d / / /
"""

A_TITLE_AND_DASHES = """Ferry Song - key of D - 92 bpm

Intro - 1 4 1 5
V1 - 1 5/7 6m 4, 1 5/7 4 -, 2m7 5 1 -
Ch - 4 5 1 6m, 2m7 5^7 1 {1 1/3}
V2 - 1 5/7 6m 4, 1 5/7 4 -, 2m7 5 1 -
Tag - 2m7 5sus 5 1 (hold)
"""

ARROWS_AND_WORDS = """“Ferry Song” in D
Intro) 1 -> 4 -> 1 -> 5
Verse 1)
1 → 5 over 7 → 6 minor → 4
1 → 5 over 7 → 4 → 4
2 min7 → 5 → 1 → 1
Chorus)
4 → 5 → 1 → 6 minor
2 min7 → 5 7th → 1 → [1 1 over 3]
Verse 2)
1 → 5 over 7 → 6 minor → 4
1 → 5 over 7 → 4 → 4
2 min7 → 5 → 1 → 1
Tag)
2 min7 → 5 sus → 5 → <1>
"""

DOTS_BETWEEN = """Song: Ferry Song
Time: 4/4
Intro = 1 · 4 · 1 · 5
Verse 1 = 1 · 5/7 · 6m · 4; 1 · 5/7 · 4 · %; 2m7 · 5 · 1 · %
Chorus = 4 · 5 · 1 · 6m; 2m7 · 5⁷ · 1 · (1 1/3)
Verse 2 = 1 · 5/7 · 6m · 4; 1 · 5/7 · 4 · %; 2m7 · 5 · 1 · %
Tag = 2m7 · 5sus · 5 · 1 hold
"""

DOTS_FOR_BEATS = """G, 92 bpm
Intro.
1... 4... 1... 5...
Verse 1
1... 5/7... 6m... 4...
1... 5/7... 4... 4...
2m7... 5... 1... 1...
Chorus
4... 5... 1... 6m...
2m7 5^7 1 (1 1/3)
Verse 2
1... 5/7... 6m... 4...
1... 5/7... 4... 4...
2m7... 5... 1... 1...
Tag
2m7... 5sus... 5... 1d...
"""

LINES_HOLD_PHRASES = """bar lines: phrases
Intro
| 1 4 1 5 |
Verse 1
| 1 5/7 6m 4 | 1 5/7 4 4 |
| 2m7 5 1 1 |
Chorus
| 4 5 1 6m | 2m7 5^7 1 (1 1/3) |
Verse 2
| 1 5/7 6m 4 | 1 5/7 4 4 |
| 2m7 5 1 1 |
Tag
| 2m7 5sus 5 1d |
"""

STYLES = {
    "bar lines": BAR_LINES,
    "a section to a line": ONE_LINE_EACH,
    "square brackets and commas": SQUARE_BRACKETS,
    "Roman numerals": ROMAN,
    "letter names": LETTERS,
    "no spaces": NO_SPACES,
    "a telephone's signs": PHONE,
    "slashes for beats": SLASHES_FOR_BEATS,
    "a title and dashes": A_TITLE_AND_DASHES,
    "arrows and words": ARROWS_AND_WORDS,
    "dots between bars": DOTS_BETWEEN,
    "dots for beats": DOTS_FOR_BEATS,
    "bar lines around phrases": LINES_HOLD_PHRASES,
}


def phrases(chart: Chart) -> list[tuple[str, list[Phrase]]]:
    """Each section's kind with its phrases."""
    return [(section.kind, list(section.phrases)) for section in chart.sections]


@pytest.mark.parametrize("text", STYLES.values(), ids=STYLES)
def test_forty_bars_are_read_as_meant(text: str) -> None:
    """The same song typed in another style is the same song, with no problem and no question."""
    meant, result = parse(SONG), parse_tolerant(text)
    assert result.problems == ()
    assert result.questions == ()
    assert result.chart is not None
    assert phrases(result.chart) == phrases(meant)
    assert len(result.chart.bars()) == 40
