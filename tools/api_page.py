"""The page docs/api.md, made from the routes: ``python -m tools.api_page`` writes it, ``--check`` only looks."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from boostproof.web.app import describe
from boostproof.web.pages.interface import RouteRow, route_rows

PAGE = Path(__file__).resolve().parent.parent / "docs" / "api.md"

_INTRO = """<!-- Made by tools/api_page.py; changes here are lost. -->
# The worksheet for programs

`boostproof serve --json` says the address as one JSON object. Every page is also JSON: ask with
`Accept: application/json`, or add `?as=json` to its address. A change is a form (`application/x-www-form-urlencoded`,
with files `multipart/form-data`), sent to the address given here; the answer, 303, leads to what shows it. The running
server has the same as `/api`, and as an OpenAPI description with the JSON schema of every page at `/api/openapi.json`.

- Only requests to `localhost`, `127.0.0.1` or `[::1]` are heard (else 400). A browser's `Origin` must be the server itself
  where something is changed (else 403); a program sends none.
- A form may hold 2 MB, files 600 MB at once (else 413).
- `once`, anything of your own choice in a form that adds something, makes the same form sent again count once: the second
  answer is that of the first.
- An error is one object, `{"format": 1, "error": {"kind", "where", "says", "do"}}`: 404 not there, 409 changed elsewhere
  since, 422 not taken, 500 a fault of the program.
- Numbers carry their unit in their name (`boost_kpa_gauge`); texts are in the units of the shop (`units`).

Every page of a job begins with `title`, `units`, `job`, `here`, `came_from` and `went_on` (the job of the same car before
its repair, and after it), `stations` (its six pages, each with what it holds), `next` (what would help most next) and
`notices`.

## Addresses
"""
_COMMON = {"title", "units", "job", "here", "came_from", "went_on", "stations", "next", "notices"}


def page() -> str:
    """Text of the page."""
    app = describe()
    lines = [_INTRO]
    for row in route_rows(app):
        lines += _route(row)
    lines.append("\n## What the pages hold\n")
    schemas = app.openapi()["components"]["schemas"]
    for name in sorted(row.gives for row in route_rows(app) if row.gives):
        lines += _schema(name, schemas[name])
    return "\n".join(lines) + "\n"


def _route(row: RouteRow) -> Iterable[str]:
    yield f"- `{row.method} {row.path}`"
    yield f"  {row.says}"
    if row.takes:
        takes = ", ".join(f"`{one.name}` ({one.kind}{', must' if one.must else ''})" for one in row.takes)
        yield f"  Takes {takes}."
    if row.gives:
        yield f"  Gives `{row.gives}`."


def _schema(name: str, schema: dict[str, Any]) -> Iterable[str]:
    yield f"- `{name}`: " + ", ".join(
        f"`{field}` ({_kind(one)})" for field, one in schema["properties"].items() if field not in _COMMON
    )


def _kind(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        return str(schema["$ref"]).rpartition("/")[2]
    if "anyOf" in schema:
        return " or ".join(dict.fromkeys(_kind(one) for one in schema["anyOf"]))
    if schema.get("type") == "array":
        return f"list of {_kind(schema.get('items', {}))}"
    words = {"string": "text", "integer": "whole number", "boolean": "true or false", "null": "none", "object": "object"}
    return words.get(schema.get("type", ""), schema.get("type", "any"))


def main() -> int:
    """Write the page, or say whether it is what the routes make."""
    if "--check" not in sys.argv[1:]:
        PAGE.write_text(page(), encoding="utf-8")
        return 0
    current = PAGE.is_file() and PAGE.read_text(encoding="utf-8") == page()
    if not current:
        sys.stderr.write("docs/api.md is not what the routes make; run: python -m tools.api_page\n")
    return 0 if current else 1


if __name__ == "__main__":
    raise SystemExit(main())
