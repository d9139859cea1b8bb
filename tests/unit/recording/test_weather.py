"""Pulls on a standard day. The factors at their worked points stand in tests/published/test_weather.py."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from tests.unit.recording.drawn_pulls import drawn_pull

from boostproof.recording import Barometer, Metric, Pull
from boostproof.recording.pulls.weather import (
    air_of,
    peak_power,
    standard_boost,
    standard_pull,
    weather_factors,
)

METRICS = {"plateau_kpa_gauge": Metric(90.0, 0.4), "peak_kpa_gauge": Metric(96.0, 0.5), "end_kpa_gauge": None}


HILL = Barometer(95e3, 300.0, "given")


def a_pull(reference: str = "gauge", barometer: Barometer = HILL, **more: float) -> Pull:
    drawn = {name: np.full(176, value) for name, value in more.items()}
    pull = drawn_pull(np.random.default_rng(1), reference=reference, barometer=barometer, more=drawn)
    return replace(pull, metrics=METRICS)


def test_gauge_stays_where_a_spring_holds_it_and_moves_where_the_absolute_is_held() -> None:
    both = standard_boost(a_pull())
    assert set(both) == {"gauge", "absolute"}
    assert both["gauge"]["plateau_kpa_gauge"] == Metric(90.0, 0.4)
    # 90 kPa gauge on a day of 95.0 kPa are 185.0 kPa absolute, and 83.675 kPa gauge at 101.325 kPa.
    moved = both["absolute"]["plateau_kpa_gauge"]
    assert moved is not None and moved.value == pytest.approx(83.675)
    assert both["absolute"]["end_kpa_gauge"] is None
    assert set(standard_boost(a_pull(), controlled="absolute")) == {"absolute"}


def test_the_doubt_in_the_barometer_counts_on_the_other_side_of_the_sensor() -> None:
    rough = Barometer(95e3, 1500.0, "key-on")
    for reference, exact, doubtful in (("gauge", "gauge", "absolute"), ("abs", "absolute", "gauge")):
        both = standard_boost(a_pull(reference, rough))
        sds = {held: m.sd for held, levels in both.items() if (m := levels["plateau_kpa_gauge"]) is not None}
        assert sds[exact] == 0.4
        assert sds[doubtful] == pytest.approx(np.hypot(0.4, 1.5))


def test_logged_air_goes_before_what_was_told() -> None:
    told = Metric(300.0, 2.0)
    logged = air_of(a_pull(ambient_temperature=289.0), temperature=told)
    assert (logged.temperature_source, logged.temperature) == ("logged", Metric(289.0, 2.0))
    given = air_of(a_pull(), temperature=told, humidity=Metric(0.4, 0.1))
    assert (given.temperature_source, given.humidity_known) == ("given", True)
    unknown = air_of(a_pull())
    assert unknown.temperature is None and weather_factors(unknown) == {}


def test_unknown_humidity_widens_the_factor_by_what_20_to_90_percent_can_do() -> None:
    # At 25 C saturated vapour is 3169 Pa (ASHRAE 2017): 20 to 90 % are 634 to 2852 Pa of 99 kPa, flat: an sd of
    # 640 Pa of dry air in 97.26 kPa, times 1.18 in J1349 and 1.2 in ISO 1585.
    exact = Barometer(99e3, 0.0, "logged")
    factors = weather_factors(air_of(a_pull("gauge", exact), temperature=Metric(298.15, 0.0)))
    share = 3169.2 * 0.7 / np.sqrt(12.0) / (99e3 - 0.55 * 3169.2)
    assert factors["sae_j1349"].factor.sd == pytest.approx(1.18 * share, rel=0.03)
    assert factors["iso_1585"].factor.sd == pytest.approx(1.2 * share, rel=0.04)
    known = weather_factors(
        air_of(a_pull("gauge", exact), temperature=Metric(298.15, 0.0), humidity=Metric(0.5, 0.0))
    )
    assert known["sae_j1349"].factor.sd == 0.0


def test_uncorrected_power_always_stands_beside() -> None:
    pull = a_pull(power=150e3)
    air = air_of(pull, temperature=Metric(303.15, 1.0), humidity=Metric(0.5, 0.1))
    result = standard_pull(pull, air)
    assert set(result.power) == {"uncorrected", "sae_j1349", "iso_1585"}
    factor = result.factors["sae_j1349"].factor
    assert result.power["uncorrected"].value == pytest.approx(150.0)
    assert result.power["sae_j1349"].value == pytest.approx(150.0 * factor.value)
    assert result.power["sae_j1349"].sd >= 150.0 * factor.sd * 0.999
    answer = json.loads(json.dumps(result.as_json(), allow_nan=False))
    assert answer["boost_measured"]["plateau_kpa_gauge"] == {"value": 90.0, "sd": 0.4}
    cold = standard_pull(a_pull(power=150e3), air_of(a_pull(power=150e3)))
    assert set(cold.power) == {"uncorrected"} and cold.findings == ()


def test_torque_times_speed_is_power() -> None:
    pull = a_pull(torque=200.0)
    # 200 Nm at the last engine speed, 6375 rpm: 133.5 kW.
    found = peak_power(pull)
    assert found is not None and found.value == pytest.approx(200.0 * 6375.0 * np.pi / 30.0 / 1e3, rel=0.01)
    assert peak_power(a_pull()) is None


def test_a_day_outside_the_limits_and_an_engine_that_no_factor_suits() -> None:
    high = a_pull("gauge", Barometer(86e3, 300.0, "logged"), power=150e3)
    air = air_of(high, temperature=Metric(311.15, 1.0), humidity=Metric(0.4, 0.05))
    kinds = [f.kind for f in standard_pull(high, air, controlled="gauge").findings]
    assert kinds == ["correction-out-of-range"] * 2
    found = standard_pull(high, air, controlled="absolute").findings
    assert found[-1].kind == "correction-does-not-suit" and found[-1].says.startswith("The boost control")
    assert "38 °C, and the limits are 15 to 35 °C" in found[0].says
    assert standard_pull(high, air).findings[-1].says.startswith("If the boost control")
    fine = air_of(a_pull(power=1e5), temperature=Metric(295.0, 1.0))
    assert standard_pull(a_pull(power=1e5), replace(fine, pressure=Metric(99e3, 300.0)), controlled="gauge").findings == ()


def test_no_weather_at_all_gives_no_factor() -> None:
    assert weather_factors(air_of(a_pull(), temperature=Metric(700.0, 1.0))) == {}
