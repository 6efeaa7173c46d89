"""Changes when a section comes back, and the end of a song.

The kinds of change and their weights follow the source of the tables: another ending, a bar more or
less, the last phrase again or left out, the last bar held.
"""

from __future__ import annotations

import random
from collections.abc import Set as AbstractSet

from trainer.generate.compose import Composer, PhraseConstraint
from trainer.generate.settings import Features
from trainer.generate.sketch import BarSketch, PhraseSketch, SectionSketch
from trainer.generate.tables import table
from trainer.generate.weighted_choice import choose, happens

__all__ = ["change_key", "end_at_home", "make_tag", "one_chord_bar", "vary_return"]


def vary_return(
    rng: random.Random, composer: Composer, section: SectionSketch, features: Features
) -> None:
    """Change a returning section in one way."""
    last = section.phrases[-1]
    odd = features.odd_phrases > 0
    ways = {
        "ending": 20.0 if len(last.bars) > 1 and composer.model.size > 2 else 0.0,
        "again": 20.0 if len(last.bars) > 2 else 0.1,
        "left out": 14.0 if len(section.phrases) > 2 else 0.0,
        "extra": 8.0 if odd else 0.0,
        "cut": 9.0 if odd and len(last.bars) > 2 else 0.0,
        "held": 9.0 if features.holds and not last.bars[-1].articulations[0] else 0.0,
    }
    way = choose(rng, ways)
    if way == "ending":
        section.phrases[-1] = _other_ending(composer, last, section.kind)
    elif way == "again":
        section.phrases.append(last)
    elif way == "left out":
        section.phrases.pop()
    elif way == "cut":
        section.phrases[-1] = PhraseSketch(last.bars[:-1], last.types[:-1])
    elif way == "extra":
        section.phrases[-1] = PhraseSketch([*last.bars, one_chord_bar(last)], last.types + "H")
    else:
        bar = one_chord_bar(last)
        bar.articulations[0] = "d"
        section.phrases[-1] = last.with_last(bar)


def one_chord_bar(phrase: PhraseSketch, chord: str = "") -> BarSketch:
    """A bar of one chord: the last chord of a phrase, unless `chord` names another."""
    last = phrase.bars[-1]
    bar = BarSketch((sum(last.beats),), [chord or phrase.last_chord])
    bar.short = last.short
    return bar


def _other_ending(composer: Composer, last: PhraseSketch, kind: str) -> PhraseSketch:
    """The phrase with other chords in its last bars."""
    keep = max(1, len(last.bars) - 2)
    others = tuple(c for c in ("1", "1-", "5", "4") if c != last.last_chord)
    changed = composer.variant(
        last, len(last.bars), PhraseConstraint(kind, closes=True, last=others), "", keep=keep
    )
    if [bar.chords for bar in changed.bars] == [bar.chords for bar in last.bars]:
        home = next(c for c in composer.model.chords if c != last.last_chord)
        return last.with_last(one_chord_bar(last, home))
    return changed


def end_at_home(
    composer: Composer, phrase: PhraseSketch, kind: str, home: str, same: bool = False
) -> PhraseSketch:
    """The last phrase of a song, changed so that its last bar holds the home chord.

    `same` keeps the rhythm of a last bar that ends on the home chord already.
    """
    if phrase.last_chord != home and len(phrase.bars) > 1 and composer.model.size > 1:
        keep = max(1, len(phrase.bars) - 2)
        constraint = PhraseConstraint(kind, closes=True, last=(home,))
        phrase = composer.variant(phrase, len(phrase.bars), constraint, "", keep=keep)
    last = phrase.bars[-1]
    return phrase.with_last(
        last.copy() if same and last.chords[-1] == home else one_chord_bar(phrase, home)
    )


def make_tag(
    rng: random.Random, composer: Composer, sections: list[SectionSketch], home: str, odd: bool
) -> SectionSketch:
    """A tag: the last sung phrase that changes chords, or its end, once or twice more, ending at
    home."""
    sung = sections[-1].phrases
    last = ([phrase for phrase in sung if _moves(phrase)] or sung)[-1]
    short = odd and len(last.bars) > 2 and last.last_chord == home and rng.random() < 0.6
    piece = PhraseSketch(last.bars[-2:], last.types[-2:]) if short else last
    if short and not _moves(piece):
        piece = last
    end = end_at_home(composer, piece, "outro", home)
    again = not _moves(end) or (len(piece.bars) < len(last.bars) and rng.random() < 0.6)
    return SectionSketch("Tag", "tag", [piece, end] if again else [end])


def _moves(phrase: PhraseSketch) -> bool:
    """Whether a phrase has more than one chord."""
    return len({chord for bar in phrase.bars for chord in bar.chords}) > 1


def change_key(
    rng: random.Random, sections: list[SectionSketch], chords: AbstractSet[str], splits: bool
) -> None:
    """Move the key up into the last chorus or verse, if it has been heard before.

    The 5 of the new key may come before, if it is one of `chords` or these are empty; `splits` lets
    it share a bar.
    """
    kinds = [section.kind for section in sections]
    again = [
        at for at, kind in enumerate(kinds) if kind in ("verse", "chorus") and kind in kinds[:at]
    ]
    if not again:
        return
    place = again[-1]
    counts = table("form")["key_changes"]
    rise = 1 if happens(rng, counts["1"] / (counts["1"] + counts["2"])) else 2
    sections[place].key_change = rise
    five = "b6" if rise == 1 else "6"
    if (not chords or five in chords) and happens(rng, 0.4):
        _prepare_key_change(sections[place - 1], five, splits)


def _prepare_key_change(section: SectionSketch, chord: str, splits: bool) -> None:
    """Put the 5 of a new key, `chord` as named in the old key, into the last bar of a section.

    `splits` lets the chord share the bar with the one before.
    """
    last = section.phrases[-1]
    bar = last.bars[-1]
    beats = sum(bar.beats)
    if splits and beats % 2 == 0 and bar.chords[0] != chord:
        made = BarSketch((beats // 2, beats // 2), [bar.chords[0], chord])
    else:
        made = BarSketch((beats,), [chord])
    made.short = bar.short
    section.phrases[-1] = last.with_last(made)
