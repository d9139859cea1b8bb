"""What a customer might have said of a car whose fault is known, a share of it about another fault.

The product's own table says how likely each statement is under every cause; from it the statements are drawn.
A false history is drawn for another cause of the same car, whole: it hangs together and misleads. What was said
moves the odds of the answers by factors that do not depend on the rest of the evidence, so that kept answers
need not be computed again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from zlib import crc32

import numpy as np

from boostproof.car.spec import Changed, History
from boostproof.diagnosis.causes import BY_ID, Cause
from boostproof.diagnosis.history.evidence import history_evidence
from boostproof.diagnosis.history.statements import statements
from boostproof.keys import PARTS
from evaluation.metrics import HEALTHY, Result

FALSE = 0.15
STARTED = ("suddenly", "grew", "after work", "from first start")


def with_histories(results: Sequence[Result], *, false: float = FALSE, seed: int = 1) -> list[Result]:
    """The same cars, each with a history."""
    out = []
    for result in results:
        rng = np.random.default_rng([seed, crc32(result.name.encode()), 18])
        known = [i for i in {*result.truth, *(i for s in result.steps for i in s["answer"])} if i in BY_ID]
        causes = tuple(sorted((BY_ID[i] for i in known), key=lambda c: c.number))
        others = [c.id for c in causes if c.id not in result.truth]
        lied = bool(others) and rng.random() < false
        told = drawn_history(str(rng.choice(others)) if lied else result.truth[0], causes, rng)
        odds = history_evidence(told, causes).log_odds
        steps = tuple({**s, "answer": moved(s["answer"], odds)} for s in result.steps)
        out.append(replace(result, steps=steps, note={**result.note, "history_false": lied}))
    return out


def moved(answer: Mapping[str, float], log_odds: Mapping[str, float]) -> dict[str, float]:
    """Probabilities with their odds moved; what nothing was said of keeps its odds."""
    values = {i: p * float(np.exp(log_odds.get(i, 0.0))) for i, p in answer.items()}
    total = sum(values.values())
    return {i: p / total for i, p in values.items()}


def drawn_history(cause: str, causes: Sequence[Cause], rng: np.random.Generator) -> History:
    """How it started, whether it was ever right, and perhaps what was changed before it, for a cause.

    Parameters
    ----------
    cause : id, or "healthy"
    causes : that the car can have
    """
    started = _one_of([History(started=s) for s in STARTED], cause, causes, rng, always=True)
    ever = _one_of([History(ever_right=r) for r in (True, False)], cause, causes, rng, always=True)
    changes = [
        History(changed=(Changed(what=part, fault="after", told_by="customer"),)) for part in PARTS
    ]
    changed = _one_of(changes, cause, causes, rng, always=False)
    return History(
        started=started.started if started else None,
        ever_right=ever.ever_right if ever else None,
        changed=changed.changed if changed else (),
    )


def _one_of(
    options: Sequence[History], cause: str, causes: Sequence[Cause], rng: np.random.Generator, *, always: bool
) -> History | None:
    """One of several statements as often as it is made under the cause; None for none of them."""
    chances = []
    for option in options:
        said, _ = statements(option, causes)
        chances.append(said[0].chance.get(cause, said[0].chance[HEALTHY]) if said else 0.0)
    p = np.array(chances)
    total = float(p.sum())
    if total <= 0.0:
        return None
    if not always and total < 1.0 and rng.random() > total:
        return None
    return options[int(rng.choice(len(options), p=p / total))]
