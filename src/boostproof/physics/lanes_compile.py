"""The numba half of ``lanes.py``: everything that needs the compiler. Imported only when a kernel is built.

Registers the helpers of ``ops.py`` as single instructions and every component as an inlined function,
narrows literals to float32, and keeps compiled kernels on disk.
"""

# numba's extension points and llvmlite are only partly typed, or typed for other uses than extending.
# mypy: disable-error-code="no-untyped-call, untyped-decorator, import-untyped, no-untyped-def"

from __future__ import annotations

import operator
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from llvmlite import ir as llvm
from numba import njit, types
from numba.core import ir
from numba.core.caching import CompileResultCacheImpl, FunctionCache
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import FunctionPass, register_pass
from numba.core.untyped_passes import ReconstructSSA
from numba.extending import intrinsic, lower_builtin, overload, type_callable

from boostproof.physics import lanes_cache, ops

LANES = 32  # candidates per block: two 512-bit or four 256-bit registers of float32

# ---------------------------------------------------------------- literals

_FOLD: dict[Any, Callable[[Any, Any], Any]] = {
    operator.add: operator.add,
    operator.sub: operator.sub,
    operator.mul: operator.mul,
    operator.truediv: operator.truediv,
}
_COMPARE = (operator.lt, operator.le, operator.gt, operator.ge, operator.eq, operator.ne)


def _is_number(value: object) -> bool:
    return isinstance(value, float | int) and not isinstance(value, bool)


@register_pass(mutates_CFG=False, analysis_only=False)
class NarrowLiterals(FunctionPass):
    """Give number constants the precision of the lanes, as NumPy does with Python numbers.

    Without it a float literal is float64, and so is everything it touches. Constants among themselves
    are first folded in float64. Integers are left alone except where they meet a value in arithmetic.
    """

    _name = "boostproof_narrow_literals"

    def __init__(self) -> None:
        FunctionPass.__init__(self)

    def run_pass(self, state: Any) -> bool:
        narrow = _lane_type(state.args)
        func_ir = state.func_ir
        known: dict[str, Any] = {}  # variable name -> constant Python value (number, tuple, module)
        changed = False
        for label in sorted(func_ir.blocks):
            block = func_ir.blocks[label]
            body: list[Any] = []
            for stmt in block.body:
                if isinstance(stmt, ir.Assign):
                    changed |= self._assign(stmt, known, narrow, body, block.scope)
                body.append(stmt)
            block.body = body
        if changed:
            from numba.core.ir_utils import build_definitions

            func_ir._definitions = build_definitions(func_ir.blocks)
        return changed

    def _assign(self, stmt: Any, known: dict[str, Any], narrow: Any, body: list[Any], scope: Any) -> bool:
        value, name = stmt.value, stmt.target.name
        if isinstance(value, ir.Const | ir.Global | ir.FreeVar):
            known[name] = value.value
        elif isinstance(value, ir.Var) and value.name in known:
            known[name] = known[value.name]
        elif isinstance(value, ir.Expr):
            self._fold(value, name, known)
        constant = known.get(name)
        if isinstance(constant, float):
            stmt.value = ir.Const(narrow(constant), stmt.loc)
            return True
        if isinstance(constant, tuple) and constant and all(_is_number(x) for x in constant):
            if any(isinstance(x, float) for x in constant):
                stmt.value = ir.Const(tuple(narrow(x) for x in constant), stmt.loc)
                return True
            return False
        if isinstance(value, ir.Expr) and value.op == "binop" and value.fn in (*_FOLD, *_COMPARE):
            return self._integers(stmt, known, narrow, body, scope)
        return False

    @staticmethod
    def _fold(expr: Any, name: str, known: dict[str, Any]) -> None:
        """Note the constant value of *expr* where it has one."""
        if expr.op == "binop" and expr.fn in _FOLD:
            left, right = known.get(expr.lhs.name), known.get(expr.rhs.name)
            if _is_number(left) and _is_number(right) and not (expr.fn is operator.truediv and right == 0):
                known[name] = _FOLD[expr.fn](left, right)
        elif expr.op == "unary" and expr.fn in (operator.neg, "-"):
            inner: Any = known.get(expr.value.name)
            if _is_number(inner):
                known[name] = -inner
        elif expr.op == "getattr":
            owner = known.get(expr.value.name)
            if type(owner).__name__ == "module" and hasattr(owner, expr.attr):
                known[name] = getattr(owner, expr.attr)
        elif expr.op == "static_getitem":
            owner = known.get(expr.value.name)
            if isinstance(owner, tuple) and isinstance(expr.index, int):
                known[name] = owner[expr.index]

    @staticmethod
    def _integers(stmt: Any, known: dict[str, Any], narrow: Any, body: list[Any], scope: Any) -> bool:
        """In ``2 * x`` make the 2 a lane number: numba widens int64 with float32 to float64."""
        expr = stmt.value
        sides = [known.get(expr.lhs.name), known.get(expr.rhs.name)]
        whole = [isinstance(s, int) and not isinstance(s, bool) for s in sides]
        if whole[0] == whole[1]:
            return False
        var = scope.redefine("lane_literal", stmt.loc)
        body.append(ir.Assign(ir.Const(narrow(sides[whole.index(True)]), stmt.loc), var, stmt.loc))
        if whole[0]:
            expr.lhs = var
        else:
            expr.rhs = var
        return True


def _lane_type(args: Any) -> Any:
    """float64 where an argument is float64 (the audit kernel), else float32."""
    pending = list(args)
    while pending:
        t = pending.pop()
        if isinstance(t, types.UniTuple | types.Tuple):
            pending.extend(t.types)
        elif t == types.float64:
            return np.float64
    return np.float32


class LaneCompiler(CompilerBase):
    """numba's usual pipeline with :class:`NarrowLiterals` before type inference."""

    def define_pipelines(self) -> list[Any]:
        passes = DefaultPassBuilder.define_nopython_pipeline(self.state)
        passes.add_pass_after(NarrowLiterals, ReconstructSSA)
        passes.finalize()
        return [passes]


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


_registered: set[int] = set()
_lock = threading.RLock()


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
        from numba.core.cgutils import unpack_tuple

        data = context.make_array(signature.args[0])(context, builder, args[0]).data
        kinds = signature.args[3].types
        for i, value in enumerate(unpack_tuple(builder, args[3], len(kinds))):
            at = builder.add(args[2], args[2].type((start + i) * LANES), flags=("nsw", "nuw"))
            value = context.cast(builder, value, kinds[i], scratch.dtype)
            builder.store(value, builder.gep(data, [at], inbounds=True))
        return context.get_dummy_value()

    return sig, codegen


@_typed_intrinsic
def _add_rows(typingctx: Any, scratch: Any, first: Any, lane: Any, values: Any, weight: Any) -> Any:
    """Add the tuple *values* times *weight* of *lane* to consecutive rows of the scratch array."""
    if not isinstance(first, types.IntegerLiteral) or not isinstance(values, types.BaseTuple):
        return None
    start = first.literal_value
    sig = types.void(scratch, first, lane, values, weight)

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        from numba.core.cgutils import unpack_tuple

        data = context.make_array(signature.args[0])(context, builder, args[0]).data
        kinds = signature.args[3].types
        for i, value in enumerate(unpack_tuple(builder, args[3], len(kinds))):
            at = builder.add(args[2], args[2].type((start + i) * LANES), flags=("nsw", "nuw"))
            pointer = builder.gep(data, [at], inbounds=True)
            value = context.cast(builder, value, kinds[i], scratch.dtype)
            value = builder.fmul(value, args[4], flags=_FAST)
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


def scratch_rows(n_state: int, n_par: int, n_out: int) -> int:
    """Rows of LANES numbers that the kernel needs as scratch."""
    return n_state + n_par + n_out


def build(
    step: Callable[..., Any],
    initial: Callable[..., Any],
    sizes: tuple[int, int, int, int],
    dtype: Any,
    key: str,
    name: str,
) -> Any:
    """Compile the chunk function of a model, or load it from disk where *key* was compiled before.

    Returns ``chunk(par, inputs, h, record, scale, scratch, out, start, stop)``, which runs candidates
    ``start..stop`` and adds the means over their recorded steps to *out* (arrays as in
    ``lanes.Kernel.run``; ``scale`` (n_slots,) is one over the number of steps of a slot).
    """
    register()
    n_state, n_par, n_inp, n_out = sizes
    lanes = LANES
    at_par = n_state
    at_out = n_state + n_par
    one, zero = dtype(1), dtype(0)

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
                weight = one if slot >= 0 else zero
                for lane in range(lanes):
                    state = _load_rows(scratch, 0, lane, n_state)
                    new, output = step(state, _load_rows(scratch, at_par, lane, n_par), inp, dt)
                    _store_rows(scratch, 0, lane, new)
                    _add_rows(scratch, at_out, lane, output, weight)
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
    compiled: Any = njit(nogil=True, fastmath=True, error_model="numpy", boundscheck=False)(chunk)
    compiled._cache = _Cache(chunk, key, name)
    compiled.compile(signature)
    compiled.disable_compile()
    return compiled


# ---------------------------------------------------------------- kernels on disk


class _Locator:
    """Tells numba's cache where to keep a kernel: a folder of ours, a file name with the key."""

    def __init__(self, key: str) -> None:
        self._key = key
        self._folder = str(lanes_cache.cache_folder())
        self._py_file = __file__

    def ensure_cache_path(self) -> None:
        Path(self._folder).mkdir(parents=True, exist_ok=True)

    def get_cache_path(self) -> str:
        return self._folder

    def get_source_stamp(self) -> str:
        return self._key

    def get_disambiguator(self) -> str:
        return self._key[:16]


class _Entry(CompileResultCacheImpl):
    """File names and (de)serialising for one kernel."""

    def __init__(self, function: Callable[..., Any], key: str, name: str) -> None:
        self._lineno = function.__code__.co_firstlineno
        self._locator = _Locator(key)
        self._filename_base = self.get_filename_base(name, "")


class _Cache(FunctionCache):
    """numba's cache on disk, keyed by the text of the equations; it never makes a run fail.

    Files are written under another name and then moved, so that processes may share the folder.
    """

    def __init__(self, function: Callable[..., Any], key: str, name: str) -> None:
        self._key = key
        self._prefix = f"{name}-"
        self._impl_class: Any = lambda f: _Entry(f, key, name)
        super().__init__(function)

    def _index_key(self, sig: Any, codegen: Any) -> Any:
        # Not numba's own key, which holds pickled functions and so differs from process to process.
        return sig, codegen.magic_tuple(), self._key

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        try:
            return super().load_overload(sig, target_context)
        except Exception:  # a damaged file: compile again
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        try:
            super().save_overload(sig, data)
        except OSError:  # disk full or taken away: the kernel still works, it is compiled next time again
            return
        lanes_cache.prune(Path(self._cache_path), self._prefix)
