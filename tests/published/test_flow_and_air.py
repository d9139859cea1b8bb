"""Flow, air and compressor against printed tables and textbook examples; the source stands at each."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from boostproof.bench.tests.model import gauge_of
from boostproof.errors import InputRangeError
from boostproof.physics import compressor, gas, orifice, turbine
from boostproof.physics.atmosphere import (
    air_density,
    altitude_from_pressure,
    geometric_altitude,
    geopotential_altitude,
    standard_density,
    standard_pressure,
    standard_temperature,
)
from boostproof.physics.gas_properties import air_properties, mean_cp_air
from boostproof.physics.moist_air import moist_air_density


@pytest.mark.parametrize(
    ("gamma", "critical", "choked"),
    # Isentropic-flow tables, gamma 1.4 as printed in aeronautical data books (p*/p0 0.5283); gamma 1.33 and
    # the choked function by the closed form of any compressible-flow text.
    [(1.4, 0.5283, 0.68473), (1.33, 0.5404, 0.67263)],
)
def test_choking(gamma: float, critical: float, choked: float) -> None:
    assert orifice.critical_pressure_ratio(gamma) == pytest.approx(critical, abs=5e-5)
    assert orifice.choked_flow_function(gamma) == pytest.approx(choked, abs=5e-6)


@pytest.mark.parametrize(
    ("gamma", "temperature", "density", "flow"),
    # Ratios at the throat as printed in isentropic-flow tables (gamma 1.4); 1.33 by the closed form. The last
    # is m sqrt(T0) / (p0 A) with R 287.05 J/(kg K).
    [(1.4, 0.8333, 0.6339, 0.040415), (1.33, 0.8584, 0.6295, 0.039701)],
)
def test_throat(gamma: float, temperature: float, density: float, flow: float) -> None:
    critical = orifice.critical_pressure_ratio(gamma)
    assert critical ** ((gamma - 1.0) / gamma) == pytest.approx(temperature, abs=5e-5)
    assert critical ** (1.0 / gamma) == pytest.approx(density, abs=5e-5)
    assert orifice.choked_flow_function(gamma) / np.sqrt(287.05) == pytest.approx(flow, abs=1e-6)


def test_throat_temperature_of_the_model() -> None:
    """0.8333 of the total temperature at 0.5283 of the pressure: the model's own power law of air."""
    ratio = float(gas.isentropic_ratio_air(gas.fourth_root(0.5283)))
    assert ratio == pytest.approx(0.8333, abs=1e-4)
    assert 0.5283 / ratio == pytest.approx(0.6339, abs=1e-4)


@pytest.mark.parametrize(
    ("gamma", "pressure", "temperature", "area"),
    # p/p0, T/T0 and A/A* of isentropic-flow tables at Mach 0.5 and 0.9 (gamma 1.4 as printed, 1.33 closed form)
    [(1.4, 0.8430, 0.9524, 1.3398), (1.4, 0.5913, 0.8606, 1.0089), (1.33, 0.8497, 0.9604, 1.3454)],
)
def test_isentropic_tables(gamma: float, pressure: float, temperature: float, area: float) -> None:
    assert pressure ** ((gamma - 1.0) / gamma) == pytest.approx(temperature, abs=1e-4)
    psi = float(orifice.isentropic_flow_function(pressure, gamma))
    assert orifice.choked_flow_function(gamma) / psi == pytest.approx(area, abs=2e-4)


@pytest.mark.parametrize(
    ("gamma", "shares"),
    # psi over its choked value at 0.95, 0.9, 0.8, 0.7, 0.6, from A*/A of the isentropic tables at the same p/p0
    [(1.4, (0.4493, 0.6171, 0.8188, 0.9322, 0.9886)), (1.33, (0.4567, 0.6264, 0.8283, 0.9394, 0.9919))],
)
def test_subsonic_flow_function(gamma: float, shares: tuple[float, ...]) -> None:
    psi = orifice.isentropic_flow_function([0.95, 0.9, 0.8, 0.7, 0.6], gamma) / orifice.choked_flow_function(gamma)
    assert psi == pytest.approx(np.array(shares), abs=1e-4)


@pytest.mark.parametrize("ratio", [0.95, 0.8, 0.65, 0.52])
def test_flow_function_against_cantera(ratio: float) -> None:
    """Reference library: Cantera expands argon (gamma 5/3 at every temperature) at constant entropy.

    Flow per area of a nozzle is ``rho sqrt(2 (h0 - h))``; the library knows no flow function.
    """
    cantera = pytest.importorskip("cantera", reason="the test extra brings cantera")
    argon = cantera.Solution("gri30.yaml")
    argon.TPX = 1200.0, 250e3, "AR:1"
    entropy, enthalpy, speed = argon.entropy_mass, argon.enthalpy_mass, np.sqrt(argon.P / argon.density)
    argon.SP = entropy, ratio * 250e3
    flux = argon.density * np.sqrt(2.0 * (enthalpy - argon.enthalpy_mass))
    assert float(orifice.isentropic_flow_function(ratio, 5 / 3)) == pytest.approx(flux * speed / 250e3, rel=1e-6)


@pytest.mark.parametrize(
    ("gamma", "gas_constant", "flow"),
    # Wastegate of 26 mm, Cd 0.7, 250 to 115 kPa, 1200 K, choked; St-Venant equation worked out apart
    [(1.33, 287.0, 0.10649), (1.29, 290.0, 0.10481)],
)
def test_hot_valve(gamma: float, gas_constant: float, flow: float) -> None:
    scale = 0.7 * np.pi / 4 * 0.026**2 * 250e3 / np.sqrt(gas_constant * 1200.0)
    psi = float(orifice.isentropic_flow_function(115 / 250, gamma))
    assert scale * psi == pytest.approx(flow, abs=5e-6)
    # the model's fixed exhaust stays within 2.6 % of either pair
    model = 0.7 * np.pi / 4 * 0.026**2 * 250e3 / np.sqrt(gas.EXHAUST_GAS_CONSTANT * 1200.0)
    assert model * float(orifice.exhaust_flow_function(115 / 250)[0]) == pytest.approx(flow, rel=0.026)


def test_blade_speed_ratio() -> None:
    """45 mm at 150 000 rpm, 1200 K, 250 to 115 kPa, cp 1290, gamma 1.29: U 353.4, C0 704.2 m/s, 0.5019."""
    tip, jet = 0.045 * np.pi * 150e3 / 60, np.sqrt(2 * 1290 * 1200 * (1 - (115 / 250) ** (0.29 / 1.29)))
    assert (tip, jet, tip / jet) == pytest.approx((353.4, 704.2, 0.5019), rel=1e-4)
    # the torque falls as 2 - BSR / BSR_opt from rest; the model's cp is 1302, so its BSR is 0.5 % lower
    at_rest, turning = (
        turbine.turbine_torque(0.1, 1200.0, (115 / 250) ** (0.29 / 1.29), speed, 0.045, 0.7)[0]
        for speed in (0.0, 150e3 * np.pi / 30)
    )
    ratio = turbine.BLADE_SPEED_OPTIMUM * (2.0 - 2.0 * float(turning / at_rest))
    assert ratio == pytest.approx(0.5019, rel=7e-3)


def test_flow_function_against_fluids() -> None:
    """Reference library: fluids, mass flow through an ideal nozzle is choked at the same critical ratio."""
    fluids = pytest.importorskip("fluids", reason="the test extra brings fluids")
    critical = fluids.compressible.P_critical_flow(1e5, 1.4) / 1e5
    assert orifice.critical_pressure_ratio(1.4) == pytest.approx(critical, rel=1e-9)


@pytest.mark.parametrize(
    ("p1", "p2", "b", "flow"),
    # ISO 6358-1 form, C = 1 dm3/(s bar), 293.15 K, exponent 0.5; worked by hand from the standard's equation
    [(200e3, 100e3, 0.5, 2.370e-3), (300e3, 240e3, 0.3, 2.4880e-3), (200e3, 180e3, 0.3, 1.22074e-3),
     (700e3, 300e3, 0.4, 8.28559e-3)],
)  # fmt: skip
def test_iso_6358_points(p1: float, p2: float, b: float, flow: float) -> None:
    assert float(orifice.iso6358_mass_flow(p1, p2, 293.15, 1e-8, b)) == pytest.approx(flow, rel=5e-4)


@pytest.mark.parametrize(
    ("p1", "p2", "b", "volume"),
    # the same points as volume at the reference atmosphere of ISO 8778 (1.185 kg/m3), dm3/s
    [(200e3, 100e3, 0.5, 2.0000), (300e3, 240e3, 0.3, 2.0996), (200e3, 180e3, 0.3, 1.0302),
     (700e3, 300e3, 0.4, 6.9921)],
)  # fmt: skip
def test_iso_6358_points_as_free_air(p1: float, p2: float, b: float, volume: float) -> None:
    flow = float(orifice.iso6358_mass_flow(p1, p2, 293.15, 1e-8, b))
    assert flow / orifice.ANR_DENSITY * 1e3 == pytest.approx(volume, rel=1e-4)
    # ISO 6358-1: flow falls with the root of the upstream temperature
    assert float(orifice.iso6358_mass_flow(p1, p2, 4 * 293.15, 1e-8, b)) == pytest.approx(flow / 2, rel=1e-12)


def test_iso_6358_reference_air() -> None:
    """ISO 8778: 100 kPa, 20 degC, 65 % humidity, stated as 1.185 kg/m3; CIPM-2007 says 1.182, 0.25 % less."""
    assert float(moist_air_density(100e3, 293.15, 0.65)) == pytest.approx(orifice.ANR_DENSITY, rel=3e-3)


def test_ellipse_of_iso_6358_is_an_ideal_nozzle_at_its_critical_ratio() -> None:
    """With b 0.528 the quarter ellipse is within 0.0015 of choked flow of the isentropic form (worked out)."""
    ratio = np.linspace(0.0, 1.0, 2001)
    ellipse = orifice.iso6358_mass_flow(1.0, ratio, 293.15, 1.0 / orifice.ANR_DENSITY, 0.52828)
    exact = orifice.isentropic_flow_function(ratio) / orifice.choked_flow_function(1.4)
    assert np.abs(ellipse - exact).max() < 0.0017


def test_conductance_of_an_area() -> None:
    """C = 0.1992 dm3/(s bar) per mm2 of effective area (ISO 6358 definition, ideal nozzle)."""
    assert float(orifice.conductance_from_area(1e-6)) * 1e8 == pytest.approx(0.1992, abs=1e-4)


@pytest.mark.parametrize(("back", "low"), [(0.99, 0.0015), (0.9, 0.016), (0.7, 0.057), (0.5, 0.116), (0.2, 0.125)])
@pytest.mark.parametrize("second", [0.25, 0.5, 1.0, 2.0, 4.0])
def test_two_restrictions_in_a_row(back: float, low: float, second: float) -> None:
    """Series area against two isentropic nozzles with the pressure between them solved for.

    It never says too much; it says too little by up to the share given, most for equal areas.
    """

    def flow(area: float, high: float, low: float) -> float:
        return area * high * float(orifice.isentropic_flow_function(low / high))

    between = brentq(lambda p: flow(1.0, 1.0, p) - flow(second, p, back), back + 1e-12, 1.0)
    combined = flow(float(orifice.series_area(1.0, second)), 1.0, back)
    assert (1.0 - low) * flow(1.0, 1.0, between) <= combined <= flow(1.0, 1.0, between)


def test_model_flow_stays_near_the_exact_one() -> None:
    """The model's ellipse against the isentropic function: within 2 % of choked flow up to 0.95."""
    ratio = np.linspace(0.1, 0.95, 86)
    exact = orifice.isentropic_flow_function(ratio)
    model = orifice.air_flow(np.ones(86), np.full(86, 2e5), 2e5 * ratio, np.full(86, 300.0))[0]
    as_psi = model * np.sqrt(287.05 * 300.0) / 2e5
    assert np.abs(as_psi - exact).max() < 0.02 * orifice.choked_flow_function(1.4)


@pytest.mark.parametrize(
    ("altitude", "pressure", "density"),
    # ISO 2533 / ICAO standard atmosphere, geopotential altitude; ASHRAE 2017 table 1 prints 95.461 kPa at 500 m
    [(0, 101325.0, 1.22500), (500, 95460.8, 1.16727), (1000, 89874.6, 1.11164), (1500, 84556.0, 1.05807),
     (2000, 79495.2, 1.00649), (3000, 70108.5, 0.90912)],
)  # fmt: skip
def test_standard_atmosphere(altitude: float, pressure: float, density: float) -> None:
    assert float(standard_pressure(altitude)) == pytest.approx(pressure, abs=0.06)
    assert float(standard_density(altitude)) == pytest.approx(density, abs=6e-6)
    assert float(standard_temperature(altitude)) == pytest.approx(288.15 - 0.0065 * altitude, abs=1e-9)
    assert float(altitude_from_pressure(pressure)) == pytest.approx(altitude, abs=0.01)
    assert float(air_density(pressure, standard_temperature(altitude))) == pytest.approx(density, rel=2e-5)


@pytest.mark.parametrize(
    ("geometric", "pressure"),
    # the same table by altitude on a map
    [(0, 101325.0), (500, 95461.3), (1000, 89876.3), (1500, 84559.7), (2000, 79501.4), (3000, 70121.1)],
)
def test_atmosphere_against_reference_libraries(geometric: float, pressure: float) -> None:
    """Reference libraries: ambiance and fluids, which both take geometric altitude."""
    ambiance = pytest.importorskip("ambiance", reason="the test extra brings ambiance")
    fluids = pytest.importorskip("fluids", reason="the test extra brings fluids")
    altitude = geopotential_altitude(geometric)
    assert float(standard_pressure(altitude)) == pytest.approx(pressure, abs=0.06)
    theirs, others = ambiance.Atmosphere(geometric), fluids.ATMOSPHERE_1976(geometric)
    assert float(standard_pressure(altitude)) == pytest.approx(float(theirs.pressure[0]), abs=0.1)
    assert float(standard_pressure(altitude)) == pytest.approx(others.P, abs=0.1)
    assert float(standard_density(altitude)) == pytest.approx(float(theirs.density[0]), rel=1e-6)
    assert float(standard_density(altitude)) == pytest.approx(others.rho, rel=2e-6)
    assert float(standard_temperature(altitude)) == pytest.approx(float(theirs.temperature[0]), abs=1e-4)


def test_printed_altitudes() -> None:
    """ASHRAE Handbook Fundamentals 2017, chapter 1, table 1: 95.461 kPa at 500 m, 89.875 kPa at 1000 m."""
    assert standard_pressure([500.0, 1000.0]) == pytest.approx([95461.0, 89875.0], abs=0.6)


@given(st.floats(-999.0, 10980.0))
def test_atmosphere_falls_and_inverts(altitude: float) -> None:
    for quantity in (standard_pressure, standard_density, standard_temperature):
        low, high = quantity([altitude, altitude + 10.0])
        assert np.isfinite(low) and 0.0 < high < low
    assert float(altitude_from_pressure(standard_pressure(altitude))) == pytest.approx(altitude, abs=1e-6)
    back = geometric_altitude(geopotential_altitude(altitude))
    assert float(back) == pytest.approx(altitude, abs=1e-6)


def test_ends_of_the_atmosphere_invert() -> None:
    assert altitude_from_pressure(standard_pressure([-1000.0, 11000.0])) == pytest.approx([-1000.0, 11000.0])


@pytest.mark.parametrize("pressure", [101.325, 2e5])
def test_pressure_outside_is_refused(pressure: float) -> None:
    with pytest.raises(InputRangeError, match="between 22632 Pa and 113929 Pa"):
        altitude_from_pressure(pressure)


@pytest.mark.parametrize("quantity", [standard_temperature, standard_density, geometric_altitude])
def test_every_altitude_outside_is_refused(quantity: Callable[[object], object]) -> None:
    with pytest.raises(InputRangeError, match="altitude must lie between -1000 m and 11000 m, got 36000 m"):
        quantity([100.0, 36000.0])
    with pytest.raises(InputRangeError, match="geometric_altitude must lie"):
        geopotential_altitude(-2000.0)


def test_altitude_outside_is_refused() -> None:
    with pytest.raises(InputRangeError, match="between -1000 m and 11000 m"):
        standard_pressure(50000.0)


@pytest.mark.parametrize(
    ("ratio", "outlet", "work"),
    # Isentropic compression with efficiency 0.70 from 298.15 K, cp 1005, gamma 1.4: textbook relation
    # (Cengel & Boles, compressor efficiency), arithmetic reproduced by hand; K and kJ/kg
    [(1.5, 350.5, 52.58), (2.0, 391.4, 93.75), (2.5, 425.6, 128.10), (3.0, 455.2, 157.84)],
)
def test_compressor_outlet(ratio: float, outlet: float, work: float) -> None:
    head = float(compressor.isentropic_head(ratio, 298.15)[0])
    assert 298.15 + head / 0.70 / gas.AIR_CP == pytest.approx(outlet, abs=0.2)
    assert head / 0.70 == pytest.approx(work * 1e3, rel=1e-3)


def test_textbook_turbocharger() -> None:
    """Cengel & Boles 8e, prob. 7-214: air 70 C from 95 to 135 kPa leaves at 126.1 C, efficiency 0.642."""
    head = float(compressor.isentropic_head(135.0 / 95.0, 343.15)[0])
    efficiency = head / (gas.AIR_CP * (126.1 - 70.0))
    assert efficiency == pytest.approx(0.642, abs=0.01)  # the book takes cp 1.011 and k 1.397


def test_textbook_turbocharger_from_its_turbine() -> None:
    """The same problem from the exhaust side: 0.02 kg/s from 450 to 400 degC, 95 % of it to 0.018 kg/s of air.

    The book's table of air has cp 1.075 at the exhaust's mean temperature and 1.011 for the air.
    """
    exhaust_cp = float(air_properties(698.15).cp)
    assert exhaust_cp == pytest.approx(1075.0, rel=1.5e-3)
    power = 0.95 * 0.02 * exhaust_cp * 50.0
    outlet = brentq(lambda t: 0.018 * float(mean_cp_air(343.15, t)) * (t - 343.15) - power, 350.0, 450.0)
    assert outlet - 273.15 == pytest.approx(126.1, abs=0.1)
    assert float(mean_cp_air(343.15, outlet)) == pytest.approx(1011.0, rel=1e-3)


def test_pressure_decay() -> None:
    """10 l at 293.15 K losing 500 Pa/s from 95 kPa gauge: 5.942e-5 kg/s, 0.128 mm2 (gas law, choked hole)."""
    flow = float(orifice.air_flow(0.128e-6, 101325.0 + 95e3, 101325.0, 293.15)[0])
    assert flow == pytest.approx(5.942e-5, rel=5e-3)
    assert gas.AIR_GAS_CONSTANT * 293.15 * flow / 10e-3 == pytest.approx(500.0, rel=5e-3)


def test_tyre_leak() -> None:
    """Cengel, tyre: 220 kPa gauge, 94 kPa around, 25 C, 4 mm hole -> 0.554 kg/min choked."""
    flow = orifice.air_flow(np.pi / 4 * 0.004**2, 314e3, 94e3, 298.0)[0]
    assert float(flow) * 60.0 == pytest.approx(0.554, abs=0.003)


def test_converging_nozzle() -> None:
    """Cengel, converging nozzle: 1 MPa, 873 K, 150 m/s, 50 cm2; back 0.7 / 0.4 MPa -> 6.77 / 7.10 kg/s."""
    stagnation = 873.0 + 150.0**2 / (
        2 * 1005.0
    )  # room-temperature cp and k, as the book's solution takes them
    pressure = 1e6 * (stagnation / 873.0) ** 3.5

    def flow(back: float) -> float:
        psi = float(orifice.isentropic_flow_function(back / pressure))
        return float(psi * pressure * 50e-4 / np.sqrt(287.0 * stagnation))

    assert flow(0.7e6) == pytest.approx(6.77, abs=0.03)
    assert flow(0.4e6) == pytest.approx(7.10, abs=0.03)


class _Spec:
    """Stand-in for the gauge table of readings.toml."""

    class _Value:
        def __init__(self, value: float) -> None:
            self.value = value

    def __init__(self, mark: float, span: float, accuracy: float) -> None:
        self.smallest_mark, self.range, self.class_ = map(self._Value, (mark, span, accuracy))


def test_gauge_budget() -> None:
    """GUM type B (JCGM 100, 4.3.7): class 1.6 of 400 kPa is 6.4 kPa wide either side, u = 6.4/sqrt(3)."""
    gauge = gauge_of(_Spec(2e3, 4e5, 0.016))
    assert gauge.zero == pytest.approx(6400 / np.sqrt(3), rel=1e-12)
    # with half a mark read (2 kPa wide rectangle) and 1 kPa hysteresis: u_c 3.784 kPa, U(k=2) 7.57 kPa
    combined = np.sqrt(gauge.zero**2 + (2e3 / np.sqrt(12)) ** 2 + (1e3 / np.sqrt(3)) ** 2)
    assert combined == pytest.approx(3784.0, abs=2.0)
    assert 2 * combined == pytest.approx(7570.0, abs=5.0)


@pytest.mark.parametrize("areas", [(1e-6, 1e-6), (4e-6, 1e-6), (0.5e-6, 2e-6)])
@pytest.mark.parametrize("supply", [110e3, 150e3, 400e3])
def test_orifices_in_a_row(areas: tuple[float, float], supply: float) -> None:
    """Two nozzles by the isentropic function (any compressible-flow text), node pressure by bisection (SciPy)."""

    def nozzle(area: float, first: float, second: float) -> float:
        return float(area * first / np.sqrt(287.05 * 300.0) * orifice.isentropic_flow_function(second / first))

    node = brentq(lambda p: nozzle(areas[0], supply, p) - nozzle(areas[1], p, 100e3), 100e3, supply)
    flow, between = orifice.flow_in_series(areas, supply, 100e3, 300.0)
    # the model's ellipse is 4 % low close to equal pressures
    assert flow == pytest.approx(nozzle(areas[0], supply, node), rel=0.05 if supply < 120e3 else 0.02)
    assert between[0] == pytest.approx(node, rel=0.012)
    back, _ = orifice.flow_in_series(areas[::-1], 100e3, supply, 300.0)
    assert back == pytest.approx(-flow, rel=1e-9)


def test_a_row_needs_areas_and_absolute_pressures() -> None:
    with pytest.raises(InputRangeError, match="must be above zero"):
        orifice.flow_in_series([1e-6, 0.0], 2e5, 1e5, 300.0)
