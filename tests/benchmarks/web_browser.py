"""The page in Debian's Chromium: from pressing play to sound, from a keystroke to the sheet.

Sound is taken to be there when the media element's own clock has moved; a song's first click is at
its very start. Each song is new, so nothing of it was made before its page was opened; the learner
presses play a second later, or at once ("in a hurry").
"""

from __future__ import annotations

import shutil
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from statistics import median, quantiles

from playwright.sync_api import Page, sync_playwright

from tests.benchmarks import Row, at_most, seen
from tests.benchmarks.songbook import charts_to_play
from tests.benchmarks.web_audio import page as served_page
from tests.web.browser.conftest import ARGUMENTS, CHROMIUM
from trainer.drill import Drills
from trainer.exercise import load_course, make_exercise
from trainer.songbook import Songbook
from trainer.store import Store

SONGS = 10
TURNS = 5
KEYS = 60
READ_MS = 1000
CHART = "\n".join(["Verse:", *["1 5/7 (6- 5) 4 . 1 1/3 4^maj7 5", "2- 5^7 (1''' 5') 1d"] * 10])
TO_SOUND = """async () => {
  const song = document.getElementById("song"), start = performance.now();
  document.getElementById("play").click();
  while (!(song.currentTime > 0)) await new Promise((next) => setTimeout(next, 1));
  return performance.now() - start;
}"""
# Another key, and Play at once.
IN_ANOTHER_KEY = """async () => {
  document.getElementById("stop").click();
  const key = document.getElementById("key");
  key.selectedIndex = (key.selectedIndex + 3) % key.options.length || 1;
  key.dispatchEvent(new Event("change"));
}"""
SHEETS = 'performance.getEntriesByName("sheet").map((each) => each.duration)'


def new_songs(store: Store) -> list[str]:
    """The ids of exercises of a whole song each, begun by the learner."""
    level = load_course()[43]
    made = [make_exercise(level.recipe, seed, level) for seed in range(900, 900 + SONGS)]
    now = datetime.now(UTC)
    learner = store.learners.caution_shown(store.learners.get_or_add("me", now), now)
    drills = Drills(store, learner, lambda: now)
    return [drills.begin(each).record.key for each in made]


def play(page: Page, url: str, wait_ms: int) -> float:
    """Milliseconds from pressing play to sound."""
    page.goto(url)
    page.wait_for_timeout(wait_ms)
    took: float = page.evaluate(TO_SOUND)
    return took


def own_songs(store: Store) -> dict[str, str]:
    """The uids of charts of one's own in the songbook, by what they are."""
    now = datetime.now(UTC)
    book = Songbook(store, store.learners.get_or_add("me", now), lambda: now)
    return {name: book.new(text).uid for name, text in charts_to_play().items()}


def play_own(page: Page, url: str) -> tuple[float, float]:
    """Milliseconds from pressing play to sound: a second after the page came or was left alone, the
    median of all keys; and at once after another key was chosen."""
    page.goto(url)
    calm, hurried = [], []
    for _ in range(TURNS):
        page.wait_for_timeout(READ_MS)
        calm.append(page.evaluate(TO_SOUND))
        page.evaluate(IN_ANOTHER_KEY)
        hurried.append(page.evaluate(TO_SOUND))
        page.evaluate(IN_ANOTHER_KEY)
    return median(calm), median(hurried)


def type_on(page: Page) -> list[float]:
    """Milliseconds from each keystroke to the sheet drawn anew, of a chart of 120 bars, while the
    band plays."""
    field = page.locator("#text")
    field.fill(CHART)
    # The songs of the pages before are made to their ends; a learner has one page.
    page.wait_for_timeout(5 * READ_MS)
    page.evaluate("performance.clearMeasures()")
    field.press("Control+End")
    for key in "\n" + "1 4 5 6- " * (KEYS // 9 + 1):
        field.press("Enter" if key == "\n" else key)
        page.wait_for_timeout(120)
    took: list[float] = page.evaluate(SHEETS)
    return took[:KEYS]


def run() -> list[Row]:
    """All rows."""
    path = next(filter(None, map(shutil.which, CHROMIUM)))
    arguments = [*ARGUMENTS, "--autoplay-policy=no-user-gesture-required"]
    with tempfile.TemporaryDirectory() as folder:
        with Store.open(folder) as store:
            songs = new_songs(store)
            own = own_songs(store)
        with served_page(Path(folder)) as (_, address, _), sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=path, args=arguments)
            page = browser.new_page()
            urls = [f"{address}write/{number}" for number in songs]
            play(page, urls[0], READ_MS)
            calm = [play(page, url, READ_MS) for url in urls[1::2]]
            hurried = [play(page, url, 0) for url in urls[2::2]]
            owned = {name: play_own(page, f"{address}songbook/{own[name]}") for name in own}
            page.goto(urls[0])
            sheets = quantiles(type_on(page), n=20)[-1]
            browser.close()
    return [
        at_most("play to sound, fresh song, median", median(calm), 150, "ms"),
        seen("the same, slowest", max(calm), "ms"),
        at_most("play to sound in a hurry, median", median(hurried), 150, "ms"),
        seen("the same, slowest", max(hurried), "ms"),
        *(
            row
            for name, (ready, at_once) in owned.items()
            for row in (
                at_most(f"play to sound, own chart of {name}, median", ready, 150, "ms"),
                seen("the same at once after another key was chosen", at_once, "ms"),
            )
        ),
        at_most("keystroke to sheet, 120 bars, 95th percentile", sheets, 50, "ms"),
    ]
