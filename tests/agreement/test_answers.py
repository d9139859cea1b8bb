"""Answers against their published schemas (JSON Schema 2020-12; reference library: jsonschema)."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from boostproof.demo import write_demo_case
from boostproof.errors import InputError
from boostproof.workflows.answers import schema_of, schemas
from boostproof.workflows.diagnose import diagnose
from boostproof.workflows.inspect import inspect

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_demo_case(tmp_path_factory.mktemp("answers") / "case")


@pytest.mark.parametrize("name", sorted(schemas()))
def test_published_schema_is_current(name: str) -> None:
    published = json.loads((ROOT / "docs" / "schemas" / f"{name}.schema.json").read_text(encoding="utf-8"))
    assert published == schemas()[name]
    jsonschema.Draft202012Validator.check_schema(published)


def test_diagnose_answer(case: Path) -> None:
    answer = json.loads(json.dumps(diagnose(case).as_json(), allow_nan=False))
    jsonschema.validate(answer, schemas()["diagnose-answer"])


def test_inspect_answer(case: Path) -> None:
    file = next((case / "recordings").iterdir())
    answer = json.loads(json.dumps(inspect(file).as_json(), allow_nan=False))
    jsonschema.validate(answer, schemas()["inspect-answer"])


def test_error_answer() -> None:
    error = InputError("It is empty.", kind="empty", where="log.csv", do="Log again.")
    jsonschema.validate({"format": 1, "error": error.as_dict()}, schemas()["error-answer"])


def test_a_wrong_answer_is_refused() -> None:
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"format": 2, "error": {}}, schemas()["error-answer"])
    with pytest.raises(TypeError, match="no schema"):
        schema_of(set)
