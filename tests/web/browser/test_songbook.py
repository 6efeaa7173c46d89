"""The songbook in a browser: write, hear, save, take along, drill, compare."""

from __future__ import annotations

import io
from pathlib import Path

from playwright.sync_api import Page, Request, Response, Route, expect
from pypdf import PdfReader

from tests.web.browser.house import House, Opened
from trainer.chart import parse
from trainer.songbook import Songbook

FIRST = "title: Lock Gate\nkey: D\n\nVerse 1:\n1 4 5 1\n"
SECOND = FIRST.replace("1 4 5 1", "1 4 5/7 6-")


def book_of(house: House) -> Songbook:
    """The songbook of the learner at the page."""
    return Songbook(house.store, house.drills.learner, house.clock)


def write(page: Page, text: str) -> None:
    """Put a text in place of the one in the field, by hand."""
    page.locator("#text").click()
    page.keyboard.press("Control+a")
    page.keyboard.insert_text(text)


def save(page: Page, number: int) -> None:
    """Save with the keys and wait until the page says so."""
    page.keyboard.press("Control+s")
    expect(page.locator("#status")).to_have_text(f"Saved as version {number}.")


def heard(page: Page) -> str:
    """Play, wait until it sounds, stop; the address of the sound."""
    page.locator("#play").click()
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.05")
    place: str = page.evaluate("() => document.getElementById('song').src")
    page.locator("#stop").click()
    return place


def printed(page: Page, names: str) -> str:
    """The text of the sheet that the page opens to be printed, without spaces."""
    form = page.get_by_role("region", name="Print")
    form.locator("[name=names]").select_option(names)
    with page.context.expect_event(
        "request", lambda request: f"names={names}" in request.url
    ) as sent:
        form.get_by_role("button", name="Open the sheet").click()
    answer = page.request.get(sent.value.url)
    (sheet,) = PdfReader(io.BytesIO(answer.body())).pages
    return "".join(sheet.extract_text().split())


def test_a_song_from_first_to_last(known: House, open_page: Opened, tmp_path: Path) -> None:
    """A chart is written by hand, heard in two keys, saved twice, compared, exported, read again
    and drilled."""
    page = open_page(f"{known.url}songbook")
    page.get_by_role("button", name="New song").click()
    write(page, FIRST)
    expect(page.locator("#drawing .bar")).to_have_count(4)
    save(page, 1)
    expect(page.locator("#title")).to_have_text("Lock Gate")
    own = heard(page)
    page.locator("#key").select_option("F")
    assert heard(page) != own
    write(page, SECOND)
    save(page, 2)
    song = page.url
    with page.expect_download() as download:
        page.get_by_role("button", name="Download").click()
    saved = tmp_path / "song.txt"
    download.value.save_as(saved)
    assert saved.read_text("utf-8") == SECOND
    page.get_by_role("link", name="What changed in version 2").click()
    expect(page.get_by_text("They differ in 2 bars and agree in 2.")).to_be_visible()
    page.locator(".differs").first.get_by_label("B for this bar").check()
    page.get_by_role("button", name="Save what's chosen").click()
    expect(page.get_by_text("Version 3", exact=True)).to_be_visible()
    uid = song.rpartition("/")[2]
    merged = book_of(known).get(uid).version.text
    assert parse(merged).bars() == parse("1 4 5/7 1").bars()
    page.goto(f"{known.url}songbook")
    page.get_by_label("A chart or an archive").set_input_files(saved)
    page.get_by_role("button", name="Import").click()
    expect(page.locator("#title")).to_have_text("Lock Gate")
    assert page.url != song
    page.get_by_role("button", name="Begin").click()
    page.wait_for_url("**/write/*")
    expect(page.get_by_text("You have seen this song's chart")).to_be_visible()


def test_every_format_goes_out_and_comes_back(
    known: House, open_page: Opened, tmp_path: Path
) -> None:
    """A song is printed in numbers and in letters, and comes back from every format that is read
    with the same bars."""
    book = book_of(known)
    song = f"{known.url}songbook/{book.new(SECOND).uid}"
    page = open_page(song)
    form = page.get_by_role("region", name="Files")

    def downloaded(suffix: str, names: str = "") -> Path:
        page.goto(song)
        form.locator("[name=format]").select_option(suffix)
        form.locator("[name=names]").select_option(names)
        with page.expect_download() as download:
            form.get_by_role("button", name="Download").click()
        target = tmp_path / f"song-{names}{suffix}"
        download.value.save_as(target)
        return target

    for names, bars in (
        ("numbers", "145/76−"),
        ("letters", "DGA/C♯Bm"),
        ("both", "1D4G5/7A/C♯6−Bm"),
    ):
        assert printed(page, names).endswith(bars), names
    for suffix in (".txt", ".musicxml", ".mxl", ".cho", ".lab"):
        saved = downloaded(suffix)
        page.goto(f"{known.url}songbook")
        page.get_by_label("A chart or an archive").set_input_files(saved)
        page.get_by_role("button", name="Import").click()
        page.wait_for_load_state()
        newest = book.find().songs[0]
        assert newest.uid not in song, suffix
        events = [bar.events for bar in parse(newest.version.text).bars()]
        assert events == [bar.events for bar in parse(SECOND).bars()], suffix
        book.delete(newest.uid)


def test_a_draft_outlives_the_page(known: House, open_page: Opened) -> None:
    """What is typed is there again without a save, and becomes a version only by one."""
    uid = book_of(known).new(FIRST).uid
    page = open_page(f"{known.url}songbook/{uid}")
    with page.expect_response("**/draft"):
        write(page, SECOND)
    page.goto(f"{known.url}songbook")
    expect(page.get_by_text("not saved yet")).to_be_visible()
    page.goto(f"{known.url}songbook/{uid}")
    expect(page.locator("#text")).to_have_value(SECOND)
    assert len(book_of(known).versions(uid)) == 1


def test_what_is_typed_before_the_scripts_is_kept(known: House, open_page: Opened) -> None:
    """A text typed while the page's scripts still load is kept as a draft."""
    uid = book_of(known).new(FIRST).uid
    page = open_page(known.url)
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/static/song.js", hold)
    page.goto(f"{known.url}songbook/{uid}", wait_until="commit")
    page.locator("#text").fill(SECOND)
    with page.expect_response("**/draft"):
        page.wait_for_timeout(50)
        held[0].continue_()
    expect(page.locator("#text")).to_have_value(SECOND)
    assert book_of(known).get(uid).draft == SECOND


def test_a_text_that_comes_late_overwrites_no_other_device(known: House, open_page: Opened) -> None:
    """What this browser could not send is sent later; what another device wrote meanwhile is kept
    as a version, and the page says so."""
    book = book_of(known)
    uid = book.new(FIRST).uid
    page = open_page(f"{known.url}songbook/{uid}")
    # Not even the request of a page that goes away gets through.
    page.evaluate("() => { window.fetch = () => Promise.reject(new TypeError('offline')); }")
    page.locator("#text").fill(SECOND)
    page.wait_for_function("text => JSON.stringify(localStorage).includes(text)", arg="1 4 5/7 6-")
    page.goto("about:blank")
    elsewhere = FIRST + "1 4 5 1 6-\n"
    book.keep_draft(uid, elsewhere, 1)
    with page.expect_response("**/draft"):
        page.goto(f"{known.url}songbook/{uid}")
    expect(page.locator("#text")).to_have_value(SECOND)
    expect(page.locator("#status")).to_contain_text("kept as version 2")
    expect(page.locator("#versions")).to_contain_text("Version 2")
    assert [each.text for each in book.versions(uid)] == [FIRST, elsewhere]
    assert book.get(uid).draft == SECOND


def test_two_windows_keep_both_texts(known: House, open_page: Opened) -> None:
    """A song saved in two windows has both texts as versions, and the second window says so."""
    uid = book_of(known).new(FIRST).uid
    mine, other = (open_page(f"{known.url}songbook/{uid}") for _ in range(2))
    write(mine, SECOND)
    save(mine, 2)
    write(other, FIRST.replace("1 4", "2- 4"))
    other.keyboard.press("Control+s")
    expect(other.locator("#status")).to_contain_text("Another window saved version 2 meanwhile")
    texts = [each.text for each in book_of(known).versions(uid)]
    assert texts == [FIRST, SECOND, FIRST.replace("1 4", "2- 4")]


def test_the_band_plays_from_the_cursor(known: House, open_page: Opened) -> None:
    """Playing from the cursor is a shorter sound than playing from the start."""
    uid = book_of(known).new(FIRST + "1 4 5 1 6- 6- 5 5\n").uid
    page = open_page(f"{known.url}songbook/{uid}")
    expect(page.locator("#drawing .bar")).to_have_count(12)
    heard(page)
    whole = page.evaluate("() => document.getElementById('song').duration")
    page.locator("#text").click()
    page.keyboard.press("Control+End")
    page.locator("#play-here").click()
    page.wait_for_function(f"() => document.getElementById('song').duration < {whole} - 5")


def test_the_tempo_is_that_of_the_chart_and_stays_in_its_bounds(
    known: House, open_page: Opened
) -> None:
    """A save shows the chart's own tempo, and a tempo that no band plays is not asked for."""
    uid = book_of(known).new(FIRST).uid
    page = open_page(f"{known.url}songbook/{uid}")
    tempo = page.locator("#tempo")
    write(page, FIRST.replace("key: D", "key: D\ntempo: 84"))
    save(page, 2)
    expect(tempo).to_have_attribute("placeholder", "84")
    tempo.fill("9999")
    page.locator("#play").click()
    expect(tempo).to_be_focused()


def test_a_tablet_has_every_choice(known: House, open_page: Opened) -> None:
    """On a touch screen too, the key of an exercise can be hidden and a sheet printed large."""
    uid = book_of(known).new(FIRST).uid
    page = open_page(f"{known.url}songbook/{uid}", has_touch=True, is_mobile=True)
    expect(page.get_by_label("Don't tell me the key")).to_be_visible()
    expect(page.get_by_label("Large print")).to_be_visible()


def test_the_band_is_ready_before_play_is_pressed(known: House, open_page: Opened) -> None:
    """The page has the band get ready when it opens and after each change, so that Play asks for
    nothing but the sound; a server that has let go of the sound is asked again."""
    uid = book_of(known).new(FIRST).uid
    page = open_page(known.url)
    asked: list[str] = []

    def note(request: Request) -> None:
        if is_asked(request):
            asked.append(request.post_data or "")

    page.on("request", note)
    with page.expect_response(is_asked) as answer:
        page.goto(f"{known.url}songbook/{uid}")
    answer.value.finished()
    assert known.audio.prefetched == []
    own = heard(page)
    with page.expect_response(is_asked) as answer:
        page.locator("#key").select_option("F")
    answer.value.finished()
    assert heard(page) != own
    with page.expect_response(is_asked) as answer:
        write(page, SECOND)
    answer.value.finished()
    heard(page)
    assert len(asked) == 3
    assert all("ahead=true" in each for each in asked)
    assert known.audio.prefetched == []
    with page.expect_response(is_asked) as answer:
        page.locator("#key").select_option("G")
    answer.value.finished()
    known.audio.registered.clear()
    heard(page)
    assert len(known.audio.prefetched) == 1


def is_asked(said: Request | Response) -> bool:
    """Whether it is about the address of a sound of the songbook."""
    return said.url.endswith("/sound")


def test_the_page_of_a_song_prints_as_its_sheet(known: House, open_page: Opened) -> None:
    """The browser's own print is the drawn sheet on one page, and the key for it opens the PDF of
    the text as it is, saved or not."""
    uid = book_of(known).new(FIRST).uid
    page = open_page(f"{known.url}songbook/{uid}")
    printed_pages = page.pdf(format="A4", prefer_css_page_size=False)
    assert len(PdfReader(io.BytesIO(printed_pages)).pages) == 1
    page.emulate_media(media="print")
    expect(page.locator(".paper")).to_be_visible()
    expect(page.locator("#form")).to_be_hidden()
    page.emulate_media(media="null")
    write(page, SECOND)
    with page.context.expect_event("request", lambda one: "format=.pdf" in one.url) as sent:
        page.keyboard.press("Control+p")
    (sheet,) = PdfReader(io.BytesIO(page.request.get(sent.value.url).body())).pages
    assert "145/76−" in "".join(sheet.extract_text().split())
