"""Weather factors of a pull at worked points of SAE J1349 and ISO 1585; the source stands at the check."""

from __future__ import annotations

import pytest

from boostproof.recording.model import Metric
from boostproof.recording.pulls.weather import Air, weather_factors


@pytest.mark.published
@pytest.mark.parametrize(
    ("pressure", "celsius", "humidity", "sae", "iso", "valid"),
    # Worked out apart from this code from J1349 as of June 1990 (secondary source) and ISO 1585 (from memory),
    # vapour by the ASHRAE 2017 equation; reference 25 degC and 99 kPa dry.
    [
        (99.000, 25.0, 0.00, 1.00000, 1.00000, True),
        (101.325, 20.0, 0.50, 0.97656, 0.97621, True),
        (100.000, 30.0, 0.60, 1.02875, 1.02931, True),
        (98.500, 32.0, 0.70, 1.06183, 1.06321, True),
        (95.000, 35.0, 0.40, 1.10049, 1.10304, False),
    ],
)
def test_worked_points(
    pressure: float, celsius: float, humidity: float, sae: float, iso: float, valid: bool
) -> None:
    air = Air(
        Metric(1e3 * pressure, 300.0), Metric(273.15 + celsius, 2.0), Metric(humidity, 0.05), "given", "given", True
    )
    factors = weather_factors(air)
    assert factors["sae_j1349"].factor.value == pytest.approx(sae, abs=1e-5)
    assert factors["iso_1585"].factor.value == pytest.approx(iso, abs=1e-5)
    assert all(factor.valid is valid for factor in factors.values())
    # Slopes of the J1349 formula by hand: 1.18 / p per pascal and 0.59 / T per kelvin, at the reference state.
    if pressure == 99.0:
        assert factors["sae_j1349"].factor.sd == pytest.approx(
            ((1.18 * 300 / 99e3) ** 2 + (0.59 * 2 / 298) ** 2 + (1.18 * 0.5 * 0.05 * 3169 / 99e3) ** 2) ** 0.5, rel=0.02
        )
