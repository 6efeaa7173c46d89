"""One learner's songbook: own charts with their versions, and those that others share.

Who may do what is decided here, so that it is the same on the page and in the terminal: a learner
changes their own songs, and reads those that others share and the house band's. A shared chart
stays closed until its reader opens it, because whoever has seen a chart only practises with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.chart import Chart, Key, chart_to_json, format_chart, parse
from trainer.errors import InputError, SettingsError, SongNotFound
from trainer.exercise import Exercise, Help, own_song_exercise, song_digest
from trainer.exercise.exercise import SONG_RECIPE, chart_digest
from trainer.songbook.compare import Comparison, Side, compare, merge
from trainer.songbook.house import HOUSE_TAG, house_song, house_songs, is_house
from trainer.songbook.song_text import UNTITLED, in_key, new_version, read_song
from trainer.store import (
    LONGEST_TAG,
    Learner,
    SongPage,
    SongRecord,
    SongVersion,
    storable,
)
from trainer.store.song_records import fold

if TYPE_CHECKING:
    from trainer.store import Repositories

__all__ = ["MOST_LISTENS", "MOST_TAGS", "KeptDraft", "SavedVersion", "Songbook", "clean_tags"]

MOST_TAGS = 20
MOST_LISTENS = 9
NOT_HERE = (
    "There is no such song in this songbook. It may have been deleted, or is no longer shared."
)


@dataclass(frozen=True, slots=True)
class SavedVersion:
    """What a save did: the song and its version; `is_new` is False where nothing had changed."""

    song: SongRecord
    version: SongVersion
    is_new: bool


@dataclass(frozen=True, slots=True)
class KeptDraft:
    """A draft as it is kept: its song, and the version that another window's draft became, None if
    there was none."""

    song: SongRecord
    others: SongVersion | None


class Songbook:
    """The songbook of one learner.

    Parameters
    ----------
    store : where everything is kept.
    clock : gives the moment, aware and in UTC.
    """

    def __init__(
        self, store: Repositories, learner: Learner, clock: Callable[[], datetime]
    ) -> None:
        self.store, self.learner, self.clock = store, learner, clock

    def within(self, store: Repositories) -> Songbook:
        """The same songbook over the repositories of a transaction."""
        return Songbook(store, self.learner, self.clock)

    def find(
        self, words: str = "", tag: str | None = None, *, limit: int = 100, offset: int = 0
    ) -> SongPage:
        """The songs that can be read here and have every word in title or tags, last saved first
        and the house band's at the end. Of the learner's own songs the text is searched as well,
        but not of others', whose charts may still be closed."""
        own = self.store.songs.search(self.learner, words, tag, limit=limit, offset=offset)
        house = _house_matches(words, tag)
        first = max(0, offset - own.found)
        room = max(0, limit - len(own.songs))
        return SongPage(own.songs + house[first : first + room], own.found + len(house))

    def deleted(self, limit: int = 100) -> tuple[SongRecord, ...]:
        """The learner's own deleted songs, which can be put back."""
        return self.store.songs.search(self.learner, limit=limit, deleted=True).songs

    def tags(self) -> tuple[tuple[str, int], ...]:
        """The tags of the learner's songs and how many songs have each, and the house band's."""
        return (*self.store.songs.tags(self.learner), (HOUSE_TAG, len(house_songs())))

    def get(self, uid: str) -> SongRecord:
        """A song that the learner can read. Raises SongNotFound."""
        song = house_song(uid) or self.store.songs.find(uid)
        if song is None or not self._can_read(song):
            raise SongNotFound(NOT_HERE)
        return song

    def owns(self, song: SongRecord) -> bool:
        """Whether a song is the learner's own, to change and to delete."""
        return song.learner_id == self.learner.id and not is_house(song)

    def is_open(self, song: SongRecord) -> bool:
        """Whether the learner may see a song's chart: it is their own, has no chart to give away,
        or they have opened it or written it in a drill."""
        if self.owns(song):
            return True
        chart = read_song(song.version.text).chart
        return chart is None or self._has_seen(chart)

    def open(self, uid: str) -> SongRecord:
        """Show a shared song's chart to the learner, from now on as well; drills of it are then
        practice."""
        song = self.get(uid)
        chart = read_song(song.version.text).chart
        if chart is not None and not self.owns(song):
            self.store.songs.show(self.learner, [_digest(chart)])
        return song

    def new(self, text: str = "", tags: Iterable[str] = ()) -> SongRecord:
        """Write a new song. Raises TextTooLong, SettingsError."""
        version = new_version(text, self.clock())
        return self.store.songs.add(self.learner, version, tags=clean_tags(tags))

    def begin(self, text: str) -> SongRecord:
        """Begin a new song with lines to fill in; its first version is what is saved then."""
        return self.store.songs.add(self.learner, new_version(text, self.clock()), is_begun=True)

    def save(self, uid: str, text: str, began_from: int | None = None) -> SavedVersion:
        """Save a text as the song's next version; a text that is the newest version already is not
        saved again.

        `began_from` is the version that the writer had before them, None for the newest. If another
        window saved meanwhile, both versions stay, and this one says so (`SongVersion.is_beside`).
        Raises SongNotFound, TextTooLong, InputError for another's song.
        """
        song = self.own(uid)
        before = song.version.number if began_from is None else began_from
        version = new_version(text, self.clock(), before)
        if version.text == song.version.text:
            self.store.songs.keep_draft(song, None, song.version.number, self.clock())
            return SavedVersion(self.get(uid), song.version, is_new=False)
        saved = self.store.songs.save(song, version)
        return SavedVersion(self.get(uid), saved, is_new=True)

    def keep_draft(
        self, uid: str, text: str, began_from: int, replaces: datetime | None = None
    ) -> KeptDraft:
        """Keep what is typed until it is saved.

        `replaces` is the moment of the draft that the writer knows (`SongRecord.draft_at`). A draft
        that another window kept meanwhile becomes a version, so that it is not lost.
        """
        new_version(text, self.clock())
        text = storable(text.replace("\r\n", "\n"))

        def work(store: Repositories) -> SongVersion | None:
            song = self.within(store).own(uid)
            is_others = song.draft_at != replaces and song.draft != text
            others = self._save_draft(store, song) if is_others else None
            is_saved = text == song.version.text and began_from == song.version.number
            store.songs.keep_draft(song, None if is_saved else text, began_from, self.clock())
            return others

        others = self.store.transact(work)
        return KeptDraft(self.get(uid), others)

    def _save_draft(self, store: Repositories, song: SongRecord) -> SongVersion | None:
        """Save an open draft as a version; None if there is none, or it is the newest version."""
        if song.draft is None or song.draft == song.version.text:
            return None
        return store.songs.save(song, new_version(song.draft, self.clock(), song.draft_from))

    def go_back(self, uid: str, number: int) -> SavedVersion:
        """Save an earlier version again, as the newest. A draft becomes a version before, so that
        it is not lost. Raises SongNotFound, and InputError for another's song."""

        def work(store: Repositories) -> None:
            book = self.within(store)
            text = book.version(uid, number).text
            self._save_draft(store, book.own(uid))
            book.save(uid, text)
            song = book.get(uid)
            store.songs.keep_draft(song, None, song.version.number, self.clock())

        before = self.own(uid).version
        self.store.transact(work)
        song = self.get(uid)
        return SavedVersion(song, song.version, is_new=song.version.number != before.number)

    def tag(self, uid: str, tags: Iterable[str]) -> SongRecord:
        """Give a song these tags in place of those it has. Raises SettingsError."""
        self.store.songs.tag(self.own(uid), clean_tags(tags))
        return self.get(uid)

    def duplicate(self, uid: str) -> SongRecord:
        """Copy a song, the learner's own or a shared one, into a new song of the learner's.

        The copy begins with the newest version. Copying a shared song shows its chart.
        """
        song = self.open(uid)
        tags = [tag for tag in song.tags if tag != HOUSE_TAG]
        return self.new(song.version.text, tags)

    def delete(self, uid: str) -> SongRecord:
        """Take a song out of the songbook; `restore` puts it back."""
        song = self.own(uid)
        self.store.songs.delete(song, self.clock())
        return self.get(uid)

    def restore(self, uid: str) -> SongRecord:
        """Put a deleted song back."""
        self.store.songs.delete(self.own(uid), None)
        return self.get(uid)

    def share(self, uid: str, *, shared: bool) -> SongRecord:
        """Let the other learners of this machine read and copy a song, or no longer."""
        self.store.songs.share(self.own(uid), shared=shared)
        return self.get(uid)

    def versions(self, uid: str) -> tuple[SongVersion, ...]:
        """Every version of a song, oldest first; of another's song the newest alone. What a new
        song began with is none."""
        song = self.get(uid)
        found = self.store.songs.versions(song) if self.owns(song) else (song.version,)
        return tuple(each for each in found if each.number)

    def version(self, uid: str, number: int | None = None) -> SongVersion:
        """One version of a song, the newest for None. Raises SongNotFound."""
        song = self.get(uid)
        if number is None or number == song.version.number:
            return song.version
        found = self.store.songs.version(song, number) if self.owns(song) else None
        if found is None:
            raise SongNotFound(f"{song.version.title or UNTITLED} has no version {number} here.")
        return found

    def compare(self, left: tuple[str, int | None], right: tuple[str, int | None]) -> Comparison:
        """Two versions, of one song or of two, side by side; each is a uid and the number of a
        version, None for the newest. Raises SongNotFound, InputError for a chart not opened yet."""
        texts = [self.text_of(*each) for each in (left, right)]
        return compare(*(read_song(text).chart for text in texts))

    def text_of(self, uid: str, number: int | None = None) -> str:
        """The text of a version that the learner may see. Raises InputError if it is not opened."""
        song = self.get(uid)
        if not self.is_open(song):
            raise InputError(
                f"{song.version.title or UNTITLED}: this chart is still closed. Open it first; "
                "drills of it are then practice."
            )
        return self.version(uid, number).text

    def draft_of(self, uid: str) -> str:
        """The text of a song as its writer has it now, saved or not; of another's song as it was
        saved. Raises as `text_of`."""
        song = self.get(uid)
        is_open = self.owns(song) and song.draft is not None
        return song.draft if is_open and song.draft is not None else self.text_of(uid)

    def merge(
        self,
        into: str,
        comparison: Comparison,
        choices: dict[int, Side],
        facts: dict[str, Side] | None = None,
    ) -> SavedVersion:
        """Save what was chosen of two charts as the next version of the song `into`."""
        return self.save(into, format_chart(merge(comparison, choices, facts)))

    def as_exercise(
        self,
        uid: str,
        *,
        band: str = "full",
        listens: int = 2,
        key: Key | None = None,
        key_hidden: bool = False,
        number: int | None = None,
    ) -> Exercise:
        """A song as an exercise, to be heard, written and graded as any other.

        Parameters
        ----------
        band : who plays, one of the bands of `trainer.band`.
        listens : how often it may be heard, 0 without limit.
        key : what the band plays it in, None for its own.
        key_hidden : whether the page leaves out the key.
        number : the version, None for the newest.

        Whoever has seen the chart practises with it: that holds for the song's owner and for
        readers who opened it, in every key. Raises SongNotFound, SettingsError, and NotationError
        for a text in which something is wrong or open.
        """
        if not 0 <= listens <= MOST_LISTENS:
            raise SettingsError("listens", str(listens), f"0 to {MOST_LISTENS}")
        song, version = self.get(uid), self.version(uid, number)
        chart = parse(version.text, source=version.title or UNTITLED)
        recipe = replace(SONG_RECIPE, band=band, listens=listens, help=Help(), loop=not listens)
        exercise = own_song_exercise(in_key(chart, key), song.uid, recipe, key_hidden=key_hidden)
        if self.owns(song) or self._has_seen(chart):
            self.store.songs.show(self.learner, [song_digest(exercise)])
        return exercise

    def _has_seen(self, chart: Chart) -> bool:
        return self.store.attempts.has_seen(self.learner, _digest(chart), self.clock())

    def _can_read(self, song: SongRecord) -> bool:
        return self.owns(song) or (song.shared and song.deleted_at is None)

    def own(self, uid: str) -> SongRecord:
        """A song of the learner's own. Raises SongNotFound, and InputError for another's."""
        song = self.get(uid)
        if not self.owns(song):
            raise InputError(
                f"{song.version.title or UNTITLED} belongs to {song.owner}. Copy it first. The "
                "copy is yours to change."
            )
        return song


def clean_tags(tags: Iterable[str]) -> tuple[str, ...]:
    """Tags as they are kept: single spaces, none twice, in order. Raises SettingsError."""
    kept: dict[str, str] = {}
    for tag in tags:
        cleaned = " ".join(storable(tag).split())
        if len(cleaned) > LONGEST_TAG:
            raise SettingsError("tag", repr(cleaned), f"at most {LONGEST_TAG} characters")
        if cleaned:
            kept.setdefault(fold(cleaned), cleaned)
    if len(kept) > MOST_TAGS:
        raise SettingsError("tags", f"{len(kept)} tags", f"at most {MOST_TAGS}")
    return tuple(sorted(kept.values()))


def _digest(chart: Chart) -> str:
    """The digest by which a chart is known as seen: that of its exercise's song."""
    return chart_digest(chart_to_json(chart))


def _house_matches(words: str, tag: str | None) -> tuple[SongRecord, ...]:
    wanted = fold(words).split()
    return tuple(
        song
        for song in house_songs()
        if (tag is None or tag in song.tags) and all(word in _house_search(song) for word in wanted)
    )


def _house_search(song: SongRecord) -> str:
    return fold("\n".join((song.version.title, *song.tags)))
