"""The keys of the formats as three views: listed by hand, coded, and published as schemas."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from boostproof.bench.readings import READING_TYPES, ReadingsFile
from boostproof.car.spec import CarSpec
from boostproof.keys import Key, keys_of
from boostproof.recording.setup import PullsFile
from boostproof.units import DIMENSIONS

ROOT = Path(__file__).resolve().parent.parent
LIST = Path(__file__).with_name("formats.toml")
SCHEMAS = ROOT / "docs" / "schemas"

# Marks that say something about a value and are no sort of value.
MARKS = {"<must>", "<list>", "<gauge>", "<abs>", "<difference>", "<always>", "<refused>"}

Node = dict[str, Any]
Used = set[tuple[str, str, str]]


@dataclass(frozen=True)
class Entry:
    """One line of the list: sorts of value, words, words out of scope, and marks."""

    sorts: tuple[str, ...]
    words: tuple[str, ...]
    refused: tuple[str, ...]
    marks: frozenset[str]

    @property
    def dimension(self) -> str:
        """The dimension of its quantity, empty where it has none."""
        return next((sort[1:-1] for sort in self.sorts if sort[1:-1] in DIMENSIONS), "")

    @classmethod
    def read(cls, forms: Sequence[str]) -> Entry:
        """From the forms of a line."""
        end = forms.index("<refused>") if "<refused>" in forms else len(forms)
        marks = frozenset(form for form in forms if form in MARKS)
        sorts = tuple(f for f in forms[:end] if f.startswith("<") and f not in MARKS)
        words = tuple(f for f in forms[:end] if not f.startswith("<"))
        return cls(sorts, words, tuple(forms[end + 1 :]), marks)


@dataclass
class Sheet:
    """The keys of one file, or of the readings of one test: as listed, as coded, as published."""

    name: str
    schema: Node
    listed: dict[str, Entry]
    coded: dict[str, Key]
    published: dict[str, Node]


@dataclass
class Report:
    """What was found."""

    problems: list[str] = field(default_factory=list)
    used: Used = field(default_factory=set)
    texts: list[str] = field(default_factory=list)
    files: int = 0

    def wrong(self, *parts: str) -> None:
        """Note one problem."""
        self.problems.append(" ".join(part for part in parts if part))


# -- the three views of the keys ---------------------------------------------------------------------


def coded_keys(spec: type[Any], prefix: str = "") -> Iterator[tuple[str, Key]]:
    """Keys of a specification class and of all tables under it, in the list's notation."""
    for name, (_, key) in keys_of(spec).items():
        yield prefix + name, key
        if key.of is not None and key.of not in READING_TYPES.values() and name != "reading":
            under = {"table": ".", "mapping": ".*."}.get(key.kind, "[].")
            yield from coded_keys(key.of, f"{prefix}{name}{under}")


def published_keys(root: Node, node: Node, prefix: str = "") -> Iterator[tuple[str, Node]]:
    """The same out of a schema; the names of a mapping give one key with ``*``."""
    for name, value in node.get("properties", {}).items():
        yield prefix + name, value
        for alternative in value.get("anyOf", [value]):
            if "items" in alternative and "$ref" in alternative["items"] and name != "reading":
                yield from published_keys(root, _table_in(root, alternative["items"]), f"{prefix}{name}[].")
            elif "properties" in alternative:  # a mapping stands in its place, tables in $defs
                first = next(iter(alternative["properties"].values()))
                yield from published_keys(root, _table_in(root, first), f"{prefix}{name}.*.")
            elif "$ref" in alternative:
                yield from published_keys(root, _table_in(root, alternative), f"{prefix}{name}.")


def _table_in(root: Node, node: Node) -> Node:
    """The table that a node refers to, possibly as one of several forms; empty where there is none."""
    for alternative in node.get("anyOf", [node]):
        if "$ref" in alternative:
            found: Node = root["$defs"][alternative["$ref"].rsplit("/", 1)[1]]
            return found
    return {}


def _without_as(keys: dict[str, Any], tables: set[str]) -> tuple[dict[str, Any], set[str]]:
    """Keys without the ``as`` that any table may carry, and the tables that lack it."""
    have = {path.removesuffix("as").rstrip(".") for path in keys if re.search(r"(^|\.)as$", path)}
    return {path: key for path, key in keys.items() if not re.search(r"(^|\.)as$", path)}, tables - have


@cache
def the_list() -> dict[str, Any]:
    """formats.toml as read."""
    return tomllib.loads(LIST.read_text(encoding="utf-8"))


@cache
def schema(name: str) -> Node:
    """A published schema."""
    found: Node = json.loads((SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8"))
    return found


def make_sheets(report: Report) -> dict[str, Sheet]:
    """All sheets: car, pulls, readings, and one for each test id."""
    listed = the_list()
    sheets = {}
    for name, spec in (("car", CarSpec), ("pulls", PullsFile), ("readings", ReadingsFile)):
        entries = {path: Entry.read(forms) for path, forms in listed[name].items()}
        coded: dict[str, Key] = dict(coded_keys(spec))
        published = dict(published_keys(schema(name), schema(name)))
        if name == "car":
            tables = {path for path, entry in entries.items() if "<table>" in entry.sorts}
            tables |= {path.rsplit(".", 1)[0] for path in entries if "." in path}
            coded, lacking = _without_as(coded, tables)
            published, lacking_too = _without_as(published, tables)
            for table in sorted(lacking | lacking_too):
                report.wrong(f"car: {table} does not take as.")
        sheets[name] = Sheet(name, schema(name), entries, coded, published)
    root = schema("readings")
    reading = root["$defs"]["Reading"]
    for group in listed["test"]:
        for test in group["ids"]:
            entries = {p: Entry.read(f) for p, f in {**listed["reading"], **group["keys"]}.items()}
            published = dict(published_keys(root, reading))
            for branch in reading["allOf"]:
                if test in branch["if"]["anyOf"][0]["properties"]["test"]["enum"]:
                    published |= dict(published_keys(root, _table_in(root, branch["then"])))
            if test not in READING_TYPES:
                report.wrong(f"{test} is no test in the code.")
                continue
            sheets[test] = Sheet(test, root, entries, dict(coded_keys(READING_TYPES[test])), published)
    for test in READING_TYPES:
        if test not in sheets:
            report.wrong(f"{test} is not in the list.")
    return sheets
