"""The inspect workflow and its answer."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import boostproof.recording as package
from boostproof.recording.columns.channel_table import BY_NAME, MANIFOLD_SENSOR, ROWS
from boostproof.recording.columns.words import CONCEPTS, concepts_of
from boostproof.recording.setup import CHANNEL_NAMES
from boostproof.workflows.answers import InspectAnswer
from boostproof.workflows.inspect import inspect

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures" / "recordings"
CAR = """format = 1
[car]
name = "Invented Saloon"
[engine]
displacement = "2.0 L"
cylinders = 4
redline = "6200 rpm"
[wastegate]
kind = "internal flapper"
[controller]
kind = "none"
[weather]
barometer = "98.6 kPa"
"""
PULLS = """format = 1
[[recording]]
file = "recordings/log.csv"
excluded = [{from = 0.0, to = 16.0, why = "traffic"}]
[recording.channels]
manifold_pressure = {column = "Pressure 1", unit = "psi", reference = "abs"}
"""


def _case(folder: Path) -> Path:
    (folder / "recordings").mkdir(parents=True)
    (folder / "car.toml").write_text(CAR)
    (folder / "pulls.toml").write_text(PULLS)
    (folder / "recordings" / "log.csv").write_bytes((FIXTURES / "unlabelled.csv").read_bytes())
    return folder


@pytest.mark.parametrize("path", sorted(FIXTURES.glob("*.[ct][sx][vt]")), ids=lambda p: p.name)
def test_the_answer_is_the_contract(path: Path) -> None:
    answer = inspect(path).as_json()
    json.dumps(answer, allow_nan=False)
    assert set(answer) == set(InspectAnswer.__annotations__)
    assert answer["format"] == 1 and set(answer["file"]) == {"kind", "rows", "rate_hz"}
    for channel in answer["channels"]:
        assert set(channel) == {"name", "column", "unit", "reference", "sure", "why", "lost_cells"}
        assert channel["name"] in CHANNEL_NAMES
        assert 0.3 <= channel["sure"] <= 1.0 and channel["why"]
    for finding in answer["findings"]:
        assert set(finding) == {"kind", "where", "says", "do"} and finding["says"].endswith(".")


def test_a_case_tells_columns_barometer_redline_and_what_to_leave_out(tmp_path: Path) -> None:
    case = _case(tmp_path / "case")
    found = inspect(case / "recordings" / "log.csv", case=case)
    channel = found.recording.channels["manifold_pressure"]
    assert (channel.sure, channel.column) == (1.0, "Pressure 1")
    assert found.recording.barometer.source == "given"
    (pull,) = found.pulls
    assert pull.from_s > 16.0 and pull.ended == "ceiling"


def test_no_pull_is_a_finding_not_an_error(tmp_path: Path) -> None:
    path = tmp_path / "idle.csv"
    path.write_text(
        "time s,rpm,boost psi,tps %\n" + "\n".join(f"{i / 10},{850 + i % 5},-9,2" for i in range(80))
    )
    found = inspect(path)
    assert found.pulls == () and "no-pull" in {f.kind for f in found.findings}


def test_no_throttle_is_said() -> None:
    assert "no-throttle" in {f.kind for f in inspect(FIXTURES / "no_throttle.csv").findings}


# --- tables ----------------------------------------------------------------------------------------


def test_every_channel_of_the_formats_can_be_recognised_or_named() -> None:
    assert set(CHANNEL_NAMES) == set(BY_NAME) - {MANIFOLD_SENSOR}


def test_every_concept_of_the_table_has_words() -> None:
    used = {concept for row in ROWS for pattern, _ in row.patterns for concept in pattern}
    assert used <= CONCEPTS


@pytest.mark.parametrize(
    ("header", "concepts"),
    [
        ("Ladedrucksollwert", {"BOOST", "PRESSURE", "TARGET"}),
        ("Kühlmitteltemperatur", {"COOLANT", "TEMPERATURE"}),
        ("Kuehlmitteltemperatur", {"COOLANT", "TEMPERATURE"}),
        ("exhGasTempPreTurbine", {"EXHAUST", "TEMPERATURE", "BEFORE", "TURBINE"}),
        ("Druck vor Turbine", {"PRESSURE", "BEFORE", "TURBINE"}),
        ("A/F", {"AFR"}),
    ],
)
def test_headers_are_taken_apart(header: str, concepts: set[str]) -> None:
    assert concepts_of(header) == (frozenset(concepts), 0)


def test_public_names_exist() -> None:
    assert all(hasattr(package, name) for name in package.__all__)
