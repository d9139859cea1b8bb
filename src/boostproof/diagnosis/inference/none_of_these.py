"""Evidence of "none of these": the complaint is an ordinary one, and the parts that were tested are mostly sound."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.blocks import Block
from boostproof.diagnosis.evidence.hypotheses import Hypothesis
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.diagnosis.inference.fit import Mode, find_modes
from boostproof.diagnosis.inference.importance import log_sum_exp

_FITTED = 9.0  # nats behind the best without readings up to which a hypothesis is fitted again without them
_KNOWN = ("target", "car")  # groups of evidence that are neither log nor test: they belong to either
HEALTHY_PART = 0.8  # under "none of these" a tested part answers as a sound one this often
# The model can be at fault, too: of 331 cars of another simulator, their fault on the list, two had a chance of misfit
# below 0.001. That one in eight has where the fault is not on the list is a guess.
MOST_SURPRISE = float(np.log(20.0))


def chance_of_misfit(blocks: Sequence[Block], by_block: Array) -> float:
    """Chance of a misfit as large as that of one fit, were it the whole truth: of chi square.

    What the fit has been free to choose is not taken off, so that the chance is rather too large.

    Parameters
    ----------
    blocks, by_block : the evidence, and the log likelihood of every block there
    """
    from scipy.special import gammaincc

    square = sum(2.0 * (b.constant - float(x)) for b, x in zip(blocks, by_block, strict=True))
    return float(gammaincc(0.5 * sum(b.size for b in blocks), 0.5 * max(square, 0.0)))


def surprise(misfit: float) -> float:
    """How much a misfit speaks for something that is not on the list, as a log Bayes factor.

    ``-log(-e p log p)`` below 1 / e, else nothing: the most that a chance p can mean (Sellke, Bayarri and Berger 2001,
    The American Statistician 55, 62-71; 0.05 gives odds of 0.407, 0.001 of 0.0188). Not more than `MOST_SURPRISE`.

    >>> [round(float(np.exp(-surprise(p))), 4) for p in (0.5, 0.05, 0.01, 1e-9)]
    [1.0, 0.4072, 0.1252, 0.05]
    """
    p = max(misfit, 1e-300)
    return min(-float(np.log(-np.e * p * np.log(p))), MOST_SURPRISE) if p < 1.0 / np.e else 0.0


def log_evidence_of_none(
    simulator: Simulator,
    hypotheses: list[Hypothesis],
    found: dict[int, list[Mode]],
    beliefs: Mapping[str, float],
    noticed: Array,
) -> float:
    """Log evidence of "none of these".

    Parameters
    ----------
    simulator, hypotheses : the case; pairs do not count
    found : modes of every hypothesis for all evidence
    beliefs : in every cause before the evidence
    noticed : (hypotheses,) log chance that a car with the fault is brought in
    """
    single = {i: group for i, group in found.items() if not hypotheses[i].paired}
    modes = _without_parts(simulator, hypotheses, single)
    blocks = simulator.evidence.blocks
    # where not even the best of the known ones explains what was measured, an unknown one need not fit as badly as they
    best = max(chance_of_misfit(blocks, mode.by_block) for group in found.values() for mode in group)
    return _log_other(modes, hypotheses, beliefs, simulator, noticed) + surprise(best)


def _without_parts(
    simulator: Simulator, hypotheses: list[Hypothesis], found: dict[int, list[Mode]]
) -> list[Mode]:
    """Modes of every hypothesis for the log and what is known of the car, and of the sound car without each test.

    Started from the modes of all evidence, which lie near; what lies far behind adds next to nothing to the
    average of the known causes, and is taken as it stands.
    """
    without_bench = simulator.evidence.only("log", *_KNOWN)
    if without_bench.all():
        return [group[0] for group in found.values()]
    starts = [group[0].for_less(without_bench) for group in found.values()]
    best = max(mode.log_evidence for mode in starts)
    near = [mode for mode in starts if mode.log_evidence > best - _FITTED]
    far = [mode for mode in starts if mode.log_evidence <= best - _FITTED]
    near += [found[0][0].for_less(mask) for mask in _bench_masks(simulator)]
    return find_modes(simulator, hypotheses, near, 2) + far


def _bench_masks(simulator: Simulator) -> list[NDArray[np.bool_]]:
    """What is known of the car alone, the same and bench, and the latter without each test in turn."""
    known = simulator.evidence.only(*_KNOWN)
    bench = simulator.evidence.only("bench", *_KNOWN)
    masks = [known, bench]
    for source in _bench_sources(simulator):
        masks.append(bench & np.array([b.source != source for b in simulator.evidence.blocks]))
    return masks


def _bench_sources(simulator: Simulator) -> list[str]:
    return list(dict.fromkeys(b.source for b in simulator.evidence.blocks if b.group == "bench"))


def _log_other(
    modes: list[Mode],
    hypotheses: list[Hypothesis],
    priors: Mapping[str, float],
    simulator: Simulator,
    noticed: Array,
) -> float:
    """Log evidence of "none of these".

    The log as the known causes explain it on average, each tested part sound with chance
    `HEALTHY_PART`, else answering anywhere in its test's range (one such part at most).
    """
    blocks = simulator.evidence.blocks
    without_bench = simulator.evidence.only("log", *_KNOWN)
    log_part, weight = [], []
    for mode in modes:
        h = hypotheses[mode.hypothesis]
        if not h.healthy and np.array_equal(mode.mask, without_bench):
            log_part.append(mode.log_evidence - noticed[mode.hypothesis])
            weight.append(h.share * sum(priors[c.id] for c in h.causes))
    w = np.array(weight)
    log_alone = float(log_sum_exp(np.array(log_part) + np.log(w / w.sum()), axis=0))
    sources = _bench_sources(simulator)
    if not sources:
        return log_alone
    healthy = [m for m in modes if m.hypothesis == 0]

    def evidence(mask: NDArray[np.bool_]) -> float:
        return max(m.log_evidence for m in healthy if np.array_equal(m.mask, mask))

    masks = _bench_masks(simulator)
    base = evidence(masks[0])
    count = len(sources)
    terms = [evidence(masks[1]) - base + count * np.log(HEALTHY_PART)]
    for source, mask in zip(sources, masks[2:], strict=True):
        flat = sum(b.flat for b in blocks if b.source == source)
        terms.append(
            evidence(mask) - base + flat + (count - 1) * np.log(HEALTHY_PART) + np.log(1.0 - HEALTHY_PART)
        )
    return log_alone + float(log_sum_exp(np.array(terms), axis=0))
