"""Whole cases: what is read from them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from boostproof.bench.readings import Reading, Sweep
from boostproof.car.spec import is_found
from boostproof.casefolder import Case, read_case
from boostproof.quantity import Quantity
from boostproof.units import get_unit

PSI = get_unit("psi").factor


@pytest.fixture
def folder(repository: Path) -> Path:
    return repository / "tests" / "fixtures" / "cases" / "whole-case"


@pytest.fixture
def case(folder: Path) -> Case:
    return read_case(folder)


def test_car(case: Case) -> None:
    car = case.car
    assert car.car.name == "the red coupe"
    assert car.engine.displacement.value == pytest.approx(2.0e-3)
    assert car.engine.cylinders == 4
    assert car.engine.fuel == "petrol"
    assert car.wastegate.port is not None
    assert car.wastegate.port.sd == pytest.approx(0.25e-3)
    assert car.actuator.opening_pressure is not None
    assert car.actuator.opening_pressure.form == "range"
    assert car.controller.turns_in == "12 clicks"
    assert car.signal_line.restrictor == "none"
    assert car.weather.barometer is not None
    assert car.weather.barometer.reference == "abs"
    assert isinstance(car.limits.target, tuple)
    assert [row.gear for row in car.limits.target] == [None, 4]
    assert car.history.only_when == ("top gear",)
    assert car.history.last_right is not None
    assert car.history.last_right.boost is not None
    assert car.history.changed[0].from_ == "60 mm"
    assert car.history.tried[0].what == "boost gauge"
    assert car.history.tried[0].after == ("recordings/pull-2.csv",)


def test_what_is_left_out_is_unknown(case: Case) -> None:
    car = case.car
    assert car.engine.compression_ratio is None
    assert car.turbo.scrolls is None
    assert car.actuator.chambers is None
    assert car.exhaust.bore is None
    assert car.weather.temperature is None
    assert car.pull_place.lift is None


def test_values_without_a_tolerance_carry_the_usual_one(case: Case) -> None:
    # engine.displacement: 1 % and 0.02 L in quadrature (sources/tolerances.py).
    assert case.car.engine.displacement.sd == pytest.approx(0.0283e-3, rel=1e-3)
    full = case.car.actuator.full_travel_pressure
    assert full is not None
    assert full.sd > 4e3


def test_as_found_and_as_specified(case: Case) -> None:
    assert is_found(case.car.wastegate, "port")
    assert is_found(case.car.controller, "turns_in")
    assert not is_found(case.car.wastegate, "full_travel")


def test_readings(case: Case) -> None:
    sweep, not_done, hot, pull = case.readings.reading
    assert isinstance(sweep, Sweep)
    assert isinstance(sweep.first_movement, Quantity)
    assert sweep.first_movement.value == pytest.approx(7.5 * PSI)
    assert sweep.heard_at == ("hose",)
    assert sweep.vent is not None
    assert sweep.vent.returned == "none"
    assert sweep.vent.after_1_s is None
    assert sweep.leak is None
    assert (not_done.test, not_done.not_done) == ("seat-leak", "no access")
    assert isinstance(hot, Sweep)
    assert (hot.test, getattr(hot, "of", None), hot.state) == ("hot-repeat", "actuator-sweep", "hot")
    assert hot.gauge is not None
    assert pull.test == "spring-only-pull"
    assert all(isinstance(reading, Reading) for reading in case.readings.reading)


def test_a_gauge_scale_written_from_zero_means_its_end(case: Case) -> None:
    gauge = case.readings.gauge
    assert gauge is not None
    assert gauge.range is not None
    assert gauge.range.value == pytest.approx(60 * PSI)
    assert gauge.smallest_mark is not None
    assert gauge.smallest_mark.reference == "difference"
    assert gauge.class_ is not None
    assert gauge.class_.value == pytest.approx(0.016)


def test_pulls(case: Case) -> None:
    first = case.pulls.of("recordings/pull-1.csv")
    assert first is not None
    assert first.set_up is not None
    assert (first.set_up.controller, first.set_up.turns_in) == ("in", "as found")
    assert (first.excluded[0].from_, first.excluded[0].to) == (0.0, 1.5)
    assert first.channels["boost"].column == "Pressure 2"
    assert first.channels["boost"].reference == "gauge"
    assert first.channels["engine_speed"].column == "Revs"
    second = case.pulls.of("recordings/pull-2.csv")
    assert second is not None
    assert second.weather is not None
    assert second.weather.temperature is not None
    assert case.pulls.of("recordings/other.csv") is None


def test_recordings_are_all_files_but_bus_descriptions(case: Case) -> None:
    assert [path.name for path in case.recordings] == ["pull-1.csv", "pull-2.csv"]
    assert case.findings == ()


def test_what_desktops_leave_behind_is_no_recording(folder: Path, tmp_path: Path) -> None:
    copy = shutil.copytree(folder, tmp_path / "copy")
    for name in (".DS_Store", "Thumbs.db", "~$notes.csv"):
        (copy / "recordings" / name).write_bytes(b"x")
    assert len(read_case(copy).recordings) == 2


def test_without_readings_they_are_not_even_opened(folder: Path, tmp_path: Path) -> None:
    copy = shutil.copytree(folder, tmp_path / "copy")
    (copy / "readings.toml").write_bytes(b"\xff not TOML [")
    case = read_case(copy, with_readings=False)
    assert case.readings.reading == ()
    assert case.readings.gauge is None


def test_a_case_may_be_car_toml_alone(folder: Path, tmp_path: Path) -> None:
    alone = tmp_path / "alone"
    alone.mkdir()
    text = (folder / "car.toml").read_text(encoding="utf-8").replace('after = "recordings/pull-2.csv"\n', "")
    (alone / "car.toml").write_text("\ufeff" + text.replace("\n", "\r\n"), encoding="utf-8")
    case = read_case(str(alone))
    assert (case.readings.reading, case.pulls.recording, case.recordings) == ((), (), ())


def test_content_hash_follows_the_content_and_not_the_place(folder: Path, tmp_path: Path, case: Case) -> None:
    copy = shutil.copytree(folder, tmp_path / "copy")
    assert read_case(copy).content_hash == case.content_hash
    (copy / "truth.toml").write_text("never read", encoding="utf-8")
    assert read_case(copy).content_hash == case.content_hash
    assert read_case(copy, with_readings=False).content_hash != case.content_hash
    with (copy / "recordings" / "pull-1.csv").open("a", encoding="utf-8") as stream:
        stream.write("7000,15.0\n")
    assert read_case(copy).content_hash != case.content_hash
