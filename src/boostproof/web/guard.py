"""What stands before every page: whose requests are heard, how large they may be, and what a page may load.

* The ``Host`` must be one of ours, so that a foreign name pointed at this machine leads nowhere (400).
* What changes something must come from one of our own pages: ``Origin`` equals ``Host`` (403). Programs
  send no ``Origin``; browsers always do for such requests, whatever page they come from.
* A body is counted while it is received and cut off at its limit (413), with or without a stated length.
* Every answer carries the content policy: nothing is loaded from elsewhere, no script or style in a page.
"""

from __future__ import annotations

import json
from collections.abc import Collection

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_FORM = 2_000_000  # bytes
LARGEST_UPLOAD = 600_000_000  # a log of an afternoon, or a whole case
OWN_HOSTS = ("localhost", "127.0.0.1", "[::1]")

_CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "font-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
HEADERS = {
    "Content-Security-Policy": _CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    # Not "no-referrer": with it a browser hides the origin of our own forms, too.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
_HEARD_OUT = 4  # times the limit: so much more is received and dropped before the answer
_ONLY_READ = {"GET", "HEAD", "OPTIONS"}


class Guard:
    """The application behind its guard.

    Parameters
    ----------
    app : what is guarded
    hosts : names and addresses that this server answers to, without ports
    """

    def __init__(self, app: ASGIApp, *, hosts: Collection[str] = OWN_HOSTS, largest_form: int = LARGEST_FORM,
                 largest_upload: int = LARGEST_UPLOAD) -> None:
        self.app = app
        self.hosts = {host.lower() for host in hosts}
        self.largest_form = largest_form
        self.largest_upload = largest_upload

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        answer = _WithHeaders(send)
        refusal = self._refusal(scope["method"], headers)
        if refusal is not None:
            await _refuse(answer, *refusal)
            return
        limit = self._limit(headers)
        if int(headers.get("content-length") or 0) > limit:
            await _let_out(receive, _HEARD_OUT * limit)
            await _refuse(answer, 413, *_TOO_LARGE)
            return
        counted = _Counted(receive, answer, limit)
        await self.app(scope, counted.receive, counted.send)

    def _refusal(self, method: str, headers: Headers) -> tuple[int, str, str, str] | None:
        host = headers.get("host", "")
        if _without_port(host).lower() not in self.hosts:
            return 400, *_WRONG_HOST
        length = headers.get("content-length", "0")
        if not (length.isascii() and length.isdigit()):
            return 400, *_WRONG_LENGTH
        if method in _ONLY_READ:
            return None
        origin = headers.get("origin")
        foreign = headers.get("sec-fetch-site", "same-origin") not in {"same-origin", "none"}
        if foreign if origin is None else origin.partition("://")[2].lower() != host.lower():
            return 403, *_WRONG_ORIGIN
        return None

    def _limit(self, headers: Headers) -> int:
        upload = headers.get("content-type", "").lower().startswith("multipart/form-data")
        return self.largest_upload if upload else self.largest_form


class _WithHeaders:
    """Puts our headers on every answer."""

    def __init__(self, send: Send) -> None:
        self._send = send

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            headers.setdefault("Cache-Control", "no-store")
        await self._send(message)


async def _let_out(receive: Receive, most: int) -> None:
    """Drop what is still sent: a browser that is cut off while it sends never reads why."""
    while most > 0:
        message = await receive()
        most -= len(message.get("body", b""))
        if message["type"] != "http.request" or not message.get("more_body", False):
            return


class _Counted:
    """Counts a body as it comes.

    Once it is too large the application is told that the sender left, so that it does nothing with the part
    that it has, and its answer gives way to 413.
    """

    def __init__(self, receive: Receive, send: Send, limit: int) -> None:
        self._receive, self._send = receive, send
        self._limit = self._left = limit
        self._too_large = self._answered = False

    async def receive(self) -> Message:
        if self._too_large:
            return {"type": "http.disconnect"}
        message = await self._receive()
        if message["type"] == "http.request":
            self._left -= len(message.get("body", b""))
            if self._left < 0:
                self._too_large = True
                if message.get("more_body", False):
                    await _let_out(self._receive, _HEARD_OUT * self._limit)
                return {"type": "http.disconnect"}
        return message

    async def send(self, message: Message) -> None:
        if not self._too_large:
            await self._send(message)
        elif not self._answered:
            self._answered = True
            await _refuse(self._send, 413, *_TOO_LARGE)


def _without_port(host: str) -> str:
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0]


# kind, what is said, what to do. The guard stands before the pages and their words, and is read by people
# only when something is badly wrong; so these few sentences stand here.
_WRONG_HOST = ("wrong-host", "This server does not answer to that name.", "Use the address that it printed when it started.")
_WRONG_LENGTH = ("wrong-length", "The length of what was sent is not a number.", "Send it again.")
_WRONG_ORIGIN = (
    "wrong-origin", "This did not come from a page of this server, so nothing was changed.",
    "Open the page from the address that the server printed, and try again.",
)  # fmt: skip
_TOO_LARGE = (
    "too-large", "What was sent is larger than this server takes, so nothing was kept.",
    "Cut the recording down to the pulls, or send fewer files at once.",
)  # fmt: skip


async def _refuse(send: Send, status: int, kind: str, says: str, do: str) -> None:
    error = {"kind": kind, "where": "", "says": says, "do": do}
    body = json.dumps({"format": 1, "error": error}, ensure_ascii=False).encode()
    length = str(len(body)).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", length), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
