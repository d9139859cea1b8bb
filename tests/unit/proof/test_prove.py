"""The verdict of a repair, by ranges of engine speed, and everything that stands beside it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from tests.unit.proof.drawn_repairs import faulty, on_a_day, target, with_boost
from tests.unit.recording.drawn_pulls import drawn_set

from boostproof.proof import Proof, prove
from boostproof.proof.day import day_correction
from boostproof.proof.model import Measured
from boostproof.proof.states import change_of, state_of
from boostproof.proof.swings import swings_of
from boostproof.proof.words import cautions, customer_sentence, next_step
from boostproof.recording import Barometer, Pull
from boostproof.recording.model import Metric


def rng(seed: int) -> np.random.Generator:
    return np.random.default_rng(seed)


def proved(over: float, left: float, *, counts: tuple[int, int] = (3, 3), **how: float) -> Proof:
    before, after = faulty(rng(1), counts[0], over, scatter=1.0), faulty(rng(2), counts[1], left, scatter=1.0)
    return prove(before, after, target=target(), controlled="gauge", **how)  # type: ignore[arg-type]


def test_a_cured_car_and_its_figures() -> None:
    proof = proved(18.0, 0.0, stop=115.0)
    assert proof.verdict == "cured" and proof.missing == () and proof.still_outside == ()
    top = proof.ranges[-1]
    assert top.name == "top end" and top.state_before == "outside" and top.state_after == "holds"
    assert top.difference.value == pytest.approx(-18.0, abs=2.5)
    assert top.difference.expanded >= 2.0 * top.difference.sd
    spool = proof.ranges[0]
    assert spool.name == "spool" and spool.off_after is None and spool.change in ("no different", "cannot tell")
    # Boost of the drawn car reaches 83 of 90 kPa at 3327 rpm.
    assert 3300.0 < proof.holds_from < 3700.0 and spool.rpm_to < 3500.0
    assert proof.margins.below_target is not None and abs(proof.margins.below_target.value) < 2.5
    assert proof.margins.below_stop is not None and 15.0 < proof.margins.below_stop.value < 25.0
    said = customer_sentence(proof, "kPa")
    assert said.startswith("The repair cured the car") and "wanted is 90 kPa" in said
    assert "psi" in customer_sentence(proof, "psi") and next_step(proof) == ""
    assert "recheck fuelling" in " ".join(cautions(proof))


def test_worse_and_no_different() -> None:
    worse = proved(0.0, 15.0, stop=100.0)
    assert worse.verdict == "worse" and worse.margins.below_stop is not None
    assert worse.margins.below_stop.value < 0.0
    assert "passed the stop boost" in cautions(worse)[0]
    assert worse.second_fault == () and "still not what a sound car makes" in next_step(worse)
    assert proved(0.0, 0.0).verdict == "no different"
    still = proved(15.0, 15.0)
    assert still.verdict == "no different" and "Diagnose the case again" in next_step(still)


def test_boost_that_was_too_low() -> None:
    before = drawn_set(rng(1), 3, plateau=70.0, scatter=1.0)
    proof = prove(before, drawn_set(rng(2), 3, scatter=1.0), target=target(), controlled="gauge")
    assert proof.verdict == "cured"
    assert proof.ranges[-1].off_before is not None and proof.ranges[-1].off_before.value < -17.0


def test_a_second_fault_shows_in_another_range() -> None:
    """The plateau is mended, and boost creeps at the top end."""
    before = faulty(rng(1), 3, 20.0, scatter=1.0)
    after = [
        with_boost(pull, lambda rpm: 20.0 * np.clip((rpm - 5200.0) / 800.0, 0.0, 1.0))
        for pull in faulty(rng(2), 3, scatter=1.0)
    ]
    proof = prove(before, after, target=target(), controlled="gauge")
    assert proof.verdict == "better" and proof.still_outside == ("top end",)
    assert proof.second_fault == ("top end",)
    assert "second fault" in next_step(proof) and "at the top end" in next_step(proof)
    assert any("still off in the top end" in says for says in proof.missing)


def test_what_is_missing_is_said() -> None:
    one = proved(18.0, 0.0, counts=(1, 1))
    assert one.verdict in ("better", "cured")
    small = prove(faulty(rng(1), 1, 4.0), faulty(rng(2), 1), target=target(), controlled="gauge")
    assert small.verdict == "cannot say"
    assert "2 more before the repair and 2 more after the repair" in small.missing[0]
    aimless = prove(faulty(rng(1), 3, 18.0), faulty(rng(2), 3), controlled="gauge")
    assert aimless.verdict == "cannot say" and "limits.target" in aimless.missing[0]
    assert any("No target" in says for says in cautions(aimless))


def test_boost_that_only_comes_sooner_is_better_and_not_cured() -> None:
    def late(seed: int, knee: float) -> list[Pull]:
        return drawn_set(rng(seed), 3, scatter=0.8, knee=knee)

    proof = prove(late(1, 4300.0), late(2, 3400.0), target=target(), controlled="gauge")
    assert proof.ranges[0].change == "better" and proof.verdict == "better"
    assert "rows of rpm and boost" in " ".join(proof.missing)
    # With the engine speed told, the plateau was outside, and it is cured.
    told = prove(late(1, 4300.0), late(2, 3400.0), target=target(from_rpm=3500.0), controlled="gauge")
    assert told.verdict == "cured" and told.ranges[1].state_before == "outside"


def test_another_ramp_and_other_weather_are_refused() -> None:
    before = faulty(rng(1), 3, 18.0)
    ramp = prove(before, faulty(rng(2), 3, ramp=900.0), target=target(), controlled="gauge")
    assert ramp.verdict == "cannot say" and "same ramp" in ramp.missing[0]
    air = [
        faulty(rng(seed), 3, over, more={"intake_temperature": np.full(176, kelvin)})
        for seed, over, kelvin in ((1, 18.0, 293.0), (2, 0.0, 320.0))
    ]
    hot = prove(air[0], air[1], target=target(), controlled="gauge")
    assert hot.verdict == "cannot say" and "27 K hotter" in hot.missing[0]
    told = prove(before, faulty(rng(2), 3), target=target(), beyond=["Another gear."])
    assert told.verdict == "cannot say" and told.missing == ("Another gear.",)


def test_weather_by_what_the_control_holds() -> None:
    before, after = on_a_day(rng(1), 2, 96.0, scatter=0.5), on_a_day(rng(2), 2, 102.0, scatter=0.5)
    held = day_correction(before, after, "absolute")
    read = [np.mean([p.recording.barometer.value for p in side]) / 1e3 for side in (before, after)]
    assert held.shift == pytest.approx(read[1] - read[0])
    assert day_correction(before, after, "gauge").shift == 0.0
    unknown = day_correction(before, after, None)
    # Half of it, with a rectangle of half its width: a / sqrt 3 (JCGM 100, 4.3.7).
    assert unknown.shift == pytest.approx(0.5 * held.shift)
    assert unknown.sd >= 0.5 * held.shift / np.sqrt(3.0)
    assert prove(before, after, controlled="absolute").overall.value == pytest.approx(0.0, abs=1.5)
    assert prove(before, after, controlled="gauge").overall.value < -4.0
    far = [replace(p, recording=replace(p.recording, barometer=Barometer(80e3, 300.0, "logged"))) for p in after]
    assert "one height above the sea" in prove(before, far, target=target()).missing[0]


def test_states_are_guarded() -> None:
    """A stretch holds only if it lies inside by 1.645 sd, and is off only beyond at least 2 sd (normal tables)."""
    rows, covariance = np.eye(1), np.array([[1.0]])
    for off, state in ((5.3, "holds"), (5.4, "cannot tell"), (8.9, "cannot tell"), (9.1, "outside")):
        assert state_of(np.array([off]), rows, covariance, np.inf, 7.0) == (state,)


def test_a_change_is_a_change_towards_the_target_or_away() -> None:
    change = Measured(-20.0, 2.0, 5.0)
    assert change_of(change, 18.0, degrees=10.0, more_is_better=False) == "better"
    assert change_of(change, 2.0, degrees=10.0, more_is_better=False) == "worse"
    # As far below as it was above.
    assert change_of(change, 10.0, degrees=10.0, more_is_better=False) == "cannot tell"
    assert change_of(change, None, degrees=10.0, more_is_better=True) == "worse"
    assert change_of(change, None, degrees=10.0, more_is_better=False) == "different"


def test_a_spike_that_a_mean_does_not_show() -> None:
    def spiking(seed: int, sizes: list[float | None]) -> list[Pull]:
        knee = {"knee_rpm": Metric(3400.0, 30.0)}
        return [
            replace(p, metrics={**knee, "spike_kpa": None if size is None else Metric(size, 1.0)})
            for p, size in zip(faulty(rng(seed), 3, scatter=0.8), sizes, strict=True)
        ]

    before, after = spiking(1, [24.0, 26.0, 25.0]), spiking(2, [None, None, 2.0])
    (spike,) = swings_of(before, after, 7.0)
    # Scatter: (4 x 2^2 + 2 + 8/3) / 8 = 2.583; own 1 and 1/3: u^2 = (2.583 + 1) / 3 + (2.583 + 1/3) / 3 (by hand).
    assert spike.difference.sd**2 == pytest.approx((2.5833 + 1.0 + 2.5833 + 1.0 / 3.0) / 3.0, rel=1e-3)
    assert spike.difference.value == pytest.approx(2.0 / 3.0 - 25.0)
    assert (spike.state_before, spike.state_after, spike.change) == ("outside", "holds", "better")
    cured = prove(before, after, target=target(), controlled="gauge")
    assert cured.verdict == "cured" and "the spike went from 25 kPa" in customer_sentence(cured)
    again = prove(before, before, target=target(), controlled="gauge")
    assert again.verdict in ("no different", "cannot say") and "spike" in again.still_outside


def test_the_answer_is_plain_json_and_always_the_same() -> None:
    first, again = (json.dumps(proved(18.0, 0.0).as_json(), allow_nan=False) for _ in range(2))
    assert first == again
