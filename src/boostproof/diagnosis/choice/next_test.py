"""Which test next: the one that saves most expected repair time for its minutes.

Value of information: expected minutes of repairing in the best order now, less the same after the test, less
what the test costs; with a second test behind it where both share an opening of the car. What endangers the
engine is held back first and priced second.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from boostproof.bench.response import Array, Candidates, Response
from boostproof.bench.tests import BenchTest, CarContext
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.choice import openings, pull_risk
from boostproof.diagnosis.choice.expected_words import expected_reading
from boostproof.diagnosis.choice.outcomes import Outcomes, Seen, outcomes_of
from boostproof.diagnosis.choice.pull_risk import Withheld
from boostproof.diagnosis.choice.repair_order import repair_minutes, repairs_for
from boostproof.diagnosis.choice.what_if import States
from boostproof.diagnosis.choice.worth import TIE, Belief, Worth, entropy, in_order, look_ahead, worth
from boostproof.diagnosis.evidence.hypotheses import answer_id
from boostproof.diagnosis.inference.particles import Particles
from boostproof.diagnosis.inference.posterior import Posterior

CONFIRMS_ABOVE = 0.4  # probability of a part from which on it is measured before testing stops
_EXPECTED = 4  # leading answers whose readings are said
_LEAST = 1e-7  # probability under which an answer is no column of its own


@dataclass(frozen=True)
class TestValue:
    """What a test is worth now.

    Attributes
    ----------
    test, title : id, and a few words
    minutes : it usually takes
    cost : minutes it takes as the car stands, with the expected damage of a pull
    minutes_saved : expected minutes of repair saved, its cost taken off. Of the first of two tests that
        share an opening and are worth more together, that of both. At least `TIE` where it confirms.
    information_bits : expected, about which answer it is
    expected : what leading answers would read, in words with placeholders, by id
    cautions : from the test
    risk : chance that its pull passes the stop, 0 for what is no pull
    confirms : id of the leading cause whose own part it measures, empty for other tests
    """

    test: str
    title: str
    minutes: float
    cost: float
    minutes_saved: float
    information_bits: float
    expected: dict[str, str]
    cautions: tuple[str, ...]
    risk: float = 0.0
    confirms: str = ""


@dataclass(frozen=True)
class Choice:
    """The tests still open.

    Attributes
    ----------
    offered : best first
    withheld : those that are not safe enough to offer
    answers : ids that the columns of `joint` stand for
    joint : by test, probabilities of outcomes and answers, (outcomes, answers + 1)
    asked : by test, what it would read and what every candidate would answer
    states : the candidates and their weights
    """

    offered: tuple[TestValue, ...]
    withheld: tuple[Withheld, ...] = ()
    answers: tuple[str, ...] = ()
    joint: Mapping[str, Array] = field(default_factory=dict, repr=False)
    asked: Mapping[str, tuple[Response, Mapping[str, Array]]] = field(default_factory=dict, repr=False)
    states: States | None = field(default=None, repr=False)

    def splitting(self, ids: Sequence[str]) -> str:
        """The open test that parts causes from each other best; empty where none does.

        The most worthwhile of those that tell more than half of what is open among the causes, else the most
        telling one if it tells a tenth.
        """
        columns = [self.answers.index(i) for i in ids if i in self.answers]
        told = {v.test: _told_apart(self.joint[v.test][:, columns]) for v in self.offered} if len(columns) > 1 else {}
        good = [test for test, share in told.items() if share > 0.5]
        best = max(told, key=lambda test: told[test], default="")
        return good[0] if good else best if told.get(best, 0.0) > 0.1 else ""


@dataclass(frozen=True)
class Known:
    """The case as all tests are valued against it.

    Attributes
    ----------
    candidates : different ones
    seen : their weights, and which hypothesis each is of
    answers : ids of each, empty for nothing wrong
    belief : how candidates belong to answers, and what mends those
    """

    candidates: Candidates = field(repr=False)
    seen: Seen = field(repr=False)
    answers: tuple[tuple[str, ...], ...]
    belief: Belief


def value_tests(
    posterior: Posterior,
    particles: Particles,
    tests: tuple[BenchTest, ...],
    context: CarContext,
    *,
    seed: int,
    stop: float | None = None,
    done: Sequence[str] = (),
) -> Choice:
    """Value of every open test.

    Parameters
    ----------
    posterior, particles : of the case
    tests : those still open
    context : what tests must know of the car
    seed : of what is drawn
    stop : boost that must not be passed [Pa gauge], None where it was not told
    done : ids of the tests in the order in which they were done; what they opened is taken to stand open
    """
    known = known_from(posterior, particles)
    limit = pull_risk.stop_for(stop, context.target)
    risks = pull_risk.passing_chances(
        known.candidates, known.seen.weight[:-1], [t.id for t in tests], context, limit
    )
    allowed = [t for t in tests if risks.get(t.id, 0.0) < pull_risk.ALLOWED]
    standing = openings.standing_after(done)
    costs = np.array([_cost(t, risks.get(t.id, 0.0), standing) for t in allowed])
    asked = [asked_of(known, t, context) for t in allowed]
    found = [outcomes_for(known, t, *one, seed) for t, one in zip(allowed, asked, strict=True)]
    joints = [known.belief.joint(outcomes.table) for outcomes, _ in found]
    alone = [_worth(known, outcomes, joint) for (outcomes, _), joint in zip(found, joints, strict=True)]
    saved = np.array([w.minutes for w in alone]) - costs

    def cost(test: int, after: int | None) -> float:
        left = openings.standing_after([*done, allowed[after].id]) if after is not None else standing
        return _cost(allowed[test], risks.get(allowed[test].id, 0.0), left)

    def shares(one: int, other: int) -> bool:
        return bool(openings.shared(allowed[one].id, allowed[other].id))

    saved = look_ahead(known.belief, [o.table for o, _ in found], joints, saved, cost, shares)
    values = [
        TestValue(
            t.id, t.title, t.minutes, float(costs[i]), float(saved[i]), alone[i].bits, found[i][1], t.cautions,
            risks.get(t.id, 0.0),
        )
        for i, t in enumerate(allowed)
    ]  # fmt: skip
    return Choice(
        tuple(ranked(confirming(values, known.answers, known.belief.answers))),
        tuple(Withheld(t.id, risks[t.id], limit) for t in tests if t not in allowed),
        tuple(name_of(a) for a in known.answers),
        {t.id: joint for t, joint in zip(allowed, joints, strict=True)},
        {t.id: one for t, one in zip(allowed, asked, strict=True)},
        States((*(name_of(a) for a in known.answers), "none_of_these"), known.belief.weight, known.belief.share),
    )


def _told_apart(joint: Array) -> float:
    """Share of the bits open among some answers that the outcome tells."""
    joint = joint / max(float(joint.sum()), 1e-300)
    before = entropy(joint.sum(axis=0, keepdims=True))
    return 0.0 if before < 1e-9 else 1.0 - entropy(joint) / before


def _cost(test: BenchTest, risk: float, standing: frozenset[str]) -> float:
    """Minutes that a test takes as the car stands, and what its pull may break. [min]"""
    return test.minutes - openings.spared(test.id, test.minutes, standing) + pull_risk.PASSED * risk


# -- what is thought to be the case ------------------------------------------------------------------


def known_from(posterior: Posterior, particles: Particles) -> Known:
    """Different candidates with their weights, the answers in play, and how one belongs to the other."""
    _, first, of = np.unique(
        np.concatenate([particles.hypothesis[None, :].astype(float), particles.candidates.par]),
        axis=1, return_index=True, return_inverse=True,
    )  # fmt: skip
    weight = np.append(np.bincount(of.ravel(), particles.weight), posterior.other)
    weight /= weight.sum()
    hypothesis = particles.hypothesis[first]
    answers, share = _shares(posterior, particles, hypothesis)
    told = (share @ weight[:-1]) >= _LEAST
    # nothing wrong keeps its column: "none of these" is judged against it
    told[-1] = True
    answers, share = [a for a, keep in zip(answers, told, strict=True) if keep], share[told]
    missing = 1.0 - share.sum(axis=0)
    other = np.zeros((1, len(weight)))
    other[0, :-1], other[0, -1] = missing, 1.0
    full = np.concatenate([np.concatenate([share, np.zeros((len(share), 1))], axis=1), other])
    sound = np.array([particles.hypotheses[i].healthy for i in hypothesis])
    return Known(
        chosen(particles.candidates, first),
        Seen(weight, hypothesis, sound),
        tuple(answers),
        Belief(weight, full, repairs_for(answers)),
    )


def _shares(
    posterior: Posterior, particles: Particles, hypothesis: np.ndarray[tuple[int, ...], np.dtype[np.intp]]
) -> tuple[list[tuple[str, ...]], Array]:
    """Answers, "nothing wrong" last, and how a candidate's mass belongs to those of its hypothesis.

    What one hypothesis simulates may have several names; they share its mass by how common they are.
    """
    columns: dict[tuple[str, ...], Array] = {}
    healthy = np.zeros(len(hypothesis))
    for i in np.unique(hypothesis):
        h = particles.hypotheses[i]
        mine = hypothesis == i
        if h.healthy:
            healthy[mine] = 1.0
            continue
        ids = [tuple(c.id for c in some) for some in h.answers]
        mass = np.exp([posterior.beliefs.log_of(some) for some in h.answers])
        for some, part in zip(ids, mass / mass.sum(), strict=True):
            columns.setdefault(some, np.zeros(len(hypothesis)))[mine] += part
    return [*columns, ()], np.stack([*columns.values(), healthy])


def chosen(candidates: Candidates, columns: np.ndarray[tuple[int, ...], np.dtype[np.intp]]) -> Candidates:
    """Some of the candidates."""
    return replace(
        candidates,
        par=candidates.par[:, columns],
        sound=candidates.sound[:, columns],
        pull_outputs=candidates.pull_outputs[..., columns],
        **{
            name: getattr(candidates, name)[..., columns]
            for name in ("sound_boost", "noticed", "all_outputs")
            if getattr(candidates, name).size
        },
    )


# -- one test ----------------------------------------------------------------------------------------


def asked_of(known: Known, test: BenchTest, context: CarContext) -> tuple[Response, Mapping[str, Array]]:
    """What a test would read, and what every candidate would answer."""
    response = test.probe(context)
    return response, response.features(known.candidates)


def outcomes_for(
    known: Known, test: BenchTest, response: Response, features: Mapping[str, Array], seed: int
) -> tuple[Outcomes, dict[str, str]]:
    """Table of a test, and what leading answers would read."""
    rng = np.random.default_rng([seed, 78, test.number])
    table = outcomes_of(response.observations, features, known.seen, response.flat, rng)
    values = np.stack([np.asarray(features[o.feature], float) for o in response.observations])
    said = {}
    mass = known.belief.answers[:-1]
    for k in np.argsort(-mass, kind="stable")[:_EXPECTED]:
        weight = known.belief.share[k, :-1] * known.seen.weight[:-1]
        if mass[k] >= 0.005 and weight.sum() > 0.0:
            said[name_of(known.answers[k])] = expected_reading(response, values, weight)
    return table, said


def name_of(answer: tuple[str, ...]) -> str:
    """Id of an answer, "healthy" for nothing wrong."""
    return answer_id([BY_ID[i] for i in answer]) or "healthy"


def _worth(known: Known, outcomes: Outcomes, joint: Array) -> Worth:
    """Worth of a test: the mean of what its drawn outcomes show with and without the candidate behind each.

    With few candidates the first is too high, because each knows its own outcome again, and the second too
    low; they bracket what many would give.
    """
    belief = known.belief
    with_own = worth(belief, joint)
    drawn = outcomes.source >= 0
    if not drawn.any():
        return with_own
    own = outcomes.source[drawn]
    places = np.flatnonzero(drawn)
    rest = joint.copy()
    rest[places] -= outcomes.table[own, places][:, None] * belief.weighted[own]
    rest = np.maximum(rest, 0.0)
    total, left = joint.sum(axis=1), rest.sum(axis=1)
    known_by_others = left > 1e-3 * total
    rest *= np.where(known_by_others, total / np.maximum(left, 1e-300), 0.0)[:, None]
    rest += np.where(known_by_others, 0.0, total)[:, None] * belief.answers
    minutes = belief.minutes - float(belief.repairs.expected(rest).sum())
    bits = entropy(belief.answers[None, :]) - entropy(rest)
    return Worth(
        0.5 * (with_own.minutes + max(0.0, minutes)), 0.5 * (with_own.bits + max(0.0, bits))
    )


# -- the order ---------------------------------------------------------------------------------------


def confirming(values: Sequence[TestValue], answers: Sequence[tuple[str, ...]], p: Array) -> list[TestValue]:
    """The test of a leading part is never left out for lack of worth.

    Elimination proves nothing: when the cause is none of the list, the leader looks likely all the same. In
    trials with causes struck from the list, measuring the leader's own part before stopping (probability
    above 0.4, test cheaper than repair) found 82 % of them in place of 8 %, for 21 min a car (notes on
    diagnosis, finding 5). The candidates cannot see that worth, so the test counts as worth `TIE` at least.
    Causes that one test measures, alone or in a pair, count together.

    Parameters
    ----------
    values : of the tests offered
    answers : ids of each
    p : (answers + 1,) probabilities, "none of these" last
    """
    involved: dict[str, float] = {}
    measured: dict[str, float] = {}
    for answer, chance in zip(answers, p, strict=False):
        for cause_id in answer:
            involved[cause_id] = involved.get(cause_id, 0.0) + float(chance)
        for test in {BY_ID[cause_id].direct_test for cause_id in answer}:
            measured[test] = measured.get(test, 0.0) + float(chance)
    out = []
    for v in values:
        own = [cause_id for cause_id in involved if BY_ID[cause_id].direct_test == v.test]
        leader = max(own, key=lambda cause_id: involved[cause_id], default="")
        if measured.get(v.test, 0.0) > CONFIRMS_ABOVE and v.cost < repair_minutes(leader):
            v = replace(v, minutes_saved=max(v.minutes_saved, TIE), confirms=leader)
        out.append(v)
    return out


def ranked(values: Sequence[TestValue]) -> list[TestValue]:
    """Best first by minutes saved; of those as good as each other no pull goes before what is none."""
    pulls = [pull_risk.is_pull(v.test) for v in values]
    order = in_order([v.minutes_saved for v in values], [v.information_bits for v in values], pulls)
    return [values[i] for i in order]
