"""The transient model as a whole: trends that physics demands, engines that agree, steps that converge."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from boostproof.diagnosis.evidence.drive import sound_ramp
from boostproof.diagnosis.evidence.simulator import car_kernel
from boostproof.physics import layout, system
from boostproof.physics.system import OUTPUT_INDEX

BOOST, TRAVEL = OUTPUT_INDEX["boost"], OUTPUT_INDEX["travel"]
REDLINE = 712.0


def cars(count: int = 1, **values: float | np.ndarray) -> np.ndarray:
    par = np.array([[p.neutral] * count for p in layout.PARAMETERS])
    for name, value in values.items():
        par[layout.index_of(name)] = value
    return par


def ramp(par: np.ndarray, *, ambient: float = 101325.0, outside: float = 298.0) -> np.ndarray:
    """Boost in the bins of a slow ramp, kPa gauge, (bins, n)."""
    drive = sound_ramp(REDLINE, 9e4, ambient, outside)
    out = car_kernel().run(
        par, drive.inputs, drive.steps, drive.record, drive.slots, engine="numpy", dtype=np.float64
    )
    return np.asarray(out[:, BOOST]) / 1e3


def held_open(**values: float) -> np.ndarray:
    """A car whose gate opens at once: its boost over speed is the floor."""
    return cars(opening_pressure=2.0e3, assistance=1.0, **values)


@pytest.mark.parametrize("larger", [0.024, 0.028, 0.034])
def test_bigger_port_lowers_the_floor(larger: float) -> None:
    small = ramp(held_open(port_diameter=0.020))[-1, 0]
    assert ramp(held_open(port_diameter=larger))[-1, 0] < small - 5.0


def test_freer_exhaust_worsens_creep() -> None:
    """A freer main exhaust raises the floor, a restricted one hides it (energy balance of the turbine)."""
    end = [ramp(held_open(port_diameter=0.022, exhaust_loss=k))[-1, 0] for k in (2e4, 1e5, 8e5)]
    assert end[0] > end[1] > end[2]


def test_cold_air_worsens_creep() -> None:
    car = held_open(port_diameter=0.022)
    assert ramp(car, outside=273.0)[-1, 0] > ramp(car, outside=298.0)[-1, 0] + 2.0


def test_soft_creep_follows_the_spring() -> None:
    """Stiff spring: a gentle rise from the threshold on; soft spring: level (droop k x / A)."""
    stiff, soft = (ramp(cars(spring_rate=k, port_diameter=0.036, assistance=0.05))[:, 0] for k in (9e6, 1e6))
    assert stiff[-2] - stiff[1] > 8.0
    assert abs(soft[-2] - soft[1]) < 4.0


def test_hard_creep_has_a_knee() -> None:
    """Travel used up: level first, then several times the slope."""
    boost = ramp(cars(spring_rate=1e6, port_diameter=0.025))[:, 0]
    level, climb = boost[2] - boost[1], boost[5] - boost[4]
    assert climb > 8.0 * level > 0.0


def test_line_off_lets_boost_run_away() -> None:
    sound, off = ramp(cars())[3, 0], ramp(cars(line_leak=2e-5, line_area=1e-8))[3, 0]
    assert off > sound + 40.0


def test_slow_line_spikes_and_settles() -> None:
    """A pinch behind the controller delays the gate at tip-in and leaves the level on a slow ramp."""
    t = np.arange(0.0, 4.0, 0.004)
    inputs = np.zeros((len(t), system.N_INPUT))
    inputs[:, 0], inputs[:, 4], inputs[:, 5] = 0.62 * REDLINE, 101325.0, 298.0
    inputs[:, 1] = np.where(t < 0.5, 0.13, 1.0)
    record = np.full(len(t), -1, np.int32)
    record[::10] = np.arange(len(record[::10]))
    par = cars(2, hose_area=np.array([6e-6, 2.5e-7]))
    out = car_kernel().run(
        par, inputs, np.full(len(t), 0.004), record, int(record.max()) + 1, engine="numpy", dtype=np.float64
    )
    boost = out[:, BOOST] / 1e3
    assert boost[:, 1].max() > boost[:, 0].max() + 5.0
    assert boost[-1, 1] == pytest.approx(boost[-1, 0], abs=3.0)


def test_ball_and_spring_adds_its_offset() -> None:
    """Offset controller: the level rises by about what the ball takes off."""
    plain = ramp(cars())[3, 0]
    offset = ramp(cars(offset=2.5e4, check=1.0, bleed_area=3e-7))[3, 0]
    assert offset - plain == pytest.approx(25.0, abs=9.0)


def test_lanes_equal_numpy() -> None:
    rng = np.random.default_rng(2)
    par = cars(64)
    for name in ("displacement", "port_diameter", "opening_pressure", "turbine_area", "assistance"):
        par[layout.index_of(name)] *= np.exp(0.1 * rng.standard_normal(64))
    par[layout.index_of("solenoid"), ::2] = 1.0
    par[layout.index_of("closed_loop"), ::2] = 1.0
    drive = sound_ramp(REDLINE, 9e4, 101325.0, 298.0)
    run = car_kernel().run
    both = [
        run(par, drive.inputs, drive.steps, drive.record, drive.slots, engine=engine, dtype=np.float64)
        for engine in ("numpy", "auto")
    ]
    assert np.abs(both[0] - both[1])[:, BOOST].max() < 1.0  # Pa


def test_against_a_tight_reference_solver() -> None:
    """Reference: scipy LSODA at 1e-8 on the model's own derivatives; boost within 0.3 kPa after spooling."""
    drive = sound_ramp(REDLINE, 9e4, 101325.0, 298.0)
    edges = np.concatenate([[0.0], np.cumsum(drive.steps)])
    middle = 0.5 * (edges[1:] + edges[:-1])
    par = tuple(float(p.neutral) for p in layout.PARAMETERS)

    def inputs(t: float) -> tuple[float, ...]:
        return tuple(float(np.interp(t, middle, drive.inputs[:, k])) for k in range(system.N_INPUT))

    def derivatives(t: float, y: np.ndarray) -> np.ndarray:
        return np.array(system.rates(tuple(y), par, inputs(t))[0])

    start = np.array(system.initial(par, inputs(0.0)))
    solved = solve_ivp(
        derivatives, (0.0, edges[-1]), start, method="LSODA", rtol=1e-7, atol=1e-6, t_eval=middle
    )
    reference = np.array(
        [system.rates(tuple(y), par, inputs(t))[2][BOOST] for t, y in zip(middle, solved.y.T, strict=True)]
    )
    record = np.arange(len(drive.steps), dtype=np.int32)
    out = car_kernel().run(
        cars(), drive.inputs, drive.steps, record, len(record), engine="numpy", dtype=np.float64
    )[:, BOOST, 0]
    at_start = np.interp(edges[:-1], middle, reference)
    late = middle > 3.0
    assert np.abs(out - at_start)[late].max() < 300.0
