"""What is considered: every cause and every test, as plain rows."""

from __future__ import annotations

from typing import Any

from boostproof.bench.tests import CATALOGUE as TESTS
from boostproof.diagnosis.causes import CATALOGUE as CAUSES


def list_causes() -> list[dict[str, Any]]:
    """Every cause: ``id``, ``number``, ``title``, ``looks_like``, ``repair``, ``direct_test``, ``minutes``.

    ``direct_test`` is the test that measures the cause's own part, null where there is none; ``minutes``
    the usual time of the repair.
    """
    return [
        {
            "id": cause.id,
            "number": f"F{cause.number}",
            "title": cause.title,
            "looks_like": cause.looks_like,
            "repair": cause.repair,
            "direct_test": cause.direct_test or None,
            "minutes": cause.minutes,
        }
        for cause in CAUSES
    ]


def list_tests() -> list[dict[str, Any]]:
    """Every test that can be read and proposed: ``id``, ``number``, ``title``, ``minutes``, ``steps``,
    ``cautions`` and ``need``, a key of ``[pull_place]`` that the shop must have, or null."""
    return [
        {
            "id": test.id,
            "number": f"T{test.number}",
            "title": test.title,
            "minutes": test.minutes,
            "steps": list(test.steps),
            "cautions": list(test.cautions),
            "need": test.need or None,
        }
        for test in TESTS
    ]
