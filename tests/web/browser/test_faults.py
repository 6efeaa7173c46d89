from __future__ import annotations

from playwright.sync_api import Page, Route, expect

from tests.patience import waiting
from tests.web.browser.house import House, Opened, open_exercise
from trainer.drill import Drill


def draft_of(house: House, page: Page) -> Drill | None:
    """What the server keeps of the exercise on the page."""
    return house.drills.find(page.url.rpartition("/")[2])


def wait_for_draft(house: House, page: Page, text: str) -> None:
    """Wait until the server keeps just this."""
    for _ in waiting(f"the draft is {text!r}"):
        draft = draft_of(house, page)
        if draft is not None and draft.progress.text == text:
            return
        page.wait_for_timeout(50)


def test_typed_text_survives(known: House, open_page: Opened) -> None:
    """Loading the page again, and another browser at the same server, have all that was typed."""
    page = open_exercise(known, open_page)
    page.keyboard.type("Verse:\n1 4")
    page.reload()
    expect(page.locator("#text")).to_have_value("Verse:\n1 4")
    wait_for_draft(known, page, "Verse:\n1 4")
    other = open_page(page.url)
    expect(other.locator("#text")).to_have_value("Verse:\n1 4")
    expect(other.locator("#sheet .bar")).to_have_count(2)


def test_a_server_that_is_gone(known: House, open_page: Opened) -> None:
    """It is said, writing goes on, and when the server is back all is kept and drawn."""
    page = open_exercise(known, open_page)
    page.keyboard.type("1 4")
    wait_for_draft(known, page, "1 4")
    known.close()
    page.keyboard.type(" 5")
    said = page.locator("#status")
    expect(said).to_contain_text("The server isn't answering")
    page.keyboard.type(" 1")
    expect(page.locator("#sheet")).to_have_class("chart-sheet outdated")
    page.keyboard.press("Control+Enter")
    expect(said).to_contain_text("Your chart is saved in this browser")
    page.locator("#play").click()
    expect(said).to_contain_text("Keep writing")
    known.open()
    expect(said).to_have_text("The server is back, and everything is saved.")
    expect(page.locator("#sheet")).to_have_class("chart-sheet")
    wait_for_draft(known, page, "1 4 5 1")
    expect(page.locator("#sheet .bar")).to_have_count(4)
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/result/*")


def test_a_record_that_is_away_for_a_moment(known: House, open_page: Opened) -> None:
    """Where the server answers but its database does not, what was typed is sent again by itself,
    without another key being pressed."""
    page = open_exercise(known, open_page)
    asked = []

    def answer(route: Route) -> None:
        asked.append(route.request.method)
        if len(asked) > 2:
            route.continue_()
            return
        headers = {"retry-after": "2", "content-type": "application/json"}
        route.fulfill(status=503, headers=headers, body='{"error": "the database is away"}')

    page.route("**/draft", answer)
    page.keyboard.type("1 4")
    expect(page.locator("#status")).to_contain_text("The server isn't answering")
    expect(page.locator("#status")).to_have_text("The server is back, and everything is saved.")
    wait_for_draft(known, page, "1 4")
    assert asked[0] == "PUT"


def test_a_browser_that_crashed(known: House, open_page: Opened) -> None:
    """What the server never got is still in the browser."""
    page = open_exercise(known, open_page)
    place = page.url
    known.close()
    page.keyboard.type("1 4 5")
    expect(page.locator("#status")).to_contain_text("isn't answering")
    again = page.context.new_page()
    page.close()
    known.open()
    again.goto(place)
    expect(again.locator("#text")).to_have_value("1 4 5")
    wait_for_draft(known, again, "1 4 5")


def test_handing_in_twice_at_once(known: House, open_page: Opened) -> None:
    """Two tabs handing in the same chart make one attempt, with one result."""
    page = open_exercise(known, open_page)
    page.keyboard.type("1 4 5 1")
    wait_for_draft(known, page, "1 4 5 1")
    other = page.context.new_page()
    other.goto(page.url)
    for tab in (page, other):
        tab.locator("#hand-in").click()
        tab.wait_for_url("**/result/*")
    assert page.url == other.url
    assert known.store.attempts.count(known.drills.learner) == 1
    assert known.drills.latest() is None


def test_going_back_after_handing_in(known: House, open_page: Opened) -> None:
    """The way back leads to an offer to write it again, then to an empty sheet."""
    page = open_exercise(known, open_page)
    page.keyboard.type("1 4 5 1")
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/result/*")
    page.go_back()
    page.wait_for_url("**/write/*")
    page.get_by_role("button", name="Write it again").click()
    expect(page.locator("#text")).to_have_value("")


def test_a_hundred_thousand_characters(known: House, open_page: Opened) -> None:
    """They stay in the field, with a kind word; what was kept stays, and shortening mends it."""
    page = open_exercise(known, open_page)
    page.keyboard.type("1 4")
    wait_for_draft(known, page, "1 4")
    page.locator("#text").fill("1 " * 50_000)
    expect(page.locator("#status")).to_contain_text("more than 20,000 characters")
    expect(page.locator("#sheet")).to_have_text("This is too long to draw.")
    page.locator("#hand-in").click()
    expect(page.locator("#status")).to_contain_text("It stays in the field")
    assert len(page.locator("#text").input_value()) == 100_000
    wait_for_draft(known, page, "1 4")
    page.locator("#text").fill("1 4 5")
    wait_for_draft(known, page, "1 4 5")
    expect(page.locator("#status")).to_have_text("")


def test_no_sound(known: House, open_page: Opened) -> None:
    """Where sound cannot be made the page says why, and a chart is written and graded."""
    known.audio.error = "no soundfont was found: put one into soundfonts/"
    page = open_exercise(known, open_page)
    expect(page.locator("#status")).to_contain_text("no soundfont was found")
    page.locator("#play").click()
    expect(page.locator("#status")).to_contain_text("no soundfont was found")
    page.locator("#text").fill("1 4 5 1")
    page.locator("#hand-in").click()
    page.wait_for_url("**/result/*")
    page.locator("#hear-played").click()
    expect(page.locator("#selection")).to_contain_text("no soundfont was found")


def test_what_is_not_clear_is_asked_about_once(known: House, open_page: Opened) -> None:
    """A text with a problem is handed in at the second press."""
    page = open_exercise(known, open_page)
    page.locator("#text").fill("1 4\n5 x 1")
    expect(page.locator("#sheet .bar .note")).to_contain_text("found x")
    page.keyboard.press("Control+Enter")
    expect(page.locator("#status")).to_contain_text("One place isn't clear yet")
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/result/*")


def test_what_is_being_typed_is_not_called_wrong(known: House, open_page: Opened) -> None:
    """An unfinished bar has no complaint while its line is being written, but after a while."""
    page = open_exercise(known, open_page)
    page.keyboard.type("1 4 5/")
    note = page.locator("#sheet .note")
    expect(note).to_have_count(1)
    expect(note).to_be_hidden()
    expect(note).to_be_visible()


def test_a_word_about_the_text_goes_with_it(known: House, open_page: Opened) -> None:
    """What is said of a text on handing in goes when the text is changed."""
    page = open_exercise(known, open_page)
    said = page.locator("#status")
    page.locator("#text").fill("1 x")
    page.locator("#hand-in").click()
    expect(said).to_contain_text("One place isn't clear yet")
    page.locator("#text").fill("")
    expect(said).to_have_text("")
    page.locator("#hand-in").click()
    expect(said).to_contain_text("You haven't written anything yet")
    page.locator("#text").fill("1 4 5 1")
    expect(said).to_have_text("")


def test_a_deleted_learner_leaves_no_draft(known: House, open_page: Opened) -> None:
    """What the browser kept of a learner goes with the record; what is another's stays."""
    page = open_exercise(known, open_page)
    page.keyboard.type("1 4")
    wait_for_draft(known, page, "1 4")
    mine = page.evaluate("Object.keys(localStorage).filter((name) => name.startsWith('draft '))")
    assert len(mine) == 1
    page.evaluate("localStorage.setItem('draft another one', 'kept')")
    page.goto(f"{known.url}learners")
    page.get_by_role("link", name="Delete me").click()
    page.get_by_role("button", name="Delete “me”").click()
    page.wait_for_url("**/learners")
    left = page.evaluate("Object.keys(localStorage).filter((name) => name.startsWith('draft '))")
    assert left == ["draft another one"]


def test_a_fault_of_the_preview_is_not_hidden(known: House, open_page: Opened) -> None:
    """An error that is neither a refusal nor a lost connection is one of the page's."""
    page = open_exercise(known, open_page)
    page.evaluate(
        """() => {
          Response.prototype.text = () => Promise.reject(new TypeError("broken"));
          addEventListener("unhandledrejection", (event) => {
            event.preventDefault();
            document.title = event.reason.message;
          });
        }"""
    )
    page.keyboard.type("1")
    expect(page).to_have_title("broken")
