"""Which two causes one car can have at the same time."""

from __future__ import annotations

from functools import cache
from itertools import product

from boostproof.diagnosis.causes.model import CONTROLLER_KINDS, Cause, Fitted
from boostproof.physics.change import Change

# Pairs whose changes do not meet in one parameter and that still exclude each other (judgement): a part is in one
# state only, or the one leaves nothing for the other to act on.
_EXCLUSIVE: frozenset[frozenset[str]] = frozenset(
    frozenset(pair)
    for pair in (
        # one ball
        ("controller-passing", "controller-ball-sticky"),
        ("controller-passing", "controller-ball-stuck-shut"),
        ("controller-reversed", "controller-ball-stuck-shut"),
        ("controller-reversed", "controller-ball-sticky"),
        ("controller-reversed", "controller-passing"),
        ("controller-reversed", "controller-set-high"),
        # one line: what is off is neither leaking nor pinched nor blocked
        ("signal-line-open", "signal-line-leak"),
        ("signal-line-open", "signal-line-restricted"),
        ("signal-line-open", "line-blocked"),
        # one gate: fast in its place it is not also pushed, limited, loose or leaking
        ("gate-stuck-open", "gate-seized-shut"),
        ("gate-stuck-open", "gate-not-seating"),
        ("gate-stuck-open", "gate-debris"),
        ("gate-stuck-open", "gate-flutter"),
        ("gate-stuck-open", "hot-binding"),
        ("gate-stuck-open", "gate-travel-limited"),
        ("gate-seized-shut", "gate-flutter"),
        ("gate-seized-shut", "hot-binding"),
        ("gate-seized-shut", "gate-blown-open"),
        ("gate-mounted-reversed", "gate-blown-open"),
        # no rod, no force from the actuator
        *(("rod-detached", other) for other in ("gate-seized-shut", "return-weak", "actuator-stiction")),
    )
)


def compatible(a: Cause, b: Cause) -> bool:
    """Whether one car can have both faults, so that the pair is a hypothesis of its own.

    False where they are one mechanism (the pair would be the same fault, worse), where no car can have both,
    where their changes of one parameter contradict (up and down, or one that replaces the value), and where a
    part would be in two states at once.

    Parameters
    ----------
    a, b : causes in any order

    >>> from boostproof.diagnosis.causes import BY_ID
    >>> compatible(BY_ID["port-too-small"], BY_ID["gate-stuck-open"])
    True
    >>> compatible(BY_ID["gate-seized-shut"], BY_ID["gate-stuck-open"])
    False
    """
    if a.mechanism == b.mechanism or frozenset((a.id, b.id)) in _EXCLUSIVE:
        return False
    return any(
        not contradict(mine, yours)
        for car in _cars()
        if a.applies(car) and b.applies(car)
        for (_, mine), (_, yours) in product(a.variants_for(car.controller), b.variants_for(car.controller))
    )


@cache
def _cars() -> tuple[Fitted, ...]:
    """Every kind of car that a cause may ask for."""
    return tuple(
        Fitted(controller, external, gates, dual, loop)
        for controller, external, gates, dual, loop in product(
            CONTROLLER_KINDS, (False, True), (1, 2), (False, True), (False, True)
        )
    )


def contradict(mine: tuple[Change, ...], yours: tuple[Change, ...]) -> bool:
    """Whether two sets of changes meet in one parameter and pull it two ways, or one replaces its value."""
    return any(
        _direction(one) != _direction(other) or _replaces(one) or _replaces(other)
        for one, other in product(mine, yours)
        if one.parameter == other.parameter
    )


def _replaces(change: Change) -> bool:
    """Whether what the parameter was before is lost."""
    return change.how in ("set", "share")


def _direction(change: Change) -> int:
    """1 upwards, -1 downwards, 0 where it replaces the value."""
    if _replaces(change):
        return 0
    middle = 0.5 * (change.mild + change.severe)
    return 1 if middle > (1.0 if change.how == "scale" else 0.0) else -1
