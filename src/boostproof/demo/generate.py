"""Write a set of cases: ``python -m boostproof.demo.generate OUTDIR --count N --seed S [--cause ID]``."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from .case import make_case
from .faults import FAULTS

PAIRS = (
    "port-too-small + gate-not-seating",
    "charge-leak + spring-weak",
    "signal-line-leak + exhaust-restricted",
    "controller-set-high + charge-leak",
    "sensor-scale-wrong + spring-too-strong",
    "turbo-worn + exhaust-restricted",
    "diaphragm-leak + spring-weak",
    "gate-travel-limited + signal-line-restricted",
)


def generate(
    directory: str | Path, *, count: int, seed: int, cause: str | None = None, pairs: bool = False
) -> list[Path]:
    """Write ``count`` cases spread evenly over the causes, or all of one ``cause``; return the folders.

    ``pairs`` adds the pairs of :data:`PAIRS` to the causes that are gone through.
    """
    rng = np.random.default_rng(seed)
    known = [*FAULTS, *(PAIRS if pairs else ())]
    order = [known[int(k)] for _ in range(-(-count // len(known))) for k in rng.permutation(len(known))]
    folders = []
    for n in range(count):
        chosen = cause or order[n]
        severity = round(float(rng.uniform(0.05, 1.0)), 3)
        case_seed = int(rng.integers(2**31))
        folders.append(
            make_case(Path(directory) / f"case-{n + 1:04d}", cause=chosen, severity=severity, seed=case_seed)
        )
    return folders


def main(arguments: Sequence[str] | None = None) -> int:
    """The command line; exit status 0 when all cases are written."""
    parser = argparse.ArgumentParser(
        prog="python -m boostproof.demo.generate", description="Write invented cases."
    )
    parser.add_argument("directory", type=Path)
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--cause", help="one cause for all: " + ", ".join(FAULTS) + ", or two joined by ' + '"
    )
    parser.add_argument("--pairs", action="store_true", help="also go through pairs of causes")
    given = parser.parse_args(arguments)
    if given.cause is not None and any(part not in FAULTS for part in given.cause.split(" + ")):
        parser.error(f"unknown cause {given.cause!r}")
    folders = generate(
        given.directory, count=given.count, seed=given.seed, cause=given.cause, pairs=given.pairs
    )
    sys.stderr.write(f"{len(folders)} cases in {given.directory}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
