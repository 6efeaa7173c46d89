"""The pictures of the class pages: what each one shows, who sees it, in which state.

A new page is one line of `CLASS_PAGES`. docs/class-pages.md is written from this table
(`class_pages_text`). To keep the pictures small, each shows one desktop in light colours and one
tablet in dark ones.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scripts.class_record import LEARNER, NOBODY, OWNER, TEACHER
from scripts.picture_table import anchor, as_it_opens

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = ["BETWEEN_SYSTEMS", "CLASS_PAGES", "ClassPicture", "class_pages_text"]

# Pages without a picture: they come only after another server, a school's own, has sent somebody
# here or while it is being asked. tests/web/school brings them up with a server of its own.
BETWEEN_SYSTEMS = (
    "lti_choose.html",
    "lti_failed.html",
    "lti_pass_on.html",
    "lti_return.html",
    "lti_window.html",
    "school_failed.html",
    "school_go.html",
)


def _with_an_account_to_make(page: Page) -> None:
    """The link has been sent to the server, which asks for names and a password."""
    page.get_by_role("heading", name="Make your account").wait_for()


def _with_a_password_to_set(page: Page) -> None:
    """The link has been sent to the server, which asks for a password."""
    page.locator("form[action='/link/password']").wait_for()


def _invite_a_teacher(page: Page) -> None:
    """A link for a teacher is made; another one stands for it, so that the picture stays as it
    is."""
    page.locator("form[action='/people/invite'] button").click()
    link = page.locator(".made-link code")
    link.wait_for()
    link.evaluate("code => { code.textContent = code.textContent.replace(/#.*/, '#ferry-bell'); }")


def _with_a_bar(page: Page) -> None:
    """The sixth bar is chosen, which three learners missed."""
    page.locator(".bar-box").nth(5).click()
    page.evaluate("() => scrollTo(0, 0)")


def _with_the_weights(page: Page) -> None:
    """The weights of the parts of a score can be seen."""
    page.locator("summary", has_text="Change what counts how much").click()


def _with_the_class(page: Page) -> None:
    """Everybody stands in the table, and the answers to the sixth bar below it."""
    page.locator("#seats tr").first.wait_for()
    page.get_by_label("Bar", exact=True).fill("6")
    page.get_by_label("Bar", exact=True).press("Tab")
    _with_answers(page)
    page.evaluate("() => scrollTo(0, 0)")


def _with_answers(page: Page) -> None:
    """The answers to a bar are there."""
    page.locator("#answers[data-bar='6'] li").first.wait_for()


def _with_a_sheet(page: Page) -> None:
    """What is written so far is drawn."""
    page.locator("#sheet .bar").first.wait_for()


@dataclass(frozen=True, slots=True)
class ClassPicture:
    """A page of the class server on a desktop, light, and on a tablet, dark, in docs/class/.

    `template` is the page's own in `trainer/web/templates`; `address` names the ids of the record
    in braces (`scripts.class_record.fill_class`); `who` is the sign-in name of whoever sees it, ""
    for nobody; `screens` says how much of the page is shown, 1 for what fits on the screen.
    """

    name: str
    title: str
    purpose: str
    template: str
    address: str
    who: str = TEACHER
    screens: float = 1
    state: Callable[[Page], None] = as_it_opens

    @property
    def caption(self) -> str:
        """The text shown in place of the picture if it cannot be displayed."""
        return f"{self.title}, on a desktop in light colours and on a tablet in dark ones"


CLASS_PAGES = (
    ClassPicture("sign-in", "Sign in", "sign in to the class server",
                 "sign_in.html", "sign-in", NOBODY, 0.8),
    ClassPicture("join", "Join a class", "make an account with the teacher's code",
                 "join.html", "join#WEYRHERN22", NOBODY, 0.9),
    ClassPicture("open-link", "Open a link", "use a link that somebody gave you",
                 "link.html", "link", NOBODY, 0.5),
    ClassPicture("new-account", "Make an account", "make an account from an invitation",
                 "link_account.html", "link#{invitation}", NOBODY, 0.8, _with_an_account_to_make),
    ClassPicture("new-password", "Set a password", "set a new password when you forgot yours",
                 "link_password.html", "link#{reset}", NOBODY, 0.6, _with_a_password_to_set),
    ClassPicture("work", "Class work", "what is due, and what you have handed in",
                 "work.html", "assigned", LEARNER, 0.85),
    ClassPicture("assigned", "An assignment", "its songs, your tries and results",
                 "work_assignment.html", "assigned/{open}", LEARNER, 0.75),
    ClassPicture("handed-in", "Handed in", "when you will see your result",
                 "handed_in.html", "result/{handed_in}", LEARNER, 0.4),
    ClassPicture("classes", "Classes", "the classes you teach, and a new one",
                 "classes.html", "classes", screens=0.5),
    ClassPicture("class", "A class", "its assignments, its learners, and the code to join it",
                 "class.html", "classes/{class}", screens=1.5),
    ClassPicture("new-assignment", "New assignment", "say when it is due and how it is scored",
                 "assignment_new.html", "classes/{class}/assignments/new", screens=1.3),
    ClassPicture("assignment", "Change an assignment", "its songs and settings",
                 "assignment.html", "assignments/{to_come}", screens=1.5),
    ClassPicture("preview", "Preview", "an assignment as learners see it",
                 "assignment_preview.html", "assignments/{to_come}/preview"),
    ClassPicture("dictations", "Live dictation", "begin a dictation, or go back to one",
                 "dictations.html", "classes/{class}/dictations", screens=0.9),
    ClassPicture("dictation-desk", "The desk of a dictation", "play, and see who is where",
                 "dictation_desk.html", "dictations/{dictation}", TEACHER, 1.4, _with_the_class),
    ClassPicture("dictation-screen", "The room's screen", "what the class wrote for a bar",
                 "dictation_screen.html", "dictations/{dictation}/screen?bar=6", TEACHER, 0.8,
                 _with_answers),
    ClassPicture("dictation-seat", "A seat at a dictation", "write what the room hears",
                 "dictation_seat.html", "assigned/dictations/{dictation}", LEARNER, 1,
                 _with_a_sheet),
    ClassPicture("gradebook", "Gradebook", "who scored what, and how hard the songs were",
                 "gradebook.html", "gradebook/{finished}", screens=1.3),
    ClassPicture("skills", "By skill", "how well each learner hears each skill",
                 "gradebook_skills.html", "gradebook/{finished}/skills"),
    ClassPicture("song-of-the-class", "A song, bar by bar", "what the class wrote for each bar",
                 "gradebook_song.html", "gradebook/songs/{song}", TEACHER, 1.6, _with_a_bar),
    ClassPicture("one-learner", "One learner's work", "every try, with your changes and comments",
                 "gradebook_learner.html", "gradebook/{finished}/learners/{ines}", screens=1.3),
    ClassPicture("scheme", "How it's scored", "change what counts how much, and see what that does",
                 "gradebook_scheme.html", "gradebook/{finished}/scheme", TEACHER, 1,
                 _with_the_weights),
    ClassPicture("account", "Your account", "your name and password, and your record",
                 "account.html", "account", LEARNER, 1.6),
    ClassPicture("delete-account", "Delete your account", "what goes with it, before you confirm",
                 "account_delete.html", "account/delete", LEARNER, 0.7),
    ClassPicture("people", "People", "everybody with an account, for the owner of the server",
                 "people.html", "people", OWNER, 1.2),
    ClassPicture("link-made", "A link made", "a link to pass on",
                 "link_made.html", "people", OWNER, 0.5, _invite_a_teacher),
    ClassPicture("log", "The log", "who changed what on the server",
                 "people_log.html", "people/log", OWNER),
    ClassPicture("delete-person", "Delete somebody", "delete an account, after you confirm it",
                 "person_delete.html", "people/{rufus}/delete", OWNER, 0.6),
    ClassPicture("privacy", "Privacy", "what is kept about people, and why",
                 "privacy.html", "privacy", NOBODY, 1.3),
)  # fmt: skip

HEAD = """# The class pages

These pictures show the pages of the class server: on a desktop in light colours, and on a tablet in
dark ones. The class is the demo class of Millrace. `scripts/pictures` makes this page and its
pictures. [The other pages](pages.md) have a page of their own.

| page | what it is for |
|---|---|
"""


def class_pages_text() -> str:
    """docs/class-pages.md."""
    rows = [f"| [{one.title}](#{anchor(one.title)}) | {one.purpose} |\n" for one in CLASS_PAGES]
    parts = [f"\n## {one.title}\n\n![{one.caption}](class/{one.name}.png)\n"
             for one in CLASS_PAGES]  # fmt: skip
    return HEAD + "".join(rows + parts)
