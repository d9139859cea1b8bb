"""What single readings mean, against worked examples, invented cars whose truth is known, and refusals."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import linregress
from tests.unit.bench.meaning.made_readings import EXACT, facts, meanings_of, quantity, reading, sound_cars

from boostproof.bench.meaning.model import Healthy, Meaning, verdict_of

PSI = 6894.757


def holds(meaning: Meaning, truth: float) -> bool:
    assert meaning.low is not None and meaning.high is not None
    return meaning.low <= truth <= meaning.high


def sweep(first: str = "35.0 kPa", full: str = "72.7 kPa", travel: str = "10 mm", **more: Any) -> Any:
    return reading("actuator-sweep", first_movement=first, full_travel=full, travel=travel, **more)


# -- actuator -----------------------------------------------------------------------------------------


def test_actuator_worked_by_hand() -> None:
    """45 mm diaphragm, 55.7 N: opens at 35.0 kPa; 6 N/mm over 10 mm: 37.7 kPa more (equations of the model notes)."""
    car = facts(diaphragm=quantity("45 mm +/- 0.2 mm", "length"), opening=quantity("35 kPa +/- 5 kPa", "pressure"))
    found, findings = meanings_of(sweep(), gauge=EXACT, car=car)
    assert findings == ()
    assert found["opening-pressure"].value == pytest.approx(35e3, abs=2e3)
    assert found["opening-pressure"].verdict == "as it should be"
    assert holds(found["spring-slope"], 3.77e6) and found["spring-slope"].value == pytest.approx(3.77e6, rel=0.08)
    assert found["opening-force"].value == pytest.approx(55.7, rel=0.05)
    # a diaphragm that loses nothing of its area gives 6.0; a few per cent lost over the stroke make it less
    assert holds(found["spring-rate"], 5.9e3) and 4.9e3 < found["spring-rate"].value < 6.2e3


@pytest.mark.published
def test_spring_of_en_13906_1_is_found_again() -> None:
    """R = 2.2081 N/mm (d 2.5, D 32, n 5.5, G 81 500 MPa; EN 13906-1 from memory) behind 15.9 cm2 that stay so."""
    area, preload, way = 15.90e-4, 40.0, 9e-3
    first, full = preload / area, (preload + 2208.1 * way) / area
    car = facts(diaphragm=quantity("45 mm +/- 0.2 mm", "length"))
    found, _ = meanings_of(sweep(f"{first:.0f} Pa", f"{full:.0f} Pa", "9 mm"), gauge=EXACT, car=car)
    # the doubt of the area's fall is one-sided: what is found lies from 6 % of the force below to the truth
    rate = found["spring-rate"]
    assert holds(rate, 2208.1 - 0.03 * full * area / way)
    assert found["spring-slope"].value == pytest.approx(2208.1 / area, rel=0.08)


def test_shared_zero_cancels_in_differences_and_not_in_levels() -> None:
    gauge = {"smallest_mark": "2 kPa", "class_": "2.5 %", "range": "400 kPa"}
    through = reading("controller-sweep", first_movement="85 kPa", full_travel="122.7 kPa", travel="10 mm")
    found, _ = meanings_of(sweep(), through, gauge=gauge)
    zero = 0.025 * 400e3 / 3**0.5
    assert found["opening-pressure"].sd > zero
    assert found["controller-offset"].sd < 0.5 * zero
    assert found["spring-slope"].sd * 10e-3 < zero
    assert holds(found["controller-offset"], 50e3)
    own = {"smallest_mark": "2 kPa", "class_": "2.5 %", "range": "400 kPa", "name": "another"}
    apart = reading("controller-sweep", first_movement="85 kPa", full_travel="122.7 kPa", travel="10 mm", gauge=own)
    other, _ = meanings_of(sweep(), apart, gauge=gauge)
    assert other["controller-offset"].sd > 1.3 * zero  # two gauges, two zeros


def test_a_known_zero_is_taken_off() -> None:
    plain, _ = meanings_of(sweep(), gauge=EXACT)
    shown, _ = meanings_of(sweep(), gauge=EXACT | {"reads_at_zero": "5 kPa +/- 0.1 kPa"})
    assert plain["opening-pressure"].value - shown["opening-pressure"].value == pytest.approx(5e3, abs=1.0)
    assert shown["spring-slope"].value == pytest.approx(plain["spring-slope"].value, rel=1e-3)


def test_hysteresis_and_friction() -> None:
    """25 N on 15.9 cm2 are 31.4 kPa up against down."""
    car = facts(diaphragm=quantity("45 mm +/- 0.2 mm", "length"))
    found, _ = meanings_of(sweep("60 kPa", "97.7 kPa", last_return="28.6 kPa"), gauge=EXACT, car=car)
    assert holds(found["hysteresis"], 31.4e3) and found["hysteresis"].verdict == "high"
    assert holds(found["friction-force"], 25.0)


def test_never_moved_is_a_lower_limit() -> None:
    car = facts(opening=quantity("35 kPa +/- 5 kPa", "pressure"))
    still = reading("actuator-sweep", supply_up_to="170 kPa", first_movement="none", full_travel="none", travel="0 mm")
    found, _ = meanings_of(still, car=car)
    opening = found["opening-pressure"]
    assert (opening.limit, opening.verdict, opening.high) == ("at least", "high", None)
    assert 150e3 < opening.value < 170e3
    assert "full-travel-pressure" not in found and "spring-slope" not in found


def test_repeats_are_weighted_and_contradictions_questioned() -> None:
    once, _ = meanings_of(sweep("35 kPa"), gauge=EXACT)
    twice, findings = meanings_of(sweep("35 kPa"), sweep("36 kPa", "73.7 kPa"), gauge=EXACT)
    assert findings == ()
    assert twice["opening-pressure"].sd < 0.85 * once["opening-pressure"].sd
    assert twice["opening-pressure"].readings == ("reading 1 (actuator-sweep)", "reading 2 (actuator-sweep)")
    _, findings = meanings_of(sweep("35 kPa"), sweep("55 kPa", "92.7 kPa"), gauge=EXACT)
    assert {f.kind for f in findings} == {"readings-differ"}


def test_hot_against_cold() -> None:
    hot = reading("hot-repeat", of="actuator-sweep", first_movement="50 kPa", full_travel="87.7 kPa", travel="10 mm")
    found, _ = meanings_of(sweep(), hot, gauge=EXACT)
    assert holds(found["opening-hot-less-cold"], 15e3) and found["opening-hot-less-cold"].verdict == "high"
    assert found["opening-pressure-hot"].value > found["opening-pressure"].value


# -- impossible readings --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("odd", "absent"),
    [
        (sweep("60 kPa", "40 kPa"), ("opening-pressure", "spring-slope", "full-travel-pressure")),
        (sweep("60 kPa", "90 kPa", last_return="80 kPa"), ("hysteresis",)),
        (sweep(leak={"start": "60 kPa", "after_60_s": "90 kPa"}), ("diaphragm-leak-rate", "diaphragm-leak-area")),
        (reading("bleed-decay", start="50 kPa", end="100 kPa", time="3 s", reservoir="1 L"), ("bleed-area",)),
        (reading("intake-pressurise", supply="100 kPa", drop_in_30_s="-20 kPa"), ("charge-leak-area",)),
        (
            reading("sensor-check", rows=[{"applied": "0 kPa", "reads": "200 kPa abs"},
                                          {"applied": "100 kPa", "reads": "101 kPa abs"}]),
            ("sensor-scale", "sensor-offset"),
        ),
    ],
    ids=["full below first", "home above first", "rises shut off", "decay upwards", "drop below zero", "sensor falls"],
)  # fmt: skip
def test_what_cannot_have_been_so_is_questioned_and_not_computed(odd: Any, absent: tuple[str, ...]) -> None:
    found, findings = meanings_of(odd, gauge=EXACT)
    assert [f.kind for f in findings] == ["impossible-reading"]
    assert not set(absent) & found.keys()


def test_travel_later_than_before_is_questioned() -> None:
    vent = {"held": "10 mm", "after_1_s": "1 mm", "after_5_s": "8 mm"}
    through = reading("controller-sweep", first_movement="70 kPa", vent=vent)
    found, findings = meanings_of(sweep(), through, gauge=EXACT)
    assert [f.kind for f in findings] == ["impossible-reading"] and "trapped-after-5" not in found


# -- controller ---------------------------------------------------------------------------------------


def test_offset_against_what_was_specified() -> None:
    car = facts(opening=quantity("35 kPa +/- 4 kPa", "pressure"), through=quantity("60 kPa +/- 4 kPa", "pressure"))
    through = reading("controller-sweep", first_movement="100 kPa", full_travel="137.7 kPa", travel="10 mm")
    found, _ = meanings_of(sweep(), through, gauge=EXACT, car=car)
    offset = found["controller-offset"]
    assert offset.healthy is not None and offset.healthy.why == "as specified"
    assert offset.healthy.low == pytest.approx(25e3 - np.hypot(4e3, 4e3))
    assert offset.verdict == "high" and holds(offset, 65e3)
    assert holds(found["transfer-slope"], 1.0)


def test_ratio_of_a_bleed_valve() -> None:
    car = facts(controller="bleed valve", sound=sound_cars(line_area=8e-7, bleed_area=4e-7))
    through = reading("controller-sweep", first_movement="56 kPa", full_travel="108 kPa", travel="10 mm")
    found, _ = meanings_of(sweep(), through, gauge=EXACT, car=car)
    assert holds(found["controller-ratio"], 1.6) and "controller-offset" not in found


def test_adjuster_slope_against_a_library() -> None:
    turns, pressures = [0, 1, 2, 3.5], [41.0, 55.0, 76.0, 98.0]
    sweeps = [
        reading("controller-sweep", first_movement=f"{p} kPa", turns_in=t) for t, p in zip(turns, pressures, strict=True)
    ]
    found, _ = meanings_of(*sweeps, gauge=EXACT)
    assert found["adjuster-slope"].value == pytest.approx(1e3 * linregress(turns, pressures).slope, rel=1e-9)


def test_bleed_from_flow_at_a_known_pressure() -> None:
    """0.65 pi/4 mm2 pass 12.1 L/min of free air at 100 kPa gauge and 300 K: the table's 1.0 mm."""
    rows = [{"turns_in": "as found", "flow": "12.1 L/min", "line_pressure": "100 kPa"}]
    found, _ = meanings_of(reading("controller-vent", supply="150 kPa", rows=rows), gauge=EXACT)
    assert found["bleed-hole"].value == pytest.approx(1.0e-3, rel=0.02)
    assert holds(found["bleed-area"], 0.65 * np.pi / 4 * 1e-6)


def test_bleed_from_a_decay_with_a_reservoir() -> None:
    """1 L and 60 mL from 100 to 50 kPa: 0.25 s x 1060/60 for the 0.8 mm hole at Cd 0.7."""
    decay = reading("bleed-decay", start="100 kPa", end="50 kPa", time="4.4 s", reservoir="1 L")
    found, _ = meanings_of(decay, gauge=EXACT)
    assert holds(found["bleed-area"], 0.7 * np.pi / 4 * 0.8e-3**2)


def test_blocked_bleed_shows_in_the_leak_down_and_in_what_stays_trapped() -> None:
    leak = {"start": "100 kPa", "after_10_s": "99 kPa", "after_60_s": "97 kPa"}
    vent = {"held": "10 mm", "after_1_s": "10 mm", "after_5_s": "10 mm", "after_30_s": "9 mm"}
    keys = {"first_movement": "65 kPa", "full_travel": "102 kPa", "travel": "10 mm"}
    through = reading("controller-sweep", **keys, leak=leak, vent=vent)
    found, _ = meanings_of(sweep(), through, gauge=EXACT)
    assert found["bleed-area"].verdict == "low"
    assert found["trapped-after-1"].verdict == "high"
    # 9 mm of 3.77 kPa/mm above the pressure at which the arm comes home
    assert holds(found["trapped-after-30"], 35e3 - 3e3 + 9 * 3.77e3)


def test_ear_gives_one_side_only() -> None:
    rows = [{"turns_in": "as found", "loudness": "strong", "line_pressure": "60 kPa"}]
    found, _ = meanings_of(reading("controller-vent", supply="100 kPa", rows=rows), gauge=EXACT)
    assert found["bleed-area"].limit == "at least"
    rows[0]["loudness"] = "none"
    found, _ = meanings_of(reading("controller-vent", supply="100 kPa", rows=rows), gauge=EXACT)
    assert found["bleed-area"].limit == "at most" and found["bleed-area"].verdict == "low"


def test_solenoid_curve_and_coil() -> None:
    sound = sound_cars(solenoid=1.0, interrupts=1.0, line_area=2.2e-6, vent_area=2.9e-6, bleed_area=0.0)
    car = facts(controller="solenoid 3-port", sound=sound)
    rows = [{"duty": "0 %", "line_pressure": "80 kPa"}, {"duty": "100 %", "line_pressure": "78 kPa"}]
    found, _ = meanings_of(reading("solenoid-check", supply="80 kPa", resistance="2 ohm", rows=rows), gauge=EXACT, car=car)
    assert found["line-share-0"].verdict == "as it should be"
    assert found["line-share-100"].verdict == "high"  # it should vent all
    assert found["coil-resistance"].verdict == "low"


# -- leaks and line -------------------------------------------------------------------------------------


def test_leak_down_against_an_exponential() -> None:
    """Choked throughout: 200 kPa gauge for 60 s through 0.003 mm2 out of 95 mL, isothermal."""
    area, volume = 3e-9, 9.5e-5
    end = 301.325 * np.exp(-0.68473 * np.sqrt(287.05 * 293.15) * area * 60 / volume) - 101.325
    leak = {"start": "200 kPa", "after_60_s": f"{end:.2f} kPa"}
    found, _ = meanings_of(sweep(leak=leak), gauge=EXACT, car=facts(sound=sound_cars(chamber_volume=6e-5)))
    assert holds(found["diaphragm-leak-area"], area)
    rate = 0.68473 * np.sqrt(287.05 * 293.15) * area / volume * 301325.0
    assert found["diaphragm-leak-rate"].value == pytest.approx(rate, rel=0.02)  # the volume does not matter
    assert found["diaphragm-leak-rate"].verdict == "high"


def test_leak_that_is_not_seen_and_one_too_fast_to_see() -> None:
    tight, _ = meanings_of(sweep(leak={"start": "80 kPa", "after_10_s": "80 kPa", "after_60_s": "80 kPa"}), gauge=EXACT)
    assert tight["diaphragm-leak-rate"].limit == "at most"
    assert tight["diaphragm-leak-rate"].verdict == "as it should be"
    # a needle that slipped upwards within its doubt must not look tighter than one that stood still
    up, _ = meanings_of(sweep(leak={"start": "80 kPa", "after_60_s": "81.5 kPa"}), gauge=EXACT)
    assert up["diaphragm-leak-rate"].value > 0.2 * tight["diaphragm-leak-rate"].value
    empty, _ = meanings_of(sweep(leak={"start": "80 kPa", "after_10_s": "0 kPa", "after_60_s": "0 kPa"}), gauge=EXACT)
    assert empty["diaphragm-leak-area"].limit == "at least"
    assert empty["diaphragm-leak-area"].verdict == "high"


def test_line_leak_is_what_the_whole_loses_more() -> None:
    car = facts(controller="none")
    own = {"start": "80 kPa", "after_10_s": "80 kPa", "after_60_s": "79.8 kPa"}
    line = reading("line-sweep", first_movement="36 kPa", leak={"start": "80 kPa", "after_10_s": "30 kPa"})
    found, _ = meanings_of(sweep(leak=own), line, gauge=EXACT, car=car)
    assert found["line-leak-alone-area"].verdict == "high"
    assert found["line-pressure-lost"].verdict == "as it should be"


def test_slow_line_and_fast_line() -> None:
    slow, _ = meanings_of(sweep(), reading("controller-sweep", first_movement="60 kPa", follows="6 s"), gauge=EXACT)
    assert slow["line-time-constant"].verdict == "high" and slow["line-passage"].verdict == "low"
    # follows to about 85 % of the supply: tau = 6 / ln(1/0.15)
    assert holds(slow["line-time-constant"], 6.0 / np.log(1 / 0.15))
    fast, _ = meanings_of(sweep(), reading("controller-sweep", first_movement="60 kPa", follows="0 s"), gauge=EXACT)
    assert fast["line-time-constant"].limit == "at most" and fast["line-time-constant"].verdict == "as it should be"


def test_hose_against_a_new_one() -> None:
    hose = reading("hose-flow", supply="100 kPa", flow="20 L/min", flow_new_hose="50 L/min")
    found, _ = meanings_of(hose, gauge=EXACT)
    assert holds(found["hose-share"], 0.4) and found["hose-share"].verdict == "low"
    # 1 mm2 passes 24.1 L/min at 100 kPa gauge (C = 0.1992 dm3/(s bar))
    assert found["hose-hole"].value == pytest.approx(np.sqrt(4 * 20 / 24.06 * 1e-6 / np.pi / 0.65), rel=0.01)


def test_charge_pipes() -> None:
    """10 L that lose 500 Pa/s near 95 kPa gauge leak through 0.128 mm2."""
    car = facts(sound=sound_cars(charge_volume=10e-3))
    found, _ = meanings_of(reading("intake-pressurise", supply="102.5 kPa", drop_in_30_s="15 kPa"), gauge=EXACT, car=car)
    assert found["charge-leak-area"].value == pytest.approx(0.128e-6, rel=0.03)
    assert found["charge-leak-area"].verdict == "as it should be"
    flows, _ = meanings_of(reading("intake-pressurise", supply="100 kPa", held="flows"), car=car)
    assert (flows["charge-leak-area"].limit, flows["charge-leak-area"].verdict) == ("at least", "high")


# -- gate, sensor, engine -------------------------------------------------------------------------------


def test_gate_by_hand() -> None:
    car = facts(lever=quantity("20 mm +/- 0.4 mm", "length"), travel=quantity("12 mm +/- 0.6 mm", "length"))
    found, _ = meanings_of(sweep(travel="3 mm"), reading("free-travel", swing="3.5 mm"), gauge=EXACT, car=car)
    assert found["free-travel"].verdict == "low" and found["full-travel"].verdict == "low"
    # 3.5 mm at 20 mm: 2 asin(3.5/40) = 10.0 degrees
    assert np.degrees(found["free-angle"].value) == pytest.approx(10.04, abs=0.05)
    assert found["free-angle"].verdict == "low" and holds(found["travel-in-reserve"], 0.5e-3)


def test_port_against_what_the_target_needs() -> None:
    small, _ = meanings_of(reading("port-measure", port="15 mm", lift="8 mm", entry="clean"))
    large, _ = meanings_of(reading("port-measure", port="34 mm", lift="12 mm"))
    # 26.0(1) mm: 0.77 % of area; here 15.0(1): 1.3 %, and the coefficient's 7 %
    assert small["gate-flow-area"].sd / small["gate-flow-area"].value == pytest.approx(np.hypot(0.0133, 0.07), rel=0.2)
    assert small["gate-share-taken"].verdict == "high" and small["gate-flow-area"].verdict == "low"
    assert large["gate-share-taken"].verdict == "as it should be"
    assert holds(small["lift-over-port"], 8 / 15)
    clean, _ = meanings_of(reading("port-measure", port="34 mm", entry="clean"))
    poor, _ = meanings_of(reading("port-measure", port="34 mm", entry="step"))
    assert poor["gate-flow-area"].value < 0.75 * clean["gate-flow-area"].value
    assert large["gate-flow-area"].value < clean["gate-flow-area"].value  # the curtain under 12 mm of lift
    twins, _ = meanings_of(reading("port-measure", port="34 mm"), car=facts(gates=2))
    assert twins["gate-flow-area"].value == pytest.approx(2 * 0.70 * np.pi / 4 * 0.034**2, rel=1e-6)


def test_seat_gap() -> None:
    found, _ = meanings_of(reading("seat-leak", light=True, gap="0.3 mm"))
    assert found["seat-leak-area"].verdict == "high"


def test_sensor_line_and_its_covariance() -> None:
    """Against the least squares of a library; scale and offset found together are strongly against each other."""
    applied, reads = [0.0, 50.0, 100.0, 150.0], [105.1, 156.9, 208.2, 261.0]
    rows = [
        {"applied": f"{a} kPa", "reads": f"{r} kPa abs"} | ({"barometer": "101.3 kPa"} if a == 0 else {})
        for a, r in zip(applied, reads, strict=True)
    ]
    found, _ = meanings_of(reading("sensor-check", rows=rows), gauge=EXACT)
    line = linregress([a + 101.3 for a in applied], reads)
    scale, offset = found["sensor-scale"], found["sensor-offset"]
    assert scale.value == pytest.approx(line.slope, rel=1e-6)
    assert offset.value == pytest.approx(1e3 * line.intercept, abs=0.1)
    assert scale.correlated == (("sensor-offset", pytest.approx(offset.correlated[0][1])),)
    assert scale.correlated[0][1] < -0.8
    assert found["sensor-error-at-rest"].value == pytest.approx(1e3 * (line.intercept + 101.3 * (line.slope - 1.0)), abs=0.1)
    assert found["sensor-error-at-rest"].verdict == "high" and scale.verdict in ("high", "cannot tell")


def test_sensor_at_rest_alone_and_at_the_end_of_its_range() -> None:
    rest = reading("sensor-check", rows=[{"applied": "0 kPa", "reads": "98.0 kPa abs", "barometer": "101.3 kPa"}])
    found, _ = meanings_of(rest)
    assert found["sensor-error-at-rest"].value == pytest.approx(-3.3e3) and found["sensor-error-at-rest"].verdict == "low"
    assert "sensor-scale" not in found
    rows = [{"applied": "0 kPa", "reads": "101 kPa abs"}, {"applied": "150 kPa", "reads": "200 kPa abs"}]
    full = reading("sensor-check", rows=rows)
    car = facts(sensor_range=quantity("200 kPa abs", "pressure", gauge_default="abs"))
    found, _ = meanings_of(full, car=car)
    assert "sensor-scale" not in found


def test_back_pressure() -> None:
    rows = [{"rpm": "6500 rpm", "pressure": "90 kPa"}, {"rpm": "1000 rpm", "pressure": "5 kPa", "no_load": True}]
    found, _ = meanings_of(reading("exhaust-back-pressure", rows=rows))
    assert found["back-pressure-6500"].verdict == "high"
    assert found["back-pressure-1000-standing"].verdict == "as it should be"


def test_compression_and_fuel() -> None:
    rows = [{"cylinder": n, "pressure": f"{p} bar"} for n, p in ((1, 11.8), (2, 12.0), (3, 8.4), (4, 11.9))]
    found, _ = meanings_of(reading("compression", rows=rows))
    assert holds(found["compression-spread"], 0.3) and found["compression-spread"].verdict == "high"
    assert "Cylinder 3" in found["compression-spread"].says
    fuel = [{"rpm": "2000 rpm", "fuel_pressure": "4.0 bar"}, {"rpm": "6000 rpm", "fuel_pressure": "2.9 bar"}]
    found, _ = meanings_of(reading("plugs-and-fuel", rows=fuel), gauge=EXACT)
    assert holds(found["fuel-pressure-change"], -1.1e5) and found["fuel-pressure-change"].verdict == "low"


def test_lift_of_a_flapper_from_its_free_angle() -> None:
    """22 mm sin 45 deg = 15.6 mm, of a 26 mm port 0.60; at 10 deg 3.8 mm and 0.15 (K of the lift limits)."""
    car = facts(flapper=quantity("22 mm +/- 0.2 mm", "length"))
    for angle, ratio, verdict in (("45 deg", 0.598, "as it should be"), ("10 deg", 0.147, "low")):
        found, _ = meanings_of(reading("free-travel", angle=angle), reading("port-measure", port="26 mm"), car=car)
        assert found["lift-over-port"].value == pytest.approx(ratio, abs=2e-3)
        assert found["lift-over-port"].verdict == verdict


# -- as a whole -------------------------------------------------------------------------------------------


def test_a_test_done_again_has_a_figure_of_its_own() -> None:
    checks = [
        reading("sensor-check", rows=[{"applied": "0 kPa", "reads": "101 kPa abs"}, {"applied": "100 kPa", "reads": r}])
        for r in ("201 kPa abs", "205 kPa abs")
    ]
    found, _ = meanings_of(*checks, reading("free-travel", swing="14 mm"), reading("free-travel", swing="13 mm"))
    assert found["sensor-scale--2"].value > found["sensor-scale"].value
    assert found["sensor-scale--2"].correlated[0][0] == "sensor-offset--2" and "free-travel--2" in found


def test_a_powered_solenoid_is_no_measure_of_what_the_controller_takes_off() -> None:
    car = facts(controller="solenoid 3-port")
    keys = {"supply_up_to": "170 kPa", "first_movement": "none", "full_travel": "none", "travel": "0 mm"}
    leak = {"start": "80 kPa", "after_10_s": "0 kPa"}
    found, _ = meanings_of(sweep(), reading("controller-sweep", solenoid="powered", leak=leak, **keys), car=car)
    assert not {"controller-offset", "line-leak-rate"} & found.keys()
    found, _ = meanings_of(sweep(), reading("controller-sweep", solenoid="unpowered", leak=leak, **keys), car=car)
    assert found["controller-offset"].verdict == "high" and found["line-leak-rate"].verdict == "high"


def test_nothing_known_means_nothing() -> None:
    empty = [reading(t) for t in ("actuator-sweep", "controller-vent", "hose-flow", "sensor-check", "port-measure")]
    undone = sweep(not_done="no time")
    assert meanings_of(*empty, undone) == ({}, ())


def test_the_same_seed_gives_the_same_numbers_whatever_else_was_read() -> None:
    alone, _ = meanings_of(sweep(), gauge=EXACT)
    more, _ = meanings_of(sweep(), reading("hose-flow", supply="100 kPa", flow="20 L/min"), gauge=EXACT)
    assert all(np.array_equal(more[k].draws, alone[k].draws) for k in alone)


@pytest.mark.parametrize(
    ("value", "sd", "limit", "low", "high", "verdict"),
    [
        (10.0, 0.1, "", 8.0, 12.0, "as it should be"), (10.0, 1.0, "", 12.0, 14.0, "low"),
        (11.0, 1.0, "", 12.0, 14.0, "cannot tell"), (16.0, 1.0, "", 12.0, 14.0, "high"),
        (13.0, 9.0, "", 12.0, 14.0, "cannot tell"), (13.0, 1.0, "at least", None, 12.0, "high"),
        (3.0, 1.0, "at most", 0.0, 4.0, "as it should be"), (3.0, 1.0, "at most", 4.0, 9.0, "low"),
        (5.0, 1.0, "at most", 4.0, 9.0, "cannot tell"), (5.0, 1.0, "at least", 4.0, None, "as it should be"),
    ],
)  # fmt: skip
def test_verdicts(value: float, sd: float, limit: Any, low: Any, high: Any, verdict: str) -> None:
    draws = value + sd * np.concatenate(([0.0], np.random.default_rng(1).standard_normal(4000)))
    if limit:
        draws = np.full(10, value)
    assert verdict_of(draws, limit, Healthy(low, high, "made up")) == verdict
    assert verdict_of(draws, limit, None) == "cannot tell"
