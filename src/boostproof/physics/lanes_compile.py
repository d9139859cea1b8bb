"""The numba half of ``lanes.py``: the loop over lanes and all it is compiled from. Needs numba.

Imported only when a kernel is built. The helpers of ``ops.py`` become single instructions, every component
a function that is always inlined; reading and writing the scratch array is written so that the vectoriser
sees constant distances. Three things switch vectorisation off at once, and the tests watch for them: a
second array that the lane loop stores to, a function that is not inlined, and a float64.
"""

# numba's extension points and llvmlite are only partly typed, or typed for other uses than extending.
# mypy: disable-error-code="no-untyped-call, untyped-decorator, import-untyped, no-untyped-def"

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from typing import Any

import numpy as np
from llvmlite import ir as llvm
from numba import njit, types
from numba.core.cgutils import unpack_tuple
from numba.extending import intrinsic, lower_builtin, overload, type_callable

from boostproof.physics import ops
from boostproof.physics.lanes import LANES
from boostproof.physics.lanes_literals import LaneCompiler
from boostproof.physics.lanes_machine import MachineCode

# No wrappers: nothing in the machine code may refer to Python, so that it runs without numba later.
_CHUNK_OPTIONS: Any = {
    "fastmath": True,
    "error_model": "numpy",
    "no_cpython_wrapper": True,
    "no_cfunc_wrapper": True,
}
_COMPONENT_OPTIONS: Any = {**_CHUNK_OPTIONS, "forceinline": True, "pipeline_class": LaneCompiler}

# ---------------------------------------------------------------- helpers as single instructions


def _common(*kinds: Any) -> Any:
    if any(k == types.float64 for k in kinds):
        return types.float64
    return types.float32


def _is_value(kind: Any) -> bool:
    return isinstance(kind, types.Float | types.Integer)


def _cast(context: Any, builder: Any, sig: Any, args: Any, skip: int = 0) -> list[Any]:
    kinds = sig.args[skip:]
    return [context.cast(builder, a, k, sig.return_type) for a, k in zip(args[skip:], kinds, strict=True)]


_FAST = ("fast",)

_MEMORY = {"memset", "memcpy", "memmove"}
_LIBM = re.compile(r"llvm\.(exp|log|pow|sin|cos|tan|sinh|cosh|tanh|asin|acos|atan|ldexp|frexp)")


def _call(builder: Any, name: str, x: Any) -> Any:
    bits = {"float": "f32", "double": "f64"}[str(x.type)]
    kind = llvm.FunctionType(x.type, [x.type])
    function = builder.module.declare_intrinsic(f"llvm.{name}.{bits}", (), kind)
    return builder.call(function, [x], fastmath=_FAST)


def _register_helpers() -> None:
    @type_callable(ops.where)
    def type_where(context: Any) -> Any:
        def typer(condition: Any, if_true: Any, if_false: Any) -> Any:
            if isinstance(condition, types.Boolean) and _is_value(if_true) and _is_value(if_false):
                return _common(if_true, if_false)
            return None

        return typer

    @lower_builtin(ops.where, types.Boolean, types.Number, types.Number)
    def lower_where(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        a, b = _cast(context, builder, sig, args, skip=1)
        return builder.select(args[0], a, b)

    def pair(helper: Callable[..., Any], comparison: str) -> None:
        @type_callable(helper)
        def type_pair(context: Any) -> Any:
            def typer(a: Any, b: Any) -> Any:
                return _common(a, b) if _is_value(a) and _is_value(b) else None

            return typer

        @lower_builtin(helper, types.Number, types.Number)
        def lower_pair(context: Any, builder: Any, sig: Any, args: Any) -> Any:
            a, b = _cast(context, builder, sig, args)
            return builder.select(builder.fcmp_ordered(comparison, a, b, flags=_FAST), a, b)

    pair(ops.minimum, "<")
    pair(ops.maximum, ">")

    @type_callable(ops.clip)
    def type_clip(context: Any) -> Any:
        def typer(x: Any, low: Any, high: Any) -> Any:
            return _common(x, low, high) if all(map(_is_value, (x, low, high))) else None

        return typer

    @lower_builtin(ops.clip, types.Number, types.Number, types.Number)
    def lower_clip(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        x, low, high = _cast(context, builder, sig, args)
        x = builder.select(builder.fcmp_ordered(">", x, low, flags=_FAST), x, low)
        return builder.select(builder.fcmp_ordered("<", x, high, flags=_FAST), x, high)

    def single(helper: Callable[..., Any], code: Callable[[Any, Any], Any]) -> None:
        @type_callable(helper)
        def type_single(context: Any) -> Any:
            def typer(x: Any) -> Any:
                return _common(x) if _is_value(x) else None

            return typer

        @lower_builtin(helper, types.Number)
        def lower_single(context: Any, builder: Any, sig: Any, args: Any) -> Any:
            (x,) = _cast(context, builder, sig, args)
            return code(builder, x)

    def sign(builder: Any, x: Any) -> Any:
        zero, one, minus = (x.type(v) for v in (0.0, 1.0, -1.0))
        lower = builder.select(builder.fcmp_ordered("<", x, zero, flags=_FAST), minus, zero)
        return builder.select(builder.fcmp_ordered(">", x, zero, flags=_FAST), one, lower)

    single(ops.sqrt, lambda builder, x: _call(builder, "sqrt", x))
    single(ops.absolute, lambda builder, x: _call(builder, "fabs", x))
    single(ops.sign, sign)


_registered: set[int] = set()  # by id; ops.COMPONENTS keeps them alive
_lock = threading.Lock()


def register() -> None:
    """Make the helpers and all components defined so far known to numba. Cheap to call again."""
    with _lock:
        if not _registered:
            _register_helpers()
            _registered.add(id(ops))
        for function in ops.COMPONENTS:
            if id(function) not in _registered:
                _registered.add(id(function))
                _register_component(function)


def _register_component(function: Callable[..., Any]) -> None:
    @overload(function, jit_options=_COMPONENT_OPTIONS, strict=False)
    def implementation(*args: Any, **kwargs: Any) -> Any:
        return function


# ---------------------------------------------------------------- reading and writing memory

_typed_intrinsic: Any = intrinsic  # its stub keeps the typing context in the signature


@_typed_intrinsic
def _get(typingctx: Any, pointer: Any, index: Any) -> Any:
    """The number at *index* of an array."""

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.load(builder.gep(args[0], [args[1]], inbounds=True))

    return pointer.dtype(pointer, index), codegen


@_typed_intrinsic
def _set(typingctx: Any, pointer: Any, index: Any, value: Any) -> Any:
    """Put *value*, of the array's type, at *index*."""

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        builder.store(args[2], builder.gep(args[0], [args[1]], inbounds=True))
        return context.get_dummy_value()

    return types.void(pointer, index, pointer.dtype), codegen


@_typed_intrinsic
def _row(typingctx: Any, pointer: Any, first: Any, count: Any) -> Any:
    """``count`` numbers from index *first* on, as a tuple."""
    if not isinstance(count, types.IntegerLiteral):
        return None
    n = count.literal_value

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        places = [builder.add(args[1], args[1].type(i)) for i in range(n)]
        values = [builder.load(builder.gep(args[0], [at], inbounds=True)) for at in places]
        return context.make_tuple(builder, signature.return_type, values)

    return types.UniTuple(pointer.dtype, n)(pointer, first, count), codegen


def _place(builder: Any, scratch: Any, row: int, lane: Any) -> Any:
    """Address of *lane* in a row of the scratch array, at a distance that the vectoriser sees as fixed."""
    at = builder.add(lane, lane.type(row * LANES), flags=("nsw", "nuw"))
    return builder.gep(scratch, [at], inbounds=True)


@_typed_intrinsic
def _widest(typingctx: Any) -> Any:
    """Let the function that this stands in use the widest registers there are.

    Compilers keep to half of them on some processors, as wide ones lower the clock; a lane loop gains
    more than it loses (`benchmarks/lanes.py`).
    """

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        # the library's own list of names does not hold those of one target
        set.add(builder.function.attributes, '"prefer-vector-width"="512"')
        return context.get_dummy_value()

    return types.void(), codegen


@_typed_intrinsic
def _load_rows(typingctx: Any, scratch: Any, first: Any, lane: Any, count: Any) -> Any:
    """``count`` numbers of *lane* from consecutive rows of the scratch array, as a tuple."""
    if not isinstance(count, types.IntegerLiteral) or not isinstance(first, types.IntegerLiteral):
        return None
    rows = range(first.literal_value, first.literal_value + count.literal_value)

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        values = [builder.load(_place(builder, args[0], row, args[2])) for row in rows]
        return context.make_tuple(builder, signature.return_type, values)

    return types.UniTuple(scratch.dtype, len(rows))(scratch, first, lane, count), codegen


@_typed_intrinsic
def _store_rows(typingctx: Any, scratch: Any, first: Any, lane: Any, values: Any) -> Any:
    """Store the tuple *values* of *lane* to consecutive rows of the scratch array."""
    if not isinstance(first, types.IntegerLiteral) or not isinstance(values, types.BaseTuple):
        return None
    start = first.literal_value

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        kinds = signature.args[3].types
        for i, value in enumerate(unpack_tuple(builder, args[3], len(kinds))):
            value = context.cast(builder, value, kinds[i], scratch.dtype)
            builder.store(value, _place(builder, args[0], start + i, args[2]))
        return context.get_dummy_value()

    return types.void(scratch, first, lane, values), codegen


@_typed_intrinsic
def _add_rows(typingctx: Any, scratch: Any, first: Any, lane: Any, values: Any, wanted: Any) -> Any:
    """Add the tuple *values* of *lane* to consecutive rows of the scratch array, or 0 if not *wanted*.

    Chosen value by value, since a branch would need a second copy of the whole lane loop.
    """
    if not isinstance(first, types.IntegerLiteral) or not isinstance(values, types.BaseTuple):
        return None
    start = first.literal_value

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        kinds = signature.args[3].types
        for i, value in enumerate(unpack_tuple(builder, args[3], len(kinds))):
            place = _place(builder, args[0], start + i, args[2])
            value = context.cast(builder, value, kinds[i], scratch.dtype)
            value = builder.select(args[4], value, value.type(0.0))
            builder.store(builder.fadd(builder.load(place), value, flags=_FAST), place)
        return context.get_dummy_value()

    return types.void(scratch, first, lane, values, wanted), codegen


# ---------------------------------------------------------------- the chunk function


def _compiled(
    step: Callable[..., Any],
    initial: Callable[..., Any],
    sizes: tuple[int, int, int, int],
    dtype: Any,
    name: str,
) -> Any:
    """The chunk function of a model, compiled: numba's result for it."""
    register()
    n_state, n_par, n_inp, n_out = sizes
    lanes = LANES
    at_par = n_state
    at_out = n_state + n_par
    zero = dtype(0)

    def chunk(par, inputs, h, record, scale, scratch, out, n, n_steps, start, stop):
        _widest()
        for base in range(start, stop, lanes):
            for i in range(n_par):
                for lane in range(lanes):
                    column = base + lane
                    column = column if column < stop else stop - 1  # the last block is filled up
                    _set(scratch, (at_par + i) * lanes + lane, _get(par, i * n + column))
            for i in range(n_out * lanes):
                _set(scratch, at_out * lanes + i, zero)
            first = _row(inputs, 0, n_inp)
            for lane in range(lanes):
                _store_rows(scratch, 0, lane, initial(_load_rows(scratch, at_par, lane, n_par), first))
            for k in range(n_steps):
                inp = _row(inputs, k * n_inp, n_inp)
                dt = _get(h, k)
                slot = _get(record, k)
                for lane in range(lanes):
                    state = _load_rows(scratch, 0, lane, n_state)
                    new, output = step(state, _load_rows(scratch, at_par, lane, n_par), inp, dt)
                    _store_rows(scratch, 0, lane, new)
                    _add_rows(scratch, at_out, lane, output, slot >= 0)
                if slot >= 0 and (k + 1 == n_steps or _get(record, k + 1) != slot):
                    share = _get(scale, slot)
                    width = lanes if base + lanes <= stop else stop - base
                    for i in range(n_out):
                        for lane in range(width):
                            place = (slot * n_out + i) * n + base + lane
                            mean = _get(scratch, (at_out + i) * lanes + lane) * share
                            _set(out, place, _get(out, place) + mean)
                    for i in range(n_out * lanes):
                        _set(scratch, at_out * lanes + i, zero)

    chunk.__name__ = chunk.__qualname__ = f"chunk_{name}"  # becomes the symbol of the machine code
    number = types.CPointer(types.float64 if dtype is np.float64 else types.float32)
    signature = types.void(
        number, number, number, types.CPointer(types.int32), number, number, number, *[types.intp] * 4
    )
    compiled: Any = njit(**_CHUNK_OPTIONS)(chunk)
    compiled.compile(signature)
    return compiled.overloads[signature.args]


def build(
    step: Callable[..., Any],
    initial: Callable[..., Any],
    sizes: tuple[int, int, int, int],
    dtype: Any,
    name: str,
) -> MachineCode:
    """Machine code of the chunk function of a model.

    ``chunk(par, inputs, h, record, scale, scratch, out, n, n_steps, start, stop)`` runs candidates
    ``start..stop`` of *n* and adds the means over their recorded steps to *out*. Arrays as in
    ``lanes.Kernel.run``; ``scale`` (n_slots,) is one over the number of steps of a slot, ``scratch`` holds
    ``n_state + n_par + n_out`` rows of LANES numbers.

    Raises ValueError if the text calls functions that are not single instructions: they would not be
    vectorised, and a process without numba could not link them.
    """
    result = _compiled(step, initial, sizes, dtype, name)
    called = set(re.findall(r'^declare [^@]*@"?([\w.$]+)', result.library.get_llvm_str(), re.MULTILINE))
    foreign = sorted(called - _MEMORY - {x for x in called if x.startswith("llvm.") and not _LIBM.match(x)})
    if foreign:
        raise ValueError(
            f"the text of kernel {name} calls {', '.join(foreign)}; equation text may use the helpers of ops,"
            " + - * / and x ** 2 only"
        )
    _, _, (code, _) = result.library.serialize_using_object_code()
    return MachineCode(result.fndesc.llvm_func_name, bytes(code))


def assembly(
    step: Callable[..., Any],
    initial: Callable[..., Any],
    sizes: tuple[int, int, int, int],
    dtype: Any,
    name: str,
) -> str:
    """The machine code that :func:`build` makes, as text."""
    return str(_compiled(step, initial, sizes, dtype, name).library.get_asm_str())
