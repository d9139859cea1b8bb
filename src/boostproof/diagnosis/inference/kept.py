"""A posterior as named arrays, and back: what a store keeps."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.causes.model import Cause
from boostproof.diagnosis.evidence.hypotheses import hypotheses_for, pair, places_of_singles
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.diagnosis.inference.fit import Mode
from boostproof.diagnosis.inference.importance import Draws
from boostproof.diagnosis.inference.posterior import Posterior
from boostproof.diagnosis.inference.weighing import HEALTHY_PRIOR, beliefs_for


def to_arrays(posterior: Posterior) -> dict[str, Array]:
    """Everything sampled and fitted, as named arrays: what a store keeps."""
    single = places_of_singles(posterior.hypotheses)
    out: dict[str, Array] = {
        "log_evidence": posterior.log_evidence,
        "log_other": np.array([posterior.log_other, posterior.log_other_fitted]),
        "noticed": posterior.noticed,
        "pairs": np.array([[single[p.key] for p in h.parts] for h in posterior.hypotheses if h.paired]).reshape(-1, 2),
        "halves": np.array([[i, *both] for i, both in posterior.halves.items()]).reshape(-1, 3),
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
    said: Mapping[str, float] | None = None,
) -> Posterior:
    """The posterior that `to_arrays` was given, for the same case, causes and prior."""
    hypotheses = list(hypotheses_for(causes, controller))
    for a, b in arrays["pairs"].astype(int):
        both = pair(hypotheses[a], hypotheses[b])
        assert both is not None  # it was looked at
        hypotheses.append(both)
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
        beliefs_for(causes, healthy_prior, said),
        float(arrays["log_other"][0]),
        float(arrays["log_other"][1]),
        np.asarray(arrays["noticed"]),
        sizes={int(i): float(s) for i, s in arrays["sizes"]},
        halves={int(i): (float(one), float(other)) for i, one, other in arrays["halves"]},
    )
    posterior.weigh()
    return posterior
