"""A car followed for the moving picture is the car that was simulated, and what it shows adds up."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from boostproof.diagnosis.evidence.drive import sound_ramp
from boostproof.diagnosis.evidence.simulator import car_kernel
from boostproof.physics import layout
from boostproof.physics.gas import AIR_GAS_CONSTANT, EXHAUST_GAS_CONSTANT
from boostproof.physics.hardware import CONTROLLERS, GATES, fitted
from boostproof.physics.system import INPUTS, OUTPUTS
from boostproof.workflows.scene_moments import Moments, follow

TARGET, AROUND = 9.0e4, 1.0e5
LOOP = {"closed_loop": 1.0, "spool_band": 4.0e4, "feed_forward": 0.4, "loop_gain": 2.0e-6, "loop_integral": 3.0e-6}
RAMP = sound_ramp(712.0, TARGET, AROUND, 293.0)
FINER = 8
KEPT = list(range(60, len(RAMP.steps) - 1, 7))


def car(controller: str, gate: str, **more: float) -> np.ndarray:
    par = np.array([[p.neutral] for p in layout.PARAMETERS])
    for settings in (CONTROLLERS[controller], GATES[gate], LOOP if controller.startswith("solenoid") else {}, more):
        par = fitted(par, settings)
    return par


def followed(par: np.ndarray) -> Moments:
    return follow(par[:, 0], RAMP.inputs, RAMP.steps, KEPT)


KINDS = list(product(CONTROLLERS, GATES))
LEAKS = {"exhaust_leak": 1.0e-5, "line_leak": 1.0e-7, "charge_leak": 5.0e-6}


@pytest.fixture(scope="module")
def simulated() -> np.ndarray:
    """Outputs of every kind of car at the kept moments, by the engine that runs many cars at once."""
    record = np.full(len(RAMP.steps), -1, np.int32)
    record[KEPT] = np.arange(len(KEPT))
    cars = np.concatenate([car(*kind, **LEAKS) for kind in KINDS], axis=1)
    return car_kernel().run(
        cars, RAMP.inputs, RAMP.steps, record, len(KEPT), engine="numpy", dtype=np.float64
    )  # fmt: skip


@pytest.mark.parametrize(("controller", "gate"), KINDS)
def test_the_followed_car_is_the_simulated_one_and_its_flows_add_up(
    controller: str, gate: str, simulated: np.ndarray
) -> None:
    seen = followed(car(controller, gate, **LEAKS))
    mine = simulated[:, :, KINDS.index((controller, gate))]
    for number, name in enumerate(OUTPUTS):
        np.testing.assert_allclose(seen.outputs[:, number], mine[:, number], rtol=1e-6, atol=1e-9, err_msg=name)
    found = seen.found
    np.testing.assert_allclose(found["gates_flow"] + found["exhaust_leak_flow"], seen.output("gate_flow"), rtol=1e-9)
    # what enters the controller leaves by bleed, valve or hose
    leaving = found["bleed_flow"] + found["valve_flow"] + found["actuator_flow"]
    np.testing.assert_allclose(found["controller_flow"], leaving, atol=2e-6)
    assert found["exhaust_leak_flow"].max() > 1e-3 and found["line_leak_flow"].max() > 1e-6


def test_air_and_exhaust_are_kept_but_for_what_the_pipes_store() -> None:
    """In fine steps the charge pipes gain what compressor less engine less leak brings."""
    par = car("ball and spring", "internal flapper", charge_leak=2.0e-5)
    inputs, steps = np.repeat(RAMP.inputs, FINER, axis=0), np.repeat(RAMP.steps / FINER, FINER)
    kept = list(range(60 * FINER, len(steps) - 1))
    seen = follow(par[:, 0], inputs, steps, kept)
    found = seen.found
    brought = (found["compressor_flow"] - seen.output("engine_flow") - found["charge_leak_flow"]) * steps[kept]
    volume = par[layout.INDEX["charge_volume"], 0]
    warm = AIR_GAS_CONSTANT * seen.output("intake_temperature")
    stored = volume / warm[:-1] * np.diff(seen.output("compressor_outlet_pressure"))
    assert np.isclose(brought[:-1].sum(), stored.sum(), rtol=0.03)
    assert stored.sum() > 1e-3  # kg; the pipes do fill: the balance is no comparison of zeros
    left = found["exhaust_flow"] - found["turbine_flow"] - found["gates_flow"] - found["exhaust_leak_flow"]
    hot = EXHAUST_GAS_CONSTANT * seen.output("exhaust_temperature")
    held = par[layout.INDEX["exhaust_volume"], 0] / hot[:-1] * np.diff(seen.output("turbine_inlet_pressure"))
    assert np.isclose((left * steps[kept])[:-1].sum(), held.sum(), rtol=0.15)  # half a thousandth of the gas
    assert held.sum() > 1e-4


def test_a_leak_is_told_from_a_leaking_valve() -> None:
    pipe = followed(car("none", "internal flapper", charge_leak=2.0e-5)).found
    valve = followed(car("none", "internal flapper", bypass_leak=2.0e-5)).found
    assert pipe["charge_leak_flow"][-1] > 1e-3 and not pipe["bypass_leak_flow"].any()
    assert valve["bypass_leak_flow"][-1] > 1e-3 and not valve["charge_leak_flow"].any()


def test_a_ball_takes_its_offset_off_and_is_no_ball_where_none_is_fitted() -> None:
    offset = 3.0e4
    seen = followed(car("ball and spring", "internal flapper", offset=offset)).found
    lifted = seen["ball_open"] > 0.0
    assert lifted[-20:].all() and not lifted[:3].any()
    difference = seen["take_off"] - seen["behind_controller"]
    assert (difference[lifted] > offset).all() and (difference[lifted] < offset + 1.5e4).all()
    plain = followed(car("none", "internal flapper")).found
    assert not plain["ball_open"].any()
    assert np.abs(plain["take_off"] - plain["behind_controller"]).max() < 5e3


def test_a_gate_at_its_stop_is_all_open_and_a_seized_one_shut() -> None:
    short = followed(car("none", "internal flapper", free_travel=2.0e-3))
    assert np.isclose(short.found["gate_open"][-1], 1.0, atol=1e-3)
    assert np.isclose(short.output("travel")[-1], 2.0e-3, atol=1e-5)
    seized = followed(car("none", "internal flapper", friction=3.0e6))
    assert seized.found["gate_open"].max() < 1e-6 and seized.found["gates_flow"].max() < 1e-9
    twin = followed(car("none", "twin gates", other_travel=3.0e-3))
    ahead = twin.found["other_gate_open"] - twin.found["gate_open"]
    assert ahead.min() > -1e-6 and ahead.max() > 0.2  # the same travel is a larger share of a shorter way


def test_a_solenoid_vents_its_share() -> None:
    seen = followed(car("solenoid 3-port", "internal flapper", duty_stuck=1.0, duty_stuck_at=0.4))
    np.testing.assert_allclose(seen.found["valve_share"], 0.4, atol=1e-9)
    late = slice(len(KEPT) // 2, None)
    assert (seen.found["valve_flow"][late] > 0.0).all()
    assert (seen.found["behind_controller"][late] < 0.97 * seen.found["take_off"][late]).all()
    assert seen.inputs.shape == (len(KEPT), len(INPUTS))
