"""What changes when a section comes back, and how a song ends.

Which changes happen, and how often, follows the tables' source: an ending that goes elsewhere, a
bar more or less, the last phrase again or left out, the last bar held.
"""

from __future__ import annotations

import random

from trainer.generate.compose import Composer, Wish
from trainer.generate.dice import draw
from trainer.generate.draft import DraftBar, DraftPhrase
from trainer.generate.layout import Played
from trainer.generate.settings import Features

__all__ = ["come_back", "come_home", "prepare_key", "tag_on"]


def come_back(rng: random.Random, composer: Composer, section: Played, features: Features) -> None:
    """Change a returning section in one way."""
    last = section.phrases[-1]
    odd = features.odd_phrases > 0
    ways = {
        "ending": 20.0 if len(last.bars) > 1 and composer.model.size > 2 else 0.0,
        "again": 20.0 if len(last.bars) > 2 else 0.1,
        "left out": 14.0 if len(section.phrases) > 2 else 0.0,
        "extra": 8.0 if odd else 0.0,
        "cut": 9.0 if odd and len(last.bars) > 2 else 0.0,
        "held": 9.0 if features.holds and not last.bars[-1].marks[0] else 0.0,
    }
    way = draw(rng, ways)
    if way == "ending":
        section.phrases[-1] = _other_ending(composer, last, section.kind)
    elif way == "again":
        section.phrases.append(last)
    elif way == "left out":
        section.phrases.pop()
    elif way == "cut":
        section.phrases[-1] = DraftPhrase(last.bars[:-1], last.types[:-1])
    elif way == "extra":
        section.phrases[-1] = DraftPhrase([*last.bars, whole_bar(last)], last.types + "H")
    else:
        bar = whole_bar(last)
        bar.marks[0] = "d"
        section.phrases[-1] = last.with_last(bar)


def whole_bar(phrase: DraftPhrase, chord: str = "") -> DraftBar:
    """A bar of one chord, the last of a phrase unless another is named."""
    return DraftBar((sum(phrase.bars[0].beats),), [chord or phrase.last_chord])


def _other_ending(composer: Composer, last: DraftPhrase, kind: str) -> DraftPhrase:
    """The phrase with new chords in its last bars, other than those it had."""
    keep = max(1, len(last.bars) - 2)
    others = tuple(c for c in ("1", "1-", "5", "4") if c != last.last_chord)
    changed = composer.variant(
        last, len(last.bars), Wish(kind, closes=True, last=others), "", keep=keep
    )
    if [bar.chords for bar in changed.bars] == [bar.chords for bar in last.bars]:
        home = next(c for c in composer.model.chords if c != last.last_chord)
        return last.with_last(whole_bar(last, home))
    return changed


def come_home(
    composer: Composer, phrase: DraftPhrase, kind: str, home: str, same: bool = False
) -> DraftPhrase:
    """The last phrase of a song: it rests on home, in a bar of its own.

    `same` keeps the bar's rhythm where it rests on home already.
    """
    if phrase.last_chord != home and len(phrase.bars) > 1 and composer.model.size > 1:
        keep = max(1, len(phrase.bars) - 2)
        wish = Wish(kind, closes=True, last=(home,))
        phrase = composer.variant(phrase, len(phrase.bars), wish, "", keep=keep)
    last = phrase.bars[-1]
    return phrase.with_last(
        last.copy() if same and last.chords[-1] == home else whole_bar(phrase, home)
    )


def tag_on(
    rng: random.Random, composer: Composer, sections: list[Played], home: str, odd: bool
) -> Played:
    """A tag: the last bars that moved once or twice more, and home."""
    sung = sections[-1].phrases
    last = ([phrase for phrase in sung if _moves(phrase)] or sung)[-1]
    short = odd and len(last.bars) > 2 and last.last_chord == home and rng.random() < 0.6
    piece = DraftPhrase(last.bars[-2:], last.types[-2:]) if short else last
    if short and not _moves(piece):
        piece = last
    end = come_home(composer, piece, "outro", home)
    again = not _moves(end) or (len(piece.bars) < len(last.bars) and rng.random() < 0.6)
    return Played("Tag", "tag", [piece, end] if again else [end])


def _moves(phrase: DraftPhrase) -> bool:
    """Whether a phrase has more than one chord."""
    return len({chord for bar in phrase.bars for chord in bar.chords}) > 1


def prepare_key(section: Played, chord: str, splits: bool) -> None:
    """Let the last bar of a section lead to a new key by the new key's 5, named in the old key."""
    last = section.phrases[-1]
    bar = last.bars[-1]
    beats = sum(bar.beats)
    if splits and beats % 2 == 0 and bar.chords[0] != chord:
        made = DraftBar((beats // 2, beats // 2), [bar.chords[0], chord])
    else:
        made = DraftBar((beats,), [chord])
    section.phrases[-1] = last.with_last(made)
