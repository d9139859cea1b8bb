"""Flow, air and compressor against printed tables and textbook examples; the source stands at each."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.bench.tests.model import gauge_of
from boostproof.errors import InputRangeError
from boostproof.physics import compressor, gas, orifice
from boostproof.physics.atmosphere import air_density, standard_pressure


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
    ("ratio", "share"),
    [
        (0.95, 0.4493),
        (0.9, 0.6171),
        (0.8, 0.8188),
        (0.7, 0.9322),
        (0.6, 0.9886),
    ],  # gamma 1.4, computed from the
    # isentropic tables (A*/A at the same p/p0)
)
def test_subsonic_flow_function(ratio: float, share: float) -> None:
    psi = float(orifice.isentropic_flow_function(ratio)) / orifice.choked_flow_function(1.4)
    assert psi == pytest.approx(share, abs=1e-4)


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


def test_conductance_of_an_area() -> None:
    """C = 0.1992 dm3/(s bar) per mm2 of effective area (ISO 6358 definition, ideal nozzle)."""
    assert float(orifice.conductance_from_area(1e-6)) * 1e8 == pytest.approx(0.1992, abs=1e-4)


def test_model_flow_stays_near_the_exact_one() -> None:
    """The model's ellipse against the isentropic function: within 2 % of choked flow up to 0.95."""
    ratio = np.linspace(0.1, 0.95, 86)
    exact = orifice.isentropic_flow_function(ratio)
    model, _ = orifice.air_flow(np.ones(86), np.full(86, 2e5), 2e5 * ratio, np.full(86, 300.0))
    as_psi = model * np.sqrt(287.05 * 300.0) / 2e5
    assert np.abs(as_psi - exact).max() < 0.02 * orifice.choked_flow_function(1.4)


@pytest.mark.parametrize(
    ("altitude", "pressure", "density"),
    # ISO 2533 / ICAO standard atmosphere, geopotential altitude; ASHRAE 2017 table 1 prints 95.461 kPa at 500 m
    [(0, 101325.0, 1.22500), (500, 95460.8, 1.16727), (1000, 89874.6, 1.11164), (1500, 84556.0, 1.05807),
     (2000, 79495.2, 1.00649), (3000, 70108.5, 0.90912)],
)  # fmt: skip
def test_standard_atmosphere(altitude: float, pressure: float, density: float) -> None:
    assert float(standard_pressure(altitude)) == pytest.approx(pressure, abs=0.2)
    temperature = 288.15 - 0.0065 * altitude
    assert float(air_density(pressure, temperature)) == pytest.approx(density, rel=2e-4)


def test_atmosphere_against_ambiance() -> None:
    """Reference library: ambiance takes geometric altitude, which differs by h^2/r only."""
    ambiance = pytest.importorskip("ambiance", reason="the test extra brings ambiance")
    geometric = 2000.0
    geopotential = geometric * 6356766.0 / (6356766.0 + geometric)
    printed = float(ambiance.Atmosphere(geometric).pressure[0])
    assert float(standard_pressure(geopotential)) == pytest.approx(printed, abs=1.0)


def test_altitude_outside_is_refused() -> None:
    with pytest.raises(InputRangeError, match="between -1000 m and 11000 m"):
        standard_pressure(50000.0)


@pytest.mark.parametrize(
    ("ratio", "outlet"),
    # Isentropic compression with efficiency 0.70 from 298.15 K, cp 1005, gamma 1.4: textbook relation
    # (Cengel & Boles, compressor efficiency), arithmetic reproduced by hand
    [(1.5, 350.5), (2.0, 391.4), (2.5, 425.6), (3.0, 455.2)],
)
def test_compressor_outlet_temperature(ratio: float, outlet: float) -> None:
    head = float(compressor.isentropic_head(ratio, 298.15))
    assert 298.15 + head / 0.70 / gas.AIR_CP == pytest.approx(outlet, abs=0.2)


def test_textbook_turbocharger() -> None:
    """Cengel & Boles 8e, prob. 7-214: air 70 C from 95 to 135 kPa leaves at 126.1 C, efficiency 0.642."""
    head = float(compressor.isentropic_head(135.0 / 95.0, 343.15))
    efficiency = head / (gas.AIR_CP * (126.1 - 70.0))
    assert efficiency == pytest.approx(0.642, abs=0.01)  # the book takes cp 1.011 and k 1.397


def test_tyre_leak() -> None:
    """Cengel, tyre: 220 kPa gauge, 94 kPa around, 25 C, 4 mm hole -> 0.554 kg/min choked."""
    flow, _ = orifice.air_flow(np.pi / 4 * 0.004**2, 314e3, 94e3, 298.0)
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


def test_straight_line_calibration() -> None:
    """GUM H.3 (JCGM 100): thermometer calibration line, the arithmetic a gauge calibration uses."""
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])
    (slope, level), covariance = np.polyfit(t - 20.0, b, 1, cov=True)
    assert level == pytest.approx(-0.1712, abs=5e-5)
    assert slope == pytest.approx(0.00218, abs=5e-6)
    assert np.sqrt(covariance[1, 1]) == pytest.approx(0.0029, abs=5e-5)
    assert np.sqrt(covariance[0, 0]) == pytest.approx(0.00067, abs=5e-6)
