"""The table of docs/proof.md: ``python -m tests.unit.proof.table_of_rates 150`` prints it (some minutes)."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial

import numpy as np
from tests.unit.proof.drawn_repairs import Sides, faulty, on_a_day, verdicts

VERDICTS = ("cured", "better", "no different", "worse", "cannot say")
Draw = Callable[[np.random.Generator, int], Sides]


def repair(before: float, after: float, **how: float) -> Draw:
    """Boost above the target before and after [kPa]."""
    return lambda rng, n: (faulty(rng, n, before, **how), faulty(rng, n, after, **how))


def days(rng: np.random.Generator, n: int) -> Sides:
    """Nobody touched the car, which holds an absolute pressure; barometers of 100 kPa with an sd of 1.5 kPa."""
    first, second = rng.normal(100.0, 1.5, 2)
    return on_a_day(rng, n, first, over=15.0), on_a_day(rng, n, second, over=15.0)


KINDS: tuple[tuple[str, Draw, tuple[int, ...], str], ...] = (
    ("untouched, 15 kPa over", repair(15.0, 15.0), (1, 2, 3), "gauge"),
    ("untouched, sound", repair(0.0, 0.0), (1, 2, 3), "gauge"),
    ("the same, scatter of 5 kPa, 15 kPa over", repair(15.0, 15.0, scatter=5.0), (3,), "gauge"),
    ("the same on two days, absolute pressure held, 15 kPa over", days, (3,), "absolute"),
    ("from 20 to 8 kPa over: still off", repair(20.0, 8.0), (1, 2, 3), "gauge"),
    ("from 5 kPa over to sound", repair(5.0, 0.0), (1, 2, 3), "gauge"),
    ("from 10 kPa over to sound", repair(10.0, 0.0), (1, 2, 3), "gauge"),
    ("from 20 kPa over to sound", repair(20.0, 0.0), (1, 2, 3), "gauge"),
    ("from sound to 10 kPa over", repair(0.0, 10.0), (1, 2, 3), "gauge"),
)


def main(count: int) -> None:
    """Print the table as Markdown, per cent of ``count`` proofs each."""
    write = sys.stdout.write
    write("| the car | pulls of each side | " + " | ".join(VERDICTS) + " |\n")
    write("|---" * (2 + len(VERDICTS)) + "|\n")
    for name, draw, pulls, controlled in KINDS:
        for n in pulls:
            found = verdicts(count, partial(draw, n=n), stream=23, controlled=controlled)
            shares = " | ".join(f"{100.0 * found[verdict] / count:.0f}" for verdict in VERDICTS)
            write(f"| {name} | {n} | {shares} |\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main(int(sys.argv[1]))
