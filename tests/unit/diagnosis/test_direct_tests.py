"""The test that measures a cause's own part really reads otherwise on a car that has it."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from tests.unit.diagnosis.signature_table import TABLE
from tests.unit.diagnosis.usual_cars import FITTED, TARGET, usual_car

from boostproof.bench import set_ups
from boostproof.bench.response import Array, Candidates
from boostproof.bench.tests import BY_ID as TESTS
from boostproof.bench.tests import CarContext
from boostproof.diagnosis.causes import BY_ID, CATALOGUE
from boostproof.diagnosis.evidence.simulator import run_pull
from boostproof.physics.change import apply_all

REDLINE, AMBIENT, MIDDLE = 712.0, 101325.0, np.array([0.5])
SHARES = np.linspace(0.40, 0.96, 12)
SEEN = 2.0  # standard deviations

# Causes that no test by itself decides: physics notes, section 3.2, "Decide with".
WITHOUT = {
    "compressor-surge": "decided by where the pull stands on the compressor's map",
    "compressor-choked": "decided by where the pull stands on the compressor's map",
    "exhaust-energy-low": "decided by timing and exhaust temperature in the log of the pull",
    "cooler-restricted": "decided by two pressures logged in the pull, before and behind the cooler",
}
# What the direct test does not show: by cause and variant, the test that does, and why.
SHOWN_BY_ANOTHER = {
    ("twin-gates-unequal", 1): ("port-measure", "the lazy gate has a poor port, and swings as far as the other"),
    ("twin-gates-unequal", 2): ("actuator-sweep", "the lazy gate has the stronger spring; by hand both swing alike"),
    ("controller-passing", 0): ("solenoid-check", "a solenoid at rest passes the signal whether it is stuck or not"),
    ("gate-flutter", 0): ("seat-leak", "simulated as its mean over a pulse, a gate that leaks; its spring is as it was"),
    ("target-table-wrong", 0): ("tip-in", "the sensor check reads as on a sound car: it clears the sensor of it"),
}
CASES = [(c.id, variant) for c in CATALOGUE if c.direct_test for variant in range(len(c.variants))]


def kind_of(cause: str) -> str:
    kinds = TABLE[cause][0]
    return kinds if isinstance(kinds, str) else kinds[0]


def candidates(par: Array, sound: Array, loop: bool) -> Candidates:
    ramp = set_ups.slow_ramp(REDLINE, TARGET, AMBIENT, SHARES, loop=loop)
    outputs = run_pull(par, (), ramp)
    return Candidates(par, SHARES * REDLINE, outputs, ambient=AMBIENT, sound=sound, simulated=run_pull)


@cache
def shift(cause: str, variant: int, test: str) -> float:
    """Largest difference between the faulty and the sound car, over the standard deviation of its reading."""
    kind = kind_of(cause)
    car = FITTED[kind]
    context = CarContext(car.controller, car.external, TARGET, REDLINE, done=("actuator-sweep",))
    assert TESTS[test].fits(context)
    sound = usual_car(kind)
    changes = BY_ID[cause].variants_for(car.controller)[variant][1]
    par = np.concatenate([sound, apply_all(changes, sound, MIDDLE)], axis=1)
    probe = TESTS[test].probe(context)
    features = probe.features(candidates(par, np.concatenate([sound, sound], axis=1), car.solenoid))
    return max(abs(float(np.diff(features[o.feature])[0])) / o.sd for o in probe.observations)


def test_a_direct_test_stands_where_one_can_be_done() -> None:
    assert {c.id for c in CATALOGUE if not c.direct_test} == set(WITHOUT)
    assert {(cause, variant) for cause, variant in SHOWN_BY_ANOTHER} <= set(CASES)


@pytest.mark.parametrize(("cause", "variant"), CASES)
def test_it_reads_otherwise_on_a_car_with_the_fault(cause: str, variant: int) -> None:
    direct = shift(cause, variant, BY_ID[cause].direct_test)
    if (cause, variant) not in SHOWN_BY_ANOTHER:
        assert direct > SEEN
        return
    another, _ = SHOWN_BY_ANOTHER[cause, variant]
    assert direct < SEEN  # else it is no exception
    assert shift(cause, variant, another) > SEEN
