"""The interface for programs: its own page and its description, both made from the routes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, FastAPI, Request
from starlette.responses import Response

from boostproof.web.page import Page, answer, frame, json_answer, shows, store_of, work_of

if TYPE_CHECKING:
    from typing import Any

router = APIRouter()


@dataclass(frozen=True)
class FieldRow:
    """One value that a request takes."""

    name: str
    kind: str
    must: bool


@dataclass(frozen=True)
class RouteRow:
    """One address: method, what it does, what it takes, and the name of the page that it answers with."""

    method: str
    path: str
    says: str
    takes: tuple[FieldRow, ...]
    gives: str


@dataclass(frozen=True, kw_only=True)
class InterfacePage(Page):
    """Every address of the server."""

    routes: tuple[RouteRow, ...]


def route_rows(app: FastAPI) -> tuple[RouteRow, ...]:
    """Every documented address, as its routes declare it."""
    description = app.openapi()
    return tuple(
        _row(description, path, method, operation)
        for path, operations in description["paths"].items()
        for method, operation in operations.items()
    )


def _row(description: dict[str, Any], path: str, method: str, operation: dict[str, Any]) -> RouteRow:
    says = " ".join(operation.get("description", operation.get("summary", "")).split()).replace("``", "")
    takes = [
        FieldRow(one["name"], _kind(one["schema"]), bool(one.get("required")))
        for one in operation.get("parameters", ())
        if one["in"] == "query"
    ]
    for content in operation.get("requestBody", {}).get("content", {}).values():
        schema = _resolved(description, content["schema"])
        must = schema.get("required", ())
        takes += [FieldRow(name, _kind(one), name in must) for name, one in schema.get("properties", {}).items()]
    answers = operation["responses"].get("200", {}).get("content", {})
    gives = answers.get("application/json", {}).get("schema", {}).get("$ref", "").rpartition("/")[2]
    return RouteRow(method.upper(), path, says, tuple(takes), gives)


def _resolved(description: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    name = schema.get("$ref", "").rpartition("/")[2]
    found: dict[str, Any] = description["components"]["schemas"][name] if name else schema
    return found


def _kind(schema: dict[str, Any]) -> str:
    if schema.get("type") == "array":
        return "files" if "contentMediaType" in schema["items"] or "format" in schema["items"] else "several"
    if "anyOf" in schema:
        return next((_kind(one) for one in schema["anyOf"] if one.get("type") != "null"), "text")
    return {"string": "text", "integer": "whole number", "number": "number", "boolean": "yes or no"}.get(
        schema.get("type", ""), "text"
    )


@router.get("/api", **shows(InterfacePage))
def show(request: Request) -> Response:
    """The interface for programs: every address, what it takes and gives."""
    page = InterfacePage(**frame(store_of(request), work_of(request), None, "interface"), routes=route_rows(request.app))
    return answer(request, page, "interface.html")


@router.get("/api/openapi.json")
def description(request: Request) -> Response:
    """The same as an OpenAPI 3.1 description, with the JSON schema of every page."""
    return json_answer(request.app.openapi())


@router.get("/alive")
def alive(request: Request) -> Response:
    """Whether the server runs."""
    return json_answer({"format": 1, "alive": True})
