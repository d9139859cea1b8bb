"""Equation text followed once with symbols: what it computes, as a list of operations without branches.

Components are straight-line text (rules in ``lanes.py``), so that one call with symbols in place of numbers meets
every operation that any candidate ever needs. The list can be written down in another language
(``device_text.py``), so that the equations keep one text only.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np

#: What an operation may be: arithmetic, comparison, joining of conditions, and the helpers of ``ops``.
KINDS = (
    "add", "subtract", "multiply", "divide", "negative", "less", "less_equal", "greater", "greater_equal",
    "and", "or", "where", "minimum", "maximum", "sqrt", "absolute", "sign",
)  # fmt: skip
_CONDITIONS = ("less", "less_equal", "greater", "greater_equal", "and", "or")
_UFUNCS = {
    np.add: "add", np.subtract: "subtract", np.multiply: "multiply", np.divide: "divide", np.negative: "negative",
    np.less: "less", np.less_equal: "less_equal", np.greater: "greater", np.greater_equal: "greater_equal",
    np.minimum: "minimum", np.maximum: "maximum", np.sqrt: "sqrt", np.absolute: "absolute", np.sign: "sign",
}  # fmt: skip


@dataclass(frozen=True)
class Constant:
    """A number of the text itself."""

    value: float


Operand: TypeAlias = int | Constant
"""Place of an earlier value, or a constant."""


@dataclass(frozen=True)
class Operation:
    """One operation; its place in the list, behind the inputs, is the place of its value.

    Attributes
    ----------
    kind : one of `KINDS`
    of : operands
    """

    kind: str
    of: tuple[Operand, ...]

    @property
    def condition(self) -> bool:
        """Whether its value is true or false rather than a number."""
        return self.kind in _CONDITIONS


@dataclass
class Program:
    """A function as operations.

    Attributes
    ----------
    groups : numbers in each tuple given to the function; their places come first, in order
    operations : in the order in which they were met, equal ones once
    results : (place or constant) of every number that the function returns
    """

    groups: tuple[int, ...]
    operations: list[Operation] = field(default_factory=list, repr=False)
    results: tuple[Operand, ...] = ()
    _known: dict[Operation, int] = field(default_factory=dict, repr=False)

    @property
    def given(self) -> int:
        """Numbers given to the function."""
        return sum(self.groups)

    def needed(self) -> list[tuple[int, Operation]]:
        """Operations that some result hangs on, each with its place, in order."""
        wanted = {place for place in self.results if isinstance(place, int)}
        out = []
        for number in range(len(self.operations) - 1, -1, -1):
            place, operation = self.given + number, self.operations[number]
            if place in wanted:
                out.append((place, operation))
                wanted.update(o for o in operation.of if isinstance(o, int))
        return out[::-1]

    def place(self, kind: str, of: tuple[Operand, ...]) -> int:
        """Where the value of an operation stands; it is added where it was not met before."""
        made = Operation(kind, of)
        if made not in self._known:
            self._known[made] = self.given + len(self.operations)
            self.operations.append(made)
        return self._known[made]


class Symbol(np.lib.mixins.NDArrayOperatorsMixin):
    """A number that is not known yet; what is done with it is written to its program."""

    def __init__(self, program: Program, place: int) -> None:
        self.program, self.place = program, place

    def _of(self, kind: str, *values: Any) -> Symbol:
        return Symbol(self.program, self.program.place(kind, tuple(_operand(v) for v in values)))

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *values: Any, **options: Any) -> Any:
        if method != "__call__" or options or ufunc not in _UFUNCS:
            return NotImplemented
        return self._of(_UFUNCS[ufunc], *values)

    def __array_function__(self, function: Any, kinds: Any, values: Any, options: Any) -> Any:
        if function is not np.where or len(values) != 3 or options:
            return NotImplemented
        return self._of("where", *values)

    def __and__(self, other: Any) -> Symbol:
        return self._of("and", self, other)

    def __or__(self, other: Any) -> Symbol:
        return self._of("or", self, other)

    def __pow__(self, power: Any) -> Symbol:
        if power != 2:
            raise TypeError(f"Equation text may use ** 2 only, not ** {power!r}.")
        return self._of("multiply", self, self)

    def __bool__(self) -> bool:
        raise TypeError("Equation text must not branch on a number of a candidate; use ops.where.")


def _operand(value: Any) -> Operand:
    return value.place if isinstance(value, Symbol) else Constant(float(value))


def traced(function: Callable[..., Any], groups: Sequence[int | None]) -> Program:
    """The operations of a component.

    Parameters
    ----------
    function : component that takes tuples of numbers, or numbers
    groups : length of each tuple that it takes, None for a number

    Returns
    -------
    Program, whose results are the numbers returned, tuples within tuples laid out in order

    Raises
    ------
    TypeError
        If the text does what equation text may not.

    >>> traced(lambda x, h: (x[0] + h, x[0] * x[1]), (2, None)).operations
    [Operation(kind='add', of=(0, 2)), Operation(kind='multiply', of=(0, 1))]
    """
    program = Program(tuple(1 if g is None else g for g in groups))
    arguments: list[Any] = []
    at = 0
    for group in groups:
        symbols = tuple(Symbol(program, at + i) for i in range(group or 1))
        arguments.append(symbols[0] if group is None else symbols)
        at += len(symbols)
    program.results = tuple(_operand(v) for v in _flat(function(*arguments)))
    return program


def _flat(values: Any) -> list[Any]:
    if not isinstance(values, tuple):
        return [values]
    return [x for value in values for x in _flat(value)]
