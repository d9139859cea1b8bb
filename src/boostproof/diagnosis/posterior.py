"""From evidence to probabilities: fit, sample, weigh, for every hypothesis in play."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.causes.model import Cause
from boostproof.diagnosis.fit import Mode, find_modes
from boostproof.diagnosis.importance import Draws, Proposal, log_prior, log_sum_exp, proposal_from
from boostproof.diagnosis.search import random_numbers, search
from boostproof.diagnosis.hypotheses import Hypothesis, hypotheses_for
from boostproof.diagnosis.simulator import Simulator

HEALTHY_PRIOR = 0.05
OTHER_PRIOR = 0.05
FLOOR = 0.005
HEALTHY_PART = 0.8  # under "none of these" a tested part answers as a sound one this often

_FIRST_DRAWS = 256
_MORE_DRAWS = 512
_MOST_DRAWS = 1024
_WANTED_SIZE = 60.0
_TRUSTED_SIZE = 20.0  # effective size from which the sampled evidence replaces the normal approximation
_APART = 3.0  # standard deviations of the prior between fits that count as two modes
_SAMPLED_ABOVE = 1e-4  # posterior by normal approximation from which a hypothesis is sampled

Progress = Callable[[str, float], None]


@dataclass
class Posterior:
    """What the evidence leaves of every hypothesis.

    Attributes
    ----------
    hypotheses, modes : fitted hypotheses and the modes of each
    draws : weighted candidates of the hypotheses that were sampled, by index
    log_evidence : (hypotheses,) of all evidence
    priors : of every cause, by id
    log_other : log evidence of "none of these"
    noticed : (hypotheses,) log chance that a car with the fault is brought in
    cause_probability : by id
    healthy, other : probabilities
    sizes : effective sample size by hypothesis index
    """

    simulator: Simulator
    hypotheses: list[Hypothesis]
    modes: dict[int, list[Mode]]
    draws: dict[int, Draws]
    log_evidence: Array
    priors: dict[str, float]
    log_other: float
    noticed: Array
    cause_probability: dict[str, float] = field(default_factory=dict)
    healthy: float = 0.0
    other: float = 0.0
    sizes: dict[int, float] = field(default_factory=dict)

    def mechanism_evidence(self) -> dict[str, float]:
        """Log evidence of every mechanism, its variants weighed by their shares."""
        parts: dict[str, list[float]] = {}
        for h, value in zip(self.hypotheses, self.log_evidence, strict=True):
            parts.setdefault(h.mechanism, []).append(float(value) + float(np.log(h.share)))
        return {name: float(log_sum_exp(np.array(v), axis=0)) for name, v in parts.items()}


def infer(
    simulator: Simulator,
    causes: tuple[Cause, ...],
    controller: str,
    *,
    seed: int = 1,
    healthy_prior: float = HEALTHY_PRIOR,
    progress: Progress | None = None,
    cancel: Callable[[], bool] | None = None,
) -> Posterior:
    """Probabilities of every cause for one case.

    Parameters
    ----------
    simulator : the case with its evidence
    causes : those that this car can have
    controller : kind of controller
    seed : of all random numbers
    healthy_prior : chance that nothing is wrong, before the evidence
    """
    say = progress or (lambda text, share: None)
    hypotheses = list(hypotheses_for(causes, controller))
    everything = np.ones(len(simulator.evidence.blocks), bool)
    by_index, noticed = search(simulator, hypotheses, everything, seed=seed, say=say)
    modes = _without_parts(simulator, hypotheses, by_index)
    evidence = np.array([_laplace(by_index[i]) for i in range(len(hypotheses))]) - noticed
    priors = cause_priors(causes, healthy_prior)
    posterior = Posterior(
        simulator,
        hypotheses,
        by_index,
        {},
        evidence,
        priors,
        _log_other(modes, hypotheses, priors, simulator, noticed),
        noticed,
    )
    _weigh(posterior, healthy_prior)
    _sample(posterior, everything, seed, healthy_prior, say, cancel)
    return posterior


def cause_priors(causes: tuple[Cause, ...], healthy_prior: float) -> dict[str, float]:
    """Prior of every cause: base rates with a floor, together what healthy and other leave."""
    rates = np.array([c.base_rate for c in causes])
    mass = 1.0 - healthy_prior - OTHER_PRIOR
    p = np.maximum(mass * rates / rates.sum(), FLOOR)
    p *= mass / p.sum()
    return {c.id: float(x) for c, x in zip(causes, p, strict=True)}


def _without_parts(
    simulator: Simulator, hypotheses: list[Hypothesis], found: dict[int, list[Mode]]
) -> list[Mode]:
    """Modes of every hypothesis for log and target alone, and of the sound car without each test.

    Started from the modes of all evidence, which lie near.
    """
    without_bench = simulator.evidence.only("log", "target")
    if without_bench.all():
        return [mode for group in found.values() for mode in group]
    starts = [Mode(i, group[0].z.copy(), without_bench) for i, group in found.items()]
    starts += [Mode(0, found[0][0].z.copy(), mask) for mask in _bench_masks(simulator)]
    return find_modes(simulator, hypotheses, starts, 2)


def _bench_masks(simulator: Simulator) -> list[NDArray[np.bool_]]:
    """Target alone, target and bench, and the latter without each test in turn."""
    target = simulator.evidence.only("target")
    bench = simulator.evidence.only("target", "bench")
    masks = [target, bench]
    for source in _bench_sources(simulator):
        masks.append(bench & np.array([b.source != source for b in simulator.evidence.blocks]))
    return masks


def _bench_sources(simulator: Simulator) -> list[str]:
    return list(dict.fromkeys(b.source for b in simulator.evidence.blocks if b.group == "bench"))


def _laplace(modes: list[Mode]) -> float:
    """Log evidence by the normal approximation: distinct modes add, the same one counts once."""
    best = sorted(modes, key=lambda m: -m.log_evidence)
    kept: list[Mode] = []
    for mode in best:
        if all(np.linalg.norm(mode.z - other.z) > _APART for other in kept):
            kept.append(mode)
    return float(log_sum_exp(np.array([m.log_evidence for m in kept]), axis=0))


def _log_other(
    modes: list[Mode],
    hypotheses: list[Hypothesis],
    priors: dict[str, float],
    simulator: Simulator,
    noticed: Array,
) -> float:
    """Log evidence of "none of these".

    The log as the known causes explain it on average, each tested part sound with chance
    `HEALTHY_PART`, else answering anywhere in its test's range (one such part at most).
    """
    blocks = simulator.evidence.blocks
    without_bench = simulator.evidence.only("log", "target")
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


def _weigh(posterior: Posterior, healthy_prior: float) -> None:
    """Set the probabilities from the evidences."""
    mechanism = posterior.mechanism_evidence()
    names = ["healthy", "other"]
    logs = [np.log(healthy_prior) + mechanism["healthy"], np.log(OTHER_PRIOR) + posterior.log_other]
    of = {c.id: h.mechanism for h in posterior.hypotheses for c in h.causes}
    for cause_id, prior in posterior.priors.items():
        names.append(cause_id)
        logs.append(np.log(prior) + mechanism[of[cause_id]])
    values = np.array(logs)
    p = np.exp(values - log_sum_exp(values, axis=0))
    result = dict(zip(names, p.tolist(), strict=True))
    posterior.healthy, posterior.other = result.pop("healthy"), result.pop("other")
    posterior.cause_probability = result


def hypothesis_probability(posterior: Posterior) -> Array:
    """Probability of every hypothesis (mechanism and variant), healthy first. [(hypotheses,)]"""
    mechanism = posterior.mechanism_evidence()
    out = np.empty(len(posterior.hypotheses))
    for i, h in enumerate(posterior.hypotheses):
        mass = posterior.healthy if h.healthy else sum(posterior.cause_probability[c.id] for c in h.causes)
        share = np.exp(posterior.log_evidence[i] + np.log(h.share) - mechanism[h.mechanism])
        out[i] = mass * share
    return out


def _sample(
    posterior: Posterior,
    mask: NDArray[np.bool_],
    seed: int,
    healthy_prior: float,
    say: Progress,
    cancel: Callable[[], bool] | None,
) -> None:
    p = hypothesis_probability(posterior)
    chosen = [i for i in np.argsort(-p) if p[i] > _SAMPLED_ABOVE or i == 0]
    proposals = {i: proposal_from(posterior.modes[i]) for i in chosen}
    drawn = dict.fromkeys(chosen, 0)
    wanted = dict.fromkeys(chosen, _FIRST_DRAWS)
    share = 0.75
    while wanted:
        say("weighing candidates", min(share, 0.95))
        share += 0.05
        _draw(posterior, proposals, drawn, wanted, seed)
        for i in wanted:
            posterior.sizes[i] = posterior.draws[i].effective_size(mask)
            # the size can fall with more draws: an estimate once trusted must not outlive that
            sampled = posterior.sizes[i] >= _TRUSTED_SIZE
            evidence = posterior.draws[i].log_evidence(mask) if sampled else _laplace(posterior.modes[i])
            posterior.log_evidence[i] = evidence - posterior.noticed[i]
        _weigh(posterior, healthy_prior)
        p = hypothesis_probability(posterior)
        wanted = {
            i: _MORE_DRAWS
            for i in chosen
            if p[i] > 0.01 and posterior.sizes[i] < _WANTED_SIZE and drawn[i] < _MOST_DRAWS
        }
        if cancel is not None and cancel():
            break


def _draw(
    posterior: Posterior,
    proposals: dict[int, Proposal],
    drawn: dict[int, int],
    wanted: dict[int, int],
    seed: int,
) -> None:
    simulator = posterior.simulator
    parts, index, bases = [], [], []
    for i, count in wanted.items():
        normals, uniforms = random_numbers(
            seed, posterior.hypotheses[i].key, drawn[i], count, simulator.dimensions
        )
        z = proposals[i].draw(normals, uniforms)
        parts.append(z)
        bases.append(log_prior(z) - proposals[i].log_density(z))
        index += [i] * count
    result = simulator.evaluate(np.concatenate(parts, axis=1), posterior.hypotheses, np.array(index))
    at = 0
    for (i, count), z, base in zip(wanted.items(), parts, bases, strict=True):
        new = Draws(z, result.by_block[:, at : at + count], base)
        posterior.draws[i] = posterior.draws[i].joined(new) if i in posterior.draws else new
        drawn[i] += count
        at += count


def to_arrays(posterior: Posterior) -> dict[str, Array]:
    """Everything sampled and fitted, as named arrays: what a store keeps."""
    out: dict[str, Array] = {
        "log_evidence": posterior.log_evidence,
        "log_other": np.array([posterior.log_other]),
        "noticed": posterior.noticed,
        "sizes": np.array([[i, s] for i, s in posterior.sizes.items()]).reshape(-1, 2),
    }
    modes = [m for group in posterior.modes.values() for m in group]
    out["mode_hypothesis"] = np.array([m.hypothesis for m in modes], float)
    out["mode_z"] = np.stack([m.z for m in modes])
    out["mode_objective"] = np.array([m.objective for m in modes])
    out["mode_precision"] = np.stack([m.precision for m in modes])
    out["mode_by_block"] = np.stack([m.by_block for m in modes])
    for i, draws in posterior.draws.items():
        out[f"draws_{i}_z"] = draws.z
        out[f"draws_{i}_by_block"] = draws.by_block
        out[f"draws_{i}_log_base"] = draws.log_base
    return out


def from_arrays(
    arrays: Mapping[str, Array],
    simulator: Simulator,
    causes: tuple[Cause, ...],
    controller: str,
    *,
    healthy_prior: float = HEALTHY_PRIOR,
) -> Posterior:
    """The posterior that `to_arrays` was given, for the same case, causes and prior."""
    hypotheses = list(hypotheses_for(causes, controller))
    everything = np.ones(len(simulator.evidence.blocks), bool)
    modes: dict[int, list[Mode]] = {}
    for k, h in enumerate(arrays["mode_hypothesis"].astype(int)):
        modes.setdefault(int(h), []).append(
            Mode(
                int(h),
                arrays["mode_z"][k],
                everything,
                float(arrays["mode_objective"][k]),
                arrays["mode_precision"][k],
                arrays["mode_by_block"][k],
            )
        )
    sampled = sorted(int(name.split("_")[1]) for name in arrays if name.startswith("draws_") and name.endswith("_z"))
    draws = {
        i: Draws(arrays[f"draws_{i}_z"], arrays[f"draws_{i}_by_block"], arrays[f"draws_{i}_log_base"]) for i in sampled
    }
    posterior = Posterior(
        simulator,
        hypotheses,
        modes,
        draws,
        np.asarray(arrays["log_evidence"]),
        cause_priors(causes, healthy_prior),
        float(arrays["log_other"][0]),
        np.asarray(arrays["noticed"]),
        sizes={int(i): float(s) for i, s in arrays["sizes"]},
    )
    _weigh(posterior, healthy_prior)
    return posterior
