"""What a command hands back: one JSON object, and the text of it for a person."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Answer:
    """The result of one command.

    Attributes
    ----------
    as_json : the object printed with ``--json``
    text : makes what is printed without it (called only then)
    """

    as_json: Mapping[str, Any]
    text: Callable[[], str]


def dump(answer: Mapping[str, Any]) -> str:
    """One JSON object as text; a value that JSON does not have (NaN) is a fault of ours and raises."""
    return json.dumps(answer, ensure_ascii=False, allow_nan=False, indent=1)
