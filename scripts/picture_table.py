"""The pictures of docs/: what each one shows, in which state, with which caption.

A new page is one line of `PAGES`, or of `scripts.class_picture_table` if it belongs to the class
server. docs/pages.md is written from this table (`pages_text`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from scripts.picture_record import LEARNER, LESSON

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = [
    "DESK",
    "PAGES",
    "README_PICTURES",
    "SHEET",
    "TABLET",
    "PagePicture",
    "ReadmePicture",
    "SheetPicture",
    "anchor",
    "as_it_opens",
    "pages_text",
]

DESK: dict[str, Any] = {"viewport": {"width": 1280, "height": 800}}
TABLET: dict[str, Any] = {
    "viewport": {"width": 820, "height": 1180},
    "has_touch": True,
    "is_mobile": True,
}
# Somebody who has no record yet.
NEWCOMER = "Juniper"


def as_it_opens(page: Page) -> None:
    """Do nothing on the page."""


def _at_the_end_of_the_text(page: Page) -> None:
    """Put the caret at the end of the text."""
    page.locator("#text").press("ControlOrMeta+End")


def _while_the_band_plays(page: Page) -> None:
    """The band is in the second minute and plays so slowly that it almost stands still."""
    _at_the_end_of_the_text(page)
    page.locator("#play").click()
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.1")
    page.evaluate(
        "() => { const song = document.getElementById('song');"
        " song.playbackRate = 0.0625; song.currentTime = 61.2; }"
    )
    page.wait_for_function("() => document.getElementById('position').textContent === '1:01'")


def _with_the_sheet(page: Page) -> None:
    """The sheet is drawn, and the page stands at its top."""
    page.locator("#drawing .bar").first.wait_for()
    page.evaluate("() => scrollTo(0, 0)")


def _with_keypad(page: Page) -> None:
    """The band plays and the keypad is open."""
    if page.locator("#keypad").is_hidden():
        page.locator("#keypad-toggle").click()
    _while_the_band_plays(page)


def _two_bars_written(page: Page) -> None:
    """Two of the first four bars are written, and the page asks for the third."""
    for number, text in enumerate(("1", "4"), 2):
        page.locator("#bar").fill(text)
        page.locator("#bar").press("Enter")
        page.locator(f"label[for=bar]:has-text('Bar {number}')").wait_for()
    page.evaluate("() => scrollTo(0, 0)")


def _first_verse(page: Page) -> None:
    """Only the first verse is left on the sheet."""
    sections = page.locator(".page .sheet-section")
    verse = page.locator(".label", has_text="Verse 1")
    for number in reversed(range(sections.count())):
        if not sections.nth(number).filter(has=verse).count():
            sections.nth(number).evaluate("section => section.remove()")


@dataclass(frozen=True, slots=True)
class PagePicture:
    """A page on a desktop and on a tablet, light and dark, in docs/pages/.

    `template` is the page's own in `trainer/web/templates`; `address` names the ids of the record
    in braces (`scripts.picture_record.fill`); `state` brings the page into the state to show;
    `screens` says how much of the page is shown, 1 for what fits on the screen; `learner` opens it.
    """

    name: str
    title: str
    purpose: str
    template: str
    address: str
    state: Callable[[Page], None] = as_it_opens
    screens: float = 1
    learner: str = LEARNER

    @property
    def caption(self) -> str:
        """The text shown in place of the picture if it cannot be displayed."""
        return f"{self.title}, on a desktop and on a tablet, light and dark"


@dataclass(frozen=True, slots=True)
class ReadmePicture:
    """A picture of README: part of a page, or a desktop screen of `height` pixels.

    `caption` is its text in README; `crop` is the part of the page to show, "" for the screen.
    """

    name: str
    caption: str
    address: str
    state: Callable[[Page], None] = as_it_opens
    height: int = 800
    crop: str = ""
    is_tablet: bool = False
    is_dark: bool = False


@dataclass(frozen=True, slots=True)
class SheetPicture:
    """A printed sheet in README: one of the songs in exercises/songs, by the name of its file.

    `caption` is its text in README.
    """

    name: str
    caption: str
    song: str


PAGES = (
    PagePicture("hearing", "Volume", "set a safe volume before your first song",
                "hearing.html", "hearing", learner=NEWCOMER),
    PagePicture("first-page", "First page", "what a number chart is, and four bars to hear "
                "and write", "what_is_a_chart.html", "what-is-a-chart", _two_bars_written),
    PagePicture("start", "Start", "today's set, the song you were writing, levels and songs",
                "start.html", "", screens=2),
    PagePicture("write", "Write", "write the chart while the band plays",
                "write.html", "write/{write}", _while_the_band_plays),
    PagePicture("signs", "How to write it", "every sign with its sound, and the keyboard shortcuts",
                "signs.html", "signs", screens=3),
    PagePicture("result", "Result", "what was good, what to work on, and both charts bar by bar "
                "with advice; you can hear both",
                "result.html", "result/{result}", screens=2),
    PagePicture("bars", "Bars", "practise the bars you missed until you get them right twice in "
                "a row",
                "bars.html", "bars/{bars}?tried={tried}", _at_the_end_of_the_text),
    PagePicture("handout", "Handout", "a chart to print on one page",
                "handout.html", "handout/{handout}/played", screens=1.5),
    PagePicture("again", "Again", "write a song again that you have handed in",
                "begin.html", "write/{done}", screens=0.4),
    PagePicture("today", "Today", "today's exercises, with a reason for each",
                "today.html", "today", screens=0.85),
    PagePicture("progress", "Progress", "how well you hear each skill over time, and which chords "
                "you mix up", "progress.html", "progress?time=quarter", screens=2.5),
    PagePicture("lessons", "Lessons", "all lessons: signs, and chords that people mix up",
                "lessons.html", "lessons", screens=1.2),
    PagePicture("lesson", "Lesson", "hear two sounds by name, and what to listen for",
                "lesson.html", "lessons/" + LESSON),
    PagePicture("questions", "Questions", "five questions: which did you hear?",
                "questions.html", "lessons/" + LESSON + "/{run}?told=2"),
    PagePicture("songbook", "Songbook", "your own charts, sets of them, and files in and out",
                "songbook.html", "songbook", screens=1.2),
    PagePicture("song", "Song", "write a chart of your own, hear it in any key, and save it",
                "song.html", "songbook/{song}", _with_the_sheet, screens=1.7),
    PagePicture("shared-song", "Shared song", "somebody else's chart, closed until you open it",
                "song_shared.html", "songbook/house-low-water-reckoning", screens=0.8),
    PagePicture("compare", "Compare", "two charts of one song side by side, and one of both to "
                "keep", "song_compare.html", "songbook/compare?left={song}:1&right={song}:2"),
    PagePicture("set", "Set", "songs in order, with the band's key for each",
                "songbook_set.html", "songbook/sets/{set}"),
    PagePicture("code", "A friend's song", "look up the code of a song before you begin it",
                "song_code.html", "code?code={code}", screens=0.4),
    PagePicture("code-given", "Give a song away", "the code with which a friend writes the same "
                "song", "song_code_given.html", "result/{result}/code", screens=0.7),
    PagePicture("speed", "Speed", "test how fast you write charts",
                "speed.html", "speed", screens=1.3),
    PagePicture("history", "History", "all your attempts", "history.html", "history"),
    PagePicture("learners", "Learners", "who practises here", "learners.html", "learners"),
    PagePicture("rename", "Rename", "give a learner another name",
                "rename.html", "learners/{learner}/rename", screens=0.4),
    PagePicture("delete", "Delete", "delete a learner's record, after you confirm it",
                "delete.html", "learners/{learner}/delete", screens=0.6),
    PagePicture("error", "Error", "what went wrong and what you can do",
                "error.html", "nowhere", screens=0.4),
)  # fmt: skip

README_PICTURES = (
    ReadmePicture("number-chart", "A number chart as the program draws it",
                  "handout/{handout}/played", _first_verse, crop=".page"),
    ReadmePicture("write", "Writing a chart: the text on the left, the sheet on the right",
                  "write/{write}", _while_the_band_plays),
    ReadmePicture("result", "A result: what to work on, what was played above what was written, "
                  "and the advice on one bar", "result/{result}", height=1110),
    ReadmePicture("today", "The daily set, with a reason for each exercise", "today", height=760),
    ReadmePicture("progress", "Progress over three months: how well each skill is heard, and how "
                  "sure that is", "progress?time=quarter", height=900),
    ReadmePicture("tablet", "Writing on a tablet, dark: the sheet, the text and the keypad",
                  "write/{write}", _with_keypad, is_tablet=True, is_dark=True),
)  # fmt: skip

SHEET = SheetPicture("sheet", "A sheet for the music stand, as the program prints it",
                     "half-the-town-asleep")  # fmt: skip

HEAD = """# The pages

These pictures show every page on a desktop and on a tablet, light and dark. The learner and the
evenings of practice are invented. `scripts/pictures` makes this page and its pictures.

The pages of a class server are in [class-pages.md](class-pages.md).

| page | what it is for |
|---|---|
"""


def pages_text() -> str:
    """docs/pages.md."""
    rows = [f"| [{one.title}](#{anchor(one.title)}) | {one.purpose} |\n" for one in PAGES]
    parts = [f"\n## {one.title}\n\n![{one.caption}](pages/{one.name}.png)\n" for one in PAGES]
    return HEAD + "".join(rows + parts)


def anchor(title: str) -> str:
    """The name that a heading has in an address."""
    kept = (each for each in title.lower() if each.isalnum() or each in " -")
    return "".join(kept).replace(" ", "-")
