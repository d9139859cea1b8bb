"""Moist air against printed tables and CoolProp; the source stands at each check."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from hypothesis import given
from hypothesis import strategies as st

from boostproof.errors import InputRangeError
from boostproof.physics.moist_air import (
    dry_air_pressure,
    humidity_ratio,
    moist_air_density,
    saturation_pressure,
    saturation_pressure_ice,
    saturation_pressure_water,
    vapour_pressure,
)


@pytest.mark.parametrize(
    ("celsius", "pressure"),
    # ASHRAE Handbook Fundamentals 2017, chapter 1, table 3 (read in an open library's tests); the handbook
    # says that the equation stays within 300 ppm of the table
    [(5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3), (100.0, 101418.0)],
)
def test_printed_saturation_pressures(celsius: float, pressure: float) -> None:
    assert float(saturation_pressure_water(celsius + 273.15)) == pytest.approx(pressure, rel=3e-4)


@pytest.mark.parametrize(
    ("celsius", "equation"),
    # Hyland and Wexler's equation, worked out apart from this code
    [(20.0, 2338.80), (25.0, 3169.22), (30.0, 4246.03), (40.0, 7383.46)],
)
def test_equation_worked_out(celsius: float, equation: float) -> None:
    assert float(saturation_pressure(celsius + 273.15)) == pytest.approx(equation, abs=0.01)


@pytest.mark.parametrize("celsius", [0.01, 5.0, 20.0, 30.0, 50.0, 100.0, 150.0])
def test_water_against_the_equation_of_state(celsius: float) -> None:
    """CoolProp, IAPWS-95."""
    exact = PropsSI("P", "T", celsius + 273.15, "Q", 0, "Water")
    assert float(saturation_pressure_water(celsius + 273.15)) == pytest.approx(exact, rel=3e-4)


@pytest.mark.parametrize("celsius", [-1.0, -10.0, -30.0])
def test_ice_against_iapws(celsius: float) -> None:
    """IAPWS R14-08, sublimation pressure equation, coefficients from memory; triple point 611.657 Pa."""
    theta = (celsius + 273.15) / 273.16
    a, b = (-21.2144006, 27.3203819, -6.10598130), (0.00333333333, 1.20666667, 1.70333333)
    exact = 611.657 * np.exp(sum(x * theta**y for x, y in zip(a, b, strict=True)) / theta)
    assert float(saturation_pressure_ice(celsius + 273.15)) == pytest.approx(exact, rel=1e-3)


def test_ice_and_water_meet_at_the_triple_point() -> None:
    """611.657 Pa: IAPWS-95."""
    assert float(saturation_pressure_ice(273.16)) == pytest.approx(611.657, rel=1e-5)
    assert float(saturation_pressure_water(273.16)) == pytest.approx(611.657, rel=1e-5)
    just_below, just_above = saturation_pressure([273.16 - 1e-9, 273.16])
    assert just_above == pytest.approx(just_below, rel=1e-7)


@pytest.mark.parametrize(
    ("celsius", "magnus", "buck"),
    # WMO (Magnus, 611.2 Pa, 17.62, 243.12 degC) and Buck 1981; published short forms, good to some 0.3 %
    [(20.0, 2332.60, 2337.28), (30.0, 4233.72, 4243.51), (40.0, 7367.46, 7384.18)],
)
def test_short_formulas_agree(celsius: float, magnus: float, buck: float) -> None:
    assert 611.2 * np.exp(17.62 * celsius / (243.12 + celsius)) == pytest.approx(magnus, abs=0.01)
    ours = float(saturation_pressure(celsius + 273.15))
    assert ours == pytest.approx(magnus, rel=3.5e-3)
    assert ours == pytest.approx(buck, rel=1e-3)


@pytest.mark.parametrize("celsius", [0.5, 10.0, 25.0, 40.0])
@pytest.mark.parametrize("humidity", [0.1, 0.5, 1.0])
@pytest.mark.parametrize("pressure", [80e3, 101325.0])
def test_humidity_ratio_against_coolprop(celsius: float, humidity: float, pressure: float) -> None:
    """CoolProp counts the real gas, whose vapour is up to 0.5 % more (enhancement factor)."""
    ours = float(humidity_ratio(pressure, celsius + 273.15, humidity))
    real = HAPropsSI("W", "T", celsius + 273.15, "P", pressure, "R", humidity)
    assert ours == pytest.approx(real, rel=6e-3)
    assert ours < real


def test_dry_pressure_is_what_the_vapour_leaves() -> None:
    """100 kPa, 30 degC, 60 %: vapour 2.5476 kPa, dry 97.4524 kPa (ASHRAE equation, worked out apart)."""
    assert float(vapour_pressure(303.15, 0.6)) == pytest.approx(2547.6, abs=0.05)
    assert float(dry_air_pressure(100e3, 303.15, 0.6)) == pytest.approx(97452.4, abs=0.05)


@pytest.mark.parametrize(
    ("pressure", "celsius", "humidity", "density"),
    # CIPM-2007 (Picard et al., Metrologia 45 (2008) 149), equation worked out apart from this code
    [(101325.0, 20.0, 0.5, 1.19931), (101325.0, 20.0, 0.0, 1.20456), (100e3, 20.0, 0.5, 1.18356),
     (99e3, 25.0, 0.4, 1.15153), (95e3, 27.0, 0.6, 1.09357)],
)  # fmt: skip
def test_density(pressure: float, celsius: float, humidity: float, density: float) -> None:
    ours = float(moist_air_density(pressure, celsius + 273.15, humidity))
    assert ours == pytest.approx(density, abs=6e-6)
    assert ours == pytest.approx(1 / HAPropsSI("Vha", "T", celsius + 273.15, "P", pressure, "R", humidity), rel=6e-5)
    # OIML R 111-1, E.3: short formula in hPa, per cent and degC, good to 2e-4
    short = (0.34848 * pressure / 100 - 0.9 * humidity * np.exp(0.061 * celsius)) / (273.15 + celsius)
    assert ours == pytest.approx(short, rel=2e-4)


@pytest.mark.parametrize("celsius", [0.0, 10.0, 27.0, 40.0, 50.0])
@pytest.mark.parametrize("humidity", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("pressure", [60e3, 85e3, 110e3])
def test_density_beyond_the_stated_temperatures(celsius: float, humidity: float, pressure: float) -> None:
    """CoolProp humid air: within 200 ppm, where the formula is stated for 15 to 27 degC."""
    real = 1 / HAPropsSI("Vha", "T", celsius + 273.15, "P", pressure, "R", humidity)
    assert float(moist_air_density(pressure, celsius + 273.15, humidity)) == pytest.approx(real, rel=2e-4)


@given(st.floats(173.15, 472.0))
def test_saturation_pressure_rises_with_temperature(t: float) -> None:
    low, high = saturation_pressure([t, t + 1.0])
    assert np.isfinite(low) and 0.0 < low < high


@given(st.floats(60e3, 110e3), st.floats(273.15, 323.15), st.floats(0.0, 0.99))
def test_moist_air_is_lighter(p: float, t: float, humidity: float) -> None:
    dry, moist = moist_air_density(p, t, [humidity, humidity + 0.01])
    assert np.isfinite(dry) and 0.0 < moist < dry
    less, more = humidity_ratio(p, t, [humidity, humidity + 0.01])
    assert 0.0 <= less < more


def test_shapes_are_broadcast_and_gaps_stay_gaps() -> None:
    assert humidity_ratio(100e3, [[290.0], [300.0]], [0.2, 0.4, 0.6]).shape == (2, 3)
    assert np.isnan(moist_air_density([100e3, np.nan], 293.15, 0.5)).tolist() == [False, True]


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: vapour_pressure(293.15, 50.0), "relative_humidity must lie between 0 and 1, got 50"),
        (lambda: saturation_pressure(20.0), "temperature must lie between 173.15 K and 473.15 K, got 20 K"),
        (lambda: saturation_pressure_water(260.0), "Below freezing use saturation_pressure_ice"),
        (lambda: saturation_pressure_ice(280.0), "Above freezing use saturation_pressure_water"),
        (lambda: dry_air_pressure(1013.0, 293.15, 0.5), "must exceed that of the water vapour, up to 1169.4 Pa"),
        (lambda: moist_air_density(1013.0, 293.15, 0.5), "between 60000 Pa and 110000 Pa, got 1013 Pa"),
    ],
)
def test_outside_is_refused(call: Callable[[], object], says: str) -> None:
    with pytest.raises(InputRangeError) as caught:
        call()
    assert says in str(caught.value)
