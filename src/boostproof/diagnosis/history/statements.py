"""What was said in [history], statement by statement: a sentence, and how likely it is under every cause.

What says the same thing twice is one statement, and what contradicts itself is none. Numbers come from
`history_table`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING

from boostproof.diagnosis.history.table import (
    ALWAYS_THERE,
    BEFORE_LEAST,
    BROUGHT,
    BY_CHANCE,
    ELSEWHERE,
    EVER_RIGHT,
    HALF_MENDED,
    HEALTHY,
    HEALTHY_AFTER_WORK,
    MENDED,
    NONE_OF_THESE,
    ONLY_WHEN,
    RENEWED,
    SAID_TOGETHER,
    SHARES,
    STARTED,
    STOOD,
    TRUST,
    TRUST_TRIED,
    TRUST_TRIED_RECORDED,
    USUALLY,
    WITH_THE_TURBO_ONLY_IF_INTERNAL,
    WORDS,
    WRONG_AGAIN,
)
from boostproof.findings import Finding

if TYPE_CHECKING:
    from boostproof.car.spec import Changed, History, Tried
    from boostproof.diagnosis.causes.model import Cause

Chance = Callable[[str], float]
OfBoth = Callable[[str, str], float]

_WHERE = "car.toml, [history]"


@dataclass(frozen=True)
class Statement:
    """One thing that was said.

    Attributes
    ----------
    says : it in a sentence
    chance : P(said | cause) by id of the cause, "healthy" among them; "none-of-these" only where it differs
        from the causes' average
    of_both : P(said | both causes at once)
    trust : chance that it is so; otherwise it tells nothing
    weight : share of its log ratio that counts, below 1 where others said largely the same
    """

    says: str
    chance: Mapping[str, float]
    of_both: OfBoth = field(repr=False)
    trust: float
    weight: float = 1.0


def statements(history: History, causes: Sequence[Cause]) -> tuple[tuple[Statement, ...], tuple[Finding, ...]]:
    """All statements about a car with these possible causes, and what contradicts itself.

    Parameters
    ----------
    history : [history] of car.toml
    causes : those that the car can have
    """
    ids = [c.id for c in causes]
    begin, findings = _beginning(history, ids)
    findings += [f for number, row in enumerate(history.tried, start=1) for f in _unknown_part(row, number)]
    out = [*begin, *_only_when(history.only_when or (), ids), *_stood(history.stood, ids)]
    changed = Counter((row.what, row.fault) for row in history.changed)
    for row in history.changed:
        out += _changed(row, ids, 1.0 / changed[row.what, row.fault])
    again = Counter((part_named(row.what), row.result) for row in history.tried)
    for tried in history.tried:
        out += _tried(tried, ids, 1.0 / again[part_named(tried.what), tried.result])
    return tuple(out), tuple(findings)


def _statement(
    says: str, ids: Sequence[str], of: Chance, *, trust: float, weight: float = 1.0, either: bool = False
) -> Statement:
    """Of two faults at once either may have made a customer say it: on average, or the likelier one."""
    chance = {i: of(i) for i in (*ids, HEALTHY)}

    def of_both(one: str, other: str) -> float:
        p = chance[one], chance[other]
        return max(p) if either else 0.5 * sum(p)

    return Statement(says, chance, of_both, trust, weight)


def _by_class(chances: Mapping[str, float], cause_id: str) -> float:
    """A cause's chance as its classes have it."""
    if cause_id == HEALTHY:
        return chances[HEALTHY]
    return sum(share * chances[name] for name, share in SHARES[cause_id].items())


# How it began ------------------------------------------------------------------------------------------------

_STARTED_SAYS = {
    "suddenly": "The fault came suddenly.",
    "grew": "The fault grew little by little.",
    "after work": "The fault came after work on the car.",
    "from first start": "It was so from the first start.",
}


def _beginning(history: History, ids: Sequence[str]) -> tuple[list[Statement], list[Finding]]:
    """How it started and whether it was ever right, which are largely one thing."""
    started, right = history.started, history.ever_right
    contradiction = _contradiction(history)
    if contradiction:
        return [], [Finding("contradicting-history", _WHERE, contradiction, "Ask the customer once more.")]
    if right is None and history.last_right is not None:
        right = True
    out = []
    if started is not None and not (started == "after work" and _work_is_named(history)):
        chances = {name: p[started] for name, p in STARTED.items()}
        says = _STARTED_SAYS[started]
        out.append(_statement(says, ids, partial(_by_class, chances), trust=TRUST["customer"]))
    # the other ways of starting say it already
    if right is not None and started in (None, "after work"):
        chances = {name: p if right else 1.0 - p for name, p in EVER_RIGHT.items()}
        says = "Boost was right before, with the parts of today." if right else "Boost was never right in this form."
        out.append(_statement(says, ids, partial(_by_class, chances), trust=TRUST["customer"]))
    return out, []


def _contradiction(history: History) -> str:
    """Why the beginning as told cannot be, or nothing."""
    ending = " The history's beginning is left out."
    was_right = history.ever_right is True or history.last_right is not None
    if history.ever_right is False and history.last_right is not None:
        return "The history says that boost was never right and also when it was last right." + ending
    if history.started == "from first start" and was_right:
        return "The history says that the fault was there from the first start and that boost was right once." + ending
    if history.started in ("suddenly", "grew") and history.ever_right is False:
        return f"The history says that the fault {_CAME[history.started]} and that boost was never right." + ending
    return ""


_CAME = {"suddenly": "came suddenly", "grew": "grew"}


def _work_is_named(history: History) -> bool:
    return any(row.what is not None and row.fault in ("after", "same time") for row in history.changed)


# When it shows -----------------------------------------------------------------------------------------------

_ONLY_WHEN_SAYS = {
    "hot": "It shows only when hot.",
    "cold": "It shows only when cold.",
    "first pull": "Only the first pull is wrong.",
    "later pulls": "The first pull is right, later ones are wrong.",
    "top gear": "It shows only in top gear.",
    "wet": "It shows only in the wet.",
    "frost": "It shows only in frost.",
}


def _only_when(told: Sequence[str], ids: Sequence[str]) -> list[Statement]:
    once = tuple(dict.fromkeys(told))
    out = []
    for condition in once:
        alike = next((group for group in SAID_TOGETHER if condition in group), (condition,))
        weight = 1.0 / sum(1 for other in once if other in alike)
        of = partial(_only_then, ONLY_WHEN[condition])
        out.append(_statement(_ONLY_WHEN_SAYS[condition], ids, of, trust=TRUST["customer"], weight=weight))
    return out


def _only_then(chances: Mapping[str, float], cause_id: str) -> float:
    usually = chances[USUALLY] * (0.5 if cause_id in ALWAYS_THERE else 1.0)
    return chances.get(cause_id, usually)


def _stood(told: str | None, ids: Sequence[str]) -> list[Statement]:
    """Standing for hours or days, or not at all, tells nothing."""
    words = (told or "").strip().rstrip(".").casefold()
    if not words or re.match(r"(no|not|none|never|0)\b", words) or re.search(r"\b(hours?|days?|nights?)\b", words):
        return []
    of = partial(_only_then, STOOD)
    return [_statement(f"The car stood unused: {words}.", ids, of, trust=TRUST["customer"], either=True)]


# What was changed --------------------------------------------------------------------------------------------

_CHANGED_SAYS = {
    "hoses": "The hoses were changed",
    "engine": "Work was done on the engine",
    "target": "Another boost was asked for",
    "software": "The engine control's software was changed",
    "pipes off for other work": "Pipes were off for other work",
}
_FAULT_SAYS = {
    "before": "the fault was there before",
    "after": "the fault came after it",
    "same time": "the fault came with it",
    None: "whether the fault was there before is not known",
}
_TOLD_SAYS = {"customer": "says the customer", "own job sheet": "says our job sheet", "other shop": "says another shop"}


def _changed(row: Changed, ids: Sequence[str], weight: float) -> list[Statement]:
    if row.what is None:
        return []
    told_by = row.told_by or "customer"
    words = " to ".join(text for text in (row.from_, row.to) if text)
    says = (
        _CHANGED_SAYS.get(row.what, f"The {row.what} was changed")
        + (f" ({words})" if words else "")
        + f", and {_FAULT_SAYS[row.fault]}, {_TOLD_SAYS[told_by]}."
    )
    of = partial(_with_change, row.what, row.fault)
    return [_statement(says, ids, of, trust=TRUST[told_by], weight=weight, either=True)]


def _with_change(part: str, fault: str | None, cause_id: str) -> float:
    """P(this part was changed, before or after the fault | cause)."""
    usual = HEALTHY_AFTER_WORK if cause_id == HEALTHY else BY_CHANCE
    after = BROUGHT[part].get(cause_id, usual)
    if fault in ("after", "same time"):
        return after
    # work that brings a fault can hardly come after it, and a renewed part is less likely to blame
    left = max(BY_CHANCE / after, BEFORE_LEAST) * (1.0 - 0.5 * RENEWED[part].get(cause_id, 0.0))
    before = BY_CHANCE * left
    return before if fault == "before" else 0.5 * (before + after)


# What was tried ----------------------------------------------------------------------------------------------

_TRIED_SAYS = {
    "hoses": "{} hoses",
    "engine": "work on the engine",
    "setting": "another setting",
    "target": "another boost asked for",
    "software": "{} software",
    "fuel": "{} fuel",
    "ignition": "{} plugs or coils",
    "pipes off for other work": "pipes off and on again",
}
_RESULT_SAYS = {
    "cured": "it was cured",
    "better": "it was better",
    "no change": "no change",
    "worse": "it was worse",
    "new fault": "another fault showed",
}


def part_named(text: str | None) -> str:
    """Part of the table that a word or free text names; empty where none.

    >>> part_named("pipes off for other work"), part_named("new wastegate actuator"), part_named("boost gauge")
    ('pipes off for other work', 'actuator', '')
    """
    words = (text or "").casefold().strip()
    if words in RENEWED:
        return words
    return next((part for word, part in WORDS if re.search(rf"{word}s?\b", words)), "")


def _unknown_part(row: Tried, number: int) -> list[Finding]:
    if not row.what or part_named(row.what):
        return []
    says = f'What was tried, "{row.what}", names no part that the history is weighed by; it is left out.'
    return [Finding("history-not-weighed", f"car.toml, [history.tried] {number}", says)]


def _tried(row: Tried, ids: Sequence[str], weight: float) -> list[Statement]:
    part = part_named(row.what)
    if not part or row.result is None:
        return []
    renewed = {i: _renewed(part, i, ids) for i in ids}
    kind = row.part or "used"
    result = row.result
    half = HALF_MENDED[result]
    mended = _mended(kind, result)
    elsewhere = ELSEWHERE[result]
    chance = {i: share * mended + (1.0 - share) * elsewhere for i, share in renewed.items()}
    chance |= {HEALTHY: elsewhere, NONE_OF_THESE: elsewhere}

    def of_both(one: str, other: str) -> float:
        a, b = renewed[one], renewed[other]
        return a * b * mended + (a * (1.0 - b) + b * (1.0 - a)) * half + (1.0 - a) * (1.0 - b) * elsewhere

    trust = TRUST_TRIED_RECORDED if row.before and row.after else TRUST_TRIED
    name = _TRIED_SAYS.get(part, "{} " + part).format(row.part or "another")
    return [Statement(f"Tried: {name}, {_RESULT_SAYS[result]}.", chance, of_both, trust, weight)]


def _renewed(part: str, cause_id: str, ids: Sequence[str]) -> float:
    """Share of the cars with a cause that the part put in makes right."""
    external = "gate-mounted-reversed" in ids  # a fault of external gates alone
    if part == "turbo" and external and cause_id in WITH_THE_TURBO_ONLY_IF_INTERNAL:
        return 0.0
    return RENEWED[part].get(cause_id, 0.0)


def _mended(kind: str, result: str) -> float:
    """P(result | the fault was in the part that was put in)."""
    again = WRONG_AGAIN[kind]
    return again * ELSEWHERE[result] + (1.0 - again) * MENDED[result]
