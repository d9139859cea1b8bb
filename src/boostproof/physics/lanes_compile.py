"""The numba half of ``lanes.py``: the loop over lanes and all it is compiled from. Needs numba.

Imported only when a kernel is built. The helpers of ``ops.py`` become single instructions, every component
a function that is always inlined; reading and writing the scratch array is written so that the vectoriser
sees constant distances. Three things switch vectorisation off at once, and the tests watch for them: a
second array that the lane loop stores to, a function that is not inlined, and a float64.
"""

# numba's extension points and llvmlite are only partly typed, or typed for other uses than extending.
# mypy: disable-error-code="no-untyped-call, untyped-decorator, import-untyped, no-untyped-def"

from __future__ import annotations

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
from boostproof.physics.lanes_stored import StoredKernel

COMPONENT_OPTIONS: Any = {
    "forceinline": True,
    "fastmath": True,
    "error_model": "numpy",
    "pipeline_class": LaneCompiler,
    "no_cpython_wrapper": True,
    "no_cfunc_wrapper": True,
}

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
    @overload(function, jit_options=COMPONENT_OPTIONS, strict=False)
    def implementation(*args: Any, **kwargs: Any) -> Any:
        return function


# ---------------------------------------------------------------- the lane loop


_typed_intrinsic: Any = intrinsic  # its stub keeps the typing context in the signature


@_typed_intrinsic
def _load_rows(typingctx: Any, scratch: Any, first: Any, lane: Any, count: Any) -> Any:
    """``count`` values of *lane* from consecutive rows of the scratch array, as a tuple."""
    if not isinstance(count, types.IntegerLiteral) or not isinstance(first, types.IntegerLiteral):
        return None
    n, start = count.literal_value, first.literal_value
    sig = types.UniTuple(scratch.dtype, n)(scratch, first, lane, count)

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        data = context.make_array(signature.args[0])(context, builder, args[0]).data
        values = []
        for i in range(n):
            at = builder.add(args[2], args[2].type((start + i) * LANES), flags=("nsw", "nuw"))
            values.append(builder.load(builder.gep(data, [at], inbounds=True)))
        return context.make_tuple(builder, signature.return_type, values)

    return sig, codegen


@_typed_intrinsic
def _store_rows(typingctx: Any, scratch: Any, first: Any, lane: Any, values: Any) -> Any:
    """Store the tuple *values* of *lane* to consecutive rows of the scratch array."""
    if not isinstance(first, types.IntegerLiteral) or not isinstance(values, types.BaseTuple):
        return None
    start = first.literal_value
    sig = types.void(scratch, first, lane, values)

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        data = context.make_array(signature.args[0])(context, builder, args[0]).data
        kinds = signature.args[3].types
        for i, value in enumerate(unpack_tuple(builder, args[3], len(kinds))):
            at = builder.add(args[2], args[2].type((start + i) * LANES), flags=("nsw", "nuw"))
            value = context.cast(builder, value, kinds[i], scratch.dtype)
            builder.store(value, builder.gep(data, [at], inbounds=True))
        return context.get_dummy_value()

    return sig, codegen


@_typed_intrinsic
def _add_rows(typingctx: Any, scratch: Any, first: Any, lane: Any, values: Any, wanted: Any) -> Any:
    """Add the tuple *values* of *lane* to consecutive rows of the scratch array, or 0 if not *wanted*.

    Chosen value by value, since a branch would need a second copy of the whole lane loop.
    """
    if not isinstance(first, types.IntegerLiteral) or not isinstance(values, types.BaseTuple):
        return None
    start = first.literal_value
    sig = types.void(scratch, first, lane, values, wanted)

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        data = context.make_array(signature.args[0])(context, builder, args[0]).data
        kinds = signature.args[3].types
        for i, value in enumerate(unpack_tuple(builder, args[3], len(kinds))):
            at = builder.add(args[2], args[2].type((start + i) * LANES), flags=("nsw", "nuw"))
            pointer = builder.gep(data, [at], inbounds=True)
            value = context.cast(builder, value, kinds[i], scratch.dtype)
            value = builder.select(args[4], value, value.type(0.0))
            builder.store(builder.fadd(builder.load(pointer), value, flags=_FAST), pointer)
        return context.get_dummy_value()

    return sig, codegen


@_typed_intrinsic
def _input_row(typingctx: Any, inputs: Any, step: Any, count: Any) -> Any:
    """Row *step* of a C-ordered 2-D array of *count* columns, as a tuple."""
    if not isinstance(count, types.IntegerLiteral):
        return None
    n = count.literal_value
    sig = types.UniTuple(inputs.dtype, n)(inputs, step, count)

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        data = context.make_array(signature.args[0])(context, builder, args[0]).data
        row = builder.mul(args[1], args[1].type(n))
        values = [builder.load(builder.gep(data, [builder.add(row, row.type(i))])) for i in range(n)]
        return context.make_tuple(builder, signature.return_type, values)

    return sig, codegen


def build(
    step: Callable[..., Any],
    initial: Callable[..., Any],
    sizes: tuple[int, int, int, int],
    dtype: Any,
    key: str,
    name: str,
    *,
    stored: bool = True,
) -> Any:
    """Compile the chunk function of a model, or load it from disk where *key* was compiled before.

    With ``stored=False`` the disk is left alone.

    Returns ``chunk(par, inputs, h, record, scale, scratch, out, start, stop)``, which runs candidates
    ``start..stop`` and adds the means over their recorded steps to *out* (arrays as in
    ``lanes.Kernel.run``; ``scale`` (n_slots,) is one over the number of steps of a slot).
    """
    register()
    n_state, n_par, n_inp, n_out = sizes
    lanes = LANES
    at_par = n_state
    at_out = n_state + n_par
    zero = dtype(0)

    def chunk(par, inputs, h, record, scale, scratch, out, start, stop):
        n_steps = inputs.shape[0]
        for base in range(start, stop, lanes):
            for i in range(n_par):
                for lane in range(lanes):
                    scratch[(at_par + i) * lanes + lane] = par[i, min(base + lane, stop - 1)]
            for i in range(n_out):
                for lane in range(lanes):
                    scratch[(at_out + i) * lanes + lane] = zero
            first = _input_row(inputs, 0, n_inp)
            for lane in range(lanes):
                _store_rows(scratch, 0, lane, initial(_load_rows(scratch, at_par, lane, n_par), first))
            for k in range(n_steps):
                inp = _input_row(inputs, k, n_inp)
                dt = h[k]
                slot = record[k]
                for lane in range(lanes):
                    state = _load_rows(scratch, 0, lane, n_state)
                    new, output = step(state, _load_rows(scratch, at_par, lane, n_par), inp, dt)
                    _store_rows(scratch, 0, lane, new)
                    _add_rows(scratch, at_out, lane, output, slot >= 0)
                if slot >= 0 and (k + 1 == n_steps or record[k + 1] != slot):
                    share = scale[slot]
                    for i in range(n_out):
                        for lane in range(min(lanes, stop - base)):
                            out[slot, i, base + lane] += scratch[(at_out + i) * lanes + lane] * share
                        for lane in range(lanes):
                            scratch[(at_out + i) * lanes + lane] = zero

    number = types.float64 if dtype is np.float64 else types.float32
    signature = types.void(
        types.Array(number, 2, "C", readonly=True),
        types.Array(number, 2, "C", readonly=True),
        types.Array(number, 1, "C", readonly=True),
        types.Array(types.int32, 1, "C", readonly=True),
        types.Array(number, 1, "C", readonly=True),
        types.Array(number, 1, "C"),
        types.Array(number, 3, "C"),
        types.intp,
        types.intp,
    )
    # The name becomes the symbol of the machine code, and kernels of one process must not share it.
    chunk.__name__ = chunk.__qualname__ = f"chunk_{name}_{key[:16]}"
    compiled: Any = njit(nogil=True, fastmath=True, error_model="numpy", boundscheck=False)(chunk)
    if stored:
        compiled._cache = StoredKernel(chunk, key, name)
    compiled.compile(signature)
    compiled.disable_compile()
    return compiled
