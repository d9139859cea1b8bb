"""Equation text followed with symbols: every operation of it, and nothing that it may not do."""

from __future__ import annotations

import operator
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from tests.unit.physics.test_kinds import cars_of_every_kind

from boostproof.physics import at_rest, layout, ops, system
from boostproof.physics.trace import Constant, Program, traced

_DONE: dict[str, Callable[..., Any]] = {
    "add": operator.add, "subtract": operator.sub, "multiply": operator.mul, "divide": operator.truediv,
    "negative": operator.neg, "less": operator.lt, "less_equal": operator.le, "greater": operator.gt,
    "greater_equal": operator.ge, "and": operator.and_, "or": operator.or_, "where": np.where,
    "minimum": np.minimum, "maximum": np.maximum, "sqrt": np.sqrt, "absolute": np.abs, "sign": np.sign,
}  # fmt: skip


def worked_out(program: Program, given: list[Any]) -> list[Any]:
    """Results of a program for numbers given, operation by operation."""
    values = dict(enumerate(given))

    def value(of: Any) -> Any:
        return of.value if isinstance(of, Constant) else values[of]

    with np.errstate(all="ignore"):
        for place, operation in program.needed():
            values[place] = _DONE[operation.kind](*[value(o) for o in operation.of])
    return [value(result) for result in program.results]


def test_the_operations_of_the_car_give_what_its_text_gives() -> None:
    par = cars_of_every_kind()
    none = np.zeros(par.shape[1])
    inputs = (400.0, 1.0, 9.0e4, 0.3, 101325.0, 295.0, 0.2)
    state = tuple(np.asarray(x, float) + none for x in system.initial(tuple(par), inputs))
    start = traced(system.initial, (layout.SIZE, system.N_INPUT))
    moves = traced(system.step, (system.N_STATE, layout.SIZE, system.N_INPUT, None))
    assert np.array_equal(np.stack([x + none for x in worked_out(start, [*par, *inputs])]), np.stack(state))
    for _ in range(40):  # far enough for gates to move
        with np.errstate(all="ignore"):
            new, shown = system.step(state, tuple(par), inputs, 0.01)
        found = worked_out(moves, [*state, *par, *inputs, 0.01])
        assert np.array_equal(np.stack(found), np.stack([*new, *shown]))
        state = new


def test_the_operations_of_a_balance_at_rest_give_what_its_text_gives() -> None:
    rng = np.random.default_rng(5)
    par = list(rng.uniform(0.5, 2.0, (at_rest.SIZE, 50)))
    par[at_rest.LOW], par[at_rest.HIGH], par[at_rest.AMBIENT] = np.full(50, 1e5), np.full(50, 3e5), np.full(50, 1e5)
    par[at_rest.OTHER] = rng.uniform(1e5, 3e5, 50)
    state = at_rest.start(par, (1.0, 1.0))
    program = traced(at_rest.halve, (4, at_rest.SIZE, 2, None))
    with np.errstate(all="ignore"):
        new, (root,) = at_rest.halve(state, par, (1.0, 1.0), 1.0)
    assert np.array_equal(np.stack(worked_out(program, [*state, *par, 1.0, 1.0, 1.0])), np.stack([*new, root]))


def test_equal_operations_are_met_once_and_what_nothing_hangs_on_is_left_out() -> None:
    program = traced(lambda x: (x[0] * x[1] + x[0] * x[1], ops.sqrt(x[1]))[0], (2,))
    assert [o.kind for o in program.operations] == ["multiply", "add", "sqrt"]
    assert [o.kind for _, o in program.needed()] == ["multiply", "add"]


def test_a_constant_is_no_place() -> None:
    program = traced(lambda x: (x[0] + 1.0, x[0] + x[1]), (2,))
    assert [o.of for o in program.operations] == [(0, Constant(1.0)), (0, 1)]


@pytest.mark.parametrize(
    "text",
    [
        lambda x: x[0] if x[0] > 0.0 else x[1],
        lambda x: x[0] ** 3,
        lambda x: np.exp(x[0]),
        lambda x: np.concatenate([x[0], x[1]]),
        lambda x: float(x[0]),
    ],
)
def test_what_equation_text_may_not_do_is_refused(text: Callable[..., Any]) -> None:
    with pytest.raises(TypeError):
        traced(text, (2,))
