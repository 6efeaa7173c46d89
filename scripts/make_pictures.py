"""Make every picture of README and docs/pages.md from the program as it is.

`python -m scripts.make_pictures` makes all of them; with names such as `write`, only those.

The record of `picture_record` is made once; each screen gets a copy of it with a server of its own,
so that what is done on one screen is not seen on the next. Tones stand for the band, which no
picture shows.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps
from playwright.sync_api import Browser, Page, sync_playwright

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
SHEET_WIDTH = 800
PATIENCE_MS = 60_000


class Camera:
    """Takes pictures of pages, each from a fresh copy of the record."""

    def __init__(self, browser: Browser, folder: Path, places: Mapping[str, object]) -> None:
        self._browser, self._folder, self._places = browser, folder, places

    @contextmanager
    def page(self, address: str, screen: dict[str, Any], learner: str = LEARNER) -> Iterator[Page]:
        """An open page of a server of its own, in light colours."""
        with tempfile.TemporaryDirectory(dir=self._folder) as scratch:
            record, sounds = Path(scratch) / "record", Path(scratch) / "sounds"
            shutil.copytree(self._folder / "record", record)
            sounds.mkdir()
            with Store.open(record) as store:
                house = House(store, FakeLibrary(sounds), clock=lambda: NOW, learner=learner)
                house.open()
                context = self._browser.new_context(
                    **screen, timezone_id="UTC", locale="en-GB", color_scheme="light"
                )
                context.set_default_timeout(PATIENCE_MS)
                page = context.new_page()
                page.goto(house.url + address.format(**self._places))
                yield page
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


def compose(desks: Iterable[Image.Image], tablets: Iterable[Image.Image]) -> Image.Image:
    """Both desks one over the other, both tablets beside them, all as high as the desks."""
    left = [_scaled(each, DESK_WIDTH / each.width) for each in desks]
    height = sum(each.height for each in left) + GAP * (len(left) - 1)
    right = [_scaled(each, height / each.height) for each in tablets]
    width = DESK_WIDTH + sum(GAP + each.width for each in right)
    drawn = Image.new("RGB", (width, height), BACKGROUND)
    for k, each in enumerate(left):
        drawn.paste(each, (0, k * (left[0].height + GAP)))
    x = DESK_WIDTH + GAP
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
    """Make all pictures, or those of the names."""
    with Store.open(folder / "record") as store:
        camera = Camera(browser, folder, fill(store))
    for picture in README_PICTURES:
        if not names or f"{picture.name}.png" in names:
            save(camera.readme(picture), DOCS / f"{picture.name}.png")
    for page in PAGES:
        if not names or page.name in names:
            four = compose(list(camera.screens(page, DESK)), list(camera.screens(page, TABLET)))
            save(four, DOCS / "pages" / f"{page.name}.png")


def main() -> None:
    """Make what the arguments name: a page by its name, a picture of README by its file's."""
    os.environ["TZ"] = "UTC"
    time.tzset()
    names = frozenset(sys.argv[1:])
    known = {f"{one.name}.png" for one in (*README_PICTURES, SHEET)} | {one.name for one in PAGES}
    if names - known:
        sys.exit(f"found {sorted(names - known)}, expected some of {sorted(known)}")
    printed = f"{SHEET.name}.png"
    if not names or printed in names:
        save(sheet(), DOCS / printed)
    if names == {printed}:
        return
    path = next(filter(None, map(shutil.which, CHROMIUM)), None)
    if path is None:
        sys.exit(f"no browser: looked for {', '.join(CHROMIUM)}; apt-get install chromium")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        make(browser, Path(folder), names)
        browser.close()
    (DOCS / "pages.md").write_text(pages_text(), "utf-8")


if __name__ == "__main__":
    main()
