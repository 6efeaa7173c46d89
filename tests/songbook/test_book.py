"""A learner's own songs: written, saved, found, shared and made into exercises."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.drill.evening import Clock
from trainer.chart import Key, parse
from trainer.drill import Drills, import_record, submit
from trainer.errors import InputError, NotationError, SettingsError, SongNotFound, TextTooLong
from trainer.exercise import find_course, load_songs, song_exercise
from trainer.songbook import MOST_TEXT, Sets, Songbook
from trainer.store import SetSong, Store

TEXT = "title: Lock Gate\nkey: D\n\nVerse 1:\n1 4 5 1\n4 4 1 5\n"
# Latin, Greek, Cyrillic, Hebrew, Arabic, Devanagari, Thai, Hangul, Han, Ethiopic, Cherokee, an
# emoji of several parts, and a letter beyond the Basic Multilingual Plane.
SCRIPTS = "Ñ Ω Ж ש ع क ก 한 河 ሀ Ꭰ 👩‍🎤 𐍈"


def test_a_new_song_stands_in_the_book(book: Songbook) -> None:
    """What was written is kept to the letter, with what was read of it."""
    song = book.new(TEXT)
    assert book.get(song.uid) == song
    version = song.version
    assert (version.text, version.title, version.key) == (TEXT, "Lock Gate", "D")
    assert (version.meter, version.tempo, version.bars, version.number) == ("4/4", 100, 8, 1)


@pytest.mark.parametrize(
    "text",
    ["", "title: Only a name", "1 4 what? ((5\n|||| 9", "\u202e1 4", "1\x004", "1 4\r\n5"],
)
def test_any_text_is_kept(book: Songbook, text: str) -> None:
    """A text with problems is saved as it was typed; only what no database holds is replaced."""
    kept = book.new(text).version.text
    assert kept == text.replace("\x00", "\N{REPLACEMENT CHARACTER}").replace("\r\n", "\n")


def test_a_title_may_be_in_any_script(book: Songbook) -> None:
    """A title in many scripts is kept, read and found."""
    song = book.new(f"title: {SCRIPTS}\n\n1 4")
    assert song.version.title == SCRIPTS
    for word in SCRIPTS.split():
        assert book.find(word).songs[0].uid == song.uid


def test_a_long_chart_is_kept(book: Songbook) -> None:
    """A chart of 2,000 bars is read whole; one bar more is kept as text, and so is its title."""
    bars = "\n".join(["1 4 5 1 1 4 5 1"] * 250)
    assert book.new(bars).version.bars == 2000
    longer = f"title: Endless\n{bars}\n" + "1 4 5 1\n" * 2000
    song = book.new(longer)
    assert (song.version.text, song.version.title) == (longer, "Endless")
    with pytest.raises(TextTooLong):
        book.new("1 " * MOST_TEXT)


def test_two_windows_lose_nothing(book: Songbook) -> None:
    """Both windows' texts stay as versions, and the later one says that it was written beside."""
    uid = book.new(TEXT).uid
    first = book.save(uid, "1 4", began_from=1)
    second = book.save(uid, "1 5", began_from=1)
    assert (first.version.is_beside, second.version.is_beside) == (False, True)
    assert [each.text for each in book.versions(uid)] == [TEXT, "1 4", "1 5"]


def test_the_same_text_is_no_new_version(book: Songbook) -> None:
    """Saving what is the newest version already changes nothing."""
    uid = book.new(TEXT).uid
    assert not book.save(uid, TEXT).is_new
    assert len(book.versions(uid)) == 1


def test_a_draft_of_another_window_becomes_a_version(book: Songbook, clock: Clock) -> None:
    """A window that writes over another's draft keeps it as a version; its own it replaces."""
    uid = book.new(TEXT).uid
    mine = book.keep_draft(uid, "1 4", 1)
    clock.now += timedelta(seconds=1)
    mine = book.keep_draft(uid, "1 4 5", 1, mine.song.draft_at)
    assert mine.others is None
    assert len(book.versions(uid)) == 1
    clock.now += timedelta(seconds=1)
    theirs = book.keep_draft(uid, "2-", 1, None)
    assert theirs.song.draft == "2-"
    assert theirs.others is not None
    assert theirs.others.number == 2
    assert [each.text for each in book.versions(uid)] == [TEXT, "1 4 5"]


def test_a_draft_that_is_the_version_is_none(book: Songbook) -> None:
    """Going back to what is saved leaves no draft."""
    uid = book.new(TEXT).uid
    kept = book.keep_draft(uid, "1 4", 1)
    assert book.keep_draft(uid, TEXT, 1, kept.song.draft_at).song.draft is None


def test_going_back_keeps_a_draft_as_a_version(book: Songbook) -> None:
    """Going back to an earlier version saves what was typed and shows the earlier text."""
    uid = book.new(TEXT).uid
    book.save(uid, "1 4")
    book.keep_draft(uid, "1 4 6-", 2)
    back = book.go_back(uid, 1)
    assert back.is_new
    assert (back.song.draft, back.version.text) == (None, TEXT)
    assert [each.text for each in book.versions(uid)] == [TEXT, "1 4", "1 4 6-", TEXT]
    assert not book.go_back(uid, 4).is_new


def test_chords_of_others_are_not_searched(book: Songbook, other: Songbook) -> None:
    """A search finds another's shared song by title and tags, and the house band's too, but not by
    its chords, which stay closed."""
    shared = other.new("title: Weir Path\n\n1 4 #4o 5", ["slow"])
    other.share(shared.uid, shared=True)
    own = book.new("title: Mill Race\n\n1 4 #4o 5")
    assert {song.uid for song in book.find("#4o").songs} == {own.uid}
    assert [song.uid for song in book.find("weir path").songs] == [shared.uid]
    assert [song.uid for song in book.find("path slow").songs] == [shared.uid]
    assert not book.find("weir #4o").songs
    assert not [song for song in book.find("5/7").songs if not book.owns(song)]


def test_a_deleted_song_can_be_put_back(book: Songbook) -> None:
    """A deleted song is only in the list of the deleted, and comes back with all its versions."""
    uid = book.new(TEXT).uid
    book.save(uid, "1 4")
    book.delete(uid)
    assert uid not in [song.uid for song in book.find().songs]
    assert [song.uid for song in book.deleted()] == [uid]
    book.restore(uid)
    assert uid in [song.uid for song in book.find().songs]
    assert len(book.versions(uid)) == 2


def test_the_house_band_has_its_songs_in_every_book(book: Songbook) -> None:
    """The songs that ship with the trainer are found from the start, after one's own, and stay as
    they are."""
    own = book.new("title: Of the river\n\n1 4")
    page = book.find()
    assert page.found == len(load_songs()) + 1
    assert page.songs[0].uid == own.uid
    house = page.songs[1]
    assert not book.owns(house)
    assert [song.uid for song in book.find(house.version.title).songs] == [house.uid]
    assert book.find(limit=1, offset=1).songs == (house,)
    for change in (book.delete, lambda uid: book.save(uid, "1"), lambda uid: book.tag(uid, ["x"])):
        with pytest.raises(InputError, match="Copy it first"):
            change(house.uid)


def test_a_closed_chart_is_opened_first(book: Songbook) -> None:
    """A shared chart is not shown until it is opened; a drill of it then is practice, and counted
    before."""
    exercise = load_songs()[0]
    uid = f"house-{exercise.recipe['song']}"
    with pytest.raises(InputError, match="still closed"):
        book.text_of(uid)
    drills = Drills(book.store, book.learner, book.clock)
    assert not drills.begin(book.as_exercise(uid)).seen
    book.open(uid)
    assert parse(book.text_of(uid)) == exercise.chart
    assert drills.begin(book.as_exercise(uid)).seen
    assert drills.begin(book.as_exercise(uid, key=Key.parse("Eb"))).seen
    # The course's own exercise has the same song.
    assert drills.begin(exercise).seen


def test_a_shared_song_is_read_and_copied(book: Songbook, other: Songbook) -> None:
    """Others see a song only while it is shared, cannot change it, and own their copy."""
    uid = book.new(TEXT, ["slow"]).uid
    with pytest.raises(SongNotFound):
        other.get(uid)
    book.share(uid, shared=True)
    assert uid in [song.uid for song in other.find("lock gate").songs]
    with pytest.raises(InputError, match="belongs to Wren Halloway"):
        other.save(uid, "1")
    book.save(uid, "1 4")
    with pytest.raises(SongNotFound):
        other.version(uid, 1)
    copy = other.duplicate(uid)
    assert other.owns(copy)
    assert (copy.version.text, copy.tags) == ("1 4", ("slow",))
    book.share(uid, shared=False)
    with pytest.raises(SongNotFound):
        other.get(uid)
    assert other.get(copy.uid) == copy


def test_a_song_is_drilled_as_any_other(book: Songbook) -> None:
    """An own song is heard, graded and stored, as practice, since its writer has seen it."""
    uid = book.new(TEXT).uid
    exercise = book.as_exercise(uid, band="work tape", listens=3, key=Key.parse("F"))
    assert (exercise.band, exercise.listens, str(exercise.chart.key)) == ("work tape", 3, "F")
    drills = Drills(book.store, book.learner, book.clock)
    drill = drills.begin(exercise)
    assert drill.seen
    drills.listen(exercise.id)
    done = submit(drills, exercise.id, TEXT, token=drill.token)
    assert done.report.score == 1.0
    assert done.attempt.seen


def test_a_hidden_key_is_another_exercise(book: Songbook) -> None:
    """Whether the key is told is kept with the exercise."""
    uid = book.new(TEXT).uid
    hidden, told = (book.as_exercise(uid, key_hidden=each) for each in (True, False))
    assert (hidden.recipe["key_hidden"], told.recipe["key_hidden"]) == (True, False)
    assert hidden.id != told.id
    assert hidden.chart == told.chart


def test_a_text_with_problems_is_no_exercise(book: Songbook) -> None:
    """What is wrong is told with its place, and so are settings that no exercise has."""
    with pytest.raises(NotationError, match="line 1"):
        book.as_exercise(book.new("1 4 ((5").uid)
    with pytest.raises(SettingsError, match="listens"):
        book.as_exercise(book.new(TEXT).uid, listens=100)


def test_house_songs_keep_their_exercises() -> None:
    """The exercise of a song that ships with the trainer has the id that it always had."""
    songs = load_songs()
    assert len({each.id for each in songs}) == len(songs)
    assert songs[0] == song_exercise(find_course() / "songs" / f"{songs[0].recipe['song']}.txt")


def test_tags_are_cleaned(book: Songbook) -> None:
    """Spaces are made single, and a tag that differs in case alone is kept once."""
    uid = book.new(TEXT).uid
    assert book.tag(uid, [" slow  one ", "Slow one", "", "b"]).tags == ("b", "slow one")
    with pytest.raises(SettingsError, match="at most 40"):
        book.tag(uid, ["x" * 41])
    with pytest.raises(SettingsError, match="at most 20"):
        book.tag(uid, map(str, range(21)))


def test_a_set_has_songs_in_order_with_keys(book: Songbook) -> None:
    """A set keeps its order and keys, and says where a song has gone."""
    sets = Sets(book)
    uid = book.new(TEXT).uid
    house = book.find(tag="house band").songs[0].uid
    made = sets.add(" Friday  night ", [SetSong(house, "Eb"), SetSong(uid)])
    assert made.name == "Friday night"
    assert [(each.uid, each.key) for each in sets.songs(made)] == [(house, "Eb"), (uid, None)]
    book.delete(uid)
    gone = sets.songs(sets.get(made.uid))[1]
    assert (gone.uid, gone.song) == (uid, None)
    changed = sets.change(made.uid, "Saturday", [SetSong(uid, "G")])
    assert changed.songs == (SetSong(uid, "G"),)
    with pytest.raises(SongNotFound):
        sets.add("X", [SetSong("nothing")])
    sets.delete(made.uid)
    assert sets.all() == ()


def test_a_song_that_was_only_begun_goes_along(book: Songbook, store: Store) -> None:
    """A song begun and not saved keeps its draft in an export; of one that was saved, what it began
    with is no version there."""
    begun, saved = (book.begin("title: \n\nVerse:\n").uid for _ in range(2))
    book.keep_draft(begun, "1 4 5 1", 0)
    assert book.save(saved, "6- 4 1 5", 0).version.number == 1
    record = store.transfer.export_json(book.learner)
    texts = [[each["text"] for each in song["versions"]] for song in record["songs"]]
    assert sorted(texts) == [["6- 4 1 5"], ["title: \n\nVerse:\n"]]
    assert {song["draft"] for song in record["songs"]} == {None, "1 4 5 1"}


def test_the_record_takes_the_songbook_along(book: Songbook, other: Songbook, store: Store) -> None:
    """An export holds songs with versions, tags, draft, sets and what was seen; importing it twice
    adds nothing, and into another learner's record it gives copies of its own."""
    song = book.new(TEXT, ["slow"])
    book.save(song.uid, "1 4 5")
    book.keep_draft(song.uid, "1 4 6-", 2)
    Sets(book).add("Friday", [SetSong(song.uid, "E")])
    house = book.find(tag="house band").songs[0]
    book.open(house.uid)
    data = store.transfer.export_json(book.learner)
    assert import_record(store, data).songs == 0
    assert import_record(store, data, "Zoë Ångström").songs == 1
    (copy,) = store.songs.all(other.learner)
    assert copy.uid != song.uid
    assert (copy.tags, copy.draft) == (("slow",), "1 4 6-")
    assert [each.text for each in other.versions(copy.uid)] == [TEXT, "1 4 5"]
    (songs,) = Sets(other).all()
    assert songs.songs == (SetSong(copy.uid, "E"),)
    assert other.is_open(house)
