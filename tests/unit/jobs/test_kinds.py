"""Long work reads the files of its case and nothing else on this machine."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from inspect import signature
from pathlib import Path
from typing import Any

import pytest

from boostproof.errors import InputError
from boostproof.jobs import kinds

LOG = "time,rpm\n" + "".join(f"{i / 10},{1000 + i}\n" for i in range(50))


def _quiet(says: str, share: float) -> None:
    pass


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """A case, and beside it a log and readings of somebody else."""
    folder = tmp_path / "case"
    folder.mkdir()
    (folder / "car.toml").write_text("format = 1\n")
    for name in ("secret.csv", "secret.toml", "secret.json"):
        (tmp_path / name).write_text(LOG)
    return folder


@pytest.mark.parametrize("path", ["../secret.csv", "{outside}/secret.csv", "x/../../secret.csv", ".", "", ["a"], None])
def test_only_recordings_of_the_case_are_read(case: Path, path: Any) -> None:
    given = path.format(outside=case.parent) if isinstance(path, str) else path
    with pytest.raises(InputError, match="This job holds no such file"):
        kinds.inspect(case, {"path": given}, _quiet)


@pytest.mark.parametrize("kind", ["prove", "report"])
@pytest.mark.parametrize("path", ["../secret.toml", "{outside}/secret.toml"])
def test_only_readings_of_the_case_are_read(case: Path, kind: str, path: str) -> None:
    choices = {"before": ["a"], "after": ["b"], "readings_after": path.format(outside=case.parent)}
    with pytest.raises(InputError, match="This job holds no such file"):
        getattr(kinds, kind)(case, choices, _quiet)


def test_only_a_forecast_of_the_case_is_read(case: Path) -> None:
    with pytest.raises(InputError, match="This job holds no such file"):
        kinds.prove(case, {"before": ["a"], "after": ["b"], "forecast": "../secret.json"}, _quiet)


@pytest.mark.parametrize("kind", ["prove", "report"])
def test_readings_are_found_in_the_case(case: Path, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: dict[str, Any] = {}

    class Answer:
        def as_json(self) -> Mapping[str, Any]:
            return {}

        def sentences(self, unit: str) -> str:
            return unit

    def run(folder: Path, **given: Any) -> Answer:
        seen.update(given)
        return Answer()

    monkeypatch.setattr(f"boostproof.workflows.{kind}.{kind}", run)
    (case / "after.toml").write_text("format = 1\n")
    getattr(kinds, kind)(case, {"before": ["a"], "after": ["b"], "readings_after": "after.toml"}, _quiet)
    assert Path(seen["readings_after"]) == case / "after.toml"


@pytest.mark.parametrize("kind", ["forecast", "repair_options", "size_bands", "report"])
def test_rates_of_the_shop_reach_the_library_as_it_takes_them(
    case: Path, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    module = importlib.import_module(f"boostproof.workflows.{'repair_view' if kind == 'repair_options' else kind}")
    takes = signature(getattr(module, kind))
    seen: dict[str, Any] = {}

    class Answer(dict[str, Any]):
        def as_json(self) -> Mapping[str, Any]:
            return {}

    def run(*given: Any, **named: Any) -> Answer:
        seen.update(takes.bind(*given, **named).arguments)
        return Answer()

    monkeypatch.setattr(module, kind, run)
    repairs = {} if kind == "repair_options" else {"repairs": ["port 30 mm"]}
    getattr(kinds, kind)(case, {**repairs, "hour": 95.0, "parts": {"port": [10.0, 20.0]}}, _quiet)
    assert seen["hour"] == 95.0 and seen["parts"] == {"port": (10.0, 20.0)}
