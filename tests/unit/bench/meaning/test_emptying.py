"""Emptying a volume through a hole, against an integrator, closed forms and worked examples of others."""

from __future__ import annotations

import doctest
from types import ModuleType

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from boostproof.bench.meaning import chance, emptying, model, sensors
from boostproof.bench.meaning.emptying import (
    area_of_fall,
    area_of_flow,
    flow_per_area,
    hole_of,
    rate_at_start,
)

AIR = 101325.0
R, GAMMA, WARM = 287.05, 1.4, 293.15


def mass_flow(area: float, gauge: float, air: float = AIR) -> float:
    """Isentropic nozzle written with the Mach number: ``m = A p M sqrt(g/(R T)) (1 + (g-1)/2 M^2)^-(g+1)/(2(g-1))``."""
    p = gauge + air
    mach = min(1.0, np.sqrt(2.0 / (GAMMA - 1.0) * max((p / air) ** ((GAMMA - 1.0) / GAMMA) - 1.0, 0.0)))
    spread = (1.0 + 0.5 * (GAMMA - 1.0) * mach**2) ** (-(GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))
    return area * p * mach * np.sqrt(GAMMA / (R * WARM)) * spread


@pytest.mark.parametrize("exponent", [1.0, 1.2, 1.4])
@pytest.mark.parametrize(("start", "seconds"), [(200e3, 1.0), (100e3, 0.6), (40e3, 0.3), (12e3, 0.12)])
def test_against_an_ordinary_differential_equation(start: float, seconds: float, exponent: float) -> None:
    area, volume = 2.0e-7, 9.0e-5
    fall = solve_ivp(
        lambda _, p: [-exponent * R * WARM / volume * mass_flow(area, max(p[0], 0.0))],
        (0.0, seconds), [start], rtol=1e-9, atol=1e-6, method="LSODA", max_step=seconds / 500,
    )  # fmt: skip
    end = float(fall.y[0, -1])
    assert 1e3 < end < 0.9 * start
    found = area_of_fall(start, end, seconds, volume, AIR, exponent)
    assert float(found) == pytest.approx(area, rel=3e-4)
    rate = exponent * R * WARM / volume * mass_flow(area, start)
    assert float(rate_at_start(start, end, seconds, AIR)) == pytest.approx(rate, rel=3e-4)


def test_choked_isothermal_emptying_is_exponential() -> None:
    """While it chokes, p = p0 exp(-0.68473 sqrt(R T) A t / V): 60 mL through 0.4 mm2 from 400 to 200 kPa gauge."""
    seconds = 60e-6 / (0.68473 * np.sqrt(R * WARM) * 4e-7) * np.log((400e3 + AIR) / (200e3 + AIR))
    assert float(area_of_fall(400e3, 200e3, seconds, 60e-6, AIR)) == pytest.approx(4e-7, rel=2e-4)


@pytest.mark.parametrize(("hole", "seconds"), [(0.5, 0.63), (0.8, 0.25), (1.0, 0.16), (1.2, 0.11)])
def test_table_of_bleed_decays(hole: float, seconds: float) -> None:
    """60 mL from 100 to 50 kPa gauge, Cd 0.7, isothermal: a table that another program made, two figures."""
    area = area_of_fall(100e3, 50e3, seconds, 60e-6, AIR)
    assert float(hole_of(area, 0.7)) * 1e3 == pytest.approx(hole, rel=0.03)


@pytest.mark.published
def test_tyre_that_leaks() -> None:
    """Cengel & Boles (from memory): 220 kPa gauge, 94 kPa, 25 C, a hole of 4 mm: 0.554 kg/min at first."""
    flow = flow_per_area(220e3, 94e3, 298.15) * 0.25 * np.pi * 4e-3**2 * 60.0
    assert float(flow) == pytest.approx(0.554, abs=5e-4)


def test_rate_of_a_large_volume() -> None:
    """10 L at 293.15 K that lose 500 Pa/s near 95 kPa gauge (choked): 0.128 mm2, worked by hand."""
    assert float(area_of_fall(95.25e3, 94.75e3, 1.0, 10e-3, AIR)) * 1e6 == pytest.approx(0.128, abs=1e-3)


def test_flow_through_a_hole_against_the_conductance_of_iso_6358() -> None:
    """C = 0.1992 dm3/(s bar) for 1 mm2: choked flow of free air at 200 kPa gauge."""
    litres = 0.1992 * (200e3 + AIR) / 1e5
    assert float(area_of_flow(litres * 1e-3, 200e3, AIR)) * 1e6 == pytest.approx(1.0, rel=2e-3)


def test_bounds() -> None:
    assert float(area_of_fall(100e3, 100e3, 10.0, 1e-4, AIR)) == 0.0
    assert float(area_of_fall(50e3, 60e3, 10.0, 1e-4, AIR)) < 0.0
    assert np.all(np.diff(flow_per_area(np.linspace(0.0, 5e5, 200), AIR)) > 0.0)
    assert float(hole_of(-1.0)) == 0.0


@pytest.mark.parametrize("module", [chance, emptying, model, sensors])
def test_examples_in_the_text(module: ModuleType) -> None:
    tried = doctest.testmod(module)
    assert tried.attempted > 0 and tried.failed == 0
