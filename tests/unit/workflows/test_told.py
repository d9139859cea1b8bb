"""What a case folder says about one of its recordings."""

from __future__ import annotations

from pathlib import Path

import pytest

from boostproof.casefolder import read_case
from boostproof.workflows.inspect import inspect
from boostproof.workflows.told import told_about

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
"""
LOG = "time (s),engine speed (rpm),manifold pressure (kPa abs)\n" + "".join(
    f"{i / 10:.1f},{2000 + 40 * i},{100 + i}\n" for i in range(100)
)


def _case(folder: Path, *, weather: str = "", pulls: str = "") -> Path:
    for place in ("recordings", "recordings/second"):
        (folder / place).mkdir(parents=True)
        (folder / place / "log.csv").write_text(LOG)
    (folder / "car.toml").write_text(CAR + (f"[weather]\n{weather}\n" if weather else ""))
    if pulls:
        (folder / "pulls.toml").write_text("format = 1\n" + pulls)
    return folder


def test_an_altitude_stands_for_the_barometer(tmp_path: Path) -> None:
    case = _case(tmp_path / "case", weather='altitude = "1000 m"')
    file = case / "recordings" / "log.csv"
    # ISO 2533:1975, table 5: 898.76 hPa at a geometric 1000 m (value from memory)
    assert told_about(read_case(case), file).barometer == pytest.approx(89876.0, abs=5.0)
    around = inspect(file, case=case).recording.barometer
    assert (around.source, around.value) == ("given", pytest.approx(89876.0, abs=5.0))


def test_the_day_goes_before_the_car_and_a_barometer_before_an_altitude(tmp_path: Path) -> None:
    pulls = '[[recording]]\nfile = "recordings/log.csv"\nweather = {barometer = "97 kPa"}\n'
    case = _case(tmp_path / "case", weather='barometer = "98.6 kPa"\naltitude = "1000 m"', pulls=pulls)
    folder = read_case(case)
    assert told_about(folder, case / "recordings" / "log.csv").barometer == pytest.approx(97e3)
    assert told_about(folder, case / "recordings" / "second" / "log.csv").barometer == pytest.approx(98.6e3)


def test_of_two_recordings_of_one_name_each_has_its_own_word(tmp_path: Path) -> None:
    pulls = '[[recording]]\nfile = "recordings/second/log.csv"\nset_up = {controller = "bypassed"}\n'
    case = _case(tmp_path / "case", pulls=pulls)
    folder = read_case(case)
    first, second = (told_about(folder, path).setup for path in folder.recordings)
    assert first is None
    assert second is not None and second.set_up is not None and second.set_up.controller == "bypassed"


def test_a_copy_from_elsewhere_counts_as_the_recording_of_its_name(tmp_path: Path) -> None:
    pulls = '[[recording]]\nfile = "recordings/log.csv"\ngear = 4\n'
    folder = read_case(_case(tmp_path / "case", pulls=pulls))
    setup = told_about(folder, tmp_path / "elsewhere" / "log.csv").setup
    assert setup is not None and setup.gear == 4
    assert told_about(folder, tmp_path / "elsewhere" / "other.csv").setup is None
