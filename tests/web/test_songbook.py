"""The songbook's pages: written, saved, found, shared, compared, in and out of files."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from base64 import urlsafe_b64encode
from datetime import datetime

import html5lib
import pytest
from fastapi.testclient import TestClient

from tests.web.fakes import FakeLibrary
from tests.web.helpers import hear_out, key_of
from trainer.chart import parse
from trainer.export import EXPORT_FORMATS
from trainer.songbook import IMPORT_SUFFIXES, Sets, Songbook
from trainer.store import SetSong, Store
from trainer.web.context import LearnerContext

TEXT = "title: Lock Gate & Co\nkey: D\n\nVerse 1:\n1 4 5 1\n4 4 1 5\n"
HOUSE = "house-second-street-strut"
JSON = {"accept": "application/json"}


@pytest.fixture
def book(context: LearnerContext) -> Songbook:
    """The songbook of the learner at the browser."""
    return context.songbook


def other_book(context: LearnerContext, store: Store, now: datetime) -> Songbook:
    """The songbook of somebody else on this machine."""
    return Songbook(store, store.learners.add("Zoë", now), context.clock)


def test_a_new_song_is_written_and_saved(client: TestClient, book: Songbook) -> None:
    """A new song opens with its first lines, which are no version; a save is one and closes the
    draft."""
    place = client.post("/songbook/new", follow_redirects=False).headers["location"]
    uid = place.rpartition("/")[2]
    assert "title: " in client.get(place).text
    assert "Not saved yet" in client.get(place).text
    assert "begun" in client.get("/songbook").text
    assert book.versions(uid) == ()
    nothing = client.post(place, data={"text": book.get(uid).version.text}, headers=JSON).json()
    assert nothing["said"] == "There's nothing to save yet. Write a bar first."
    kept = client.put(f"{place}/draft", data={"text": TEXT, "began_from": "0"}, headers=JSON)
    assert kept.json()["draft_at"]
    page = client.get(place).text
    assert "not saved since" in page
    assert "1 4 5 1\n4 4 1 5" in page
    saved = client.post(place, data={"text": TEXT, "began_from": "0"}, headers=JSON).json()
    assert (saved["number"], saved["title"]) == (1, "Lock Gate & Co")
    assert saved["said"] == "Saved as version 1."
    assert "What changed" not in saved["versions"]
    assert book.get(uid).draft is None
    beside = client.post(place, data={"text": "1 4", "began_from": "0"}, headers=JSON).json()
    assert "Another window saved version 1" in beside["said"]
    assert "What changed in version 2" in beside["versions"]
    assert [each.text for each in book.versions(uid)] == [TEXT, "1 4"]
    client.put(f"{place}/draft", data={"text": "6-", "began_from": "2"}, headers=JSON)
    client.post(f"{place}/back", data={"number": "1"})
    assert book.get(uid).version.text == TEXT
    assert "6-" not in client.get(place).text.partition("</textarea>")[0].rpartition(">")[2]
    assert book.versions(uid)[-2].text == "6-"


def test_each_difference_can_be_heard(client: TestClient, book: Songbook) -> None:
    """Every bar on which two charts differ is offered on both sides, after the bar before it; a bar
    that only one has is offered there alone."""
    uid = book.new(TEXT).uid
    book.save(uid, TEXT.replace("1 4 5 1", "1 2- 5 1 6-"))
    page = client.get(f"/songbook/compare?left={uid}:1&right={uid}:2").text
    offered = re.findall(r'data-first="(\d+)" data-last="(\d+)"[^>]*aria-label="([^"]+)"', page)
    assert offered == [
        ("1", "2", "Hear bar 2 of A"),
        ("1", "2", "Hear bar 2 of B"),
        ("4", "5", "Hear bar 5 of B"),
    ]
    place, form = f"/songbook/{uid}/sound", {"text": TEXT, "first": "1", "last": "2"}
    two = client.post(place, data=form).json()["duration_s"]
    whole = client.post(place, data={"text": TEXT}).json()["duration_s"]
    assert two < whole / 2
    assert "expected a bar from 3 to 8" in client.post(place, data=form | {"first": "3"}).text


def test_looking_stores_nothing(client: TestClient, book: Songbook, store: Store) -> None:
    """Every page of the songbook can be read again and again without anything being stored."""
    uid = book.new(TEXT).uid
    before = store.transfer.export_json(book.learner)
    for place in (
        "/songbook",
        "/songbook?q=lock&tag=house%20band&page=2",
        f"/songbook/{uid}",
        f"/songbook/{HOUSE}",
        f"/songbook/compare?left={uid}",
        f"/songbook/compare?left={uid}&right={uid}:1",
        f"/songbook/{uid}/file?format=.musicxml&key=Eb",
        "/songbook/archive",
    ):
        assert client.get(place).status_code == 200, place
    assert client.post(f"/songbook/{uid}/sound", data={"text": "1 4"}).status_code == 200
    assert client.post(f"/preview/songbook/{uid}", content="1 4").status_code == 200
    assert store.transfer.export_json(book.learner) == before


def test_songs_are_found_by_words_and_tags(client: TestClient, book: Songbook) -> None:
    """The list shows own songs and the house band's, and a search leaves those that fit."""
    uid = book.new(TEXT).uid
    client.post(f"/songbook/{uid}/tags", data={"tags": "slow, Friday night,,"})
    assert book.get(uid).tags == ("Friday night", "slow")
    page = client.get("/songbook").text
    assert page.count('class="song-title"') == 7
    assert client.get("/songbook?q=gate").text.count('class="song-title"') == 1
    assert client.get("/songbook?tag=slow").text.count('class="song-title"') == 1
    assert "No song fits" in client.get("/songbook?q=nowhere").text


def test_a_long_list_is_turned_in_pages(client: TestClient, book: Songbook) -> None:
    """Each page shows the next songs, and the last one ends with the house band's."""
    for number in range(60):
        book.new(f"title: Song {number}\n\n1 4")
    first, second = (client.get(f"/songbook?page={page}").text for page in (1, 2))
    titles = re.findall(r'class="song-title" dir="auto">([^<]+)<', first + second)
    assert len(titles) == len(set(titles)) == 66
    assert "Page 1 of 2" in first


def test_a_new_song_gets_a_hint_and_no_complaint(client: TestClient, book: Songbook) -> None:
    """A text whose bars aren't written yet is not wrong, and one with something wrong is."""
    client.post("/songbook/new")
    song = book.find().songs[0]
    place = f"/preview/songbook/{song.uid}"
    for text in (song.version.text, "", "title: Lock Gate\n"):
        shown = client.post(place, content=text).text
        assert "Write a number for each bar" in shown, text
        assert "no bars" not in shown, text
    assert "expected" in client.post(place, content=f"meter: 9\n{song.version.text}").text
    assert "expected" in client.post(place, content="list: milk and eggs").text


def test_deleting_can_be_undone(client: TestClient, book: Songbook) -> None:
    """After a deletion the list offers to undo it."""
    uid = book.new(TEXT).uid
    answer = client.post(f"/songbook/{uid}/delete")
    assert "You deleted Lock Gate &amp; Co." in answer.text
    assert "This song is deleted" in client.get(f"/songbook/{uid}").text
    client.post(f"/songbook/{uid}/restore")
    assert book.get(uid).deleted_at is None


@pytest.mark.parametrize("suffix", EXPORT_FORMATS)
def test_a_song_goes_out_and_comes_back(client: TestClient, book: Songbook, suffix: str) -> None:
    """Each format is a download, and those that can be read come back with the same bars."""
    uid = book.new(TEXT).uid
    answer = client.get(f"/songbook/{uid}/file?format={suffix}")
    assert answer.status_code == 200
    assert f"Lock%20Gate%20%26%20Co{suffix}" in answer.headers["content-disposition"]
    back = client.post(
        "/songbook/import",
        files={"file": (f"back{suffix}", answer.content)},
        follow_redirects=False,
    )
    if suffix not in IMPORT_SUFFIXES:
        assert "could not be read" in back.text
        return
    newest = book.find().songs[0]
    assert newest.uid != uid
    events = [bar.events for bar in parse(newest.version.text).bars()]
    assert events == [bar.events for bar in parse(TEXT).bars()]


def test_a_label_file_is_told_what_it_does_not_say(client: TestClient, book: Songbook) -> None:
    """Key and meter that are given with a label file hold, and are not reported as guesses; no
    chart has a meter of nine."""
    uid = book.new("key: G\nmeter: 3/4\n\n1 4 1 4 1 4 1 4").uid
    labels = client.get(f"/songbook/{uid}/file?format=.lab").content
    file = {"file": ("song.lab", labels)}
    page = client.post("/songbook/import", files=file, data={"key": "G", "meter": "3/4"}).text
    assert "tempo: found none in the file" in page
    assert "key: found none" not in page
    assert "meter: found none" not in page
    made = book.find().songs[0].version
    assert (made.key, made.meter, made.bars) == ("G", "3/4", 8)
    assert client.post("/songbook/import", files=file, data={"meter": "nine"}).status_code == 422


def test_letters_go_out_in_another_key(client: TestClient, book: Songbook) -> None:
    """A download has the chosen key and names."""
    uid = book.new(TEXT).uid
    text = client.get(f"/songbook/{uid}/file?format=.txt&key=Eb&names=letters").text
    assert "key: Eb" in text
    assert "Ab" in text


def test_an_archive_goes_out_and_comes_back(client: TestClient, book: Songbook) -> None:
    """The archive has the own songs; with a file that is none, the page says which."""
    book.new(TEXT)
    held = io.BytesIO(client.get("/songbook/archive").content)
    with zipfile.ZipFile(held, "a") as archive:
        assert "songs/1 Lock Gate & Co.txt" in archive.namelist()
        archive.writestr("notes.pdf", b"%PDF")
    page = client.post("/songbook/import", files={"file": ("a.zip", held.getvalue())}).text
    assert "0 songs added, 1 already there, 1 not read" in page
    assert "<strong>notes.pdf</strong> could not be read" in page
    assert client.post("/songbook/import", files={"file": ("b.zip", b"none")}).status_code == 422


def test_a_song_is_heard_as_asked(client: TestClient, book: Songbook) -> None:
    """Another key is another sound, a slower tempo a longer one, a later bar a shorter one."""
    uid = book.new(TEXT).uid

    def sound(**how: str) -> tuple[str, float]:
        answer = client.post(f"/songbook/{uid}/sound", data=how).json()
        assert answer["error"] is None
        return key_of(answer["url"]), answer["duration_s"]

    (plain, length), (other, _) = sound(), sound(key="F")
    assert plain != other
    assert sound(tempo="50")[1] > 1.5 * length
    assert sound(first="5")[1] < length
    assert sound(band="work tape")[0] not in (plain, other)
    assert sound(text=TEXT)[0] == plain
    for wrong in ({"text": "nothing:"}, {"first": "99"}, {"key": "H"}, {"tempo": "5"}):
        answer = client.post(f"/songbook/{uid}/sound", data=wrong, headers=JSON)
        assert answer.status_code == 422, wrong


@pytest.mark.parametrize(
    "asked",
    [
        "[" * 2**18,
        '{"more":' + "[" * 2**17,
        "[]",
        '{"text":1,"key":"","tempo":null,"band":"full","first":1,"last":null}',
        '{"text":"1","key":"","tempo":"fast","band":"full","first":1,"last":null}',
        '{"text":"1","key":"","tempo":5,"band":"full","first":1,"last":null}',
        '{"text":"1","key":[],"tempo":null,"band":"full","first":"1","last":null}',
        '{"text":"1"}',
    ],
    ids=lambda asked: asked[:40],
)
def test_an_address_that_no_page_gave_is_refused(
    client: TestClient, book: Songbook, asked: str
) -> None:
    """A packed request that is nested deeply, or has a field of another type, is answered with 422
    and what to do."""
    packed = urlsafe_b64encode(zlib.compress(asked.encode(), 9)).decode().rstrip("=")
    uid = book.new(TEXT).uid
    answer = client.get(f"/songbook/{uid}/sound", params={"packed": packed}, headers=JSON)
    assert answer.status_code == 422
    assert "cannot be read. Load the page again." in answer.text


def test_a_sound_asked_for_ahead_is_only_made_ready(
    client: TestClient, book: Songbook, library: FakeLibrary
) -> None:
    """Until somebody presses Play nothing is rendered; ahead or not, it is the same sound."""
    uid = book.new(TEXT).uid
    ahead = client.post(f"/songbook/{uid}/sound", data={"ahead": "true"}).json()
    assert (len(library.ready), library.prefetched) == (1, [])
    assert client.post(f"/songbook/{uid}/sound").json() == ahead
    assert library.prefetched == library.ready


def test_a_closed_chart_stays_closed(client: TestClient, book: Songbook) -> None:
    """A shared chart is neither drawn, heard, compared nor sent before it is opened."""
    own = book.new(TEXT).uid
    page = client.get(f"/songbook/{HOUSE}").text
    assert "Open the chart" in page
    assert 'class="bar-drawing"' not in page
    for answer in (
        client.get(f"/songbook/{HOUSE}/file"),
        client.post(f"/songbook/{HOUSE}/sound"),
        client.post(f"/songbook/{HOUSE}/sound", data={"ahead": "true"}),
        client.get(f"/songbook/compare?left={own}&right={HOUSE}"),
    ):
        assert answer.status_code == 422
    opened = client.post(f"/songbook/{HOUSE}/open").text
    assert 'class="bar-drawing"' in opened
    assert client.get(f"/songbook/{HOUSE}/file").status_code == 200
    begun = client.post("/begin", data={"song": "second-street-strut"})
    assert "You have seen this song's chart" in begun.text


def test_a_shared_song_is_read_only(
    client: TestClient, context: LearnerContext, store: Store, fixed_now: datetime
) -> None:
    """Another's song can be opened and copied but not changed; unshared it is not there."""
    theirs = other_book(context, store, fixed_now)
    uid = theirs.new(TEXT).uid
    assert client.get(f"/songbook/{uid}").status_code == 404
    theirs.share(uid, shared=True)
    assert "from Zoë" in client.get(f"/songbook/{uid}").text
    for place in ("", "/delete", "/tags", "/share"):
        assert client.post(f"/songbook/{uid}{place}", data={"text": "1"}).status_code == 422
    copy = client.post(f"/songbook/{uid}/duplicate", follow_redirects=False).headers["location"]
    assert context.songbook.get(copy.rpartition("/")[2]).version.text == TEXT
    assert theirs.get(uid).version.text == TEXT


def test_a_song_becomes_an_exercise(client: TestClient, book: Songbook) -> None:
    """An exercise of an own song hides its key where that was asked, is graded, and is practice."""
    uid = book.new(TEXT).uid
    form = {"band": "small", "listens": "3", "key": "F", "key_hidden": "true"}
    answer = client.post(f"/songbook/{uid}/exercise", data=form, follow_redirects=False)
    place = answer.headers["location"]
    page = client.get(place).text
    assert "key of" not in page
    assert "3 listens left" in page
    assert "You have seen this song's chart" in page
    result = client.get(hear_out(client, place.removeprefix("/write/"), TEXT)).text
    assert '<p class="score">100%</p>' in result
    random_key = client.post(f"/songbook/{uid}/exercise", data={"key": "random"})
    assert "key of" in random_key.text


def test_a_song_too_long_to_hear_is_no_exercise(client: TestClient, book: Songbook) -> None:
    """A chart that plays longer than a sound may last is refused where the exercise is begun."""
    uid = book.new("tempo: 60\n\n" + "1 4 5 1\n" * 400).uid
    answer = client.post(f"/songbook/{uid}/exercise", follow_redirects=False)
    assert answer.status_code == 422
    assert "expected at most 20 min of sound" in answer.text
    assert client.get(f"/songbook/{uid}").status_code == 200


def test_two_versions_are_merged(client: TestClient, book: Songbook) -> None:
    """The page shows what differs, and saves the chosen bars as a new version."""
    uid = book.new(TEXT).uid
    book.save(uid, TEXT.replace("4 4 1 5", "4 2- 1 5/7").replace("key: D", "key: E"))
    address = f"/songbook/compare?left={uid}:1&right={uid}:2"
    page = client.get(address).text
    assert "They differ in 2 bars and agree in 6." in page
    places = re.findall(r'name="row-(\d+)" value="right"', page)
    form = {"left": f"{uid}:1", "right": f"{uid}:2", f"row-{places[0]}": "right"}
    client.post("/songbook/compare/merge", data=form | {"fact-key": "right"})
    merged = parse(book.get(uid).version.text)
    assert str(merged.key) == "E"
    assert merged.bars() == parse("1 4 5 1 4 2- 1 5").bars()
    assert client.get(f"{address}x").status_code == 404


def test_a_set_is_put_in_order(client: TestClient, book: Songbook) -> None:
    """Songs are added, given keys, moved and taken out."""
    uid = book.new(TEXT).uid
    made = client.post("/songbook/sets/new", data={"name": "Friday"}, follow_redirects=False)
    place = made.headers["location"]
    for song in (uid, HOUSE):
        client.post(f"{place}/add", data={"song": song})
    form = {"name": "Saturday", "song": [uid, HOUSE], "key": ["E", ""], "do": "down 0"}
    page = client.post(place, data=form).text
    assert '<h1 dir="auto">Saturday</h1>' in page
    assert page.index(f'value="{HOUSE}"') < page.index(f'value="{uid}"')
    assert "<option selected>E</option>" in page
    client.post(place, data={"name": "S", "song": [HOUSE, uid], "key": ["", "E"], "do": "remove 0"})
    assert f'name="song" value="{HOUSE}"' not in client.get(place).text.partition("Add a song")[0]
    client.post(f"{place}/add", data={"song": HOUSE})
    assert client.get(f"{place}/pdf").status_code == 422
    closed = "This chart is still closed, so the set can't be printed yet."
    assert client.get(place).text.count(closed) == 1
    form = {"name": "S", "song": [uid, HOUSE], "key": ["E", ""], "do": "open 1"}
    assert client.post(place, data=form, follow_redirects=False).headers["location"] == place
    assert closed not in client.get(place).text
    printed = client.get(f"{place}/pdf?names=both&paper=letter&columns=2&large=true")
    assert printed.content.startswith(b"%PDF")
    assert printed.headers["content-disposition"].startswith("inline")
    client.post(f"{place}/delete")
    assert client.get(place).status_code == 404


def test_a_sheet_is_printed_as_asked(client: TestClient, book: Songbook) -> None:
    """A sheet may have both names and large print; what is no name or no sheet is refused."""
    uid = book.new(TEXT).uid
    place = f"/songbook/{uid}/file?format="
    plain, both = (client.get(f"{place}.pdf{more}").content for more in ("", "&names=both"))
    assert plain.startswith(b"%PDF")
    assert plain != both
    assert client.get(f"{place}.svg&large=true&paper=letter").status_code == 200
    for right in (".PDF&names=both", ".mid&names=letters", ".mid&names=numbers", ".pdf&columns=1"):
        assert client.get(f"{place}{right}").status_code == 200, right
    wrong = (".txt&names=both", ".pdf&names=colours", ".pdf&paper=wall", ".doc", ".pdf&columns=3")
    for each in wrong:
        assert client.get(f"{place}{each}").status_code == 422, each
    shown, kept = (client.get(f"{place}{each}&show=true") for each in (".pdf", ".txt"))
    assert shown.headers["content-disposition"].startswith("inline")
    assert kept.headers["content-disposition"].startswith("attachment")


def test_what_is_printed_is_what_is_written(client: TestClient, book: Songbook) -> None:
    """The writer's files hold the draft where they ask for it; a reader's, and those of a version,
    what was saved."""
    uid = book.new(TEXT).uid
    place = f"/songbook/{uid}/file?format=.txt"
    newer = TEXT.replace("4 4 1 5", "4 4 1 6-")
    book.keep_draft(uid, newer, 1)
    assert client.get(f"{place}&draft=true").text == newer
    assert client.get(place).text == client.get(f"{place}&version=1").text == TEXT


def test_a_song_is_put_into_a_set_from_its_page(client: TestClient, book: Songbook) -> None:
    """A song's page offers the sets there are, and puts the song at the end of one."""
    uid = book.new(TEXT).uid
    assert "Put into the set" not in client.get(f"/songbook/{uid}").text
    friday = Sets(book).add("Friday").uid
    assert "Put into the set" in client.get(f"/songbook/{uid}").text
    shown = client.post(f"/songbook/{uid}/set", data={"set": friday}).text
    assert '<h1 dir="auto">Friday</h1>' in shown
    assert [each.song for each in Sets(book).get(friday).songs] == [uid]
    assert client.post(f"/songbook/{uid}/set", data={"set": "none"}).status_code == 404


def test_a_script_without_a_font_is_told(client: TestClient, book: Songbook) -> None:
    """Where a sheet would show empty boxes, the pages of song and set say so before it is
    printed."""
    uid = book.new(TEXT.replace("title: ", "title: \u0378 ")).uid
    place = f"/songbook/sets/{Sets(book).add('Friday', [SetSong(uid)]).uid}"
    for page in (f"/songbook/{uid}", place):
        assert "No font on this machine has \u0378" in client.get(page).text
    assert "No font on this machine" not in client.get(f"/songbook/{book.new(TEXT).uid}").text


def test_deleting_a_learner_names_the_songs(client: TestClient, book: Songbook) -> None:
    """The page that asks before a learner is deleted says how many songs would go."""
    place = f"/learners/{book.learner.uid}/delete"
    assert "of the songbook" not in client.get(place).text
    book.new(TEXT)
    assert "1 song of the songbook with all versions" in client.get(place).text


@pytest.mark.parametrize("page", ["list", "song", "closed", "open", "compare", "choose", "set"])
def test_a_songbook_page_is_valid(client: TestClient, book: Songbook, page: str) -> None:
    """A strict parser finds no error, no id stands twice, and nothing is inline."""
    uid = book.new(TEXT, ["slow"]).uid
    book.save(uid, "Verse:\n1 4 <b> ((")
    gone = book.new("").uid
    book.delete(gone)
    if page == "open":
        book.open(HOUSE)
    made = client.post("/songbook/sets/new", data={"name": "<Friday>"}, follow_redirects=False)
    place = made.headers["location"]
    client.post(f"{place}/add", data={"song": uid})
    text = client.get(
        {
            "list": f"/songbook?deleted={gone}",
            "song": f"/songbook/{uid}",
            "closed": f"/songbook/{HOUSE}",
            "open": f"/songbook/{HOUSE}",
            "compare": f"/songbook/compare?left={uid}:1&right={uid}:2",
            "choose": f"/songbook/compare?left={uid}",
            "set": place,
        }[page]
    ).text
    html5lib.HTMLParser(strict=True).parse(text)
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    assert re.findall(r"<style|\bstyle=|\son[a-z]+=", text) == []
