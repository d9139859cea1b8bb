"""Readings as evidence: every reading that a file may hold can be used, "none" included."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.unit.bench.small_car import write_car

from boostproof.bench.response import Candidates
from boostproof.bench.tests import BY_ID, CATALOGUE, CarContext, gauge_of
from boostproof.casefolder import read_case
from boostproof.diagnosis.evidence.simulator import run_pull
from boostproof.physics import layout, system

READINGS = {
    "actuator-sweep": 'supply_up_to = "25 psi"\nfirst_movement = "none"\ntravel = "none"\n'
    '[reading.leak]\nstart = "12 psi"\nafter_10_s = "none"\n',
    "controller-sweep": 'supply_up_to = "25 psi"\nfirst_movement = "18 psi"\nfull_travel = "none"\nfollows = "none"\n'
    '[reading.vent]\nheld = "none"\nafter_1_s = "none"\n',
    "controller-vent": 'supply = "18 psi"\nrows = [{ turns_in = "mark 7", flow = "none", line_pressure = "none" }, '
    '{ turns_in = 2, loudness = "clear" }]\n',
    "free-travel": 'arm = "binds"\nswing = "none"\n',
    "solenoid-check": 'supply = "14 psi"\nrows = [{ duty = "50 %", line_pressure = "none" }]\n',
    "bleed-decay": 'start = "15 psi"\nend = "7 psi"\ntime = "none"\nhiss_stops = "none"\n',
    "hose-flow": 'supply = "15 psi"\nflow = "none"\nflow_new_hose = "none"\n',
    "compression": 'rows = [{ cylinder = 1, pressure = "none" }, { cylinder = 2, pressure = "11 bar" }]\n',
    "plugs-and-fuel": 'rows = [{ rpm = "3000 rpm", fuel_pressure = "none" }, '
    '{ rpm = "6000 rpm", fuel_pressure = "4 bar" }]\n',
    "fault-memory-look": 'codes = []\nignition_retard = "none"\n',
    "exhaust-smoke": 'leak_at = "none"\n',
    "hot-repeat": 'of = "actuator-sweep"\nsupply_up_to = "25 psi"\nfirst_movement = "none"\n',
    "swap-known-good": 'what = "hoses"\nresult = "no change"\n',
    "exhaust-back-pressure": 'rows = [{ rpm = "6000 rpm", pressure = "none" }, '
    '{ rpm = "2500 rpm", pressure = "2 psi", no_load = true }]\n',
}
CONTEXT = CarContext("ball and spring", False, 9.65e4, 712.0)


def _candidates() -> Candidates:
    par = np.array([[p.neutral] * 2 for p in layout.PARAMETERS])
    outputs = np.full((3, system.N_OUTPUT, 2), 1.5e5)
    return Candidates(par, np.array([300.0, 500.0, 700.0]), outputs, simulated=run_pull)


def _read(folder: Path, test: str, text: str):
    write_car(folder)
    (folder / "readings.toml").write_text(
        f'format = 1\n[[reading]]\ntest = "{test}"\n{text}', encoding="utf-8"
    )
    tomllib.loads((folder / "readings.toml").read_text(encoding="utf-8"))
    return read_case(folder).readings.reading[0]


@pytest.mark.parametrize("test", sorted(READINGS))
def test_none_is_no_number(tmp_path: Path, test: str) -> None:
    response = BY_ID[test].respond(_read(tmp_path, test, READINGS[test]), gauge_of(None), CONTEXT)
    features = response.features(_candidates())
    for observation in response.observations:
        assert np.all(np.isfinite(features[observation.feature])), observation.feature
        assert "mark" not in observation.feature


TORN = 'first_movement = "12 psi"\nloudness = "strong"\nheard_at = "actuator"\n'


def test_a_torn_diaphragm_lets_the_arm_move_at_a_higher_pressure_on_the_gauge(tmp_path: Path) -> None:
    sound = _candidates()
    par = sound.par.copy()
    par[layout.index_of("diaphragm_leak"), 1] = 8e-6
    response = BY_ID["actuator-sweep"].respond(_read(tmp_path, "actuator-sweep", TORN), gauge_of(None), CONTEXT)
    one, torn = response.features(replace(sound, par=par))["opening"]
    assert torn > one + 5e3
    quiet = TORN.replace("strong", "faint")
    other = BY_ID["actuator-sweep"].respond(_read(tmp_path, "actuator-sweep", quiet), gauge_of(None), CONTEXT)
    # how much the hose takes is not known either, where much air goes through it
    assert response.observations[0].sd > 1.5 * other.observations[0].sd


def test_standing_readings_say_nothing_of_a_pull(tmp_path: Path) -> None:
    found = _read(tmp_path, "exhaust-back-pressure", READINGS["exhaust-back-pressure"])
    assert BY_ID["exhaust-back-pressure"].respond(found, gauge_of(None), CONTEXT).observations == ()


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda t: t.id)
def test_probe_can_be_predicted(test) -> None:
    assert test.minutes > 0 and test.steps
    response = test.probe(CONTEXT)
    features = response.features(_candidates())
    assert response.observations
    for observation in response.observations:
        assert features[observation.feature].shape == (2,)
        assert observation.sd > 0.0
