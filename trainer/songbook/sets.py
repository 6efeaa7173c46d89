"""Sets of songs: what is played one after another, each song in the band's key."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trainer.chart import Chart, Key, parse
from trainer.errors import SettingsError, SongNotFound
from trainer.songbook.book import Songbook
from trainer.songbook.song_text import UNTITLED, in_key
from trainer.store import SetSong, SongRecord, SongSet, storable

__all__ = ["MOST_IN_SET", "Sets", "SongInSet"]

MOST_IN_SET = 200
LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class SongInSet:
    """A song of a set as it stands; `song` is None for one that was deleted or is not shared any
    more, and `key` None where the band plays it in its own key."""

    uid: str
    song: SongRecord | None
    key: str | None


class Sets:
    """The sets of songs of one learner's songbook."""

    def __init__(self, book: Songbook) -> None:
        self._book = book
        self._sets = book.store.song_sets

    def all(self) -> tuple[SongSet, ...]:
        """Every set, in the order they were made."""
        return self._sets.all(self._book.learner)

    def get(self, uid: str) -> SongSet:
        """The set of that uid. Raises SongNotFound."""
        for each in self.all():
            if each.uid == uid:
                return each
        raise SongNotFound("There is no such set in this songbook.")

    def songs(self, song_set: SongSet) -> tuple[SongInSet, ...]:
        """The songs of a set in order, as they stand now."""
        return tuple(
            SongInSet(each.song, self._found(each.song), each.key) for each in song_set.songs
        )

    def charts(self, song_set: SongSet) -> tuple[Chart, ...]:
        """The charts of a set in order, each in the band's key; songs that are gone are left out.

        Raises InputError for a chart that is still closed, and NotationError for a text in which
        something is wrong or open.
        """
        return tuple(
            in_key(
                parse(self._book.text_of(each.uid), source=each.song.version.title or UNTITLED),
                Key.parse(each.key) if each.key else None,
            )
            for each in self.songs(song_set)
            if each.song is not None
        )

    def add(self, name: str, songs: Iterable[SetSong] = ()) -> SongSet:
        """Make a new set. Raises SettingsError, ChartError for a key, SongNotFound for a song."""
        checked = self._checked(list(songs))
        book = self._book
        return self._sets.add(book.learner, _clean_name(name), checked, book.clock())

    def change(self, uid: str, name: str, songs: Iterable[SetSong]) -> SongSet:
        """Give a set another name and other songs, in this order. Raises as `add`."""
        found = self.get(uid)
        known = {each.song for each in found.songs}
        self._sets.change(found, _clean_name(name), self._checked(list(songs), known))
        return self.get(uid)

    def append(self, uid: str, song: str) -> SongSet:
        """Put a song at the end of a set, to be played in its own key. Raises as `change`."""
        found = self.get(uid)
        return self.change(uid, found.name, [*found.songs, SetSong(song)])

    def delete(self, uid: str) -> None:
        """Remove a set; its songs stay. Raises SongNotFound."""
        self._sets.delete(self.get(uid))

    def _found(self, uid: str) -> SongRecord | None:
        try:
            song = self._book.get(uid)
        except SongNotFound:
            return None
        return song if song.deleted_at is None else None

    def _checked(self, songs: Sequence[SetSong], known: Iterable[str] = ()) -> list[SetSong]:
        """Songs that can be read, with keys that can be played; a song that was in the set before
        may have gone since."""
        if len(songs) > MOST_IN_SET:
            raise SettingsError("set", f"{len(songs)} songs", f"at most {MOST_IN_SET}")
        stays = set(known)
        for each in songs:
            if each.song not in stays:
                self._book.get(each.song)
        return [
            SetSong(each.song, str(Key.parse(each.key)) if each.key else None) for each in songs
        ]


def _clean_name(name: str) -> str:
    cleaned = " ".join(storable(name).split())
    if not 0 < len(cleaned) <= LONGEST_NAME:
        shown = repr(cleaned[: LONGEST_NAME + 1])
        raise SettingsError("name of a set", shown, f"1 to {LONGEST_NAME} characters")
    return cleaned
