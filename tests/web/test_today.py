from __future__ import annotations

import re

from fastapi.testclient import TestClient

from tests.web.helpers import begin, exercise_of, hand_in, hear_out, keep_text
from trainer.chart import format_chart
from trainer.store import SetItem, Store
from trainer.web.context import LearnerContext


def next_item(client: TestClient) -> str:
    """Begin what comes next; the address it leads to."""
    answer = client.post("/today/begin", follow_redirects=False)
    assert answer.status_code == 303
    place: str = answer.headers["location"]
    return place


def skip(client: TestClient, item: SetItem) -> None:
    """Leave an item of the present set out."""
    fields = {"day": str(item.day), "number": str(item.number), "position": str(item.position)}
    assert client.post("/today/skip", data=fields).status_code == 200


def do_next(client: TestClient, context: LearnerContext) -> str:
    """Write the next item wholly right; the address of its result."""
    exercise_id = next_item(client).removeprefix("/write/")
    exercise = context.exercise(exercise_id).exercise
    return hand_in(client, exercise_id, format_chart(exercise.chart))


def test_a_newcomer_is_led_to_progress(stranger: TestClient) -> None:
    """From the first page buttons alone lead over placement and a first set to the progress page.

    The first main button of each page is pressed, a chart handed in if there is one to write; on
    the start page it is that of somebody who knows number charts.
    """
    page = stranger.get("/").text
    seen: list[str] = []
    for _ in range(60):
        button = re.search(
            r'<form method="post" action="([^"]+)"[^>]*>((?:(?!</form>).)*?)<button class="primary"'
            r'|<a class="button primary" href="([^"]+)"', page, re.DOTALL,
        )  # fmt: skip
        write = re.search(r'<form id="form" method="post" action="/write/([^"]+)"', page)
        if write:
            page = stranger.get(hear_out(stranger, write[1], "1 4 5 1")).text
            seen.append("result")
            continue
        assert button, page
        if button[3] == "/what-is-a-chart":
            page = page.partition('id="today"')[2]
            continue
        if button[3]:
            page = stranger.get(button[3]).text
            seen.append(button[3])
            if button[3] == "/progress":
                break
            continue
        fields = dict(re.findall(r'name="(\w+)" value="([^"]*)"', button[2]))
        page = stranger.post(button[1], data=fields).text
        seen.append(button[1])
    assert seen[:2] == ["/hearing", "/today/begin"]
    assert seen[-1] == "/progress"
    assert "What you hear" in page
    assert seen.count("result") >= 4


def test_the_start_page_offers_it_first(client: TestClient, context: LearnerContext) -> None:
    """Whoever is new is asked to find the level before anything else."""
    page = client.get("/").text
    assert page.index("Find my level") < page.index("Begin level 1")
    assert context.sets.items == ()


def test_each_item_has_its_reason(client: TestClient, context: LearnerContext) -> None:
    """The day's page names every item's reason, and what became of it."""
    client.post("/today/unplaced")
    items = context.sets.items
    mine = [item for item in items if item.kind != "placement"]
    page = client.get("/today").text
    assert mine
    assert all(item.reason in page for item in mine)
    place = do_next(client, context)
    skip(client, mine[1])
    page = client.get("/today").text
    assert f'href="{place}"' in page
    assert ">skipped<" in page
    assert "Continue" in page


def test_a_set_waits_half_way(client: TestClient, context: LearnerContext) -> None:
    """Begun and left, the same exercise comes again; its draft is kept, and it says so."""
    place = next_item(client)
    keep_text(client, place.removeprefix("/write/"), "1 4")
    assert next_item(client) == place
    assert "begun" in client.get("/today").text
    assert "Exercise 1" in client.get(place).text


def test_a_set_is_done_and_another_comes(client: TestClient, context: LearnerContext) -> None:
    """When all items are done or skipped the page says so and offers one more set."""
    client.post("/today/unplaced")
    client.post("/today/another")
    first = context.sets.items
    do_next(client, context)
    for item in first:
        if item.kind != "placement":
            skip(client, item)
    assert next_item(client) == "/today"
    page = client.get("/today").text
    assert "set is done" in page
    assert "finished today's set" in client.get("/").text
    client.post("/today/another")
    assert "<h1>Another set</h1>" in client.get("/today").text
    assert len(context.sets.items) > len(first)


def test_the_result_leads_on(client: TestClient, context: LearnerContext) -> None:
    """The result of an item of the set has the next one as its main button."""
    page = client.get(do_next(client, context)).text
    assert "Next exercise" in page


def test_an_item_of_nobody(client: TestClient) -> None:
    """What is no item of today's set cannot be skipped."""
    for place in ("7", "-1", str(10**30)):
        fields = {"day": "2026-03-02", "number": "1", "position": place}
        assert client.post("/today/skip", data=fields).status_code in {404, 422}
    fields = {"day": "2026-03-01", "number": "1", "position": "1"}
    assert client.post("/today/skip", data=fields).status_code == 404


def test_a_stranger_reads_the_caution_first(stranger: TestClient, store: Store) -> None:
    """Nothing is planned for whoever has not read the caution."""
    for answer in (
        stranger.get("/today", follow_redirects=False),
        stranger.post("/today/begin", follow_redirects=False),
    ):
        assert answer.headers["location"] == "/hearing"
    assert store.learners.all() == ()


def test_what_placement_found_is_told(client: TestClient, context: LearnerContext) -> None:
    """When the placement is over the day's page says what was found and where the course goes on,
    and the start page's next level is the same."""
    while True:
        if context.sets.plan()[-1].kind != "placement":
            break
        hear_out(client, next_item(client).removeprefix("/write/"), "1 4 5 1")
    said = re.search(r"You start the course at level (\d+)", client.get("/today").text)
    assert said
    assert f"Next: level {said[1]}<" in client.get("/").text


def test_a_missing_skill_leads_to_ten_more(client: TestClient, context: LearnerContext) -> None:
    """A whole at the mark without its skill is not passed; the page says which, and gives ten
    more."""
    exercise = exercise_of(7)
    exercise_id = begin(client, level="7", seed="7")
    text = re.sub(r"/\d(?!/)", "", format_chart(exercise.chart).split("\n\n", 1)[1])
    page = client.get(hear_out(client, exercise_id, text)).text
    assert "Level 7 passed" not in page
    assert "you still need more work on part of level 7" in page
    assert "Needs work: 5/7." in page
    assert "Look at bar" in page
    assert "a skill still needs work" in client.get("/").text
    assert "✓ passed" not in client.get("/history").text
    fields = {"level": "7", "skill": "bass 5/7"}
    answer = client.post("/today/more", data=fields, follow_redirects=False)
    first = answer.headers["location"].removeprefix("/write/")
    assert "bass 5/7" in context.exercise(first).exercise.skills
    shown = client.get("/today").text
    assert "<h1>Ten more: 5/7</h1>" in shown
    assert shown.count("More practice with 5/7, from level 7.") == 10
    assert client.post("/today/more", data={"level": "99", "skill": "hold"}).status_code == 404
    assert client.post("/today/more", data={"level": "7", "skill": "hold"}).status_code == 422
