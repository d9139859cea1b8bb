"""Pages that are sent again: nothing older than the last write, tokens for each person, nothing of one for another."""

from __future__ import annotations

import asyncio
import re
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from fastapi.testclient import TestClient
from tests.unit.small_car import small_car

from boostproof.jobs.store import Store
from boostproof.web.kept_pages import AT_ONCE, KeptPages
from boostproof.web.once import FIELD, renewed, token_field

PAGES = ("car", "pulls", "bench", "verdict", "repair", "repair/ladder", "proof", "report")
TOKEN = re.compile(rf'name="{FIELD}" value="([^"]+)"')


class Counted:
    """An application that answers with how often it was asked."""

    def __init__(self, status: int = 200, size: int = 0) -> None:
        self.asked, self.status, self.size = 0, status, size
        self.meanwhile = lambda: None

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        self.asked += 1
        body = f"page {self.asked}".encode().ljust(self.size)
        self.meanwhile()
        await send({"type": "http.response.start", "status": self.status, "headers": [(b"content-type", b"text/html")]})
        await send({"type": "http.response.body", "body": body})


def ask(app: Any, path: str, *, query: str = "", method: str = "GET", accept: str = "text/html") -> bytes:
    """The body of an answer."""
    sent: list[Any] = []
    scope = {
        "type": "http", "method": method, "path": path, "query_string": query.encode(),
        "headers": [(b"accept", accept.encode())],
    }  # fmt: skip

    async def send(message: Any) -> None:
        sent.append(message)

    with ThreadPoolExecutor(1) as pool:  # a browser that other tests drive keeps a loop in this thread
        pool.submit(asyncio.run, app(scope, None, send)).result()
    return sent[1]["body"]


def test_a_page_is_made_once_for_each_question_until_somebody_writes() -> None:
    made, state = Counted(), [1]
    pages = KeptPages(made, state=lambda: state[0])
    assert ask(pages, "/jobs/1/car") == ask(pages, "/jobs/1/car") == b"page 1"
    assert ask(pages, "/jobs/2/car") == b"page 2"
    assert ask(pages, "/jobs/1/car", query="saved=1") == b"page 3"
    assert ask(pages, "/jobs/1/car", accept="application/json") == b"page 4"
    assert ask(pages, "/jobs/1/car") == b"page 1"
    state[0] = 2
    assert ask(pages, "/jobs/1/car") == b"page 5"


@pytest.mark.parametrize(
    ("path", "method"),
    [("/jobs/1/car", "POST"), ("/jobs/1/pulls/window", "GET"), ("/jobs/1/tasks/3", "GET"), ("/alive", "GET")],
)
def test_nothing_else_is_kept(path: str, method: str) -> None:
    pages = KeptPages(Counted(), state=lambda: 1)
    assert [ask(pages, path, method=method) for _ in range(2)] == [b"page 1", b"page 2"]


def test_a_page_that_went_wrong_is_not_kept() -> None:
    pages = KeptPages(Counted(status=422), state=lambda: 1)
    assert [ask(pages, "/jobs/1/car") for _ in range(2)] == [b"page 1", b"page 2"]


def test_a_page_that_was_made_while_somebody_wrote_is_old() -> None:
    made, state = Counted(), [1]
    pages = KeptPages(made, state=lambda: state[0])

    def write() -> None:
        state[0] += 1

    made.meanwhile = write
    ask(pages, "/jobs/1/car")
    made.meanwhile = lambda: None
    assert ask(pages, "/jobs/1/car") == ask(pages, "/jobs/1/car") == b"page 2"


def test_what_has_a_hand_in_a_page_besides_the_store_counts() -> None:
    other = {"/jobs/1/verdict": 1}
    pages = KeptPages(Counted(), state=lambda: 1, beside=other.get)
    assert ask(pages, "/jobs/1/verdict") == ask(pages, "/jobs/1/verdict") == b"page 1"
    other["/jobs/1/verdict"] = 2
    assert ask(pages, "/jobs/1/verdict") == b"page 2"


def test_the_page_asked_for_longest_ago_goes_where_many_are_held() -> None:
    pages = KeptPages(Counted(size=1000), state=lambda: 1, most=3500)
    for job in (1, 2, 3, 1, 4):
        ask(pages, f"/jobs/{job}/car")
    assert ask(pages, "/jobs/1/car").strip() == b"page 1"
    assert ask(pages, "/jobs/2/car").strip() == b"page 5"


def test_each_page_has_tokens_of_its_own() -> None:
    page = f"<form>{token_field()}</form><form>{token_field()}</form>".encode()
    tokens = TOKEN.findall(page.decode())
    others = TOKEN.findall(renewed(page).decode())
    assert len({*tokens, *others}) == 4
    assert all(len(token) == 16 for token in others)
    assert TOKEN.sub("", renewed(page).decode()) == TOKEN.sub("", page.decode())


@pytest.mark.parametrize("page", PAGES)
def test_pages_of_a_job_change_with_what_another_program_writes(client: TestClient, store: Store, page: str) -> None:
    job = store.new_job(small_car()).id
    first = client.get(f"/jobs/{job}/{page}")
    again = client.get(f"/jobs/{job}/{page}")
    assert first.status_code == again.status_code == 200
    assert TOKEN.sub("", first.text) == TOKEN.sub("", again.text)
    assert first.headers["content-security-policy"] == again.headers["content-security-policy"]
    with Store.open(store.root) as other:
        other.write(job, "car.toml", small_car().replace('name = "', 'name = "Renamed '))
    assert "Renamed" not in again.text and "Renamed" in client.get(f"/jobs/{job}/{page}").text
    with Store.open(store.root) as other:
        other.settings.set("bay", "dark")
    assert 'data-bay="dark"' in client.get(f"/jobs/{job}/{page}").text


def test_a_form_sent_from_a_page_that_was_kept_counts_once_for_each_person(client: TestClient) -> None:
    tokens = {tuple(TOKEN.findall(client.get("/").text)) for _ in range(3)}
    assert len(tokens) == 3 and all(tokens)


def test_a_second_look_makes_no_page(client: TestClient, store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    job = store.new_job(small_car()).id
    client.get(f"/jobs/{job}/car")
    monkeypatch.setattr("boostproof.web.pages.car.car_page", lambda *a, **k: pytest.fail("made again"))
    assert client.get(f"/jobs/{job}/car").status_code == 200


class Slow:
    """An application that takes a while, and knows how many it answers at once."""

    def __init__(self) -> None:
        self.asked: list[str] = []
        self.now = self.most = 0

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        self.asked.append(scope["path"])
        self.now += 1
        self.most = max(self.most, self.now)
        await asyncio.sleep(0.01)
        self.now -= 1
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"page"})


def ask_at_once(app: Any, paths: list[str], send: Any) -> None:
    async def all_of_them() -> None:
        scopes = [{"type": "http", "method": "GET", "path": path, "query_string": b"", "headers": []} for path in paths]
        await asyncio.wait_for(asyncio.gather(*(app(scope, None, send) for scope in scopes)), 20.0)

    with ThreadPoolExecutor(1) as pool:
        pool.submit(asyncio.run, all_of_them()).result()


def test_pages_are_made_few_at_a_time_in_the_order_asked_for_and_once_for_all() -> None:
    made, sent = Slow(), []

    async def send(message: Any) -> None:
        sent.append(message)

    paths = [f"/jobs/{job}/car" for job in range(1, 9)]
    ask_at_once(KeptPages(made, state=lambda: 1), [*paths, *paths], send)
    assert made.asked == paths and made.most == AT_ONCE
    assert len(sent) == 2 * 2 * len(paths)


def test_who_reads_slowly_holds_nobody_up() -> None:
    made, read = Slow(), asyncio.Event()
    bodies = []

    async def send(message: Any) -> None:
        if message["type"] == "http.response.body":
            bodies.append(message)
            if len(bodies) == 2 * AT_ONCE:
                read.set()
            await read.wait()  # the first are read when the last are

    ask_at_once(KeptPages(made, state=lambda: 1), [f"/jobs/{job}/car" for job in range(2 * AT_ONCE)], send)
    assert len(bodies) == 2 * AT_ONCE
