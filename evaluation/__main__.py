"""``python -m evaluation``: run suites of cars whose fault is known, print the scores, write the page."""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from practice.cases import practice_folder

from evaluation import exact, suites
from evaluation.metrics import Result
from evaluation.page import write_page
from evaluation.results import default_folder, key_of, run_all
from evaluation.suites import BASES, CI_TESTS, LEAST, SUITES, TESTS, TIERS, Task

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "evaluation"


def say(text: str) -> None:
    """Progress, beside the result on stdout."""
    print(text, file=sys.stderr, flush=True)


def chosen_tasks(given: argparse.Namespace) -> dict[str, list[Task]]:
    """Cars of every suite that was asked for and that this tier holds."""
    numbers = TIERS[given.tier]
    wanted = given.suite or [s for s in SUITES if s in numbers]
    tests = given.tests if given.tests is not None else CI_TESTS if given.tier == "ci" else TESTS
    out: dict[str, list[Task]] = {}
    for suite in wanted:
        if suite == "S8":
            continue
        count = given.cars.get(suite, given.cars.get("", numbers.get(suite, TIERS["release"][suite])))
        if suite == "practice" and not practice_folder().is_dir():
            say(f"There are no practice cases at {practice_folder()}: left out.")
            continue
        least = 0 if given.cars else LEAST[given.tier]
        out[suite] = suites.tasks_of(suite, count, base=BASES[set_of(given, suite)], least=least, tests=tests)
    return out


def as_results(tasks: Sequence[Task], rows: dict[str, dict[str, Any]]) -> list[Result]:
    """Rows of the file of results as the scores take them."""
    out = []
    for task in tasks:
        row = rows[key_of(task)]
        note = {**row["note"], "processor_seconds": row["processor_seconds"], "engine": row.get("engine", "")}
        out.append(
            Result(task.suite, task.name, task.cause, tuple(row["truth"]), task.weight, tuple(row["steps"]), note)
        )
    return out


def exact_problems(given: argparse.Namespace) -> str:
    """Lines of the suite with exact answers; empty where it is not asked for."""
    if "S8" not in (given.suite or TIERS[given.tier]):
        return ""
    usual = TIERS[given.tier].get("S8", TIERS["release"]["S8"])
    count = given.cars.get("S8", given.cars.get("", usual))
    return exact.page(count, seed=BASES[set_of(given, "S8")])


def parser() -> argparse.ArgumentParser:
    """The command line."""
    out = argparse.ArgumentParser(prog="dev.py evaluate", description=__doc__)
    out.add_argument("--suite", nargs="+", choices=SUITES, help="all of the tier by default")
    out.add_argument("--tier", choices=tuple(TIERS), default="ci", help="how many cars; ci by default")
    out.add_argument(
        "--cars", nargs="+", type=_number, default=[], metavar="N", help="so many cars; SUITE=N for one suite alone"
    )
    out.add_argument("--tests", type=int, help="at most so many tests a car")
    out.add_argument(
        "--set", nargs="+", type=_seeds, default=[], metavar="SET",
        help="which seeds: dev (for changing the product), score (usual), fresh or unseen; SUITE=SET for one suite",
    )  # fmt: skip
    out.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1), help="processes")
    out.add_argument("--out", type=Path, help="folder of kept results; in the user's cache by default")
    out.add_argument("--write", action="store_true", help="write docs/evaluation")
    out.add_argument("--json", action="store_true", help="print one line a car instead of the page")
    return out


def read_command(arguments: Sequence[str] | None = None) -> argparse.Namespace:
    """What was asked for; numbers of cars and sets of seeds by suite, "" for all others."""
    given = parser().parse_args(arguments)
    given.cars, given.set = dict(given.cars), dict(given.set)
    return given


def _of_suite(text: str) -> tuple[str, str]:
    """Suite and the rest of ``S1=800``; of ``800`` no suite, which stands for all."""
    suite, _, rest = text.rpartition("=")
    if suite and suite not in SUITES:
        raise argparse.ArgumentTypeError(f"no suite is called {suite}")
    return suite, rest


def _number(text: str) -> tuple[str, int]:
    """Suite and number of cars."""
    suite, number = _of_suite(text)
    return suite, int(number)


def _seeds(text: str) -> tuple[str, str]:
    """Suite and set of seeds."""
    suite, name = _of_suite(text)
    if name not in BASES:
        raise argparse.ArgumentTypeError(f"no set of seeds is called {name}: {', '.join(BASES)}")
    return suite, name


def set_of(given: argparse.Namespace, suite: str) -> str:
    """The set of seeds that a suite's cars are drawn from."""
    return str(given.set.get(suite, given.set.get("", "score")))


def main(arguments: Sequence[str] | None = None) -> int:
    """Run and report; 1 where a car ended in an error of the program."""
    given = read_command(arguments)
    started = time.perf_counter()
    tasks = chosen_tasks(given)
    every = [t for some in tasks.values() for t in some]
    rows = run_all(every, given.out or default_folder(), jobs=given.jobs)
    results = {suite: as_results(some, rows) for suite, some in tasks.items()}
    tests = max((t.tests for t in every), default=0)
    page = write_page(
        PAGE if given.write else None,
        results,
        tier=given.tier,
        chosen=_told(given),
        seeds={suite: set_of(given, suite) for suite in tasks},
        tests=tests,
        exact=exact_problems(given),
    )
    if given.json:
        for task in every:
            print(json.dumps(rows[key_of(task)], ensure_ascii=False))
    else:
        print(page)
    say(f"{len(every)} cars in {(time.perf_counter() - started) / 60.0:.1f} minutes.")
    return 1 if any("error" in r.note for some in results.values() for r in some) else 0


def _told(given: argparse.Namespace) -> str:
    out = f" --suite {' '.join(given.suite)}" if given.suite else ""
    if given.cars:
        out += " --cars " + " ".join(f"{suite}={n}" if suite else str(n) for suite, n in given.cars.items())
    if given.tests is not None:
        out += f" --tests {given.tests}"
    if given.set:
        out += " --set " + " ".join(f"{suite}={name}" if suite else name for suite, name in given.set.items())
    return out


if __name__ == "__main__":
    raise SystemExit(main())
