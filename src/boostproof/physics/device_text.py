"""The equations as CUDA C: one thread takes one candidate through all steps, its state in registers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from boostproof.physics.trace import Constant, Operand, Operation, Program, traced

_INFIX = {
    "add": "+", "subtract": "-", "multiply": "*", "divide": "/", "less": "<", "less_equal": "<=", "greater": ">",
    "greater_equal": ">=", "and": "&&", "or": "||",
}  # fmt: skip
_CALLS = {"sqrt": "sqrt", "absolute": "fabs", "minimum": "lesser", "maximum": "larger", "where": "chosen", "sign": "sign"}

_HEAD = """typedef {real} real;
#define HERE static __device__ __forceinline__
HERE real lesser(real a, real b) {{ return a < b ? a : b; }}
HERE real larger(real a, real b) {{ return a > b ? a : b; }}
HERE real chosen(bool c, real a, real b) {{ return c ? a : b; }}
HERE real sign(real x) {{ return x > (real)0 ? (real)1 : x < (real)0 ? (real)-1 : (real)0; }}
"""
_KERNEL = """
extern "C" __global__ void pulls(const real* __restrict__ par, const real* __restrict__ inputs,
    const real* __restrict__ h, const int* __restrict__ record, const real* __restrict__ scale,
    real* __restrict__ out, const int n, const int n_steps) {{
  const int lane = blockIdx.x * blockDim.x + threadIdx.x;
  if (lane >= n) return;
{parameters}
  real {states};
  {{
    const real* now = inputs;
{inputs}
{initial}
  }}
  real {sums};
  {clear}
  for (int k = 0; k < n_steps; k++) {{
    const real* now = inputs + (long)k * {n_inp};
{inputs}
    const real dt = h[k];
    const int slot = record[k];
{step}
    if (slot >= 0) {{
      {add}
      if (k + 1 == n_steps || record[k + 1] != slot) {{
        real* place = out + (long)slot * {n_out} * n + lane;
        const real share = scale[slot];
        {write}
        {clear}
      }}
    }}
  }}
}}
"""


def device_text(
    step: Callable[..., Any], initial: Callable[..., Any], sizes: tuple[int, int, int, int], *, double: bool = False
) -> str:
    """The kernel of a model as CUDA C.

    ``pulls(par, inputs, h, record, scale, out, n, n_steps)``, arrays as in ``lanes.Kernel.run`` and one thread for
    every candidate; ``scale`` (n_slots,) is one over the number of steps of a slot, ``out`` holds zeros.

    Parameters
    ----------
    step, initial, sizes : of the model, as `lanes.make_kernel` takes them: numbers of states, parameters, inputs
        and outputs
    double : in double precision

    Raises
    ------
    TypeError
        If the text of the model does what equation text may not.
    """
    n_state, n_par, n_inp, n_out = sizes
    state, par = [f"s{i}" for i in range(n_state)], [f"p{i}" for i in range(n_par)]
    inp, sums = [f"i{i}" for i in range(n_inp)], [f"o{i}" for i in range(n_out)]
    start = traced(initial, (n_par, n_inp))
    moves = traced(step, (n_state, n_par, n_inp, None))
    begun, first = _lines(start, [*par, *inp], "a", double)
    taken, results = _lines(moves, [*state, *par, *inp, "dt"], "t", double)
    set_all = [f"{name} = {value};" for name, value in zip(state, first, strict=True)]
    # a result may be an old state as it is: all are read before any is written
    news = [f"const real n{i} = {value};" for i, value in enumerate(results)]
    adds = [f"{name} += n{n_state + i};" for i, name in enumerate(sums)]
    return _HEAD.format(real="double" if double else "float") + _KERNEL.format(
        parameters="\n".join(f"  const real p{i} = par[(long){i} * n + lane];" for i in range(n_par)),
        states=", ".join(state),
        inputs="\n".join(f"    const real i{i} = now[{i}];" for i in range(n_inp)),
        initial="\n".join(f"    {line}" for line in (*begun, *set_all)),
        sums=", ".join(sums),
        clear=" ".join(f"{name} = (real)0;" for name in sums),
        n_inp=n_inp,
        n_out=n_out,
        step="\n".join(f"    {line}" for line in (*taken, *news, *[f"s{i} = n{i};" for i in range(n_state)])),
        add=" ".join(adds),
        write=" ".join(f"place[(long){i} * n] += {name} * share;" for i, name in enumerate(sums)),
    )


def _lines(program: Program, names: Sequence[str], letter: str, double: bool) -> tuple[list[str], list[str]]:
    """Statements of a program, and what its results are called in them."""

    def called(operand: Operand) -> str:
        if isinstance(operand, Constant):
            return repr(operand.value) if double else f"{operand.value!r}f"
        return names[operand] if operand < program.given else f"{letter}{operand}"

    lines = []
    for place, operation in program.needed():
        kind = "bool" if operation.condition else "real"
        lines.append(f"const {kind} {letter}{place} = {_expression(operation, [called(o) for o in operation.of])};")
    return lines, [called(result) for result in program.results]


def _expression(operation: Operation, of: Sequence[str]) -> str:
    if operation.kind == "negative":
        return f"-{of[0]}"
    if operation.kind in _INFIX:
        return f"({of[0]}) {_INFIX[operation.kind]} ({of[1]})"  # a constant may carry a sign of its own
    return f"{_CALLS[operation.kind]}({', '.join(of)})"
