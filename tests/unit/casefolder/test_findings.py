"""What is doubtful is questioned beside the result, and never dropped."""

from __future__ import annotations

import pytest

from boostproof.bench.readings import Sweep

from .conftest import CAR, HEAD, Make, ReadCase


@pytest.mark.parametrize(("kind", "word"), [("vacuum", "Vacuum-operated"), ("electric", "Electric")])
def test_gates_not_modelled_yet_are_accepted_with_a_sentence(read: ReadCase, kind: str, word: str) -> None:
    case = read(f'[actuator]\noperated_by = "{kind}"\n')
    assert case.car.actuator.operated_by == kind
    (finding,) = case.findings
    assert (finding.kind, finding.where) == ("not-modelled", "car.toml, line 13")
    assert finding.says.startswith(f"{word} gates are read but not modelled yet")


@pytest.mark.parametrize(
    ("keys", "line", "says"),
    [
        ('first_movement = "12 psi"\nfull_travel = "8 psi"', 5, "full travel at 8 psi lies below first movement at 12 psi"),
        ('first_movement = "none"\nfull_travel = "8 psi"', 5, "no movement was seen, and yet full travel at 8 psi"),
        ('supply_up_to = "15 psi"\nfirst_movement = "19 psi"', 5, "lies above the highest pressure put on, 15 psi"),
        ('[reading.leak]\nstart = "10 psi"\nafter_60_s = "14 psi"', 6, "rose from 10 psi to 14 psi"),
    ],
)  # fmt: skip
def test_a_sweep_that_cannot_have_been_so(read: ReadCase, keys: str, line: int, says: str) -> None:
    case = read(readings=f'{HEAD}[[reading]]\ntest = "actuator-sweep"\n{keys}\n')
    (finding,) = case.findings
    assert (finding.kind, finding.where) == ("questioned-reading", f"readings.toml, line {line}")
    assert finding.says.startswith("Reading 1 (actuator-sweep): ")
    assert says in finding.says
    assert finding.do
    (reading,) = case.readings.reading
    assert isinstance(reading, Sweep)


def test_the_questioned_figures_are_kept(read: ReadCase) -> None:
    keys = 'first_movement = "12 psi"\nfull_travel = "8 psi"'
    (reading,) = read(readings=f'{HEAD}[[reading]]\ntest = "line-sweep"\n{keys}\n').readings.reading
    assert isinstance(reading, Sweep)
    assert (str(reading.first_movement), str(reading.full_travel)) == ("12 psi", "8 psi")


def test_a_sensor_that_reads_the_air_without_the_word_abs(read: ReadCase) -> None:
    rows = '[{ applied = "0 psi", reads = "101 kPa" }, { applied = "15 psi", reads = "204 kPa abs" }]'
    (finding,) = read(readings=f'{HEAD}[[reading]]\ntest = "sensor-check"\nrows = {rows}\n').findings
    assert finding.where == "readings.toml, line 4"
    assert finding.do == "If the screen shows absolute pressure, write abs after the figure."


def test_a_pull_without_its_set_up(make: Make, read: ReadCase) -> None:
    readings = f'{HEAD}[[reading]]\ntest = "floor-pull"\nrecording = "recordings/a.csv"\n'
    (finding,) = read(readings=readings, files=["recordings/a.csv"]).findings
    assert finding.kind == "set-up-missing"
    assert finding.says.endswith("taken as gate held open.")


def test_a_controller_that_the_car_has_not(read: ReadCase) -> None:
    pulls = f'{HEAD}[[recording]]\nfile = "recordings/a.csv"\nset_up = {{ controller = "in" }}\n'
    (finding,) = read(pulls=pulls, files=["recordings/a.csv"]).findings
    assert finding.kind == "questioned-set-up"


def test_a_gate_held_shut_is_recorded_with_a_caution(read: ReadCase) -> None:
    pulls = f'{HEAD}[[recording]]\nfile = "recordings/a.csv"\nset_up = {{ gate = "held shut" }}\n'
    (finding,) = read(pulls=pulls, files=["recordings/a.csv"]).findings
    assert "never proposed" in finding.says


def test_a_plain_case_has_no_findings(read: ReadCase) -> None:
    assert "turbo" not in CAR
    assert read().findings == ()


@pytest.mark.parametrize(
    ("name", "meant"),
    [("reading.toml", "readings.toml"), ("Pulls.TOML", "pulls.toml"), ("recording/a.csv", "recordings")],
)
def test_a_name_that_is_nearly_right_is_said_to_be_left_aside(read: ReadCase, name: str, meant: str) -> None:
    (finding,) = read(files=[name]).findings
    assert (finding.kind, finding.where) == ("left-aside", name.split("/")[0])
    assert finding.do == f"Rename it to {meant} if that is what it is."


def test_a_log_beside_car_toml_is_said_to_be_left_aside(read: ReadCase) -> None:
    case = read(files=["run 3.csv", "recordings/run 2.csv"])
    (finding,) = case.findings
    assert finding.says == "run 3.csv lies beside car.toml and is not read."
    assert [path.name for path in case.recordings] == ["run 2.csv"]


def test_what_belongs_elsewhere_or_to_nobody_is_not_mentioned(read: ReadCase) -> None:
    files = ["map.csv", "truth.toml", "notes.txt", "photos/gate.jpg", ".run.csv"]
    assert read('[turbo]\ncompressor_map = "map.csv"\n', files=files).findings == ()
