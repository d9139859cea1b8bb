"""JSON Schemas of car.toml, readings.toml and pulls.toml, made from the rows that the readers use.

``python -m boostproof.casefolder.schemas docs/schemas`` writes them. They are JSON Schema 2020-12 over
the parsed TOML. A schema says which keys and words there are, spelled as we spell them (the readers
take words in any case); that a quantity can be read and that values agree is for the readers to say.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from boostproof.bench.readings import READING_TYPES, REPEATABLE, HotRepeat, Reading, ReadingsFile
from boostproof.car.spec import CarSpec
from boostproof.keys import Key, keys_of
from boostproof.quantity import example
from boostproof.recording.setup import PullsFile
from boostproof.units import accepted_units, dimension_phrase

__all__ = ["SCHEMAS", "car_schema", "main", "pulls_schema", "readings_schema", "write_schemas"]

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
# A number somewhere and after it something that is no number: enough to refuse one without a unit.
QUANTITY_PATTERN = r"[0-9].*[^0-9.,\s+-]"

_TEXT: Schema = {"type": "string", "minLength": 1}
_PULLS = r"^\s*[1-9]\d*(\s*-(\s*\d+)?)?\s*(,\s*[1-9]\d*(\s*-(\s*\d+)?)?\s*)*$"


class _Maker:
    """One schema in the making, with the tables and dimensions that it refers to."""

    def __init__(self) -> None:
        self.defs: dict[str, Schema] = {}

    def table(self, spec: type[Any]) -> Schema:
        """A reference to the table of a specification class, defined on first use."""
        if spec.__name__ not in self.defs:
            self.defs[spec.__name__] = {}  # keeps its place, and ends a table within itself
            self.defs[spec.__name__] = self.closed(spec)
        return {"$ref": f"#/$defs/{spec.__name__}"}

    def closed(self, spec: type[Any]) -> Schema:
        """A table that has these keys and no others."""
        return {**self.open(spec), "additionalProperties": False}

    def open(self, spec: type[Any], without: Sequence[str] = ()) -> Schema:
        """The keys of a specification class, others not refused."""
        keys = {name: key for name, (_, key) in keys_of(spec).items() if name not in without}
        made: Schema = {"type": "object", "properties": {name: self.value(key) for name, key in keys.items()}}
        required = [name for name, key in keys.items() if key.must]
        if required:
            made["required"] = required
        return made

    def value(self, key: Key) -> Schema:
        """What may stand behind one key, with its sentence and its example."""
        forms = self._forms(key)
        if key.words:
            forms.append({"enum": list(key.words)})
        if key.flag_too:
            forms.append({"type": "boolean"})
        made = forms[0] if len(forms) == 1 else {"anyOf": forms}
        said: Schema = {"description": self._says(key)}
        shown = _example(key)
        if shown is not None:
            said["examples"] = [shown]
        return {**said, **made}

    def _forms(self, key: Key) -> list[Schema]:
        """The forms of a value, its words in place of it left out."""
        words: Schema = dict(_TEXT) if key.open else {"enum": list(key.choices)}
        match key.kind:
            case "format":
                return [{"const": 1}]
            case "flag":
                return [{"type": "boolean"}]
            case "number" | "integer":
                return [{"type": key.kind, **_limits(key)}]
            case "turns":
                return [{"type": "number", **_limits(key)}, dict(_TEXT)]
            case "pulls":
                some: list[Schema] = [{"type": "integer", "minimum": 1}, {"type": "string", "pattern": _PULLS}]
                return [*some, {"type": "array", "items": {"anyOf": some}}]
            case "seconds":
                return [{"type": "number", "minimum": 0}, self._quantity("time")]
            case "text" | "path":
                return [dict(_TEXT)]
            case "texts" | "paths":
                return [dict(_TEXT), {"type": "array", "items": dict(_TEXT)}]
            case "choice":
                return [words]
            case "choices":
                return [words, {"type": "array", "items": words, "uniqueItems": True}]
            case "quantity":
                form = [self._quantity(key.dimension)]
                return [*form, {"type": "array", "items": self._of(key), "minItems": 1}] if key.of else form
            case "table":
                return [self._of(key)]
            case "rows":
                return [{"type": "array", "items": self._of(key)}]
            case "mapping":
                # Text alone stands for the table's first key: a channel's column.
                named = {name: {"anyOf": [dict(_TEXT), self._of(key)]} for name in key.choices}
                return [{"type": "object", "properties": named, "additionalProperties": False}]

    def _of(self, key: Key) -> Schema:
        assert key.of is not None, key.doc
        return self.table(key.of)

    def _quantity(self, dimension: str) -> Schema:
        if dimension not in self.defs:
            self.defs[dimension] = {
                "type": "string",
                "pattern": QUANTITY_PATTERN,
                "description": f"{dimension_phrase(dimension)} with its unit "
                f"({', '.join(accepted_units(dimension))}), such as {example(dimension)}",
            }
        return {"$ref": f"#/$defs/{dimension}"}

    def _says(self, key: Key) -> str:
        """The sentence for people, with what the form cannot say."""
        says = key.doc
        if key.dimension == "pressure" and key.kind == "quantity":
            says += {
                "abs": "; absolute" if key.reference_fixed else '; absolute unless followed by "gauge"',
                "gauge": "; gauge" if key.reference_fixed else '; gauge unless followed by "abs"',
                "difference": "; a difference, neither gauge nor absolute",
            }[key.reference]
        if key.positive:
            says += "; above zero"
        if key.open:
            says += f"; known words: {', '.join(key.choices)}"
        if key.refused:
            says += f"; out of scope: {', '.join(word for word, _ in key.refused)}"
        return says


def _limits(key: Key) -> Schema:
    limits = {"minimum": key.minimum, "maximum": key.maximum}
    return {name: limit for name, limit in limits.items() if limit is not None}


def _example(key: Key) -> Any:
    """The example as parsed, None where it is no use (a table shows its keys' own)."""
    if not key.example or key.kind in {"table", "rows", "mapping", "format"}:
        return None
    return json.loads(key.example)  # TOML and JSON write these values alike


def _finish(maker: _Maker, file: str, says: str, body: Schema) -> Schema:
    return {
        "$schema": DIALECT,
        "title": file,
        "description": f"{says} Everything not required may be left out: it is then unknown.",
        **body,
        "$defs": dict(sorted(maker.defs.items())),
    }


def car_schema() -> Schema:
    """The schema of car.toml."""
    maker = _Maker()
    return _finish(maker, "car.toml", "What is known of the car.", maker.closed(CarSpec))


def pulls_schema() -> Schema:
    """The schema of pulls.toml."""
    maker = _Maker()
    return _finish(maker, "pulls.toml", "How each recording was driven.", maker.closed(PullsFile))


def readings_schema() -> Schema:
    """The schema of readings.toml: the keys of a reading hang on its ``test`` (and ``of``)."""
    maker = _Maker()
    common = maker.open(Reading)
    common["properties"]["test"]["enum"] = list(READING_TYPES)
    del common["properties"]["test"]["type"], common["properties"]["test"]["minLength"]
    shared = tuple(keys_of(Reading))
    by_class: dict[type[Reading], list[str]] = {}
    for test, spec in READING_TYPES.items():
        by_class.setdefault(spec, []).append(test)
    branches = []
    for spec, tests in by_class.items():
        maker.defs[spec.__name__] = maker.open(spec, without=shared)
        again = [test for test in tests if test in REPEATABLE]
        forms: list[Schema] = [{"properties": {"test": {"enum": tests}}}]
        if again:
            hot = {"test": {"const": "hot-repeat"}, "of": {"enum": again}}
            forms.append({"properties": hot, "required": ["of"]})
        branches.append({"if": {"anyOf": forms}, "then": {"$ref": f"#/$defs/{spec.__name__}"}})
    assert HotRepeat.__name__ in maker.defs
    maker.defs[Reading.__name__] = {**common, "allOf": branches, "unevaluatedProperties": False}
    body = maker.closed(ReadingsFile)
    return _finish(maker, "readings.toml", "Bench tests done, in order.", body)


SCHEMAS: dict[str, Callable[[], Schema]] = {
    "car.schema.json": car_schema,
    "pulls.schema.json": pulls_schema,
    "readings.schema.json": readings_schema,
}


def as_text(schema: Schema) -> str:
    """A schema as it stands in its file."""
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


def write_schemas(folder: Path) -> list[Path]:
    """Write all schemas into a folder, made if it is not there.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    OSError
        If the folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, make in SCHEMAS.items():
        path = folder / name
        path.write_text(as_text(make()), encoding="utf-8", newline="\n")
        written.append(path)
    return written


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the schemas into the folder named on the command line."""
    parser = argparse.ArgumentParser(
        prog="python -m boostproof.casefolder.schemas",
        description="Write the JSON Schemas of the case files.",
    )
    parser.add_argument("folder", type=Path, help="where to write them, for example docs/schemas")
    for path in write_schemas(parser.parse_args(arguments).folder):
        sys.stdout.write(f"{path}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
