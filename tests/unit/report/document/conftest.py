"""Documents that the tests of this room share."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from tests.unit.report.document.made_results import case_folder, everything, nothing

from boostproof.report.document.compose import compose
from boostproof.report.document.results import Results, Told

DONE = ("Port bored to 30 mm </b> #pagebreak()", "Spring set again")


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return case_folder(tmp_path_factory.mktemp("report") / "case")


@pytest.fixture(scope="session")
def results(folder: Path) -> Results:
    return everything(folder)


@pytest.fixture(scope="session")
def documents(results: Results, folder: Path) -> dict[str, Any]:
    """By what they are for: the shop, the customer, and a job that has hardly begun."""
    told = {"done": DONE, "shop": "Bay & Sons", "by": "A. Fitter", "dated": "28 November 2026"}
    return {
        "shop": compose(results, Told(**told)),  # type: ignore[arg-type]
        "customer": compose(results, Told(customer=True, units="bar", **told)),  # type: ignore[arg-type]
        "begun": compose(nothing(folder), Told()),
    }
