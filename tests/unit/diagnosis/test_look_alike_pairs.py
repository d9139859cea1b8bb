"""Look-alike pairs of the trade: the log leaves them together, a bench test parts them, or a finding says why not."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from tests.unit.diagnosis.look_alike_table import APART, PAIRS, TOGETHER, Pair
from tests.unit.diagnosis.signature_table import BALL
from tests.unit.diagnosis.usual_cars import FITTED, usual_car
from tests.unit.diagnosis.usual_subjects import prior_around, usual_subject

from boostproof.diagnosis.catalogue.confusability import log_evidences, probabilities
from boostproof.diagnosis.catalogue.expected import SEVERITIES, Bank, bank_of
from boostproof.diagnosis.catalogue.text import TEXTS

ALL, ROUNDS = 1e3, 4  # nats: every fault is fitted by simulation, in so many rounds
NAMED = pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.name)


@cache
def bank(pair: Pair, up_to: float) -> Bank:
    subject = usual_subject(pair.kind, (pair.first, pair.second), up_to=up_to)
    tests = [*pair.tests, *([pair.fails] if pair.fails else [])]
    return bank_of(subject, tests, severities=sorted({*SEVERITIES, *pair.severities}))


def left(pair: Pair, *tests: str, up_to: float | None = None) -> tuple[float, float]:
    """Probability of each against the other where it is the true one."""
    held = bank(pair, pair.up_to if up_to is None else up_to)
    out = []
    for cause, severity in zip((pair.first, pair.second), pair.severities, strict=True):
        own = [i for i, h in enumerate(held.subject.hypotheses) if cause in [c.id for c in h.causes]]
        evidence = held.evidence(held.point(own[0], severity), tests)
        out.append(probabilities(held, log_evidences(held, evidence, near=ALL, rounds=ROUNDS))[cause])
    return out[0], out[1]


@pytest.mark.parametrize("kind", FITTED)
def test_the_middle_of_the_prior_is_the_usual_car(kind: str) -> None:
    prior = prior_around(kind)
    np.testing.assert_allclose(prior.sound(np.zeros((prior.size, 1))), usual_car(kind), rtol=1e-12)


@NAMED
def test_the_log_leaves_them_together(pair: Pair) -> None:
    assert max(left(pair)) < TOGETHER


@NAMED
def test_a_test_parts_them(pair: Pair) -> None:
    for test in pair.tests:
        assert min(left(pair, test)) > APART, test


@pytest.mark.parametrize("pair", [p for p in PAIRS if p.fails], ids=lambda pair: pair.name)
def test_what_does_not_part_them_is_said_with_its_reason(pair: Pair) -> None:
    assert pair.finding
    assert min(left(pair, pair.fails)) <= APART, "it parts them: the finding is stale"


@pytest.mark.parametrize("pair", [p for p in PAIRS if p.up_to < 0.9], ids=lambda pair: pair.name)
def test_what_the_whole_ramp_adds_is_as_the_finding_says(pair: Pair) -> None:
    first, second = left(pair, up_to=0.97)
    if pair.first == "signal-line-open":
        assert second > APART and first > left(pair)[0]
    else:
        assert max(first, second) < TOGETHER


def test_the_knee_of_a_port_clearly_too_small_needs_the_top() -> None:
    """The notes: soft creep and a small port part in the last 1000 rpm."""
    chosen = next(p for p in PAIRS if p.first == "spring-droop")
    clear = Pair(chosen.first, chosen.second, BALL, (0.6, 0.2), ())
    early, whole = left(clear, up_to=0.75), left(clear)
    assert whole[1] > APART > early[1]


@NAMED
def test_the_catalogue_names_them_as_look_alikes(pair: Pair) -> None:
    one, other = TEXTS[pair.first], TEXTS[pair.second]
    assert pair.second in one.look_alikes or pair.first in other.look_alikes
