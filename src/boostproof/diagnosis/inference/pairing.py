"""Which two faults at once are worth looking at, when there are hundreds of pairs."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from boostproof.diagnosis.evidence.hypotheses import Hypothesis, pair
from boostproof.diagnosis.evidence.simulator import SEVERITY_ROWS, Simulator
from boostproof.diagnosis.inference.fit import Mode, find_modes, objective
from boostproof.diagnosis.inference.weighing import Beliefs

_LEADING = 25.0  # nats behind the best up to which a cause is tried with every other
_COMPLEMENTS = 60  # pairs tried because each part explains what the other does not
_FITTED = 24  # most promising ones that are fitted to the highest pull
_KEPT = 10
_HOPELESS = 7.0  # nats behind the leader, with what is believed before, from which a pair is dropped
_ROUNDS = 4
_SEVERITIES = (-0.8, 0.8)


def promising_pairs(
    scout: Simulator,
    hypotheses: list[Hypothesis],
    modes: list[Mode],
    beliefs: Beliefs,
    mask: NDArray[np.bool_],
) -> tuple[list[Hypothesis], list[Mode]]:
    """Pairs that may explain what no single cause does, with a fit to the highest pull.

    A pair starts from the nuisances of either part's own fit, with the other fault mild or severe; the most
    promising are fitted, and kept where they come near the leader, their rarity counted.

    Parameters
    ----------
    scout : the highest pull and all readings
    hypotheses : healthy and single faults
    modes : their fits to the scout
    beliefs : before the evidence
    mask : blocks of evidence that count

    Returns
    -------
    the pairs, and one mode of each; their ``hypothesis`` counts on from the singles
    """
    best: dict[int, Mode] = {}
    for mode in sorted(modes, key=lambda m: -m.log_evidence):
        best.setdefault(mode.hypothesis, mode)
    tried = [(a, b, both) for a, b in _worth_trying(best, mask) if (both := pair(hypotheses[a], hypotheses[b]))]
    believed = [_log_prior(both, beliefs) for _, _, both in tried]
    tried = [t for t, log_prior in zip(tried, believed, strict=True) if np.isfinite(log_prior)]
    believed = [log_prior for log_prior in believed if np.isfinite(log_prior)]
    if not tried:
        return [], []
    known = hypotheses + [both for _, _, both in tried]
    first = len(hypotheses)
    points, index = [], []
    for k, (a, b, both) in enumerate(tried):
        for own in (a, b):
            for severity in _SEVERITIES:
                z = best[own].z.copy()
                at = [p.mechanism for p in both.parts].index(hypotheses[own].mechanism)
                z[SEVERITY_ROWS[at]] = best[own].z[SEVERITY_ROWS[0]]
                z[SEVERITY_ROWS[1 - at]] = severity
                points.append(z)
                index.append(first + k)
    z = np.stack(points, axis=1)
    result = scout.evaluate(z, known, np.array(index))
    reached = objective(z, result.by_block, mask)
    starts = []
    each = 2 * len(_SEVERITIES)
    for k in range(len(tried)):
        j = k * each + int(np.argmin(reached[k * each : (k + 1) * each]))
        starts.append((reached[j] - believed[k], k, z[:, j].copy()))
    starts.sort(key=lambda s: s[0])
    fitted = [Mode(first + k, place, mask) for _, k, place in starts[:_FITTED]]
    find_modes(scout, known, fitted, _ROUNDS)
    leader = max(m.log_evidence + _log_prior(hypotheses[i], beliefs) for i, m in best.items())
    worth = [(m.log_evidence + believed[m.hypothesis - first], m) for m in fitted]
    worth = sorted((w for w in worth if w[0] > leader - _HOPELESS), key=lambda w: -w[0])[:_KEPT]
    pairs: list[Hypothesis] = []
    kept: list[Mode] = []
    for _, mode in worth:
        pairs.append(known[mode.hypothesis])
        mode.hypothesis = first + len(kept)
        kept.append(mode)
    return pairs, kept


def _worth_trying(best: dict[int, Mode], mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    top = max(m.log_evidence for m in best.values())
    near = {i for i, m in best.items() if m.log_evidence > top - _LEADING}
    every = sorted(best)
    bound = {
        (a, b): float(np.maximum(best[a].by_block, best[b].by_block)[mask].sum()) for a, b in combinations(every, 2)
    }
    complements = set(sorted(bound, key=lambda ab: -bound[ab])[:_COMPLEMENTS])
    return [ab for ab in bound if ab[0] in near or ab[1] in near or ab in complements]


def _log_prior(h: Hypothesis, beliefs: Beliefs) -> float:
    """Log of the belief in all answers of a hypothesis, and its share of its mechanism."""
    if h.healthy:
        return float(np.log(beliefs.healthy))
    total = sum(np.exp(beliefs.log_of(answer)) for answer in h.answers)
    return float(np.log(total * h.share)) if total > 0.0 else -np.inf
