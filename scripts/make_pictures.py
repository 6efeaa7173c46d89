"""Make every picture of README, docs/pages.md and docs/class-pages.md from the program as it is.

`python -m scripts.make_pictures` makes all of them; with names such as `write`, only those.

The records of `picture_record` and `class_record` are made once; each screen gets a copy with a
server of its own, so that what is done on one screen is not seen on the next. Tones stand for the
band, which no picture shows.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps
from playwright.sync_api import Browser, Page, sync_playwright

from scripts.class_picture_table import CLASS_PAGES, ClassPicture, class_pages_text
from scripts.class_record import fill_class
from scripts.picture_record import LEARNER, NOW, fill
from scripts.picture_table import (
    DESK,
    PAGES,
    README_PICTURES,
    SHEET,
    TABLET,
    PagePicture,
    ReadmePicture,
    pages_text,
)
from tests.classroom.people import WORDS
from tests.web.browser.class_house import ClassHouse
from tests.web.browser.conftest import ARGUMENTS, CHROMIUM
from tests.web.browser.house import House
from tests.web.fakes import FakeLibrary
from trainer.chart import parse
from trainer.export import write_sheet
from trainer.store import Store

DOCS = Path(__file__).parent.parent / "docs"
FLAT_COLOURS, EDGE_COLOURS = 24, 40
GAP, BACKGROUND = 16, "#8a8f8d"
# The width of a desktop page in the picture of all four; a tablet is as high as two desktops.
DESK_WIDTH = 640
# The width of a desktop page of the class server, with a tablet as high beside it.
CLASS_DESK_WIDTH = 720
# What stands in pictures for the address of the server, whose port is another each time.
CLASS_ADDRESS, HOME_ADDRESS = "https://class.example", "http://127.0.0.1:28467"
SHEET_WIDTH = 800
PATIENCE_MS = 60_000


# Puts one address for another wherever it stands in the text of a page.
WITH_ADDRESS = """([found, shown]) => {
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    texts.currentNode.data = texts.currentNode.data.replaceAll(found, shown);
  }
}"""


class Camera:
    """Takes pictures of pages, each from a fresh copy of a record."""

    def __init__(self, browser: Browser, record: Path, places: Mapping[str, object]) -> None:
        self._browser, self._record, self._places = browser, record, places

    @contextmanager
    def page(self, address: str, screen: dict[str, Any], learner: str = LEARNER) -> Iterator[Page]:
        """An open page of a server of its own, in light colours."""
        with (
            self._store() as (store, library),
            self._opened(House(store, library, clock=lambda: NOW, learner=learner), screen) as (
                house,
                page,
            ),
        ):
            page.goto(house.url + address.format(**self._places))
            page.evaluate(WITH_ADDRESS, [house.url.rstrip("/"), HOME_ADDRESS])
            yield page

    @contextmanager
    def class_page(self, picture: ClassPicture, screen: dict[str, Any]) -> Iterator[Page]:
        """An open page of a class server of its own, on which its person is signed in."""
        with (
            self._store() as (store, library),
            self._opened(ClassHouse(store, library, clock=lambda: NOW), screen) as (house, page),
        ):
            if picture.who:
                page.goto(f"{house.url}sign-in")
                page.get_by_label("Name to sign in with").fill(picture.who)
                page.get_by_label("Password", exact=True).fill(WORDS)
                page.get_by_role("button", name="Sign in").click()
                page.get_by_role("button", name="Sign out").wait_for()
            page.goto(house.url + picture.address.format(**self._places))
            picture.state(page)
            page.evaluate(WITH_ADDRESS, [house.url.rstrip("/"), CLASS_ADDRESS])
            yield page

    @contextmanager
    def _store(self) -> Iterator[tuple[Store, FakeLibrary]]:
        """A copy of the record, and sounds."""
        with tempfile.TemporaryDirectory(dir=self._record.parent) as scratch:
            record, sounds = Path(scratch) / "record", Path(scratch) / "sounds"
            shutil.copytree(self._record, record)
            sounds.mkdir()
            with Store.open(record) as store:
                yield store, FakeLibrary(sounds)

    @contextmanager
    def _opened(self, house: House, screen: dict[str, Any]) -> Iterator[tuple[House, Page]]:
        """A server that answers, and an empty page of a browser."""
        house.open()
        context = self._browser.new_context(
            **screen, timezone_id="UTC", locale="en-GB", color_scheme="light"
        )
        context.set_default_timeout(PATIENCE_MS)
        yield house, context.new_page()
        context.close()
        house.close()

    def screens(self, picture: PagePicture, screen: dict[str, Any]) -> Iterator[Image.Image]:
        """A page in light and in dark colours."""
        with self.page(picture.address, screen, picture.learner) as page:
            picture.state(page)
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                height = round(screen["viewport"]["height"] * picture.screens)
                yield _cut(_shot(page, full_page=picture.screens > 1), height)

    def class_screen(
        self, picture: ClassPicture, screen: dict[str, Any], *, dark: bool
    ) -> Image.Image:
        """A page of the class server."""
        with self.class_page(picture, screen) as page:
            page.emulate_media(color_scheme="dark" if dark else "light")
            height = round(screen["viewport"]["height"] * picture.screens)
            return _cut(_shot(page, full_page=picture.screens > 1), height)

    def readme(self, picture: ReadmePicture) -> Image.Image:
        """A picture of README."""
        desk = {"viewport": DESK["viewport"] | {"height": picture.height}}
        with self.page(picture.address, TABLET if picture.is_tablet else desk) as page:
            if picture.is_dark:
                page.emulate_media(color_scheme="dark")
            picture.state(page)
            if picture.crop:
                return _shot(page.locator(picture.crop).first)
            return _shot(page)


def _shot(of: Any, **how: Any) -> Image.Image:
    """A page or a part of one as it stands, without a blinking caret."""
    return Image.open(BytesIO(of.screenshot(animations="disabled", **how))).convert("RGB")


def _cut(image: Image.Image, height: int) -> Image.Image:
    """The top of a page; one that is shorter goes on as it ends."""
    ground = image.getpixel((2, image.height - 2))
    drawn = Image.new("RGB", (image.width, height), ground)
    drawn.paste(image, (0, 0))
    return drawn


def compose(
    desks: Iterable[Image.Image], tablets: Iterable[Image.Image], desk_width: int = DESK_WIDTH
) -> Image.Image:
    """The desks one over the other, the tablets beside them, all as high as the desks."""
    left = [_scaled(each, desk_width / each.width) for each in desks]
    height = sum(each.height for each in left) + GAP * (len(left) - 1)
    right = [_scaled(each, height / each.height) for each in tablets]
    width = desk_width + sum(GAP + each.width for each in right)
    drawn = Image.new("RGB", (width, height), BACKGROUND)
    for k, each in enumerate(left):
        drawn.paste(each, (0, k * (left[0].height + GAP)))
    x = desk_width + GAP
    for each in right:
        drawn.paste(each, (x, 0))
        x += each.width + GAP
    return drawn


def _scaled(image: Image.Image, factor: float) -> Image.Image:
    size = round(image.width * factor), round(image.height * factor)
    return image.resize(size, Image.Resampling.HAMMING)


def save(image: Image.Image, path: Path) -> None:
    """Write a picture with few colours, and say how large it is.

    The colours it has most of stay as they are; the others are those of the edges of letters.
    """
    path.parent.mkdir(exist_ok=True)
    pixels = np.asarray(image, np.int32)
    colours, counts = np.unique(pixels.reshape(-1, 3), axis=0, return_counts=True)
    flat = colours[np.argsort(-counts, kind="stable")[:FLAT_COLOURS]]
    edges = image.quantize(EDGE_COLOURS, Image.Quantize.MAXCOVERAGE).getpalette() or []
    palette = np.concatenate([flat, np.array(edges, np.int32).reshape(-1, 3)])
    few = Image.fromarray(_nearest(pixels, palette), "P")
    few.putpalette(palette.astype(np.uint8).tobytes())
    few.save(path, optimize=True)
    print(f"{path.relative_to(DOCS.parent)}: {path.stat().st_size / 1000:.0f} kB")


def _nearest(pixels: NDArray[np.int32], palette: NDArray[np.int32]) -> NDArray[np.uint8]:
    """For each pixel the colour of the palette that is nearest to it.

    Pillow's own search takes neighbours for one another, so that white is no longer white.
    """
    packed = pixels @ np.array([1 << 16, 1 << 8, 1])
    found, inverse = np.unique(packed, return_inverse=True)
    colours = np.stack([found >> 16, found >> 8 & 255, found & 255], axis=1)
    distances = ((colours[:, None] - palette[None]) ** 2).sum(axis=2)
    nearest: NDArray[np.uint8] = distances.argmin(axis=1).astype(np.uint8)
    return nearest[inverse].reshape(packed.shape)


def sheet() -> Image.Image:
    """A sheet as it is printed, within the edge of its paper."""
    text = (DOCS.parent / "exercises" / "songs" / f"{SHEET.song}.txt").read_text("utf-8")
    drawn = Image.open(BytesIO(write_sheet(parse(text), kind="png"))).convert("RGB")
    return ImageOps.expand(_scaled(drawn, SHEET_WIDTH / drawn.width), 1, BACKGROUND)


def make(browser: Browser, folder: Path, names: frozenset[str]) -> None:
    """Make the pictures of those names."""
    readme = [one for one in README_PICTURES if f"{one.name}.png" in names]
    pages = [one for one in PAGES if one.name in names]
    if readme or pages:
        make_home(Camera(browser, *_filled(folder / "home", fill)), readme, pages)
    class_pages = [one for one in CLASS_PAGES if f"class/{one.name}" in names]
    if class_pages:
        make_class(Camera(browser, *_filled(folder / "class", fill_class)), class_pages)


def make_home(
    camera: Camera, readme: Iterable[ReadmePicture], pages: Iterable[PagePicture]
) -> None:
    """Make pictures of what somebody sees at home."""
    for picture in readme:
        save(camera.readme(picture), DOCS / f"{picture.name}.png")
    for page in pages:
        four = compose(list(camera.screens(page, DESK)), list(camera.screens(page, TABLET)))
        save(four, DOCS / "pages" / f"{page.name}.png")


def make_class(camera: Camera, pages: Iterable[ClassPicture]) -> None:
    """Make pictures of the class server."""
    for page in pages:
        desk = camera.class_screen(page, DESK, dark=False)
        tablet = camera.class_screen(page, TABLET, dark=True)
        save(compose([desk], [tablet], CLASS_DESK_WIDTH), DOCS / "class" / f"{page.name}.png")


def _filled(
    folder: Path, put: Callable[[Store], Mapping[str, object]]
) -> tuple[Path, Mapping[str, object]]:
    """A record in a folder of its own, and what its addresses name."""
    record = folder / "record"
    record.parent.mkdir()
    with Store.open(record) as store:
        return record, put(store)


def main() -> None:
    """Make what the arguments name: a page by its name, with "class/" before it for one of the
    class server, a picture of README by its file's."""
    os.environ["TZ"] = "UTC"
    time.tzset()
    printed = f"{SHEET.name}.png"
    known = {f"{one.name}.png" for one in README_PICTURES} | {printed}
    known |= {one.name for one in PAGES} | {f"class/{one.name}" for one in CLASS_PAGES}
    names = frozenset(sys.argv[1:]) or frozenset(known)
    if names - known:
        sys.exit(f"found {sorted(names - known)}, expected some of {sorted(known)}")
    (DOCS / "pages.md").write_text(pages_text(), "utf-8")
    (DOCS / "class-pages.md").write_text(class_pages_text(), "utf-8")
    if printed in names:
        save(sheet(), DOCS / printed)
    if names == {printed}:
        return
    path = next(filter(None, map(shutil.which, CHROMIUM)), None)
    if path is None:
        sys.exit(f"no browser: looked for {', '.join(CHROMIUM)}; apt-get install {CHROMIUM[0]}")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        make(browser, Path(folder), names)
        browser.close()


if __name__ == "__main__":
    main()
