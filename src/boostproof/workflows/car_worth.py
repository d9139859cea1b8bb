"""What it is worth to know an answer about a car that a verdict had to do without."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Worth:
    """What knowing an answer would save: minutes of repair, by the test that would tell it or from its papers.

    Attributes
    ----------
    name : of the answer
    test : the test that measures it, "" where none does: then it stands in papers or on the part
    minutes : that the test takes, 0 where there is none
    minutes_saved : what it would save in all, 0 where the verdict does not say
    """

    name: str
    test: str = ""
    minutes: float = 0.0
    minutes_saved: float = 0.0


# what a verdict calls missing -> the answer, and the bench test that measures it
_MISSING = {"car: gate port": ("wastegate.port", "port-measure"), "car: boost wanted": ("limits.target", "")}


def worth_knowing(verdict: Mapping[str, Any]) -> dict[str, Worth]:
    """What each answer is worth that a verdict had to do without.

    Parameters
    ----------
    verdict : the answer of a diagnosis, see :meth:`boostproof.workflows.verdict.Verdict.as_json`

    Returns
    -------
    dict
        By name of the answer; what the verdict itself calls missing, and the figures that it values, with the minutes
        that it gives; what saves most first.
    """
    tests = {test["id"]: test for test in verdict.get("next_tests") or ()}
    found: dict[str, Worth] = {}
    for said in verdict.get("missing") or ():
        name, test = _MISSING.get(said, ("", ""))
        if not name:
            continue
        open_test = tests.get(test)
        saved = max(float(open_test["minutes_saved"]), 0.0) if open_test else 0.0
        found[name] = Worth(name, test if open_test else "", float(open_test["minutes"]) if open_test else 0.0, saved)
    for one in verdict.get("unknowns") or ():
        found.setdefault(one["name"], Worth(one["name"], minutes_saved=float(one["minutes_saved"])))
    return dict(sorted(found.items(), key=lambda item: -item[1].minutes_saved))
