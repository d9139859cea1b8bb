"""The choice of the next test on made-up cases whose right answer is plain."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.unit.diagnosis.made_particles import CONTEXT, TARGET, particles

from boostproof.bench.procedures import fill
from boostproof.bench.tests import BY_ID, CATALOGUE
from boostproof.diagnosis.choice import next_test
from boostproof.diagnosis.choice.next_test import confirming, ranked, value_tests
from boostproof.diagnosis.choice.repair_order import SPECIALIST, VERIFY, repair_minutes, repairs_for
from boostproof.diagnosis.choice.worth import TIE

REST = ("free-travel", "actuator-sweep", "port-measure", "seat-leak", "shaft-check", "cold-look", "sensor-check")


def _tests(*ids: str) -> tuple:
    return tuple(BY_ID[i] for i in ids)


def _value(test: str, saved: float, bits: float = 0.1, minutes: float = 10.0) -> next_test.TestValue:
    return next_test.TestValue(test, test, minutes, minutes, saved, bits, {}, ())


def test_a_small_port_against_a_stuck_sensor_scale_is_settled_at_the_sensor(tmp_path: Path) -> None:
    """The cheap test that parts them comes first, and what it reads is said for both."""
    posterior, cars = particles(tmp_path, {"port-too-small": 0.35, "sensor-scale-wrong": 0.60, "healthy": 0.03})
    choice = value_tests(posterior, cars, _tests(*REST), CONTEXT, seed=1)
    best = choice.offered[0]
    assert best.test == "sensor-check"
    assert best.minutes_saved > 20.0
    assert set(best.expected) >= {"port-too-small", "sensor-scale-wrong"}
    assert "psi" in fill(best.expected["port-too-small"], pressure="psi")
    assert choice.splitting(("port-too-small", "sensor-scale-wrong")) == "sensor-check"


def test_nothing_is_worth_doing_where_nothing_is_open(tmp_path: Path) -> None:
    posterior, cars = particles(tmp_path, {"healthy": 0.999})
    choice = value_tests(posterior, cars, _tests(*REST), CONTEXT, seed=1)
    assert all(v.minutes_saved < 0.0 and v.information_bits < 0.02 for v in choice.offered)


def test_a_test_saves_never_more_than_knowing_the_answer_would(tmp_path: Path) -> None:
    """Knowing beforehand costs the right repair alone; no test can beat that, nor tell more than is open."""
    p = {"charge-leak": 0.3, "spring-weak": 0.3, "gate-not-seating": 0.3, "healthy": 0.05}
    posterior, cars = particles(tmp_path, p)
    open_tests = tuple(t for t in CATALOGUE if t.fits(CONTEXT))
    choice = value_tests(posterior, cars, open_tests, CONTEXT, seed=1, stop=3.0e5)
    told = np.array([*p.values(), posterior.other])
    answers = [*((name,) for name in p if name != "healthy"), ()]
    now = repairs_for(answers).expected(told[None, :])[0]
    known = sum(x * (VERIFY if name == "healthy" else repair_minutes(name)) for name, x in p.items())
    entropy = float(-(told * np.log2(told)).sum())
    assert {v.test for v in choice.offered} | {w.test for w in choice.withheld} == {t.id for t in open_tests}
    for v in choice.offered:
        assert 0.0 <= v.information_bits <= entropy
        assert v.minutes_saved + v.cost <= now - known - SPECIALIST * posterior.other + 1e-6


def test_a_test_that_reads_the_same_for_all_tells_nothing(tmp_path: Path) -> None:
    posterior, cars = particles(tmp_path, {"charge-leak": 0.5, "inlet-restricted": 0.47, "healthy": 0.02}, count=200)
    choice = value_tests(posterior, cars, _tests("port-measure", "intake-pressurise"), CONTEXT, seed=1)
    bits = {v.test: v.information_bits for v in choice.offered}
    assert bits["intake-pressurise"] > 0.6
    assert bits["port-measure"] < 0.05


def test_a_pair_stands_among_the_answers_and_asks_for_both_repairs(tmp_path: Path) -> None:
    p = {"charge-leak": 0.2, "spring-weak": 0.2, "spring-weak + charge-leak": 0.55, "healthy": 0.02}
    posterior, cars = particles(tmp_path, p)
    choice = value_tests(posterior, cars, _tests("intake-pressurise", "actuator-sweep"), CONTEXT, seed=1)
    assert "spring-weak + charge-leak" in choice.answers
    joint = choice.joint["intake-pressurise"]
    assert joint.sum(axis=0) == pytest.approx([0.2, 0.2, 0.55, 0.02, 0.03], abs=1e-6)
    assert {v.test: v.confirms for v in choice.offered} == {
        "intake-pressurise": "charge-leak", "actuator-sweep": "spring-weak",
    }  # fmt: skip


def test_the_order_and_the_values_hang_on_the_seed_only_a_little(tmp_path: Path) -> None:
    posterior, cars = particles(tmp_path, {"charge-leak": 0.3, "spring-weak": 0.4, "port-too-small": 0.25}, count=120)
    tests = _tests("intake-pressurise", "actuator-sweep", "port-measure", "cold-look", "free-travel")
    one, other = (
        {v.test: v for v in value_tests(posterior, cars, tests, CONTEXT, seed=s).offered} for s in (1, 2)
    )
    for test in one:
        assert one[test].minutes_saved == pytest.approx(other[test].minutes_saved, abs=4.0)
        assert one[test].information_bits == pytest.approx(other[test].information_bits, abs=0.06)


def test_what_stands_open_is_not_paid_again(tmp_path: Path) -> None:
    posterior, cars = particles(tmp_path, {"port-too-small": 0.5, "gate-not-seating": 0.4, "healthy": 0.05})
    alone, behind = (
        {v.test: v for v in value_tests(posterior, cars, _tests("port-measure"), CONTEXT, seed=1, done=done).offered}
        for done in ((), ("seat-leak",))
    )
    assert alone["port-measure"].cost == 45.0
    assert behind["port-measure"].cost == 19.0  # lift and pipe are off already
    assert behind["port-measure"].minutes_saved == pytest.approx(alone["port-measure"].minutes_saved + 26.0)


def test_a_pull_that_may_run_away_is_not_offered_and_the_reason_is_at_hand(tmp_path: Path) -> None:
    posterior, cars = particles(tmp_path, {"gate-seized-shut": 0.5, "charge-leak": 0.45}, severity=0.9)
    choice = value_tests(posterior, cars, _tests("re-apply", "repeat-ramp", "free-travel"), CONTEXT, seed=1)
    assert [v.test for v in choice.offered] == ["free-travel"]
    assert {w.test for w in choice.withheld} == {"re-apply", "repeat-ramp"}
    assert all(w.chance > 0.3 and w.stop.boost == pytest.approx(TARGET + 2.0e4) for w in choice.withheld)


def test_the_leaders_own_test_counts_as_worth_doing_until_it_was_done() -> None:
    answers = [("charge-leak",), ("spring-weak",), ()]
    own = BY_ID["intake-pressurise"].id
    values = [_value(own, -18.0, minutes=20.0), _value("shaft-check", -20.0)]
    sure = confirming(values, answers, np.array([0.95, 0.02, 0.01, 0.02]))
    assert (sure[0].minutes_saved, sure[0].confirms) == (TIE, "charge-leak")
    assert sure[1] == values[1]
    assert confirming(values, answers, np.array([0.39, 0.3, 0.2, 0.11])) == values
    dear = [replace(values[0], cost=500.0)]
    assert confirming(dear, answers, np.array([0.95, 0.02, 0.01, 0.02])) == dear
    alike = [("gate-not-seating",), ("gate-debris",), ()]
    seat = confirming([_value("seat-leak", -20.0)], alike, np.array([0.35, 0.30, 0.2, 0.15]))
    assert (seat[0].minutes_saved, seat[0].confirms) == (TIE, "gate-not-seating")
    better = [replace(values[0], minutes_saved=31.0)]
    assert confirming(better, answers, np.array([0.95, 0.02, 0.01, 0.02]))[0].minutes_saved == 31.0


def test_of_two_as_good_as_each_other_the_safer_goes_first_then_the_more_telling() -> None:
    """Within 2 min: a sweep before a pull that tells more; beyond that the pull."""
    pull, sweep = _value("floor-pull", 11.0, bits=0.9), _value("actuator-sweep", 9.5, bits=0.2)
    assert [v.test for v in ranked([pull, sweep])] == ["actuator-sweep", "floor-pull"]
    assert [v.test for v in ranked([pull, replace(sweep, minutes_saved=8.0)])] == ["floor-pull", "actuator-sweep"]
    telling = _value("free-travel", 9.0, bits=0.5)
    assert [v.test for v in ranked([sweep, telling])] == ["free-travel", "actuator-sweep"]
