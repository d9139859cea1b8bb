"""Errors as pages: what is so, where, and what to do; nothing of the inside is shown."""

from __future__ import annotations

import logging
from dataclasses import dataclass

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from boostproof.errors import BoostproofError
from boostproof.web.page import Page, json_answer, render, store_of, units_of, wants_json
from boostproof.web.words import t

_LOG = logging.getLogger(__name__)
_STATUS = {"no-job": 404, "no-file": 404, "no-task": 404, "no-answer": 404, "not-found": 404,
           "changed-elsewhere": 409, "too-large": 413}


@dataclass(frozen=True, kw_only=True)
class ErrorPage(Page):
    """What went wrong: ``kind``, ``where``, ``says``, ``do``."""

    kind: str
    where: str
    says: str
    do: str
    status: int


def register(app: FastAPI) -> None:
    """Let the application answer every error with a page."""
    app.add_exception_handler(BoostproofError, _ours)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(HTTPException, _http)
    app.add_middleware(_Caught)


def status_of(error: BoostproofError) -> int:
    """The status code of one of our errors."""
    return _STATUS.get(error.kind, 422)


def error_answer(request: Request, status: int, kind: str, where: str, says: str, do: str) -> Response:
    """An error as page, or as the error object of every JSON answer."""
    if wants_json(request):
        return json_answer({"format": 1, "error": {"kind": kind, "where": where, "says": says, "do": do}}, status)
    title = t("frame.errors.title_missing" if status == 404 else "frame.errors.title_other")
    page = ErrorPage(
        title=title, units=units_of(store_of(request)), job=None, here="error",
        kind=kind, where=where, says=says, do=do, status=status,
    )  # fmt: skip
    return Response(render(request, page, "error.html"), status, media_type="text/html")


def _ours(request: Request, error: Exception) -> Response:
    assert isinstance(error, BoostproofError)
    return error_answer(request, status_of(error), error.kind, error.where, error.says, error.do)


def _not_understood(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    place, *field = [str(part) for part in first["loc"]]
    if place == "path":
        return _missing(request)
    return error_answer(
        request, 422, "not-understood", ".".join(field),
        t("frame.errors.not_understood"), t("frame.errors.not_understood_do"),
    )  # fmt: skip


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code in {404, 405}:
        return _missing(request, error.status_code)
    return error_answer(
        request, error.status_code, "not-understood", "",
        t("frame.errors.not_understood"), t("frame.errors.not_understood_do"),
    )  # fmt: skip


def _missing(request: Request, status: int = 404) -> Response:
    return error_answer(
        request, status, "not-found", request.url.path, t("frame.errors.missing"), t("frame.errors.missing_do")
    )


class _Caught:
    """A fault of ours becomes a page like any other, with the headers of every page; the log says what it was."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        begun = False

        async def watched(message: Message) -> None:
            nonlocal begun
            begun = True
            await send(message)

        try:
            await self._app(scope, receive, watched)
        except Exception:
            _LOG.exception("A page failed: %s", scope.get("path"))
            if begun:
                raise
            says, do = t("frame.errors.inside"), t("frame.errors.inside_do")
            await error_answer(Request(scope), 500, "internal", "", says, do)(scope, receive, send)
