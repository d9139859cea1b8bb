"""Two faults at once: found where neither alone will do, and not preferred where one will."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np
import pytest
from evaluation.families import families
from scipy.special import ndtr
from tests.unit.diagnosis.made_problems import Made

from boostproof.bench.response import Array
from boostproof.car.prior import build_prior
from boostproof.diagnosis.causes import BY_ID, CATALOGUE, applicable
from boostproof.diagnosis.causes.pairs import contradict
from boostproof.diagnosis.evidence.blocks import COMPLAINT, EvidenceSet
from boostproof.diagnosis.evidence.drive import Drive, sound_ramp
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, answer_id, hypotheses_for, pair
from boostproof.diagnosis.evidence.simulator import SEVERITY_ROWS, Simulator, run_drive
from boostproof.diagnosis.inference.fit import Mode, find_modes
from boostproof.diagnosis.inference.pairing import promising_pairs
from boostproof.diagnosis.inference.posterior import Posterior, infer
from boostproof.diagnosis.inference.weighing import beliefs_for
from boostproof.physics.change import apply_all
from boostproof.physics.system import OUTPUT_INDEX

CAUSES = tuple(BY_ID[i] for i in ("charge-leak", "gate-travel-limited", "spring-weak", "exhaust-freed"))
ACTS = {"gate-travel": 0, "charge-leak": 1, "spring-down": 2}  # the block that a fault acts on; the last acts on none
PER_BLOCK = 4
SD = 0.1
BOTH = "gate-travel-limited + charge-leak"


def blocks_case(seen: Mapping[int, float], *, complaint: bool = False, seed: int = 3) -> Made:
    """Three blocks that show the severity of one fault each, beside an unknown of every car.

    ``seen`` severities in the log by block, 0 elsewhere; with ``complaint`` a further block says that a fault with
    no block of its own would not have been noticed, alone or as part of a pair.
    """
    rng = np.random.default_rng(seed)
    level = np.repeat([seen.get(k, 0.0) for k in range(3)], PER_BLOCK) + SD * rng.normal(size=3 * PER_BLOCK)

    def residuals(z: Array, hypothesis: Hypothesis) -> Array:
        shown = np.zeros((3, z.shape[1]))
        for part, row in zip(hypothesis.parts, SEVERITY_ROWS, strict=False):
            if part.mechanism in ACTS:
                shown[ACTS[part.mechanism]] = 0.2 + 0.8 * ndtr(z[row])
        off = 0.05 * z[: PER_BLOCK - 1]
        shape = np.concatenate([off, -off.sum(axis=0, keepdims=True)])
        r = (np.repeat(shown, PER_BLOCK, axis=0) + np.tile(shape, (3, 1)) - level[:, None]) / SD
        if not complaint:
            return r
        idle = any(p.mechanism not in ACTS for p in hypothesis.parts)
        return np.concatenate([r, np.full((1, z.shape[1]), np.sqrt(-2.0 * np.log(0.05)) if idle else 0.0)])

    sizes = {"first": PER_BLOCK, "second": PER_BLOCK, "third": PER_BLOCK} | ({COMPLAINT: 1} if complaint else {})
    return Made(PER_BLOCK - 1 + 2, sizes, residuals)


def looked_at(case: Made) -> tuple[list[Hypothesis], list[Mode], list[Mode], list[Hypothesis]]:
    """The pairs worth looking at, their modes, the modes of single faults, and those."""
    hypotheses = list(hypotheses_for(CAUSES, "none"))
    starts = [Mode(i, np.zeros(case.dimensions), case.everything) for i in range(len(hypotheses))]
    single = find_modes(case, hypotheses, starts, 8)  # type: ignore[arg-type]
    pairs, modes = promising_pairs(
        case, hypotheses, single, beliefs_for(CAUSES), case.everything  # type: ignore[arg-type]
    )
    return pairs, modes, single, hypotheses


def inferred(case: Made) -> Posterior:
    return infer(case, CAUSES, "none", seed=2)  # type: ignore[arg-type]


# -- two faults ---------------------------------------------------------------------------------------------------


def test_two_faults_on_two_blocks_come_first_and_neither_alone_will_do() -> None:
    case = blocks_case({0: 0.7, 1: 0.6})
    pairs, modes, single, hypotheses = looked_at(case)
    assert answer_id(pairs[0].answers[0]) == BOTH
    first = max(modes, key=lambda m: m.log_evidence)
    assert first is modes[0]
    assert first.hypothesis == len(hypotheses)  # counted on from the single faults
    assert max(m.log_evidence for m in single) < first.log_evidence - 40.0
    # both severities are found: 0.2 + 0.8 s was 0.7 of the port and 0.6 of the leak
    found = 0.2 + 0.8 * ndtr(first.z[list(SEVERITY_ROWS)])
    assert found == pytest.approx([0.7, 0.6], abs=4.0 * SD / np.sqrt(PER_BLOCK))


def test_the_verdict_names_both() -> None:
    posterior = inferred(blocks_case({0: 0.7, 1: 0.6}))
    assert posterior.pair_probability[BOTH] > 0.9
    assert max(posterior.cause_probability.values()) < 0.01
    assert posterior.involved["gate-travel-limited"] > 0.9 and posterior.involved["charge-leak"] > 0.9
    assert posterior.involved["spring-weak"] < 0.05


def test_one_fault_is_not_made_into_two() -> None:
    posterior = inferred(blocks_case({0: 0.7}, seed=1))
    assert posterior.cause_probability["gate-travel-limited"] > 0.8
    assert sum(posterior.pair_probability.values()) < 0.1


def test_noise_of_one_in_a_hundred_is_not_made_into_two_either() -> None:
    posterior = inferred(blocks_case({0: 0.7}))  # it speaks for a fault that is not on the list, too
    assert posterior.cause_probability["gate-travel-limited"] > 0.8 * (1.0 - posterior.other)
    assert 0.2 < posterior.other < 0.4
    assert sum(posterior.pair_probability.values()) < 0.1


def test_numbers_of_modes_and_order() -> None:
    pairs, modes, _, hypotheses = looked_at(blocks_case({0: 0.7, 1: 0.6}))
    assert [m.hypothesis for m in modes] == list(range(len(hypotheses), len(hypotheses) + len(pairs)))
    assert len({h.key for h in pairs}) == len(pairs)


def test_a_pair_far_behind_is_not_looked_at() -> None:
    """The port alone explains all; leak and spring together nothing."""
    pairs, _, _, _ = looked_at(blocks_case({0: 0.9}))
    assert "spring-weak + charge-leak" not in {answer_id(a) for h in pairs for a in h.answers}


# -- a second part that nobody would notice ---------------------------------------------------------------------------


@pytest.mark.parametrize("complaint", [False, True])
def test_a_second_part_that_changes_nothing_is_not_preferred(complaint: bool) -> None:
    """It fits as well as the port alone, so that its odds are no more than what was believed before."""
    idle = CAUSES[-1]
    posterior = inferred(blocks_case({0: 0.7}, complaint=complaint))
    name = answer_id(tuple(sorted((BY_ID["gate-travel-limited"], idle), key=lambda c: c.number)))
    before = posterior.beliefs.pairs[name] / posterior.beliefs.singles["gate-travel-limited"]
    after = posterior.pair_probability.get(name, 0.0) / posterior.cause_probability["gate-travel-limited"]
    assert after < 1.3 * before < 0.05


def test_a_fault_is_noticed_beside_another_only_by_what_it_adds() -> None:
    """Of a pair the smaller of what either adds to the other, on the slow ramp; cars simulated one by one."""
    family = families()[1]
    prior = build_prior(family.car)
    assert prior.target is not None
    ramp = sound_ramp(family.car.engine.redline.value, prior.target, 1.0e5, 295.0, loop=False)
    simulator = Simulator(prior, ramp, ramp, EvidenceSet(()), 1.0e5)
    single = hypotheses_for((BY_ID["port-too-small"], BY_ID["charge-leak"]), "none")
    both = pair(single[1], single[-1])
    assert both is not None
    hypotheses = [*single, both]
    z = 0.5 * np.random.default_rng(2).standard_normal((simulator.dimensions, 6))
    z[-1], z[-2] = [1.0, 0.0, -0.5, 1.0, -4.0, -4.0], [-4.0, 0.0, 0.5, -4.0, 1.0, -4.0]
    index = np.full(6, len(single))
    sound, actual = simulator.parameters(z, hypotheses, index)
    seen = simulator.candidates(sound, actual, simulator.with_one_fault(z, sound, hypotheses, index))
    port = apply_all(both.parts[0].changes, sound, ndtr(z[-1]))
    leak = apply_all(both.parts[1].changes, sound, ndtr(z[-2]))
    assert np.array_equal(apply_all(both.parts[1].changes, port, ndtr(z[-2])), actual)
    together = on_the_ramp(actual, ramp)
    apart = [np.abs(together - on_the_ramp(other, ramp)).max(axis=(0, 1)) for other in (sound, port, leak)]
    assert seen.noticed == pytest.approx(np.min(apart, axis=0), abs=30.0)  # in single precision
    # of a severe port and a small leak it is the leak that decides, of a severe leak and a wide port the port
    assert np.argmin(apart, axis=0)[[0, 4]].tolist() == [1, 2]
    alone = simulator.candidates(sound, port).noticed
    assert seen.noticed[0] < 0.5 * alone[0] and alone[0] > 1.0e4


def on_the_ramp(par: Array, ramp: Drive) -> Array:
    """Boost and what the sensor shows of it, (bins, 2, n)."""
    return run_drive(par, ramp)[:, [OUTPUT_INDEX["boost"], OUTPUT_INDEX["boost_measured"]]]


# -- which pairs there are -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("controller", "external"), [("none", False), ("ball and spring", True), ("solenoid 3-port", False)])
def test_no_pair_contradicts_itself_and_its_names_stand_in_catalogue_order(controller: str, external: bool) -> None:
    hypotheses = hypotheses_for(applicable(controller, external), controller)
    number = {c.id: c.number for c in CATALOGUE}
    made = 0
    for one, other in combinations(hypotheses, 2):
        both = pair(one, other)
        turned = pair(other, one)
        assert (both is None) == (turned is None)
        if both is None or turned is None:
            continue
        made += 1
        assert both == turned and both.share == pytest.approx(one.share * other.share)
        assert not contradict(*(p.changes for p in both.parts))
        for answer in both.answers:
            ids = answer_id(answer).split(" + ")
            assert len(ids) == 2 and number[ids[0]] < number[ids[1]]
    assert made > 200


def test_variants_that_pull_one_parameter_two_ways_are_not_paired() -> None:
    """Some variants of two causes go together and others do not: only those that do are hypotheses."""
    hypotheses = hypotheses_for(applicable("solenoid 3-port", False), "solenoid 3-port")
    of: dict[tuple[str, str], list[bool]] = {}
    for one, other in combinations([h for h in hypotheses if h.parts], 2):
        of.setdefault((one.mechanism, other.mechanism), []).append(pair(one, other) is None)
    mixed = [k for k, none in of.items() if any(none) and not all(none)]
    assert mixed
    for one, other in combinations(hypotheses, 2):
        if one.parts and other.parts and contradict(one.changes, other.changes):
            assert pair(one, other) is None


def test_sound_cars_pairs_and_one_mechanism_make_no_pair() -> None:
    healthy, port, leak = hypotheses_for((BY_ID["gate-travel-limited"], BY_ID["charge-leak"]), "none")
    both = pair(port, leak)
    assert both is not None
    sensors = [h for h in hypotheses_for((BY_ID["sensor-scale-wrong"],), "none") if h.parts]
    for one, other in ((healthy, port), (port, healthy), (both, leak), (port, port), (sensors[0], sensors[2])):
        assert pair(one, other) is None
