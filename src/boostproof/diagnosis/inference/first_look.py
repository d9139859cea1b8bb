"""A ranking by normal approximation, told while the full answer is worked out: from the highest pull alone, then from all."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.diagnosis.inference.importance import laplace
from boostproof.diagnosis.inference.none_of_these import log_evidence_of_none
from boostproof.diagnosis.inference.search import Found
from boostproof.diagnosis.inference.weighing import Beliefs, weigh


@dataclass(frozen=True)
class FirstLook:
    """Probabilities by the normal approximation around fits; they sum to 1.

    Attributes
    ----------
    probability : of every cause alone and of every pair looked at, by id
    healthy, none_of_these : probabilities
    all_pulls : all pulls were fitted, not the highest alone; readings count in either
    """

    probability: dict[str, float] = field(repr=False)
    healthy: float
    none_of_these: float
    all_pulls: bool = False


def first_look_from(scout: Simulator, found: Found, beliefs: Beliefs) -> FirstLook:
    """Weigh what fits the highest pull. The fits themselves are left as they are.

    Parameters
    ----------
    scout : the case with its highest pull alone
    found : fits to it
    beliefs : before the evidence
    """
    evidence = np.array([laplace(found.modes[i]) for i in range(len(found.hypotheses))]) - found.noticed
    none = log_evidence_of_none(scout, found.hypotheses, found.modes, beliefs.singles, found.noticed)
    w = weigh(found.hypotheses, evidence, none, beliefs)
    return FirstLook({**w.singles, **w.pairs}, w.healthy, w.other)
