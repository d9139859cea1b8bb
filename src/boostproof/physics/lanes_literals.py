"""A pass of the compiler that gives literals the precision of the lanes. Needs numba.

numba types a literal ``0.5`` as float64 and ``2`` as int64, and either makes float64 of every float32 it
meets, which halves the lanes and brings conversions. NumPy is wiser: there a Python number takes the type
of the array. The pass brings numba to the same.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from types import ModuleType
from typing import Any

import numpy as np
from numba import types
from numba.core import ir
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import FunctionPass, register_pass
from numba.core.ir_utils import build_definitions
from numba.core.untyped_passes import ReconstructSSA

# numba's extension points are only partly typed.
# mypy: disable-error-code="no-untyped-call"

_FOLD: dict[Any, Callable[[Any, Any], Any]] = {
    operator.add: operator.add,
    operator.sub: operator.sub,
    operator.mul: operator.mul,
    operator.truediv: operator.truediv,
}
_MEETS = (*_FOLD, operator.lt, operator.le, operator.gt, operator.ge, operator.eq, operator.ne)


def _is_integer(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _is_number(value: object) -> bool:
    return isinstance(value, float) or _is_integer(value)


def _operator(expr: Any) -> Any:
    """The function of a binary expression, with that of ``x + y`` for ``x += y``; else None."""
    if expr.op == "binop":
        return expr.fn
    return expr.immutable_fn if expr.op == "inplace_binop" else None


def _lane_type(args: Any) -> Any:
    """float64 where an argument is float64 (a kernel for auditing), else float32."""
    pending = list(args)
    while pending:
        kind = pending.pop()
        if isinstance(kind, types.UniTuple | types.Tuple):
            pending.extend(kind.types)
        elif kind == types.float64:
            return np.float64
    return np.float32


@register_pass(mutates_CFG=False, analysis_only=False)
class NarrowLiterals(FunctionPass):
    """Turn number constants into the lanes' type.

    Floats always (literals, globals, attributes of modules, tuples of numbers with a float among them);
    integers where they meet a value in arithmetic or a comparison, so that indices stay integers.
    Constants among themselves are first folded in float64, as Python does.
    """

    _name = "boostproof_narrow_literals"

    def __init__(self) -> None:
        FunctionPass.__init__(self)

    def run_pass(self, state: Any) -> bool:
        narrow = _lane_type(state.args)
        func_ir = state.func_ir
        known: dict[str, Any] = {}  # variable -> number, tuple or module that it always holds
        for label in sorted(func_ir.blocks):
            block = func_ir.blocks[label]
            body: list[Any] = []
            for statement in block.body:
                if isinstance(statement, ir.Assign):
                    _note(statement, known)
                    if not _replace(statement, known, narrow) and isinstance(statement.value, ir.Expr):
                        _replace_integers(statement, known, narrow, body, block.scope)
                body.append(statement)
            block.body = body
        func_ir._definitions = build_definitions(func_ir.blocks)
        return True


def _note(statement: Any, known: dict[str, Any]) -> None:
    """Remember the value of the assigned variable where it is constant."""
    value, name = statement.value, statement.target.name
    if isinstance(value, ir.Const | ir.Global | ir.FreeVar):
        known[name] = value.value
    elif isinstance(value, ir.Var) and value.name in known:
        known[name] = known[value.name]
    elif isinstance(value, ir.Expr):
        folded = _fold(value, known)
        if folded is not None:
            known[name] = folded


def _fold(expr: Any, known: dict[str, Any]) -> Any:
    """Constant value of *expr*, or None."""
    function = _operator(expr)
    if function in _FOLD:
        left, right = known.get(expr.lhs.name), known.get(expr.rhs.name)
        if not _is_number(left) or not _is_number(right) or (function is operator.truediv and right == 0):
            return None
        return _FOLD[function](left, right)
    if expr.op == "unary" and expr.fn in (operator.neg, "-"):
        inner: Any = known.get(expr.value.name)
        return -inner if _is_number(inner) else None
    if expr.op == "getattr":
        owner = known.get(expr.value.name)
        return getattr(owner, expr.attr, None) if isinstance(owner, ModuleType) else None
    if expr.op == "static_getitem":
        row = known.get(expr.value.name)
        return row[expr.index] if isinstance(row, tuple) and isinstance(expr.index, int) else None
    return None


def _replace(statement: Any, known: dict[str, Any], narrow: Any) -> bool:
    """Write a float constant, or a tuple with one, in the lanes' type."""
    constant = known.get(statement.target.name)
    new: Any
    if isinstance(constant, float):
        new = narrow(constant)
    elif (
        isinstance(constant, tuple)
        and all(_is_number(x) for x in constant)
        and any(isinstance(x, float) for x in constant)
    ):
        new = tuple(narrow(x) for x in constant)
    else:
        return False
    statement.value = ir.Const(new, statement.loc)
    return True


def _replace_integers(
    statement: Any, known: dict[str, Any], narrow: Any, body: list[Any], scope: Any
) -> None:
    """In ``2 * x`` write the 2 in the lanes' type, as a new variable before the statement."""
    expr = statement.value
    if _operator(expr) not in _MEETS:
        return
    whole = [_is_integer(known.get(side.name)) for side in (expr.lhs, expr.rhs)]
    if whole[0] == whole[1]:
        return
    side = expr.lhs if whole[0] else expr.rhs
    variable = scope.redefine("lane_literal", statement.loc)
    body.append(ir.Assign(ir.Const(narrow(known[side.name]), statement.loc), variable, statement.loc))
    if whole[0]:
        expr.lhs = variable
    else:
        expr.rhs = variable


class LaneCompiler(CompilerBase):
    """numba's usual passes with :class:`NarrowLiterals` before type inference."""

    def define_pipelines(self) -> list[Any]:
        passes = DefaultPassBuilder.define_nopython_pipeline(self.state)
        passes.add_pass_after(NarrowLiterals, ReconstructSSA)
        passes.finalize()
        return [passes]
