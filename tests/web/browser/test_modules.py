"""The scripts' own work, run in the browser."""

from __future__ import annotations

import json
import random

from tests.web.browser.house import House, Opened
from trainer.chart import parse_tolerant
from trainer.drill.stamps import bars_done_s, read_stamps

STAMP = """async (steps) => {
  const { Stamps } = await import("/static/stamps.js");
  const stamps = new Stamps("");
  for (const [text, seconds] of steps) stamps.update(text, seconds);
  const again = new Stamps(stamps.text, stamps.runs());
  return [JSON.stringify(stamps.runs()), JSON.stringify(again.runs())];
}"""


def test_each_bar_has_the_time_it_was_written(known: House, open_page: Opened) -> None:
    """Bars written in any order, mended and joined, have the time of their last change."""
    page = open_page(known.url)
    steps: list[list[object]] = [
        ["1", None], ["1 ", 1], ["1 4", 2], ["1 4 5", 3], ["1 4 6", 4], ["1 4 6-", 5],
        ["1 (4 2-) 6-", 6], ["V:\n1 (4 2-) 6-", 7],
    ]  # fmt: skip
    runs, again = page.evaluate(STAMP, steps)
    assert runs == again
    text = str(steps[-1][0])
    kept = read_stamps(runs)
    assert kept is not None
    assert bars_done_s(text, parse_tolerant(text).bar_spans, kept) == (None, 6.0, 5.0)


def test_times_fit_the_text_whatever_is_edited(known: House, open_page: Opened) -> None:
    """After random edits there is one time for each character, and untouched ones keep theirs."""
    page = open_page(known.url)
    rng = random.Random(4)
    for _ in range(30):
        text = ""
        steps: list[tuple[str, int]] = []
        for second in range(40):
            at = rng.randint(0, len(text))
            cut = rng.randint(0, 2)
            text = text[:at] + rng.choice(["1", "4 ", "🎸", "", "5/7\n"]) + text[at + cut :]
            steps.append((text, second))
        runs, again = page.evaluate(STAMP, steps)
        assert runs == again
        count = sum(run[0] for run in json.loads(runs))
        assert count == len(text.encode("utf-16-le")) // 2
        before = steps[-2][0]
        untouched = page.evaluate(STAMP, [*steps[:-1], (before, 999)])[0]
        assert "999" not in untouched


def test_the_page_keeps_to_its_rules(known: House, open_page: Opened) -> None:
    """The browser runs no script but ours, and loads nothing from elsewhere."""
    page = open_page(known.url)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(known.url)
    blocked = page.evaluate(
        """async () => {
          let ran = "nothing";
          const name = "securitypolicyviolation";
          document.addEventListener(name, (e) => { ran = e.violatedDirective; });
          const script = document.createElement("script");
          script.textContent = "window.evil = true";
          document.body.append(script);
          await new Promise((done) => setTimeout(done, 50));
          return [window.evil ?? false, ran];
        }"""
    )
    assert blocked == [False, "script-src-elem"]
    assert all(url.startswith(known.url) for url in asked)
