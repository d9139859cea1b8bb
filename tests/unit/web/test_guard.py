"""Nobody from elsewhere is heard, nothing is too large, and no page loads anything from elsewhere."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from starlette.types import Message

from boostproof.jobs.store import Store


@pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "127.0.0.1.evil.example:80", "", "[::2]"])
def test_a_foreign_host_is_refused(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"host": host})
    assert answer.status_code == 400
    assert answer.json()["error"]["kind"] == "wrong-host"


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:8321", "127.0.0.1:9", "[::1]:8321"])
def test_our_own_names_are_heard(client: TestClient, host: str) -> None:
    assert client.get("/alive", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "origin",
    ["http://evil.example", "null", "http://localhost:1", "http://localhost:8321.evil.example", "localhost:8321", ""],
)
def test_a_change_from_a_foreign_page_is_refused(client: TestClient, store: Store, origin: str) -> None:
    answer = client.post("/jobs", data={"car": "x"}, headers={"origin": origin})
    assert answer.status_code == 403
    assert answer.json()["error"]["kind"] == "wrong-origin"
    assert store.jobs() == []


def test_a_foreign_page_without_its_origin_is_refused_a_program_is_not(app: FastAPI, store: Store) -> None:
    with TestClient(app, base_url="http://127.0.0.1:8321", follow_redirects=False) as program:
        crossing = program.post("/jobs", data={"car": "x"}, headers={"sec-fetch-site": "cross-site"})
        assert crossing.status_code == 403
        assert program.post("/jobs", data={"car": "from a program"}).status_code == 303
    assert [job.name for job in store.jobs()] == ["from a program"]


def test_a_form_that_says_that_it_is_too_large_is_refused(client: TestClient) -> None:
    answer = client.post("/jobs", data={"car": "x" * 60_000})
    assert answer.status_code == 413
    assert answer.json()["error"]["kind"] == "too-large"


@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "multipart/form-data; boundary=b"])
def test_a_body_without_a_length_is_counted(client: TestClient, store: Store, kind: str) -> None:
    def body() -> Iterator[bytes]:
        if "multipart" in kind:
            yield b'--b\r\nContent-Disposition: form-data; name="files"; filename="car.toml"\r\n\r\n'
        else:
            yield b"car="
        for _ in range(50):
            yield b"x" * 10_000
        yield b"\r\n--b--\r\n"

    path = "/jobs/bring" if "multipart" in kind else "/jobs"
    answer = client.post(path, content=body(), headers={"content-type": kind})
    assert answer.status_code == 413
    assert answer.json()["error"]["kind"] == "too-large"
    assert store.jobs() == []


def test_a_body_in_parts_is_cut_off_and_none_of_it_is_used(app: FastAPI, store: Store) -> None:
    parts = [b"car=" + b"x" * 30_000, b"x" * 30_000, b"y" * 30_000]

    async def ask() -> list[Message]:
        said: list[Message] = []

        async def receive() -> Message:
            return {"type": "http.request", "body": parts.pop(0), "more_body": bool(parts)}

        async def send(message: Message) -> None:
            said.append(message)

        headers = [(b"host", b"localhost"), (b"content-type", b"application/x-www-form-urlencoded")]
        scope = {
            "type": "http", "method": "POST", "path": "/jobs", "raw_path": b"/jobs", "query_string": b"", "root_path": "",
            "scheme": "http", "http_version": "1.1", "headers": headers, "server": ("localhost", 80), "client": None,
        }  # fmt: skip
        await app(scope, receive, send)
        return said

    # in a thread of its own: a browser that the tests of pages drive keeps a loop in this one
    with ThreadPoolExecutor(1) as pool:
        said = pool.submit(asyncio.run, ask()).result()
    assert [message["type"] for message in said] == ["http.response.start", "http.response.body"]
    assert said[0]["status"] == 413
    assert parts == [], "the rest is received, so that a browser reads the answer"
    assert store.jobs() == []


def test_a_length_that_is_no_number_is_refused(client: TestClient) -> None:
    assert client.post("/jobs", content=b"car=x", headers={"content-length": "-5"}).status_code == 400


@pytest.mark.parametrize("path", ["/", "/settings", "/api", "/nothing-here", "/alive", "/static/x/base.css"])
def test_every_answer_says_what_may_be_loaded(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = dict(part.split(" ", 1) for part in headers["content-security-policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


def test_a_refusal_says_so_too(client: TestClient) -> None:
    assert "content-security-policy" in client.get("/", headers={"host": "evil.example"}).headers


@pytest.mark.parametrize("path", ["/docs", "/redoc", "/openapi.json"])
def test_the_pages_of_the_framework_are_off(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404
