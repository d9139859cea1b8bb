"""The explained part of a verdict: ranked causes with their reasons, what would change the answer, what it hangs on."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from boostproof.workflows.verdict import (
    EvidenceShare,
    LookAlikes,
    RankedCause,
    SeverityShare,
    SupposedOtherwise,
    WouldChange,
)

if TYPE_CHECKING:
    from boostproof.bench.response import Response
    from boostproof.diagnosis.choice.next_test import Choice
    from boostproof.diagnosis.history.evidence import HistoryEvidence
    from boostproof.diagnosis.inference.posterior import Posterior
    from boostproof.diagnosis.reasons.shares import Reason, Split

TESTS_ASKED = 2  # best open tests of which it is said what would change the answer
_SOURCES = {
    "log": "the log, held against what this car must do when sound",
    "history": "what was said about it",
    "how common it is": "how common it is",
}


def ranked_causes(
    posterior: Posterior,
    case: Split,
    responses: Mapping[str, Sequence[Response]],
    history: HistoryEvidence | None = None,
) -> tuple[RankedCause, ...]:
    """Every cause and every pair considered, most probable first, with its reasons.

    Parameters
    ----------
    posterior, case : the result, and the same taken apart
    responses : what was read, by test
    history : what was said, and what it gave every answer
    """
    from boostproof.diagnosis.history.table import HEALTHY, NONE_OF_THESE
    from boostproof.diagnosis.reasons.confirmation import confirmed
    from boostproof.diagnosis.reasons.explain import probabilities
    from boostproof.diagnosis.reasons.shares import evidence_shares

    shares = evidence_shares(posterior, case)
    proved = confirmed(posterior, case, responses)
    found = probabilities(posterior)
    everything = {**found, HEALTHY: posterior.healthy, NONE_OF_THESE: posterior.other}

    def said(answer: str, nats: float) -> str:
        return history.weighs_most(answer, everything, nats) if history else ""

    ranked = sorted(found.items(), key=lambda item: (-item[1], item[0]))
    return tuple(_cause(posterior, answer, p, shares.get(answer, []), answer in proved, said) for answer, p in ranked)


def _cause(
    posterior: Posterior,
    answer: str,
    probability: float,
    why: list[Reason],
    proved: bool,
    said: Callable[[str, float], str],
) -> RankedCause:
    from boostproof.diagnosis.causes import BY_ID
    from boostproof.diagnosis.evidence.hypotheses import BOTH
    from boostproof.diagnosis.reasons.explain import severity

    parts = [BY_ID[i] for i in answer.split(BOTH)]
    return RankedCause(
        id=answer,
        parts=tuple(c.id for c in parts),
        title=title_of_answer(answer),
        looks_like=" ".join(c.looks_like for c in parts),
        repair=" ".join(c.repair for c in parts),
        probability=probability,
        confirmed=proved,
        direct_test=parts[0].direct_test,
        severity=tuple(
            SeverityShare(s.parameter, s.value, s.sd, s.unit, s.sound) for s in severity(posterior, answer)
        ),
        evidence=tuple(EvidenceShare(r.source, r.nats, r.strength, _in_words(answer, r, said)) for r in why),
    )


def _in_words(answer: str, reason: Reason, said: Callable[[str, float], str]) -> str:
    """What a reason says; of what was said, the statement that weighs most as well."""
    words = _says(reason.source, reason.strength)
    if reason.source != "history" or reason.strength == "none":
        return words
    return f"{words}: {said(answer, reason.nats)}"


def title_of_answer(answer: str) -> str:
    """A cause or pair, by its id, as a person calls it."""
    from boostproof.diagnosis.causes import BY_ID
    from boostproof.diagnosis.evidence.hypotheses import BOTH

    return together([BY_ID[i].title for i in answer.split(BOTH)])


def together(titles: Sequence[str]) -> str:
    """Titles of causes as one.

    >>> together(["Port too small", "Charge pipe leaks"])
    'Port too small together with charge pipe leaks'
    """
    first, *rest = titles
    return " together with ".join([first, *(t[0].lower() + t[1:] for t in rest)])


def source_in_words(source: str) -> str:
    """A source of evidence as a person would call it."""
    return _SOURCES.get(source, source.removeprefix("car: ").replace("-", " "))


def _says(source: str, strength: str) -> str:
    words = source_in_words(source)
    words += "," if "," in words else ""
    if strength == "none":
        return f"{words} says nothing either way"
    if strength.endswith("against"):
        return f"{words} speaks {_adverb(strength.split()[0])} against it"
    return f"{words} speaks {_adverb(strength)} for it"


def _adverb(strength: str) -> str:
    return {"strong": "strongly", "clear": "clearly", "slight": "slightly"}[strength]


def alike(posterior: Posterior, choice: Choice) -> tuple[LookAlikes, ...]:
    """Groups that the evidence leaves together, each with the open test that parts it."""
    from boostproof.diagnosis.reasons.explain import look_alikes

    return tuple(LookAlikes(ids, p, choice.splitting(ids)) for ids, p in look_alikes(posterior))


def would_change(choice: Choice) -> tuple[WouldChange, ...]:
    """Readings of the best open tests with which something else would lead."""
    from boostproof.diagnosis.choice.what_if import turns

    if choice.states is None:
        return ()
    return tuple(
        WouldChange(t.test, t.when, t.leader, t.chance)
        for value in choice.offered[:TESTS_ASKED]
        for t in turns(*choice.asked[value.test], choice.states)
    )


def supposed_otherwise(posterior: Posterior, case: Split) -> tuple[SupposedOtherwise, ...]:
    """What leads under other assumptions."""
    from boostproof.diagnosis.reasons.sensitivity import sensitivity

    return tuple(SupposedOtherwise(a.what, a.leader, a.probability) for a in sensitivity(posterior, case))
