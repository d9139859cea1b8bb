"""Turbine tables and their fits; the source stands at each check. All tables are invented."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostproof.errors import InputRangeError
from boostproof.physics import gas, orifice, turbine
from boostproof.physics import turbine_map as tm
from boostproof.physics.corrected import ISO_2533, SAE_J1826, corrected_flow, corrected_speed

RPM = np.pi / 30.0
RATIO = np.tile(np.linspace(1.2, 3.2, 9), 4)
SPEED = np.repeat([300.0, 400.0, 500.0, 600.0], 9)  # rad/s per root of kelvin
AREA, DIAMETER, BEST, OPTIMUM = 5.4e-4, 0.050, 0.66, 0.62


def parabola(optimum: float = OPTIMUM) -> np.ndarray:
    """Efficiency by Watson & Janota's parabola in blade speed ratio (from memory)."""
    b = tm.blade_speed_ratio(RATIO, 1.0, SPEED, DIAMETER) / optimum
    return np.asarray(BEST * (2.0 * b - b * b))


KEPT = parabola() > 0.3  # gas stands do not go further


def table(flow: np.ndarray, efficiency: np.ndarray) -> tm.TurbineTable:
    return tm.TurbineTable(RATIO[KEPT], flow[KEPT], efficiency[KEPT], SPEED[KEPT])


def test_blade_speed_ratio_worked_example() -> None:
    """45 mm at 150 000 rpm, 250 to 115 kPa, 1200 K, cp 1290, gamma 1.29: U 353.4 m/s, jet 704.2 m/s, ratio
    0.5019 (textbook relation, worked by hand)."""
    drop = float(tm.isentropic_drop(250.0 / 115.0, 1.29))
    assert np.sqrt(2.0 * 1290.0 * 1200.0 * drop) == pytest.approx(704.2, abs=0.05)
    bsr = tm.blade_speed_ratio(250 / 115, 1200.0, 150e3 * RPM, 0.045, specific_heat=1290.0, gamma=1.29)
    assert float(bsr) == pytest.approx(0.5019, abs=5e-5)


def test_isentropic_tables() -> None:
    """T/T0 at p/p0 of the isentropic tables, gamma 1.4 as printed: Mach 0.5: 0.8430, 0.9524; Mach 2: 0.1278,
    0.5556; gamma 1.33 by the closed form: Mach 2: 0.1297, 0.6024."""
    for ratio, temperature, gamma in ((0.8430, 0.9524, 1.4), (0.1278, 0.5556, 1.4), (0.1297, 0.6024, 1.33)):
        assert 1.0 - float(tm.isentropic_drop(1 / ratio, gamma)) == pytest.approx(temperature, abs=2e-4)


def test_textbook_turbocharger() -> None:
    """Cengel & Boles 8e, prob. 7-214: exhaust 0.02 kg/s falls from 450 to 400 °C, 95 % reaches the compressor,
    whose 0.018 kg/s then leave at 126.1 °C (answer from memory). The model's torque that gives the book's
    fall in temperature gives the book's outlet."""
    ratio, diameter, speed = 1.5, 0.05, 9000.0
    drop = float(tm.isentropic_drop(ratio))
    unit = float(turbine.turbine_torque(0.02, 723.15, 1.0 - drop, speed, diameter, 1.0)[0])
    efficiency = 0.02 * gas.EXHAUST_CP * 50.0 / (unit * speed)
    assert 0.3 < efficiency < 0.9
    torque = turbine.turbine_torque(0.02, 723.15, 1.0 - drop, speed, diameter, efficiency)[0]
    power = speed * float(torque)
    fall = power / (0.02 * gas.EXHAUST_CP)
    outlet = 70.0 + 0.95 * 0.02 * 1.075 * fall / (0.018 * 1.011)  # the book's cp of both gases
    assert outlet == pytest.approx(126.1, abs=0.1)


def test_model_flow_is_nearer_two_nozzles_than_one() -> None:
    """A radial turbine is stator and rotor in series and chokes later than one nozzle (Watson & Janota, from
    memory). The model's flow function against ideal nozzles (St-Venant), areas fitted, expansion ratio 1.2 to
    3.0: 2.4 % rms of the largest flow from two equal ones that share the ratio, 9.6 % from one."""
    ratio = np.linspace(1.2, 3.0, 37)
    one = orifice.isentropic_flow_function(1.0 / ratio, gas.EXHAUST_GAMMA)
    two = orifice.isentropic_flow_function(1.0 / np.sqrt(ratio), gas.EXHAUST_GAMMA)
    from_one, from_two = (tm.fit_turbine(tm.TurbineTable(ratio, f * 3e-5)).flow_rms for f in (one, two))
    assert (from_two, from_one) == pytest.approx((0.024, 0.096), abs=1e-3)


@pytest.mark.parametrize(("exponent", "rms"), [(1.0, 0.019), (1.5, 0.001), (2.0, 0.020), (3.0, 0.051)])
def test_distance_from_eriksson(exponent: float, rms: float) -> None:
    """``k1 sqrt(1 - (p4/p3)^k2)``, k2 of 1 to 3 (Eriksson 2007; Wahlstrom & Eriksson 2011, from memory). The
    model has k2 1.5 and is soft at no flow; area fitted, expansion ratio 1.2 to 3.2; the rms over the largest flow
    is a number of our own output."""
    flow = 2e-5 * np.sqrt(1.0 - RATIO**-exponent)
    fit = tm.fit_turbine(tm.TurbineTable(RATIO, flow))
    assert fit.flow_rms == pytest.approx(rms, abs=6e-4)
    if exponent == 1.5:
        assert fit.area == pytest.approx(2e-5 * np.sqrt(gas.EXHAUST_GAS_CONSTANT) / 0.74, rel=0.01)


def test_exact_table_gives_its_numbers_back() -> None:
    fit = tm.fit_turbine(table(tm.model_flow_parameter(RATIO, AREA), parabola()), diameter=DIAMETER)
    assert fit.area == pytest.approx(AREA, rel=1e-9) and fit.flow_rms < 1e-9
    e = fit.efficiency
    assert e is not None
    assert (e.best, e.optimum) == (pytest.approx(BEST, rel=1e-9), pytest.approx(OPTIMUM, rel=1e-9))
    assert e.rms < 1e-9 and e.span[0] < OPTIMUM < e.span[1]
    assert e.model_best == pytest.approx(BEST, abs=0.02)  # its optimum is fixed at 0.65
    assert 0.0 < e.model_rms < 0.03


def test_the_model_s_own_efficiency_comes_back() -> None:
    """The torque of turbine.py, read as efficiency, is the parabola with its top at the model's optimum."""
    own = tm.model_efficiency(RATIO, SPEED, DIAMETER, BEST)
    ideal = parabola(turbine.BLADE_SPEED_OPTIMUM)
    assert own[KEPT] == pytest.approx(ideal[KEPT], abs=4e-3)  # the model softens the jet at no drop
    e = tm.fit_turbine(table(tm.model_flow_parameter(RATIO, AREA), own), diameter=DIAMETER).efficiency
    assert e is not None
    assert e.model_best == pytest.approx(BEST, abs=2e-3)
    assert e.optimum == pytest.approx(turbine.BLADE_SPEED_OPTIMUM, abs=3e-3)


def test_noisy_tables_give_their_numbers_back_within_the_stated_uncertainty() -> None:
    """1.5 % of the largest flow, 1 point of efficiency, 200 tables: error over stated uncertainty has spread 1."""
    rng = np.random.default_rng(5)
    flow, efficiency = tm.model_flow_parameter(RATIO, AREA), parabola()
    z: dict[str, list[float]] = {"area": [], "best": [], "optimum": []}
    for _ in range(200):
        noisy = table(
            flow + 0.015 * flow.max() * rng.standard_normal(flow.size),
            efficiency + 0.01 * rng.standard_normal(flow.size),
        )
        fit = tm.fit_turbine(noisy, diameter=DIAMETER)
        e = fit.efficiency
        assert e is not None
        z["area"].append((fit.area - AREA) / fit.area_uncertainty)
        z["best"].append((e.best - BEST) / e.best_uncertainty)
        z["optimum"].append((e.optimum - OPTIMUM) / e.optimum_uncertainty)
        assert e.rms == pytest.approx(0.01, rel=0.6)
    for name, values in z.items():
        assert abs(np.mean(values)) < 0.3, name
        assert 0.85 < np.std(values) < 1.2, name  # 200 draws of spread 1: 1 +- 0.05


@given(st.floats(1.0, 8.0), st.floats(1.0, 8.0), st.floats(1e-4, 3e-3))
def test_flow_is_finite_monotone_and_continuous(one: float, other: float, area: float) -> None:
    low, high = sorted((one, other))
    flow = tm.model_flow_parameter([low, high, low * (1 + 1e-9)], area)
    assert np.all(np.isfinite(flow)) and flow[0] >= 0.0
    assert flow[1] >= flow[0]
    assert flow[2] - flow[0] < 1e-6 * area  # finite slope even at ratio 1


@given(st.floats(1.001, 8.0), st.floats(0.0, 2000.0), st.floats(0.02, 0.11), st.floats(0.1, 0.9))
def test_efficiency_is_finite_and_never_above_the_best(
    ratio: float, speed: float, diameter: float, best: float
) -> None:
    efficiency = float(tm.model_efficiency(ratio, speed, diameter, best))
    assert np.isfinite(efficiency) and efficiency <= best * (1 + 1e-9)


@given(st.floats(1.01, 6.0), st.floats(500.0, 1400.0), st.floats(1000.0, 30e3), st.floats(0.02, 0.11))
def test_blade_speed_ratio_needs_only_corrected_speed(
    ratio: float, temperature: float, speed: float, diameter: float
) -> None:
    straight = float(tm.blade_speed_ratio(ratio, temperature, speed, diameter))
    reduced = float(tm.blade_speed_ratio(ratio, 1.0, speed / np.sqrt(temperature), diameter))
    assert straight == pytest.approx(reduced, rel=1e-12)
    assert straight < float(tm.blade_speed_ratio(ratio, temperature, 1.01 * speed, diameter))


def test_corrected_tables_are_the_same_table() -> None:
    flow = tm.model_flow_parameter(RATIO, AREA)
    p3, t3 = 200e3, 900.0
    actual, speed = flow * p3 / np.sqrt(t3), SPEED * np.sqrt(t3)
    for reference in (SAE_J1826, ISO_2533):
        made = tm.table_from_corrected(
            RATIO, corrected_flow(p3, t3, actual, reference), reference,
            np.full(RATIO.size, 0.6), corrected_speed(t3, speed, reference),
        )  # fmt: skip
        assert made.flow_parameter == pytest.approx(flow, rel=1e-12)
        assert made.speed_parameter == pytest.approx(SPEED, rel=1e-12)


def test_without_speed_or_diameter_there_is_no_efficiency() -> None:
    flow = tm.model_flow_parameter(RATIO, AREA)
    assert tm.fit_turbine(tm.TurbineTable(RATIO, flow, parabola().clip(0.1)), diameter=DIAMETER).efficiency is None
    assert tm.fit_turbine(table(flow, parabola())).efficiency is None


@pytest.mark.parametrize(
    ("column", "row", "value", "says"),
    [
        ("expansion_ratio", 0, 0.8, r"row 1: expansion_ratio must lie between 1 and 8, got 0\.8\. Give the ratio"),
        ("flow_parameter", 3, 0.02, r"row 4: flow_parameter .* got 0\.02\. .*per kilopascal is 1000 times"),
        ("efficiency", 5, 66.0, r"row 6: efficiency .* got 66\. .*not in per cent"),
        ("speed_parameter", 2, float("nan"), r"row 3: speed_parameter .* got nan\."),
    ],
)
def test_rows_that_cannot_be_are_named(column: str, row: int, value: float, says: str) -> None:
    good = table(tm.model_flow_parameter(RATIO, AREA), parabola())
    columns = {
        n: np.array(getattr(good, n))
        for n in ("expansion_ratio", "flow_parameter", "efficiency", "speed_parameter")
    }
    columns[column][row] = value
    with pytest.raises(InputRangeError, match=says):
        tm.TurbineTable(**columns)


def test_other_impossible_input_is_refused() -> None:
    flow = tm.model_flow_parameter(RATIO, AREA)
    with pytest.raises(InputRangeError, match="at least three rows, this one has 2"):
        tm.TurbineTable(RATIO[:2], flow[:2])
    with pytest.raises(InputRangeError, match=r"flow_parameter has shape \(3,\), expansion_ratio \(36,\)"):
        tm.TurbineTable(RATIO, flow[:3])
    with pytest.raises(InputRangeError, match="diameter must lie between 20 and 110 mm, got 50000 mm"):
        tm.fit_turbine(table(flow, parabola()), diameter=50.0)
    bsr = tm.blade_speed_ratio(RATIO, 1.0, SPEED, DIAMETER)
    with pytest.raises(InputRangeError, match="Efficiency does not bend down over blade speed ratios"):
        tm.fit_turbine(table(flow, 0.5 * bsr**2), diameter=DIAMETER)
    with pytest.raises(InputRangeError, match=r"must be at least 1, got 0\.5"):
        tm.isentropic_drop(0.5)
    with pytest.raises(InputRangeError, match="must be above 1 for a blade speed ratio"):
        tm.blade_speed_ratio(1.0, 1000.0, 9000.0, 0.05)
