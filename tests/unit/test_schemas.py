"""The published schemas are current, say what the formats say, and accept the practice cases."""

from __future__ import annotations

import copy
import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from practice.cases import practice_folder
from tools import check_formats, format_sheets

from boostproof.casefolder import schemas
from boostproof.casefolder.files import read_car, read_pulls, read_readings
from boostproof.casefolder.tables import TableReader
from boostproof.casefolder.toml_file import read_toml
from boostproof.recording.setup import CHANNEL_NAMES, NO_PULLS, PullsFile, RecordingSetup

FILES = {"car": schemas.car_schema, "readings": schemas.readings_schema, "pulls": schemas.pulls_schema}
FIXTURES = sorted(check_formats.FIXTURES.glob("*.toml"))
CAR: dict[str, Any] = {
    "format": 1,
    "car": {"name": "a car"},
    "engine": {"displacement": "2.0 L", "cylinders": 4, "redline": "6800 rpm"},
    "wastegate": {"kind": "internal flapper"},
    "controller": {"kind": "none"},
}


def validator(kind: str) -> Draft202012Validator:
    return Draft202012Validator(FILES[kind]())


def faults(kind: str, data: dict[str, Any]) -> list[str]:
    return [f"{error.json_path}: {error.message}" for error in validator(kind).iter_errors(data)]


def test_committed_schemas_are_current(repository: Path) -> None:
    for name, make in schemas.SCHEMAS.items():
        committed = (repository / "docs" / "schemas" / name).read_text(encoding="utf-8")
        assert committed == schemas.as_text(make()), (
            f"{name} is not current: run python -m boostproof.casefolder.schemas docs/schemas"
        )


def test_writing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert schemas.main([str(tmp_path / "new")]) == 0
    written = sorted((tmp_path / "new").iterdir())
    assert [path.name for path in written] == sorted(schemas.SCHEMAS)
    assert [json.loads(path.read_text(encoding="utf-8"))["title"] for path in written] == [
        "car.toml", "pulls.toml", "readings.toml",
    ]  # fmt: skip
    assert str(written[0]) in capsys.readouterr().out


def test_no_folder_is_a_usage_error(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        schemas.main([])
    assert stopped.value.code == 2
    assert "folder" in capsys.readouterr().err


@pytest.mark.parametrize("kind", FILES)
def test_schemas_are_valid_json_schema(kind: str) -> None:
    """Against the 2020-12 meta-schema that jsonschema carries."""
    schema = FILES[kind]()
    Draft202012Validator.check_schema(schema)
    text = json.dumps(schema)
    for name in schema["$defs"]:
        assert f'"#/$defs/{name}"' in text, f"{name} is defined and never used"


@pytest.mark.parametrize("path", FIXTURES, ids=lambda path: path.stem)
def test_invented_files_are_accepted(path: Path) -> None:
    assert faults(path.name.split("-")[0], tomllib.loads(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize("path", FIXTURES, ids=lambda path: path.stem)
def test_what_the_schemas_accept_the_readers_read(path: Path) -> None:
    file = read_toml(path, instead="")
    reader: TableReader
    match path.name.split("-")[0]:
        case "car":
            reader = read_car(file).reader
        case "pulls":
            pulls, reader = read_pulls(file)
            assert len(pulls.recording) == len(file.data["recording"])
        case _:
            readings, reader = read_readings(file)
            assert [item.test for item in readings.reading] == [row["test"] for row in file.data["reading"]]
    reader.finish()


def test_practice_cases_are_accepted() -> None:
    folder = practice_folder()
    cases = sorted(folder.glob("*/car.toml"))
    if not cases:
        pytest.skip("no practice cases beside the checkout or where BOOSTPROOF_PRACTICE points")
    for car in cases:
        for kind in FILES:
            path = car.with_name(f"{kind}.toml")
            if path.exists():
                assert faults(kind, tomllib.loads(path.read_text(encoding="utf-8"))) == [], path


# -- what is refused ---------------------------------------------------------------------------------


def test_the_least_that_must_be_there() -> None:
    assert faults("car", CAR) == []
    assert faults("readings", {"format": 1}) == []
    assert faults("pulls", {"format": 1}) == []


@pytest.mark.parametrize("section", CAR)
def test_a_must_that_is_missing(section: str) -> None:
    assert any(section in fault for fault in faults("car", {k: v for k, v in CAR.items() if k != section}))


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("engine", "displacement"), 2.0),
        (("engine", "displacement"), "2.0"),
        (("engine", "cylinders"), "4"),
        (("engine", "cylinders"), 0),
        (("engine", "fuel"), "diesel"),
        (("engine", "colour"), "red"),
        (("turbo",), {"geometry": "variable"}),
        (("turbo",), {"arrangement": "compound"}),
        (("controller", "turns_in"), True),
        (("limits",), {"target": 14}),
        (("limits",), {"target": []}),
        (("limits",), {"target": "whatever it makes"}),
        (("history",), {"only_when": ["hot", "hot"]}),
        (("history",), {"only_when": "on Sundays"}),
        (("engine", "as"), "measured"),
        (("format",), 2),
        (("gearbox",), {}),
    ],
)
def test_a_wrong_value_in_a_car(place: tuple[str, ...], value: Any) -> None:
    data = copy.deepcopy(CAR)
    table = data
    for name in place[:-1]:
        table = table[name]
    table[place[-1]] = value
    assert faults("car", data)


@pytest.mark.parametrize(
    ("reading", "right"),
    [
        ({"test": "actuator-sweep", "first_movement": "7 psi"}, True),
        ({"test": "actuator-sweep", "first_movement": "none"}, True),
        ({"test": "actuator-sweep", "first_movement": 7}, False),
        ({"test": "actuator-sweep", "arm": "binds"}, False),
        ({"test": "actuator-sweep", "of": "actuator-sweep"}, False),
        ({"test": "free-travel", "arm": "binds", "heard_at": ["hose", "none"]}, True),
        ({"test": "free-travel", "heard_at": "under the seat"}, False),
        ({"test": "hot-repeat", "of": "free-travel", "arm": "binds"}, True),
        ({"test": "hot-repeat", "of": "actuator-sweep", "arm": "binds"}, False),
        ({"test": "hot-repeat", "arm": "binds"}, False),
        ({"test": "hot-repeat", "of": "hot-repeat"}, False),
        ({"test": "hot-repeat", "not_done": "no time"}, True),
        ({"test": "leak-down"}, False),
        ({"first_movement": "7 psi"}, False),
    ],
)
def test_the_keys_of_a_reading_hang_on_its_test(reading: dict[str, Any], right: bool) -> None:
    assert (faults("readings", {"format": 1, "reading": [reading]}) == []) is right


def test_channels_have_our_names() -> None:
    def with_channels(channels: dict[str, Any]) -> list[str]:
        return faults("pulls", {"format": 1, "recording": [{"file": "a.csv", "channels": channels}]})

    assert with_channels({name: {"column": "X"} for name in CHANNEL_NAMES}) == []
    assert with_channels({"boost": "Pressure 2"}) == []
    assert with_channels({"boots": {"column": "X"}})
    assert with_channels({"boost": {"column": "X", "reference": "sea level"}})
    assert len(set(CHANNEL_NAMES)) == len(CHANNEL_NAMES) == 40


def test_what_is_written_about_a_recording_is_found_by_its_file() -> None:
    box = RecordingSetup(file="recordings/box.csv", gear=3)
    pulls = PullsFile(format=1, recording=(RecordingSetup(file="recordings/a.csv"), box))
    assert pulls.of("recordings/box.csv") is box
    assert pulls.of("recordings/none.csv") is None
    assert NO_PULLS.recording == ()


# -- the list of the formats, written by hand ---------------------------------------------------------


def test_code_schemas_and_examples_hold_to_the_list() -> None:
    report = check_formats.check_all(None)
    assert report.problems == []
    assert report.files == len(FIXTURES)


def test_practice_cases_hold_to_the_list() -> None:
    folder = practice_folder()
    if not folder.is_dir():
        pytest.skip("no practice cases beside the checkout or where BOOSTPROOF_PRACTICE points")
    report = check_formats.check_all(folder)
    assert report.problems == []
    assert report.files > len(FIXTURES)


def _less(found: dict[str, Any]) -> None:
    del found["car"]["engine.fuel"]


def _more(found: dict[str, Any]) -> None:
    found["pulls"]["recording[].driver"] = ["<text>"]


def _word(found: dict[str, Any]) -> None:
    found["test"][0]["keys"]["solenoid"] = ["unpowered", "powered", "humming"]


def _fewer_words(found: dict[str, Any]) -> None:
    found["car"]["engine.fuel"] = ["<text>", "petrol", "ethanol"]


def _reference(found: dict[str, Any]) -> None:
    found["car"]["limits.stop"] = ["<pressure>", "<abs>"]


def _dimension(found: dict[str, Any]) -> None:
    found["car"]["signal_line.bore"] = ["<volume>"]


def _must(found: dict[str, Any]) -> None:
    found["car"]["turbo.count"] = ["<must>", "<whole number>"]


def _test(found: dict[str, Any]) -> None:
    found["test"].append({"ids": ["sniff"], "keys": {}})


def _unit(found: dict[str, Any]) -> None:
    found["quantities"]["units"].append("furlong")


def _form(found: dict[str, Any]) -> None:
    found["quantities"]["forms"]["in words"] = "^twelve"


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (_less, "car: engine.fuel is in the code and not in the list."),
        (_more, "pulls: the schema lacks recording[].driver."),
        (_word, "actuator-sweep: solenoid refuses 'humming'."),
        (_fewer_words, "car: engine.fuel refuses 'some words'."),
        (_reference, "car: limits.stop is not abs when nothing is said."),
        (_dimension, "car: signal_line.bore is length in the code, volume in the list."),
        (_must, "car: turbo.count: code and list differ on whether it must be there."),
        (_test, "sniff is no test in the code."),
        (_unit, "The unit furlong is not known."),
        (_form, "no example of a quantity written as in words."),
    ],
)
def test_the_check_can_fail(change: Any, says: str, monkeypatch: pytest.MonkeyPatch) -> None:
    changed = copy.deepcopy(format_sheets.the_list())
    change(changed)
    monkeypatch.setattr(format_sheets, "the_list", lambda: changed)
    assert says in check_formats.check_all(None).problems


def test_the_check_as_a_program(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert check_formats.main(["--practice", str(tmp_path / "absent")]) == 0
    said = capsys.readouterr().out
    assert "No practice cases" in said and "0 problems" in said
    monkeypatch.setattr(check_formats, "FIXTURES", tmp_path)
    assert check_formats.main(["--practice", str(tmp_path)]) == 1
    assert "no example of engine.fuel = ethanol" in capsys.readouterr().out
