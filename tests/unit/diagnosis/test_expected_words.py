"""What a test would read, in words and in the units of the shop."""

from __future__ import annotations

import numpy as np

from boostproof.bench.procedures import fill
from boostproof.bench.response import Response
from boostproof.bench.tests import CATALOGUE, CarContext
from boostproof.diagnosis.causes.model import CONTROLLER_KINDS
from boostproof.diagnosis.choice.expected_words import expected_reading, say_feature
from boostproof.observation import reading
from boostproof.physics.rigs import SEARCH_LIMIT


def test_pressures_come_in_the_units_of_the_shop() -> None:
    said = say_feature("opening", 41e3, 48e3, 55e3, "actuator-sweep")
    assert fill(said) == "first movement 41 to 55 kPa"
    assert fill(said, pressure="psi") == "first movement 5.9 to 8.0 psi"  # 41 / 6.895, 55 / 6.895
    assert fill(say_feature("swing", 0.0101, 0.012, 0.0139, "free-travel"), length="in") == "swing 0.39 to 0.55 in"


def test_pressures_below_that_around_keep_their_sign() -> None:
    assert fill(say_feature("behind turbine", -2e3, 1e3, 4e3, "turbine-pressure-log")) == "behind the turbine -2 to 4 kPa"


def test_what_cannot_be_below_zero_begins_there() -> None:
    assert fill(say_feature("swing", -0.002, 0.001, 0.004, "free-travel")) == "swing 0 to 4 mm"


def test_judged_features_are_said_in_words() -> None:
    assert say_feature("leak", -6.2, -6.0, -5.8, "intake-pressurise") == "holds or seeps"
    assert say_feature("leak", -10.2, -10.0, -9.8, "actuator-sweep") == "holds"
    assert say_feature("no such feature", 0.0, 0.0, 0.0, "actuator-sweep") == ""


def test_every_reading_of_a_test_has_its_words() -> None:
    """Whatever a test would read is said for some value; the vent at a second setting goes without saying."""
    silent = set()
    for controller in CONTROLLER_KINDS:
        context = CarContext(controller, True, 9e4, 700.0, done=("actuator-sweep",))
        for test in (t for t in CATALOGUE if t.fits(context)):
            for o in test.probe(context).observations:
                values = (-9.0, -7.0, -5.5, -1.0, 0.0, 0.02, 1.0, 9.0)
                if not any(say_feature(o.feature, v, v, v, test.id) for v in values):
                    silent.add(o.feature)
    assert silent == {"flow 0"}


def test_an_arm_that_no_air_moves_does_not_move() -> None:
    assert say_feature("opening", SEARCH_LIMIT, SEARCH_LIMIT, SEARCH_LIMIT, "actuator-sweep") == "does not move"
    assert say_feature("opening", 50e3, 60e3, SEARCH_LIMIT, "actuator-sweep") == "first movement from {50 kPa} up"


def test_nine_readings_in_ten_fall_into_the_range_said() -> None:
    """Against readings drawn by hand: predictions of many cars, each with the noise of a reading."""
    rng = np.random.default_rng(2)
    cars, weight = rng.normal(50e3, 6e3, 4000), np.full(4000, 1.0 / 4000)
    response = Response("actuator-sweep", lambda c: {}, (reading("opening", 0.0, 3.5e3),))
    said = expected_reading(response, cars[None, :], weight)
    low, high = (float(x) * 1e3 for x in said.split("{")[1].split(" kPa")[0].split(" to "))
    read = cars + rng.normal(0.0, 3.5e3, 4000)
    assert 0.87 < np.mean((read > low) & (read < high)) < 0.93
