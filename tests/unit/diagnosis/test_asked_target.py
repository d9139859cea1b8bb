"""A control unit that asked for another boost than the one wanted: its log says so, and that is a fault."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from evaluation.families import Family, families, recording_of

from boostproof.bench.response import Array, Candidates
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.evidence.blocks import Block
from boostproof.diagnosis.evidence.drive import Driven, logged_target
from boostproof.diagnosis.evidence.hypotheses import hypotheses_for
from boostproof.diagnosis.evidence.setup import build
from boostproof.diagnosis.evidence.simulator import Simulator, run_drive
from boostproof.diagnosis.inference.posterior import Posterior, infer
from boostproof.physics.layout import INDEX
from boostproof.physics.system import OUTPUT_INDEX
from boostproof.recording.model import Channel, Recording

FAMILY: Family = next(f for f in families() if f.name == "2.0 L, internal flapper, solenoid 3-port")
CAUSES = tuple(BY_ID[i] for i in ("target-table-wrong", "spring-weak"))
ASKED = "car: target as logged"
KPA = 1.0e3


def with_target(recording: Recording, level: float | None, *, absolute: bool = False) -> Recording:
    """The log with the boost that the control unit asked for, level at full load. [Pa gauge]"""
    if level is None:
        return recording
    values = np.full(recording.rows, level + (recording.barometer.value if absolute else 0.0))
    channel = Channel("boost_target", "target", "kPa", "abs" if absolute else "gauge", 1.0, "made", 0, values)
    return replace(recording, channels={**recording.channels, "boost_target": channel})


def built(boost: Array | None, asked: float | None, *, absolute: bool = False) -> Simulator:
    """The case of one pull with this boost in its bins; flat where no matter. [Pa gauge]"""
    recording, pull = recording_of(FAMILY, {"boost": np.zeros(400) if boost is None else boost})
    recording = with_target(recording, asked, absolute=absolute)
    return build(FAMILY.car, [Driven(recording, (replace(pull, recording=recording),))], (), None)[0]


@cache
def wanted() -> float:
    target = built(None, None).prior.target
    assert target is not None
    return target


def boost_of_the_middle_car(shift: float) -> Array:
    """What the middle car shows whose control unit asks for so much more, row by row."""
    simulator = built(None, None)
    par = simulator.prior.sound(np.zeros((simulator.prior.size, 1)))
    par[INDEX["target_shift"]] = shift
    shown = run_drive(par, simulator.drive)[:, OUTPUT_INDEX["boost_measured"], 0]
    rows = np.full(400, shown[0])
    for b, value in zip(simulator.drive.bins, shown, strict=True):
        rows[b.start :] = value
    return rows


def asked_block(simulator: Simulator) -> Block | None:
    found = [b for b in simulator.evidence.blocks if b.source == ASKED]
    assert len(found) <= 1
    return found[0] if found else None


@cache
def answer(shift: float, logged: bool) -> Posterior:
    """Of a car whose control unit asks for so much more, with what it asked for in the log or without."""
    simulator = built(boost_of_the_middle_car(shift), wanted() + shift if logged else None)
    return infer(simulator, CAUSES, FAMILY.car.controller.kind, seed=1)


# -- the block ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("shift", [20.0 * KPA, -20.0 * KPA])
def test_a_target_that_stands_apart_gives_a_block_about_that_difference(shift: float) -> None:
    simulator = built(None, wanted() + shift)
    block = asked_block(simulator)
    assert block is not None and block.size == 1
    par = np.repeat(simulator.prior.sound(np.zeros((simulator.prior.size, 1))), 3, axis=1)
    par[INDEX["target_shift"]] = [0.0, shift, shift + 5.0 * KPA]
    cars = Candidates(par, np.ones(1), np.zeros((1, 1, 3)))
    # a person's word and a log's target hold against each other to 5 kPa
    assert np.abs(block.residuals(cars)[0]) == pytest.approx([4.0, 0.0, 1.0], abs=0.05)
    log_likelihood = block.log_likelihood(block.residuals(cars))
    assert log_likelihood[1] - log_likelihood[2] == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize("asked", [None, 0.0, 6.0 * KPA, -6.0 * KPA])
def test_a_target_as_told_gives_none(asked: float | None) -> None:
    assert asked_block(built(None, None if asked is None else wanted() + asked)) is None


def test_the_scout_has_the_block_as_well() -> None:
    scout = built(None, wanted() + 20.0 * KPA).scout
    assert scout is not None and asked_block(scout) is not None


def test_an_absolute_channel_says_the_same() -> None:
    gauge, absolute = built(None, wanted() + 20.0 * KPA), built(None, wanted() + 20.0 * KPA, absolute=True)
    assert asked_block(absolute) is not None
    assert np.allclose(absolute.drive.inputs, gauge.drive.inputs)


def test_odd_moments_do_not_make_a_target() -> None:
    """One row in twenty at a level of its own, as a fault code or a dropped byte leaves."""
    recording, _ = recording_of(FAMILY, {"boost": np.zeros(400)})
    recording = with_target(recording, wanted())
    recording.channels["boost_target"].values[::20] = 400.0 * KPA
    assert logged_target(recording) == pytest.approx(wanted())


# -- the drive ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("asked", "driven"), [(20.0, 0.0), (-20.0, 0.0), (5.0, 5.0), (0.0, 0.0)])
def test_candidates_are_given_the_target_that_is_wanted(asked: float, driven: float) -> None:
    """Asked for much more the difference is the candidate's own; a few kPa are rounding, and taken as logged."""
    simulator = built(None, wanted() + asked * KPA)
    assert simulator.prior.target == pytest.approx(wanted())
    assert simulator.drive.inputs[:, 2] == pytest.approx(wanted() + driven * KPA)


# -- the verdict ----------------------------------------------------------------------------------------------------


def log_odds(p: Posterior, one: str, other: str) -> float:
    values = {**p.cause_probability, "healthy": p.healthy}
    return float(np.log(values[one] / values[other]))


def test_the_wrong_table_gains_against_sound_and_against_other_causes() -> None:
    logged, silent = answer(20.0 * KPA, True), answer(20.0 * KPA, False)
    # a sound car asks for what is wanted: 20 kPa off is four standard deviations, logarithmic beyond two
    bend = 4.0
    least = 0.5 * bend * (1.0 + np.log(16.0 / bend)) - 0.7
    assert log_odds(logged, "target-table-wrong", "healthy") - log_odds(silent, "target-table-wrong", "healthy") > least
    assert log_odds(logged, "target-table-wrong", "spring-weak") > log_odds(silent, "target-table-wrong", "spring-weak")
    assert logged.cause_probability["target-table-wrong"] > 0.8
    assert logged.healthy < 0.02


def test_a_car_that_asks_for_what_is_wanted_is_not_said_to_have_a_wrong_table() -> None:
    logged = answer(0.0, True)
    assert logged.cause_probability["target-table-wrong"] < 0.35
    wrong = answer(20.0 * KPA, True)
    assert log_odds(logged, "target-table-wrong", "healthy") < log_odds(wrong, "target-table-wrong", "healthy") - 4.0


def test_the_severity_found_is_the_difference() -> None:
    posterior = answer(20.0 * KPA, True)
    (place,) = [i for i, h in enumerate(posterior.hypotheses) if h.mechanism == "target-up"]
    draws = posterior.draws[place]
    everything = np.ones(len(posterior.simulator.evidence.blocks), bool)
    w = np.exp(draws.log_weights(everything) - draws.log_weights(everything).max())
    index = np.full(draws.z.shape[1], place)
    _, actual = posterior.simulator.parameters(draws.z, posterior.hypotheses, index)
    found = float((actual[INDEX["target_shift"]] * w).sum() / w.sum())
    assert found == pytest.approx(20.0 * KPA, abs=5.0 * KPA)
    assert hypotheses_for(CAUSES, FAMILY.car.controller.kind)[place].mechanism == "target-up"
