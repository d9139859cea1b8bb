"""From evidences to probabilities: sums by hand over few causes."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.diagnosis.linear_case import CAUSES as LINEAR_CAUSES
from tests.unit.diagnosis.linear_case import LOG_ROWS, SOURCES, linear_case

from boostproof.bench.response import Array
from boostproof.diagnosis.causes import BY_ID, CATALOGUE, Cause
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, answer_id, hypotheses_for, pair
from boostproof.diagnosis.inference.fit import Mode, find_modes
from boostproof.diagnosis.inference.none_of_these import log_evidence_of_none
from boostproof.diagnosis.inference.weighing import (
    FLOOR,
    HEALTHY_PRIOR,
    OTHER_PRIOR,
    PAIRS_PRIOR,
    Weighed,
    beliefs_for,
    hypothesis_shares,
    mechanism_evidence,
    weigh,
)

CAUSES = tuple(BY_ID[i] for i in ("gate-travel-limited", "sensor-scale-wrong", "charge-leak"))
TWINS = tuple(BY_ID[i] for i in ("gate-not-seating", "gate-debris", "charge-leak"))  # the first two: one change
BOTH = "gate-travel-limited + charge-leak"
WRONG = 1.0 - HEALTHY_PRIOR - OTHER_PRIOR


def singles(causes: tuple[Cause, ...] = CAUSES) -> list[Hypothesis]:
    return list(hypotheses_for(causes, "none"))


def both(hypotheses: list[Hypothesis], one: str, other: str) -> Hypothesis:
    of = {h.parts[0].causes[0].id: h for h in reversed(hypotheses) if h.parts}
    found = pair(of[one], of[other])
    assert found is not None
    return found


def uneven(hypotheses: list[Hypothesis]) -> Array:
    return np.linspace(-3.0, 2.0, len(hypotheses)) ** 2


def odds(w: Weighed, one: str, other: str) -> float:
    p = {**w.singles, **w.pairs, "healthy": w.healthy, "none-of-these": w.other}
    return float(np.log(p[one] / p[other]))


# -- before the evidence --------------------------------------------------------------------------------------


@pytest.mark.parametrize("causes", [CAUSES, TWINS, CATALOGUE])
@pytest.mark.parametrize("pairs", [True, False])
def test_beliefs_sum_to_one(causes: tuple[Cause, ...], pairs: bool) -> None:
    b = beliefs_for(causes, 0.2, pairs=pairs)
    assert (b.healthy, b.other) == (0.2, OTHER_PRIOR)
    assert sum(b.singles.values()) + sum(b.pairs.values()) == pytest.approx(0.8 - OTHER_PRIOR, abs=1e-12)
    assert sum(b.pairs.values()) == pytest.approx(PAIRS_PRIOR * (0.8 - OTHER_PRIOR) if pairs else 0.0, abs=1e-12)


def test_singles_are_as_common_as_they_are() -> None:
    b = beliefs_for(CAUSES, pairs=False)
    total = sum(c.base_rate for c in CAUSES)
    for c in CAUSES:
        assert b.singles[c.id] == pytest.approx(WRONG * c.base_rate / total)


def test_no_cause_is_so_rare_that_it_is_not_considered() -> None:
    b = beliefs_for(CATALOGUE, pairs=False)
    total = sum(c.base_rate for c in CATALOGUE)
    rare = [c for c in CATALOGUE if c.base_rate / total < FLOOR]
    lifted = sum(max(c.base_rate / total, FLOOR) for c in CATALOGUE)
    for c in rare:
        assert b.singles[c.id] == pytest.approx(WRONG * FLOOR / lifted)


def test_a_pair_is_as_common_as_both_its_faults_together() -> None:
    b = beliefs_for(CAUSES)
    rate = {c.id: c.base_rate for c in CAUSES}
    names = list(b.pairs)
    assert names == ["gate-travel-limited + sensor-scale-wrong", BOTH, "sensor-scale-wrong + charge-leak"]
    product = {name: float(np.prod([rate[part] for part in name.split(" + ")])) for name in names}
    for name in names:
        assert b.pairs[name] / b.pairs[names[0]] == pytest.approx(product[name] / product[names[0]])


def test_a_pair_that_no_car_has_is_not_believed_in() -> None:
    shut, opened = BY_ID["gate-seized-shut"], BY_ID["gate-stuck-open"]
    b = beliefs_for((shut, opened, *CAUSES))
    assert not any("gate-seized-shut" in name and "gate-stuck-open" in name for name in b.pairs)
    assert b.log_of(tuple(sorted((shut, opened), key=lambda c: c.number))) == -np.inf
    # nor are two causes that are the same change of the car
    assert "gate-not-seating + gate-debris" not in beliefs_for(TWINS).pairs


# -- with it -----------------------------------------------------------------------------------------------------


def test_evidence_that_says_nothing_leaves_what_was_believed() -> None:
    b = beliefs_for(CAUSES, 0.11)
    w = weigh(singles(), np.full(len(singles()), 4.0), 4.0, b)
    assert w.healthy == pytest.approx(0.11)
    assert w.other == pytest.approx(OTHER_PRIOR)
    assert not w.pairs
    # no pair was looked at: what was believed of them is the single faults', in proportion
    for name, before in b.singles.items():
        assert w.singles[name] == pytest.approx(before / (1.0 - PAIRS_PRIOR))


def test_probabilities_sum_to_one_and_follow_bayes() -> None:
    hypotheses = singles()
    hypotheses.append(both(hypotheses, "gate-travel-limited", "charge-leak"))
    b = beliefs_for(CAUSES)
    w = weigh(hypotheses, uneven(hypotheses), 1.5, b)
    assert w.healthy + w.other + sum(w.singles.values()) + sum(w.pairs.values()) == pytest.approx(1.0, abs=1e-12)
    assert set(w.singles) == {c.id for c in CAUSES} and set(w.pairs) == {BOTH}
    e = dict(zip([h.key for h in hypotheses], uneven(hypotheses), strict=True))
    port, leak = b.singles["gate-travel-limited"], b.singles["charge-leak"]
    assert odds(w, "gate-travel-limited", "charge-leak") == pytest.approx(
        np.log(port / leak) + e["gate-travel/0"] - e["charge-leak/0"]
    )
    assert odds(w, "healthy", "none-of-these") == pytest.approx(e["healthy"] - 1.5)
    before = b.pairs[BOTH]
    assert odds(w, BOTH, "charge-leak") == pytest.approx(
        np.log(before / leak) + e["gate-travel/0+charge-leak/0"] - e["charge-leak/0"]
    )


def test_pairs_not_looked_at_leave_their_share_to_what_was() -> None:
    hypotheses = singles()
    hypotheses.append(both(hypotheses, "gate-travel-limited", "charge-leak"))
    b = beliefs_for(CAUSES)
    w = weigh(hypotheses, np.zeros(len(hypotheses)), 0.0, b)
    looked = sum(b.singles.values()) + b.pairs[BOTH]
    raised = WRONG / looked
    assert raised > 1.0
    assert w.pairs[BOTH] == pytest.approx(raised * b.pairs[BOTH])
    assert w.singles["charge-leak"] == pytest.approx(raised * b.singles["charge-leak"])
    assert w.healthy == pytest.approx(HEALTHY_PRIOR)


def test_variants_not_looked_at_of_a_pair_count_as_not_looked_at() -> None:
    """Of a pair with a sensor that reads wrong in four ways one way (a share of 0.3) was looked at."""
    hypotheses = singles()
    one_way = both(hypotheses, "gate-travel-limited", "sensor-scale-wrong")
    assert one_way.share == pytest.approx(0.3)
    b = beliefs_for(CAUSES)
    w = weigh([*hypotheses, one_way], np.zeros(len(hypotheses) + 1), 0.0, b)
    name = "gate-travel-limited + sensor-scale-wrong"
    raised = WRONG / (sum(b.singles.values()) + 0.3 * b.pairs[name])
    assert w.pairs[name] == pytest.approx(raised * 0.3 * b.pairs[name])


def test_variants_share_the_belief_in_their_cause() -> None:
    hypotheses = singles()
    of_sensor = [i for i, h in enumerate(hypotheses) if h.mechanism == "sensor"]
    shares = np.array([hypotheses[i].share for i in of_sensor])
    assert shares == pytest.approx([0.3, 0.3, 0.2, 0.2])
    flat, raised = np.zeros(len(hypotheses)), np.zeros(len(hypotheses))
    raised[of_sensor[2]] = 3.0
    b = beliefs_for(CAUSES)
    before, after = weigh(hypotheses, flat, 0.0, b), weigh(hypotheses, raised, 0.0, b)
    moved = odds(after, "sensor-scale-wrong", "charge-leak") - odds(before, "sensor-scale-wrong", "charge-leak")
    assert moved == pytest.approx(np.log(0.8 + 0.2 * np.exp(3.0)))
    assert mechanism_evidence(hypotheses, raised)["sensor"] == pytest.approx(moved)
    within = hypothesis_shares(hypotheses, raised, after)[of_sensor]
    assert within.sum() == pytest.approx(after.singles["sensor-scale-wrong"])
    assert within[2] / within[3] == pytest.approx(np.exp(3.0))
    assert within[0] / within[3] == pytest.approx(1.5)


def test_causes_that_are_one_change_are_told_apart_by_their_rates_alone() -> None:
    hypotheses = singles(TWINS)
    assert [len(h.causes) for h in hypotheses] == [0, 2, 1]
    b = beliefs_for(TWINS)
    w = weigh(hypotheses, np.array([0.0, 5.0, 1.0]), 0.0, b)
    assert odds(w, "gate-not-seating", "gate-debris") == pytest.approx(
        np.log(b.singles["gate-not-seating"] / b.singles["gate-debris"])
    )
    shares = hypothesis_shares(hypotheses, np.array([0.0, 5.0, 1.0]), w)
    assert shares[1] == pytest.approx(w.singles["gate-not-seating"] + w.singles["gate-debris"])
    assert shares.sum() == pytest.approx(1.0 - w.other)


def test_a_higher_chance_of_a_sound_car_moves_its_odds_by_as_much() -> None:
    hypotheses = singles()
    low = weigh(hypotheses, uneven(hypotheses), 0.5, beliefs_for(CAUSES, 0.05))
    high = weigh(hypotheses, uneven(hypotheses), 0.5, beliefs_for(CAUSES, 0.5))
    moved = odds(high, "healthy", "none-of-these") - odds(low, "healthy", "none-of-these")
    assert moved == pytest.approx(np.log(10.0))
    # what can be wrong shares what is left
    assert odds(high, "charge-leak", "none-of-these") - odds(low, "charge-leak", "none-of-these") == pytest.approx(
        np.log((0.5 - OTHER_PRIOR) / (0.95 - OTHER_PRIOR))
    )


@pytest.mark.parametrize("shift", [0.0, -900.0, 900.0])
def test_only_differences_of_evidence_count(shift: float) -> None:
    hypotheses = singles()
    one = weigh(hypotheses, uneven(hypotheses), 0.5, beliefs_for(CAUSES))
    other = weigh(hypotheses, uneven(hypotheses) + shift, 0.5 + shift, beliefs_for(CAUSES))
    assert other.singles == pytest.approx(one.singles)
    assert (other.healthy, other.other) == pytest.approx((one.healthy, one.other))


# -- what was said ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["charge-leak", "healthy", "none-of-these"])
@pytest.mark.parametrize("amount", [1.7, -0.9])
def test_what_was_said_moves_odds_by_its_amount(name: str, amount: float) -> None:
    hypotheses = singles()
    e = uneven(hypotheses)
    silent = weigh(hypotheses, e, 0.5, beliefs_for(CAUSES))
    told = weigh(hypotheses, e, 0.5, beliefs_for(CAUSES, said={name: amount}))
    for other in ("gate-travel-limited", "sensor-scale-wrong"):
        assert odds(told, name, other) - odds(silent, name, other) == pytest.approx(amount)
    assert odds(told, "gate-travel-limited", "sensor-scale-wrong") == pytest.approx(
        odds(silent, "gate-travel-limited", "sensor-scale-wrong")
    )


@pytest.mark.parametrize(
    ("said", "amount"),
    [
        ({"gate-travel-limited": 1.2, "charge-leak": -0.7}, 1.2),  # the part that it speaks for more
        ({"gate-travel-limited": -1.2}, 0.0),  # nothing was said of the other
        ({"gate-travel-limited": 1.2, BOTH: 2.5}, 2.5),  # of the pair itself
    ],
)
def test_what_was_said_of_a_pair(said: dict[str, float], amount: float) -> None:
    hypotheses = singles()
    hypotheses.append(both(hypotheses, "gate-travel-limited", "charge-leak"))
    e = uneven(hypotheses)
    name = answer_id(hypotheses[-1].answers[0])
    silent, told = (weigh(hypotheses, e, 0.5, beliefs_for(CAUSES, said=s)) for s in (None, said))
    assert odds(told, name, "healthy") - odds(silent, name, "healthy") == pytest.approx(amount)


# -- none of these ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("noticed", [0.0, -1.5])
def test_none_of_these_where_all_is_known(noticed: float) -> None:
    """The log as the causes explain it on average; parts sound with 0.8, one at most anywhere: closed forms."""
    case = linear_case()
    hypotheses = list(hypotheses_for(LINEAR_CAUSES, "none"))
    everything = np.ones(len(case.evidence.blocks), bool)
    modes = [Mode(i, np.zeros(case.dimensions), everything) for i in range(len(hypotheses))]
    find_modes(case, hypotheses, modes, 3)  # type: ignore[arg-type]
    beliefs = {"charge-leak": 0.5, "spring-weak": 0.1, "gate-travel-limited": 0.3}
    chance = np.where([h.healthy for h in hypotheses], 0.0, noticed)
    found = log_evidence_of_none(
        case, hypotheses, {m.hypothesis: [m] for m in modes}, beliefs, chance  # type: ignore[arg-type]
    )
    log_rows, bench_rows = list(range(LOG_ROWS)), [LOG_ROWS + k for k in range(len(SOURCES))]
    explained = [beliefs[h.causes[0].id] / 0.9 * np.exp(case.exact(h.key, log_rows)) for h in hypotheses if h.parts]
    names = list(dict.fromkeys(SOURCES))
    sound = np.exp(case.exact("healthy", bench_rows)) * 0.8 ** len(names)
    for name in names:
        rest = [LOG_ROWS + k for k, source in enumerate(SOURCES) if source != name]
        anywhere = 12.0 ** -SOURCES.count(name)  # the range of each reading of the case
        sound += np.exp(case.exact("healthy", rest)) * anywhere * 0.8 ** (len(names) - 1) * 0.2
    assert found == pytest.approx(np.log(sum(explained)) - noticed + np.log(sound), abs=1e-6)
