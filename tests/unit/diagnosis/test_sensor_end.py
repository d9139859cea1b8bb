"""A manifold sensor that ends below what the car makes: its highest value is the least that boost was."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from evaluation.families import families, recording_of

from boostproof.car.spec import CarSpec, Sensors
from boostproof.diagnosis.evidence.drive import Driven
from boostproof.diagnosis.evidence.setup import build, sensor_end
from boostproof.diagnosis.evidence.simulator import run_drive
from boostproof.physics.layout import INDEX
from boostproof.physics.system import OUTPUT_INDEX
from boostproof.quantity import parse_quantity
from boostproof.recording.model import Pull, Recording

FAMILY = next(f for f in families() if f.name == "2.0 L, internal flapper, none")
END = 1.1e5  # Pa gauge


def logged(highest: float, end: float | None = None) -> tuple[Recording, Pull]:
    """Boost that climbs to a highest value with some ripple, or stands at the sensor's end. [Pa gauge]"""
    boost = np.linspace(0.0, highest, 400) + np.random.default_rng(3).normal(0.0, 300.0, 400)
    return recording_of(FAMILY, {"boost": boost if end is None else np.minimum(boost, end)})


def told(range_: str | None) -> CarSpec:
    if range_ is None:
        return FAMILY.car
    return replace(FAMILY.car, sensors=Sensors(manifold_range=parse_quantity(range_, dimension="pressure")))


def test_a_log_that_stands_still_tells_the_end() -> None:
    recording, _ = logged(1.6e5, END)
    for range_ in (None, "300 kPa abs", "120 kPa abs"):
        assert sensor_end(told(range_), [recording]) == pytest.approx(END + recording.barometer.value, abs=1.0)


def test_a_log_that_climbs_on_leaves_it_to_what_is_told() -> None:
    recording, _ = logged(1.6e5)
    assert sensor_end(told(None), [recording]) is None
    assert sensor_end(told("300 kPa abs"), [recording]) == pytest.approx(300e3)
    # what the log holds more of was told wrongly
    assert sensor_end(told("200 kPa abs"), [recording]) is None


def test_another_recording_that_climbs_higher_had_another_end() -> None:
    flat, higher = logged(1.6e5, END)[0], logged(1.6e5)[0]
    assert sensor_end(told(None), [flat, higher]) is None
    assert sensor_end(told(None), [flat, logged(0.9e5)[0]]) is not None


def test_candidates_are_shown_no_more_than_the_end() -> None:
    recording, pull = logged(1.6e5, END)
    simulator, _, _ = build(FAMILY.car, [Driven(recording, (replace(pull, recording=recording),))], (), None)
    par = simulator.prior.sound(np.zeros((simulator.prior.size, 1)))
    par[INDEX["friction"]] = 4.0e6  # a gate seized shut
    out = run_drive(par, simulator.drive)
    boost, shown = (out[:, OUTPUT_INDEX[name], 0] for name in ("boost", "boost_measured"))
    assert boost.max() > END + 2e4
    assert shown.max() == pytest.approx(END, abs=200.0)
    assert simulator.scout is not None and simulator.scout.prior.fixed["boost_full_scale"] == pytest.approx(
        END + recording.barometer.value, abs=1.0
    )
