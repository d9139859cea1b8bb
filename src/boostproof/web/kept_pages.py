"""Pages as they were sent, sent again for as long as nobody wrote to the store.

What a page shows follows from the store alone, and the store tells by one cheap number whether anybody, here or in
another program, has written since (`boostproof.jobs.remembered`). A page in which anything else has a hand is not
kept, or says so (``beside``). Tokens of forms are made anew for everybody who is sent a page.

Pages that must be made are made in the order in which they were asked for, few at a time: many at once would all be done
late, and who asks for a page that is being made would have it made twice.
"""

from __future__ import annotations

import asyncio
import re
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from boostproof.web import static
from boostproof.web.once import renewed
from boostproof.web.page import TEMPLATES, wants_json

MOST = 48_000_000  # bytes of pages held
AT_ONCE = 2  # pages made: one more than this program computes at a time, for while one waits for the disk
_PAGES = re.compile(r"/|/settings|/jobs/\d+/(car|pulls|bench|verdict|repair|repair/ladder|proof|report)")
_LONGEST_QUERY = 200  # characters; a longer one is not asked twice
_LOOK_EVERY = 1.0  # s; templates change only while somebody works on them


@dataclass(frozen=True)
class _Sent:
    """A page as it was sent: its headers and its body."""

    headers: list[tuple[bytes, bytes]]
    body: bytes


class Turns:
    """The turns in which pages are made; ``wanted`` counts those that are made or wait for their turn."""

    def __init__(self) -> None:
        self.wanted = 0
        self._free = asyncio.Semaphore(AT_ONCE)

    async def __aenter__(self) -> None:
        self.wanted += 1
        try:
            await self._free.acquire()
        except BaseException:  # who asked has left
            self.wanted -= 1
            raise

    async def __aexit__(self, *_: object) -> None:
        self.wanted -= 1
        self._free.release()


class KeptPages:
    """The application behind its kept pages.

    Parameters
    ----------
    app : what makes the pages
    state : a number that is another one as soon as anybody wrote to the store
    beside : what has a hand in a page besides the store, by the page's path
    most : bytes held
    turns : in which they are made, where somebody else looks at them too
    """

    def __init__(
        self, app: ASGIApp, *, state: Callable[[], int], beside: Callable[[str], object] = lambda path: None,
        most: int = MOST, turns: Turns | None = None,
    ) -> None:  # fmt: skip
        self._app, self._state, self._beside, self._most = app, state, beside, most
        self._lock = threading.Lock()
        self._held: OrderedDict[str, _Sent] = OrderedDict()
        self._of, self._size = -1, 0
        self._turns = turns or Turns()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] != "GET" or not _PAGES.fullmatch(scope["path"]):
            await self._app(scope, receive, send)
            return
        there = self._there(self._state(), self._question(scope))
        made: list[Message] = []
        if there is None:
            async with self._turns:
                state, question = self._state(), self._question(scope)
                there = self._there(state, question)  # somebody else may have had it made meanwhile
                if there is None:
                    made = await self._made(scope, receive)
                    sent = _whole(made)
                    if sent and len(scope["query_string"]) <= _LONGEST_QUERY and question == self._question(scope):
                        self._keep(state, question, sent)
        if there is not None:
            await _sent_again(there, send)
        for message in made:  # by now somebody else has the turn: whoever is sent to may be slow
            await send(message)

    async def _made(self, scope: Scope, receive: Receive) -> list[Message]:
        made: list[Message] = []

        async def take(message: Message) -> None:
            made.append(message)

        await self._app(scope, receive, take)
        return made

    def _question(self, scope: Scope) -> str:
        kind = "json" if wants_json(Request(scope)) else "html"
        path = scope["path"]
        query = scope["query_string"].decode("latin-1")
        return f"{kind} {path}?{query} {static.address('base.css')} {_templates()} {self._beside(path)}"

    def _there(self, state: int, question: str) -> _Sent | None:
        with self._lock:
            if state != self._of or question not in self._held:
                return None
            self._held.move_to_end(question)
            return self._held[question]

    def _keep(self, state: int, question: str, sent: _Sent) -> None:
        """``state`` was read before the page was made, so that what was written meanwhile makes it old."""
        with self._lock:
            if state != self._of:
                self._held.clear()
                self._of, self._size = state, 0
            before = self._held.pop(question, None)
            self._held[question] = sent
            self._size += len(sent.body) - (0 if before is None else len(before.body))
            while self._size > self._most:
                self._size -= len(self._held.popitem(last=False)[1].body)


def _whole(made: Sequence[Message]) -> _Sent | None:
    """What was answered, None where it is no page."""
    if not made or made[0].get("status") != 200 or made[-1].get("more_body", False):
        return None
    return _Sent(list(made[0]["headers"]), b"".join(message.get("body", b"") for message in made[1:]))


async def _sent_again(page: _Sent, send: Send) -> None:
    html = Headers(raw=page.headers).get("content-type", "").startswith("text/html")
    await send({"type": "http.response.start", "status": 200, "headers": list(page.headers)})
    await send({"type": "http.response.body", "body": renewed(page.body) if html else page.body})


def _templates() -> int:
    return _templates_at(int(time.monotonic() / _LOOK_EVERY))


@lru_cache(maxsize=1)
def _templates_at(look: int) -> int:
    """When a template was changed last."""
    return max(path.stat().st_mtime_ns for path in Path(TEMPLATES).rglob("*.html"))
