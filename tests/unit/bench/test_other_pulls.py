"""Test pulls with another set-up: what the set-up does to the car, and what the pull tells apart."""

from __future__ import annotations

from pathlib import Path
from time import process_time

import numpy as np
import pytest
from tests.unit.bench.small_car import write_car

from boostproof.bench import set_ups
from boostproof.bench.response import Candidates
from boostproof.bench.tests import BY_ID, CATALOGUE, CarContext
from boostproof.car.prior import build_prior
from boostproof.casefolder import read_case
from boostproof.diagnosis.evidence.simulator import run_pull
from boostproof.physics import layout, system

AMBIENT, TARGET, REDLINE = 1.0e5, 9.65e4, 712.0
SHARES = (0.65, 0.94)
KINDS = [("none", "internal flapper"), ("ball and spring", "internal flapper"), ("bleed valve", "external poppet"),
         ("solenoid 3-port", "internal flapper"), ("solenoid 4-port", "external poppet")]  # fmt: skip


def cars(folder: Path, kind: str, gate: str = "internal flapper", count: int = 64) -> np.ndarray:
    write_car(folder, kind, gate)
    prior = build_prior(read_case(folder).car)
    return prior.sound(np.random.default_rng(3).standard_normal((prior.size, count)))


def with_rows(par: np.ndarray, **values: float) -> np.ndarray:
    out = par.copy()
    for name, value in values.items():
        out[layout.INDEX[name]] = value
    return out


def candidates(par: np.ndarray, sound: np.ndarray | None = None) -> Candidates:
    outputs = np.zeros((2, system.N_OUTPUT, par.shape[1]))
    return Candidates(
        par, np.array([300.0, 700.0]), outputs, ambient=AMBIENT, sound=par if sound is None else sound,
        simulated=run_pull,
    )  # fmt: skip


def context(kind: str) -> CarContext:
    return CarContext(kind, False, TARGET, REDLINE)


def answers(test: str, par: np.ndarray, kind: str) -> dict[str, np.ndarray]:
    return dict(BY_ID[test].probe(context(kind)).features(candidates(par)))


@pytest.mark.parametrize(("kind", "gate"), KINDS)
def test_the_gate_held_open_stands_at_its_stop(tmp_path: Path, kind: str, gate: str) -> None:
    par = cars(tmp_path, kind, gate)
    ramp = set_ups.slow_ramp(REDLINE, TARGET, AMBIENT, SHARES)
    out = run_pull(par, set_ups.GATE_HELD_OPEN, ramp)
    full = np.minimum(par[layout.INDEX["gate_travel"]], par[layout.INDEX["free_travel"]])
    share = out[:, system.OUTPUT_INDEX["travel"]] / full
    # where the exhaust does not push it all the way, there is hardly any boost to be had
    boost = out[:, system.OUTPUT_INDEX["boost"]]
    assert np.all((share > 0.97) | (boost < 8.0e3))
    assert (share[1] > 0.97).mean() > 0.5


def test_a_small_port_shows_on_the_floor_and_a_strong_spring_does_not(tmp_path: Path) -> None:
    par = cars(tmp_path, "none")
    floor = answers("floor-pull", par, "none")["floor high"]
    port = par.copy()
    port[layout.INDEX["port_diameter"]] *= 0.6
    spring = par.copy()
    spring[layout.INDEX["opening_pressure"]] *= 1.5
    assert np.median(answers("floor-pull", port, "none")["floor high"] - floor) > 2.0e4
    assert answers("floor-pull", spring, "none")["floor high"] == pytest.approx(floor, abs=100.0)


@pytest.mark.parametrize("kind", ["ball and spring", "bleed valve", "solenoid 3-port"])
def test_the_controller_out_tells_the_spring_from_the_controller(tmp_path: Path, kind: str) -> None:
    par = cars(tmp_path, kind)
    level = answers("spring-only-pull", par, kind)["spring level high"]
    wrong = {"line_area": 1.0e-9, "offset": 2.0e5, "line_leak": 5.0e-6, "take_off": 1.0, "duty_stuck": 1.0}
    blocked = with_rows(par, **wrong, duty_stuck_at=1.0)
    assert answers("spring-only-pull", blocked, kind)["spring level high"] == pytest.approx(level, abs=1.0)
    spring = par.copy()
    spring[layout.INDEX["opening_pressure"]] += 3.0e4
    higher = answers("spring-only-pull", spring, kind)["spring level high"] - level
    assert np.median(higher) > 1.5e4


def test_a_narrow_line_overshoots_at_tip_in(tmp_path: Path) -> None:
    par = cars(tmp_path, "none")
    narrow = par.copy()
    narrow[layout.INDEX["line_area"]] *= 0.01
    sound, pinched = (answers("tip-in", p, "none")["overshoot 1"] for p in (par, narrow))
    assert np.median(pinched) > np.median(sound) + 4.0e3


def test_trapped_pressure_slows_the_second_run(tmp_path: Path) -> None:
    par = cars(tmp_path, "ball and spring")
    blocked = par.copy()
    blocked[layout.INDEX["bleed_area"]] *= 1.0e-3
    free, trapped = (answers("re-apply", p, "ball and spring")["second spool"] for p in (par, blocked))
    assert np.median(trapped - free) < -1.0e4


def test_hot_and_cold_air_move_the_boost_of_a_car_at_its_floor_only(tmp_path: Path) -> None:
    par = cars(tmp_path, "none")
    quick, slow = (
        set_ups.slow_ramp(REDLINE, TARGET, AMBIENT, (0.94,), seconds=6.0, temperature=t) for t in (283.0, 303.0)
    )
    shown = system.OUTPUT_INDEX["boost"]

    def cooler_minus_warmer(p: np.ndarray) -> float:
        return float(np.median(run_pull(p, (), quick)[0, shown] - run_pull(p, (), slow)[0, shown]))

    port = par.copy()
    port[layout.INDEX["port_diameter"]] *= 0.5
    assert cooler_minus_warmer(port) > cooler_minus_warmer(par) + 500.0


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda t: t.id)
def test_an_answer_costs_little(tmp_path: Path, test) -> None:
    """50 ms for 4,000 candidates on a quiet core; 0.3 s for 1,000 where a pull is simulated. Thrice that here."""
    kind = "solenoid 3-port" if test.fits(context("solenoid 3-port")) else "ball and spring"
    pulled = test.id in ("floor-pull", "spring-only-pull", "tip-in", "re-apply", "repeat-ramp")
    par = cars(tmp_path, kind, count=1000 if pulled else 4000)
    response, held = test.probe(context(kind)), candidates(par)
    response.features(candidates(par[:, :32]))
    start = process_time()
    response.features(held)
    assert process_time() - start < (0.9 if pulled else 0.15)


def test_swapped_ports_never_move_and_a_reversed_controller_is_no_bad_hose(tmp_path: Path) -> None:
    sound = cars(tmp_path, "ball and spring")
    swapped = with_rows(sound, ports_swapped=1.0)
    assert np.all(answers("actuator-sweep", swapped, "ball and spring")["opening"] > 5.0e5)
    reversed_ = with_rows(sound, offset=0.0, hose_area=1.0e-9)
    probe = BY_ID["hose-flow"].probe(context("ball and spring"))
    share = probe.features(candidates(reversed_, sound))["share of new"]
    assert share == pytest.approx(np.zeros(sound.shape[1]), abs=0.01)
    look = BY_ID["cold-look"].probe(context("ball and spring")).features(candidates(reversed_, sound))
    assert np.all(look["in and out"] == 1.0) and np.all(look["ports"] == 0.0)
