"""Weather factors at worked points; the source stands at each check."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostproof.errors import InputRangeError
from boostproof.physics.power_correction import (
    PowerCorrection,
    correct_power_iso_1585,
    correct_power_sae_j1349,
)

EITHER = pytest.mark.parametrize("correct", [correct_power_sae_j1349, correct_power_iso_1585])


@pytest.mark.parametrize(
    ("pressure", "celsius", "humidity", "dry", "sae", "iso", "within"),
    # Both formulas worked out apart from this code, vapour by the ASHRAE equation. The formula of J1349 is
    # that of the issue of June 1990 (secondary source), ISO 1585 from memory; reference 25 degC, 99 kPa dry.
    [
        (99.000, 25.0, 0.00, 99.0000, 1.00000, 1.00000, True),
        (101.325, 20.0, 0.50, 100.1556, 0.97656, 0.97621, True),
        (100.000, 30.0, 0.60, 97.4524, 1.02875, 1.02931, True),
        (98.500, 32.0, 0.70, 95.1690, 1.06183, 1.06321, True),
        (95.000, 35.0, 0.40, 92.7489, 1.10049, 1.10304, False),
    ],
)
def test_worked_points(
    pressure: float, celsius: float, humidity: float, dry: float, sae: float, iso: float, within: bool
) -> None:
    day = (pressure * 1e3, celsius + 273.15, humidity)
    for result, factor in ((correct_power_sae_j1349(*day), sae), (correct_power_iso_1585(*day), iso)):
        assert result.pressure_dry == pytest.approx(dry * 1e3, abs=0.1)
        assert result.factor == pytest.approx(factor, abs=1e-5)
        assert result.valid is within
        assert [limit.quantity for limit in result.exceeded] == ([] if within else ["factor"])


def test_every_limit_is_named_with_its_value() -> None:
    """Limits from memory: 15 to 35 degC, dry 90 to 105 kPa (J1349), 80 to 110 kPa (ISO 1585), factor 7 %."""
    high_and_cold = correct_power_sae_j1349(85e3, 278.15, 0.5)
    named = {limit.quantity: limit for limit in high_and_cold.exceeded}
    assert set(named) == {"temperature", "dry pressure", "factor"}
    assert (named["temperature"].low, named["temperature"].high) == (288.0, 308.0)
    assert named["temperature"].value == pytest.approx(278.0)
    assert named["dry pressure"].value == pytest.approx(high_and_cold.pressure_dry)
    assert (named["dry pressure"].low, named["dry pressure"].high) == (90e3, 105e3)
    assert (named["factor"].low, named["factor"].high) == (0.93, 1.07)
    iso = correct_power_iso_1585(85e3, 278.15, 0.5)
    assert {limit.quantity for limit in iso.exceeded} == {"temperature", "factor"}


def test_the_ends_of_the_range_are_inside() -> None:
    for celsius in (15.0, 35.0):
        for correct in (correct_power_sae_j1349, correct_power_iso_1585):
            assert correct(99e3, celsius + 273.15, 0.0).exceeded == ()


@EITHER
def test_what_is_not_covered_is_said(correct: Callable[..., PowerCorrection]) -> None:
    """UN working-party paper GRPE-70-02 (2015): engines that compensate for the weather are not corrected."""
    said = " ".join(correct(99e3, 298.15, 0.3).not_covered)
    assert "absolute pressure" in said and "corrects twice" in said and "spring" in said


@EITHER
@given(st.floats(60e3, 115e3), st.floats(240.0, 330.0), st.floats(0.0, 0.9))
def test_worse_air_means_a_larger_factor(
    correct: Callable[..., PowerCorrection], p: float, t: float, humidity: float
) -> None:
    here = correct(p, t, humidity).factor
    assert 0.5 < here < 3.0
    assert correct(p + 500.0, t, humidity).factor < here
    assert correct(p, t + 1.0, humidity).factor > here
    assert correct(p, t, humidity + 0.1).factor > here


@given(st.floats(95e3, 103e3), st.floats(288.2, 305.0), st.floats(0.0, 0.8))
def test_the_two_standards_stay_close(p: float, t: float, humidity: float) -> None:
    """Each an approximation of the same engine: within half a per cent on usual days (arithmetic)."""
    sae, iso = correct_power_sae_j1349(p, t, humidity), correct_power_iso_1585(p, t, humidity)
    assert sae.factor == pytest.approx(iso.factor, rel=5e-3)


@EITHER
@pytest.mark.parametrize(
    ("day", "says"),
    [
        ((990.0, 298.15, 0.5), "pressure_abs must lie between 50000 Pa and 120000 Pa, got 990 Pa"),
        ((99e3, 25.0, 0.5), "temperature must lie between 230 K and 340 K, got 25 K"),
        ((99e3, 298.15, 50.0), "relative_humidity must lie between 0 and 1, got 50"),
        ((99e3, float("nan"), 0.5), "temperature must lie between 230 K and 340 K, got nan K"),
    ],
)
def test_outside_is_refused(
    correct: Callable[..., PowerCorrection], day: tuple[float, float, float], says: str
) -> None:
    with pytest.raises(InputRangeError) as caught:
        correct(*day)
    assert says in str(caught.value)
    assert caught.value.where == correct.__name__
