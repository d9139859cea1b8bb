"""A target in the log that is another than that of car.toml is said, in both units as written."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.unit.small_car import small_car

from boostproof.workflows.driven import read_driven
from boostproof.workflows.inspect import inspect

CAR = small_car("[limits]\ntarget = {target}", controller="solenoid 3-port")


def case(folder: Path, target: str, header: str, logged) -> Path:
    """One full-load pull from 2000 to 6000 rpm in 8 s, with the target that ``logged`` gives over rpm."""
    (folder / "recordings").mkdir()
    (folder / "car.toml").write_text(CAR.format(target=target), encoding="utf-8")
    rows = [f"time (s),engine speed (rpm),throttle (%),boost gauge (kPa),{header}"]
    for step in range(240):
        at = step / 20
        rising = 2.0 <= at < 10.0
        rpm = 2000 + 500 * (at - 2.0) if rising else max(2000.0, 6000 - 3000 * max(at - 10.0, 0.0))
        rpm = 2000.0 if at < 2.0 else rpm
        boost = min(96.0, 30.0 * (at - 2.0)) if rising else -50.0
        rows.append(f"{at:.2f},{rpm:.0f},{98 if rising else 10},{boost:.1f},{logged(rpm):.2f}")
    (folder / "recordings" / "pull.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


def said(folder: Path):
    found = inspect(folder / "recordings" / "pull.csv", case=folder)
    assert "boost_target" in found.recording.channels and [p.full_load for p in found.pulls] == [True]
    return [f for f in found.findings if f.kind == "target-differs"]


@pytest.mark.parametrize(
    ("header", "level", "text"),
    [
        ("boost target (psi)", 20.0, "20.0 psi"),
        ("boost target (bar)", 1.38, "1.38 bar"),
        ("boost target (kPa)", 138.0, "138 kPa"),
    ],
)
def test_a_higher_target_in_the_log_is_said_in_both_units(tmp_path: Path, header: str, level: float, text: str) -> None:
    (finding,) = said(case(tmp_path, '"14 psi"', header, lambda rpm: level))
    assert f"in the log is {text}, that of car.toml 14 psi." in finding.says
    assert "target table" in finding.do
    assert finding.where.startswith("pull.csv, ")


def test_a_lower_one_asks_for_what_holds_it_back(tmp_path: Path) -> None:
    (finding,) = said(case(tmp_path, '"0.97 bar"', "boost target (psi)", lambda rpm: 9.0))
    assert "9.00 psi" in finding.says and "0.97 bar" in finding.says
    assert "holds back" in finding.do


@pytest.mark.parametrize("target", ['"14 psi"', '"about 13 psi"', '"12..17 psi"', '"as logged"'])
def test_the_same_target_is_not_said(tmp_path: Path, target: str) -> None:
    assert said(case(tmp_path, target, "boost target (psi)", lambda rpm: 14.3 if rpm > 3500 else 6.0)) == []


def test_rows_over_engine_speed_are_compared_where_they_stand(tmp_path: Path) -> None:
    rows = '[{ rpm = "3000 rpm", boost = "14 psi" }, { rpm = "6000 rpm", boost = "10 psi" }]'
    falls = case(tmp_path, rows, "boost target (psi)", lambda rpm: 14.0 - 4.0 * max(rpm - 3000.0, 0.0) / 3000.0)
    assert said(falls) == []
    (tmp_path / "level").mkdir()
    (finding,) = said(case(tmp_path / "level", rows, "boost target (psi)", lambda rpm: 14.0))
    assert "14.0 psi" in finding.says and "10 psi at 6000 rpm" in finding.says


def test_a_diagnosis_says_it_too(tmp_path: Path) -> None:
    from boostproof.casefolder import read_case

    _, findings = read_driven(read_case(case(tmp_path, '"14 psi"', "boost target (psi)", lambda rpm: 20.0)))
    assert [f.kind for f in findings].count("target-differs") == 1
