"""Where to start and how to go on: a bank of prior draws, Gauss-Newton, and trading of good fits.

A fit from a cold start can stall, so every hypothesis starts from the best of a bank of draws (the
same nuisance draws under every hypothesis), and between the Gauss-Newton stages every hypothesis is
offered the nuisances that fit best elsewhere: the car is the same whatever its fault.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.blocks import COMPLAINT
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, places_of_singles
from boostproof.diagnosis.evidence.simulator import SEVERITY_ROWS, Simulator
from boostproof.diagnosis.inference.fit import Mode, find_modes, linearise, objective, price
from boostproof.diagnosis.inference.pairing import promising_pairs
from boostproof.diagnosis.inference.quasi_random import random_numbers
from boostproof.diagnosis.inference.weighing import Beliefs

BANK = 256
PAIR_BANK = 64
STARTS = 2  # kept per hypothesis
_SCOUT_ROUNDS = (3, 5)  # Gauss-Newton rounds on the highest pull, before and after trading
_SCOUT_BEHIND = 30.0  # nats that a second fit of a hypothesis may lie behind to go on
_FULL_BEHIND = 45.0  # nats behind on the highest pull from which a hypothesis is no longer fitted, only priced
_STAGES = ((4, 20.0), (5, 8.0), (5, 0.0))  # rounds on all pulls, nats a mode may then lie behind to go on
_LAST = len(_STAGES) - 1
_RIVALS = 3  # whose fits are further starts of a leading hypothesis
_RIVAL_BEHIND = 11.0  # nats that a hypothesis may lie behind to lead in this sense, and a further fit to go on
_RIVAL_ROUNDS = (3, 5)
_GIVES_BACK = 25.0  # nats behind the best up to which the fit of a pair is offered to its parts alone
_TRADED = 10  # best fits whose nuisances are offered to all
_SEVERITIES = (-0.9, 0.0, 0.9)


@dataclass(frozen=True)
class Found:
    """What the search found.

    Attributes
    ----------
    hypotheses : those given, then the pairs worth looking at
    modes : of every hypothesis, best first
    noticed : (hypotheses,) log of the mean chance over the prior that a car with the fault is brought in; base
        rates are of cars that are, so that the evidence is divided by it
    """

    hypotheses: list[Hypothesis]
    modes: dict[int, list[Mode]]
    noticed: Array


def search(
    simulator: Simulator,
    hypotheses: list[Hypothesis],
    beliefs: Beliefs | None,
    mask: NDArray[np.bool_],
    *,
    seed: int,
    say: Callable[[str, float], None],
    scouted: Callable[[Found, Simulator], None] | None = None,
) -> Found:
    """Fits of every hypothesis, and of the pairs that may explain more.

    Parameters
    ----------
    simulator, hypotheses : the case, healthy and single faults
    beliefs : before the evidence; None to leave pairs out
    mask : blocks of evidence that count
    seed : of the bank
    say : progress
    scouted : told what fits the highest pull, and the case with that pull alone
    """
    say("first look at every cause", 0.05)
    scout = simulator.scout or simulator
    every = list(range(len(hypotheses)))
    modes, noticed = _from_bank(scout, hypotheses, every, mask, seed)
    say("fitting every cause to the highest pull", 0.1)
    find_modes(scout, hypotheses, modes, _SCOUT_ROUNDS[0])
    _trade(scout, hypotheses, modes)
    modes = _shortlist(modes)
    find_modes(scout, hypotheses, modes, _SCOUT_ROUNDS[1])
    pairs: list[Hypothesis] = []
    more: list[Mode] = []
    if beliefs is not None:
        say("looking at two causes at once", 0.25)
        pairs, more = promising_pairs(scout, hypotheses, modes, beliefs, mask)
    if pairs:
        hypotheses = hypotheses + pairs
        modes += more
        of_pairs = list(range(len(hypotheses) - len(pairs), len(hypotheses)))
        noticed = np.append(noticed, _from_bank(scout, hypotheses, of_pairs, mask, seed, PAIR_BANK)[1])
    if scouted is not None:
        scouted(_found(hypotheses, _with_given_back(scout, hypotheses, modes), noticed), scout)
    best = max(m.log_evidence for m in modes)
    going = [m for m in modes if m.log_evidence > best - _FULL_BEHIND]
    price(simulator, hypotheses, [m for m in modes if m.log_evidence <= best - _FULL_BEHIND])
    lasting = [i for i in every if any(c.remembers for c in hypotheses[i].causes)]
    if lasting and scout is not simulator:
        more = _from_bank(simulator, hypotheses, lasting, mask, seed)[0]
        modes += more
        going += more
    for stage, (rounds, behind) in enumerate(_STAGES):
        say("fitting every cause to all pulls", 0.3 + 0.15 * stage)
        find_modes(simulator, hypotheses, going, rounds)
        if stage == 0:
            _trade(simulator, hypotheses, going)
        if stage < _LAST:
            going += [m for m in _give_back(simulator, hypotheses, modes) if m not in going]
        best = max(m.log_evidence for m in modes)
        going = [m for m in modes if m.log_evidence > best - behind]
    more = _from_rivals(simulator, hypotheses, modes)
    for rounds in _RIVAL_ROUNDS:
        find_modes(simulator, hypotheses, more, rounds)
        more = [m for m in more if m.log_evidence > best - _RIVAL_BEHIND]
    modes += more
    linearise(simulator, hypotheses, [m for m in going + more if not m.fresh])
    return _found(hypotheses, modes, noticed)


def _found(hypotheses: list[Hypothesis], modes: list[Mode], noticed: Array) -> Found:
    out: dict[int, list[Mode]] = {}
    for mode in sorted(modes, key=lambda m: -m.log_evidence):
        out.setdefault(mode.hypothesis, []).append(mode)
    return Found(hypotheses, out, noticed)


def _give_back(simulator: Simulator, hypotheses: list[Hypothesis], modes: list[Mode]) -> list[Mode]:
    """Offer the fits of pairs to either part alone, which is the same car but for the other fault; what was taken.

    Without this a pair can win by having found what its part would have found as well.
    """
    best: dict[int, Mode] = {}
    for mode in sorted(modes, key=lambda m: m.objective):
        best.setdefault(mode.hypothesis, mode)
    top = max(m.log_evidence for m in modes)
    single = places_of_singles(hypotheses)
    offers: list[tuple[int, Array]] = []
    for i, mode in best.items():
        if not hypotheses[i].paired or mode.log_evidence < top - _GIVES_BACK:
            continue
        for part, row in zip(hypotheses[i].parts, SEVERITY_ROWS, strict=True):
            if part.key not in single:
                continue
            z = mode.z.copy()
            z[SEVERITY_ROWS[0]], z[SEVERITY_ROWS[1]] = mode.z[row], 0.0
            offers.append((single[part.key], z))
    if not offers:
        return []
    points = np.stack([z for _, z in offers], axis=1)
    result = simulator.evaluate(points, hypotheses, np.array([i for i, _ in offers]))
    taken: list[Mode] = []
    offered = objective(points, result.by_block, modes[0].mask)
    for k in np.argsort(-offered):  # the best offer last
        own = best[offers[k][0]]
        if offered[k] < own.objective or own in taken:
            own.moved(offers[k][1])
            taken = [*[m for m in taken if m is not own], own]
    find_modes(simulator, hypotheses, taken, 0)
    return taken


def _with_given_back(simulator: Simulator, hypotheses: list[Hypothesis], modes: list[Mode]) -> list[Mode]:
    """Copies of the modes, with what fits of pairs give their parts; the modes themselves stay as they are."""
    copies = [replace(mode) for mode in modes]
    _give_back(simulator, hypotheses, copies)  # what it changes it makes anew, so that copies may share their arrays
    return copies


def _shortlist(modes: list[Mode]) -> list[Mode]:
    """The best mode of every hypothesis, and the second where it is not far behind everything."""
    best = max(m.log_evidence for m in modes)
    out: list[Mode] = []
    seen: set[int] = set()
    for mode in sorted(modes, key=lambda m: -m.log_evidence):
        if mode.hypothesis not in seen or mode.log_evidence > best - _SCOUT_BEHIND:
            out.append(mode)
        seen.add(mode.hypothesis)
    return out


def _from_bank(
    simulator: Simulator,
    hypotheses: list[Hypothesis],
    chosen: list[int],
    mask: NDArray[np.bool_],
    seed: int,
    size: int = BANK,
) -> tuple[list[Mode], Array]:
    """Starts of the chosen hypotheses from the bank, and how often each is noticed."""
    d = simulator.dimensions
    points, index = [], []
    for i in chosen:
        normals, _ = random_numbers(seed, hypotheses[i].key, 0, size, d)
        normals[:-2] *= 0.7  # nearer the middle: a fit is easier from there
        normals[:, 0] = 0.0
        points.append(normals)
        index += [i] * size
    z = np.concatenate(points, axis=1)
    result = simulator.evaluate(z, hypotheses, np.array(index))
    reached = objective(z, result.by_block, mask)
    modes = []
    for place, i in enumerate(chosen):
        own = slice(place * size, (place + 1) * size)
        for j in np.argsort(reached[own])[:STARTS]:
            modes.append(Mode(i, z[:, own.start + j].copy(), mask))
    return modes, _noticed(simulator, result.by_block, len(chosen))


def _noticed(simulator: Simulator, by_block: Array, count: int) -> Array:
    rows = [k for k, b in enumerate(simulator.evidence.blocks) if b.source == COMPLAINT]
    if not rows:
        return np.zeros(count)
    chance = np.exp(by_block[rows[0]]).reshape(count, -1)
    return np.asarray(np.log(chance.mean(axis=1)))


def _from_rivals(simulator: Simulator, hypotheses: list[Hypothesis], modes: list[Mode]) -> list[Mode]:
    """Further starts of the leading single causes: the cars that fit their rivals best, the fault at its best severity.

    A fault may fit a case in two ways as well as each other, and the wide valley, which holds most of the evidence, be
    none of those that its own starts led to: which of them was found would hang on the seed.
    """
    best: dict[int, Mode] = {}
    for mode in sorted(modes, key=lambda m: -m.log_evidence):
        if not hypotheses[mode.hypothesis].paired:
            best.setdefault(mode.hypothesis, mode)
    top = max(m.log_evidence for m in modes)
    leading = [m for m in best.values() if m.log_evidence > top - _RIVAL_BEHIND]
    pairs = [(mode, donor) for mode in leading for donor in [m for m in leading if m is not mode][:_RIVALS]]
    offered = _offers(simulator, hypotheses, pairs, modes[0].mask)
    return [Mode(mode.hypothesis, z, mode.mask) for (mode, _), (z, _) in zip(pairs, offered, strict=True)]


def _offers(
    simulator: Simulator, hypotheses: list[Hypothesis], pairs: list[tuple[Mode, Mode]], mask: NDArray[np.bool_]
) -> list[tuple[Array, float]]:
    """For every mode and donor the donor's car with the mode's fault at its best severity, and the objective there."""
    if not pairs:
        return []
    points = [np.append(donor.z[:-1], s) for mode, donor in pairs for s in (*_SEVERITIES, mode.z[-1])]
    z = np.stack(points, axis=1)
    index = np.repeat([mode.hypothesis for mode, _ in pairs], len(_SEVERITIES) + 1)
    reached = objective(z, simulator.evaluate(z, hypotheses, index).by_block, mask).reshape(len(pairs), -1)
    best = reached.argmin(axis=1)
    return [(points[k * reached.shape[1] + j], float(reached[k, j])) for k, j in enumerate(best)]


def _trade(simulator: Simulator, hypotheses: list[Hypothesis], modes: list[Mode]) -> None:
    """Offer every mode the nuisances of the best fits elsewhere; take what is better."""
    mask = modes[0].mask
    donors = sorted(modes, key=lambda m: m.objective)
    picked: list[Mode] = []
    for mode in donors:
        if all(mode.hypothesis != other.hypothesis for other in picked):
            picked.append(mode)
        if len(picked) == _TRADED:
            break
    pairs = [(mode, donor) for mode in modes for donor in picked if donor.hypothesis != mode.hypothesis]
    if not pairs:
        return
    offered = list(zip(pairs, _offers(simulator, hypotheses, pairs, mask), strict=True))
    for mode in modes:
        own = [offer for (owner, _), offer in offered if owner is mode]
        z, reached = min(own, key=lambda offer: offer[1], default=(mode.z, np.inf))
        if reached < mode.objective:
            mode.moved(z)
    find_modes(simulator, hypotheses, [m for m in modes if m.jacobian is None], 0)
