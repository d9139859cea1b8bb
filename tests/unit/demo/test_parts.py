"""Single parts of the simulator against published numbers and against their own definitions."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest

from boostproof.demo.compressor import compressor, efficiency
from boostproof.demo.gas import CP_EXHAUST, GAMMA_EXHAUST, R_EXHAUST, flow, hole
from boostproof.demo.gate import lift, open_area, push
from boostproof.demo.hardware import Compressor, Gate, Turbine
from boostproof.demo.turbine import pulse, turbine

WHEEL = Compressor(0.058, 1.22, 0.40, 1.04, 0.12, 1.94, 0.9, 0.28, 1.0, 2.4e-3)
FLAPPER = Gate(0.0, 0.030, 0.7, 0.026, 0.019, 0.0, 0.5, 0.016, 0.032)
POPPET = Gate(1.0, 0.038, 0.7, 1.0, 1.0, 0.0, 0.5, 0.014, 0.038)


@pytest.mark.published
def test_choked_leak_of_a_tyre() -> None:
    # Cengel & Boles, tyre leak: 220 kPa gauge, 94 kPa around, 25 C, 4 mm hole: 0.554 kg/min.
    lost = hole(0.25 * pi * 0.004**2, 314e3, 94e3, 298.0)
    assert lost * 60.0 == pytest.approx(0.554, rel=3e-3)


@pytest.mark.published
@pytest.mark.parametrize(
    ("ratio", "share"), [(0.95, 0.4493), (0.9, 0.6171), (0.8, 0.8188), (0.7, 0.9322), (0.6, 0.9886)]
)
def test_air_flow_follows_the_isentropic_table(ratio: float, share: float) -> None:
    # psi/psi* of the isentropic nozzle at gamma 1.4 (St-Venant; any compressible-flow table).
    choked = hole(1e-5, 2e5, 0.4 * 2e5, 300.0)
    assert hole(1e-5, 2e5, ratio * 2e5, 300.0) / choked == pytest.approx(share, abs=4e-3)


def test_hot_gas_flow_stays_within_half_a_percent_of_the_nozzle_formula() -> None:
    area, p, t, g = 4e-4, 250e3, 1150.0, GAMMA_EXHAUST
    for ratio in np.linspace(0.35, 0.97, 30):
        r = max(ratio, (2.0 / (g + 1.0)) ** (g / (g - 1.0)))
        psi = sqrt(2.0 * g / (g - 1.0) * (r ** (2.0 / g) - r ** ((g + 1.0) / g)))
        exact = area * p / sqrt(R_EXHAUST * t) * psi
        choked = area * p / sqrt(R_EXHAUST * t) * 0.667
        assert abs(flow(area, p, t, ratio * p, t, R_EXHAUST, 0.02) - exact) < 0.005 * choked


def test_flow_turns_round_with_the_pressures() -> None:
    there = flow(1e-5, 2e5, 300.0, 1.5e5, 340.0, 287.05, 0.03)
    assert flow(1e-5, 1.5e5, 340.0, 2e5, 300.0, 287.05, 0.03) == pytest.approx(-there, rel=1e-12)
    assert flow(1e-5, 2e5, 300.0, 2e5, 300.0, 287.05, 0.03) == 0.0


def test_compressor_slope_is_the_derivative_of_its_ratio() -> None:
    for mass in (0.03, 0.06, 0.12, 0.2, 0.26, 0.32):
        ratio, slope, _, _ = compressor(WHEEL, mass, 12500.0, 1e5, 298.0)
        ahead = compressor(WHEEL, mass + 1e-6, 12500.0, 1e5, 298.0)[0]
        assert (ahead - ratio) / 1e-6 == pytest.approx(slope, rel=1e-3, abs=1e-4)


def test_compressor_has_surge_a_believable_peak_and_choke() -> None:
    speed = 2.0 * 370.0 / WHEEL.wheel
    masses = np.linspace(0.01, 0.3, 120)
    ratio = np.array([compressor(WHEEL, m, speed, 1e5, 298.0)[0] for m in masses])
    eta = np.array([efficiency(WHEEL, m, speed, 1e5, 298.0) for m in masses])
    top = int(np.argmax(ratio))
    assert 0.03 < masses[top] < 0.13
    assert np.all(np.diff(ratio[:top]) > 0.0)
    assert np.all(np.diff(ratio[top + 1 :]) < 0.0)
    # tip speed 370 m/s gives about 2.2 (Psi 1.1 to 1.2); aluminium wheels peak at 0.70 to 0.78
    assert 1.95 < ratio[top] < 2.45
    assert 0.70 < eta.max() < 0.80
    assert eta[-1] < 0.3


def test_turbine_power_is_the_enthalpy_it_takes_out() -> None:
    part = Turbine(4.4e-4, 0.050, 0.66, 0.68, 0.05)
    mass, power, out = turbine(part, 220e3, 1150.0, 115e3, 11000.0, 0.3)
    assert mass * CP_EXHAUST * (1150.0 - out) == pytest.approx(power, rel=1e-12)
    ideal = mass * CP_EXHAUST * 1150.0 * (1.0 - (115.0 / 220.0) ** ((GAMMA_EXHAUST - 1.0) / GAMMA_EXHAUST))
    assert 0.5 < power / ideal < 0.70
    assert turbine(part, 100e3, 1150.0, 115e3, 11000.0, 0.0)[:2] == (0.0, 0.0)


@pytest.mark.parametrize("depth", [0.0, 0.4, 0.75])
def test_exhaust_pulse_keeps_the_mean(depth: float) -> None:
    phase = np.linspace(0.0, 2.0 * pi, 4001)[:-1]
    assert np.mean([pulse(a, depth) for a in phase]) == pytest.approx(1.0, abs=1e-9)
    assert min(pulse(a, depth) for a in phase) >= 0.0


@pytest.mark.parametrize("gate", [FLAPPER, POPPET])
def test_gate_area_starts_as_curtain_and_ends_as_port(gate: Gate) -> None:
    small = 2e-4
    curtain = gate.discharge * pi * gate.port * lift(gate, small)
    if gate.external > 0.5:
        curtain *= 0.88
    assert open_area(gate, small) == pytest.approx(curtain, rel=1e-3)
    port = gate.discharge * 0.25 * pi * gate.port**2
    assert 0.8 * port < open_area(gate, gate.free_travel) < port
    travel = np.linspace(0.0, gate.free_travel, 40)
    assert np.all(np.diff([open_area(gate, x) for x in travel]) > 0.0)


def test_exhaust_push_is_pressure_times_valve_and_falls_with_lift() -> None:
    assert push(POPPET, 0.0, 1e5) == pytest.approx(1e5 * 0.25 * pi * 0.038**2)
    assert push(FLAPPER, 0.0, 1e5) == pytest.approx(1e5 * 0.25 * pi * 0.032**2 * 0.019 / 0.026)
    assert push(POPPET, 0.01, 1e5) < 0.7 * push(POPPET, 0.0, 1e5)
    assert lift(FLAPPER, 0.010) < 0.019 * 0.010 / 0.026  # an arc is shorter up than along
