"""Results of cars, one JSON line each: an interrupted run goes on where it stopped.

A line is found again by suite, car, seed and number of tests, and by the text of all that computes it, so
that a changed product never answers with an old result.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from evaluation.suites import DRAWN, IN_MODEL, Task, run_task

_HERE = Path(__file__).resolve().parent
_PRODUCT = _HERE.parent / "src" / "boostproof"
_COMPUTING = ("physics", "diagnosis", "bench", "car", "units.py", "quantity.py", "observation.py")
_READING = (
    "recording", "casefolder", "workflows/diagnose.py", "workflows/driven.py", "workflows/open_case.py",
    "keys.py", "sources",
)  # fmt: skip
_MAKING = {
    "S1": ("families.py", "truths.py", "session.py"),
    "S2": ("folders.py", "session.py", "../practice/cases.py"),
    "S6": ("folders.py", "session.py", "dirty.py", "../practice/cases.py"),
    "S7": ("folders.py", "dirty.py", "../practice/cases.py"),
}


def default_folder() -> Path:
    """Where results are kept: in the user's cache, outside the checkout."""
    from boostproof.physics.lanes_cache import cache_folder

    return Path(cache_folder()).parent / "evaluation"


@lru_cache(maxsize=16)
def version_of(suite: str) -> str:
    """Hash over the text of all that a suite's results depend on."""
    folders = suite not in IN_MODEL
    names = [*_COMPUTING, *(_READING if folders else ())]
    if suite in ("S2", "S6"):
        names.append("demo")
    making = _MAKING.get(suite, _MAKING["S2"] if folders else _MAKING["S1"])
    files = [path for name in names for path in _texts(_PRODUCT / name)]
    digest = hashlib.sha256()
    for path in [*files, *(_HERE / name for name in making)]:
        digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()[:16]


def _texts(path: Path) -> list[Path]:
    found = [path] if path.is_file() else sorted(path.rglob("*.py"))
    if not found:  # moved: an old result must not pass for a new one
        raise FileNotFoundError(f"{path} is not there; evaluation.results names what results depend on.")
    return found


def key_of(task: Task) -> str:
    """Name of a car's line."""
    text = f"{task.suite}\n{task.cause}\n{task.number}\n{task.base}\n{task.tests}\n{Path(task.given).name}\n{DRAWN}"
    return hashlib.sha256(f"{text}\n{version_of(task.suite)}".encode()).hexdigest()[:24]


def read_lines(path: Path) -> dict[str, dict[str, Any]]:
    """Kept results by key; a line that was cut short by an interruption is left out."""
    found: dict[str, dict[str, Any]] = {}
    if not path.is_file():
        return found
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            row = json.loads(line)
        except json.JSONDecodeError:
            continue
        found[row["key"]] = row
    return found


def run_all(
    tasks: Sequence[Task], folder: Path, *, jobs: int, run: Callable[[Task], dict[str, Any]] = run_task
) -> dict[str, dict[str, Any]]:
    """Results of all cars by key, those that are kept taken from the folder and the others computed.

    A car that ends in an error of the program is kept as such and counts as not answered.

    Parameters
    ----------
    tasks : cars
    folder : where results are kept, made if need be
    jobs : processes
    run : computes one car
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "results.jsonl"
    kept = read_lines(path)
    wanted = {key_of(t): t for t in tasks}
    missing = {k: t for k, t in wanted.items() if k not in kept}
    started = time.perf_counter()
    cut_short = path.is_file() and not path.read_bytes().endswith(b"\n") and path.stat().st_size > 0
    with path.open("a", encoding="utf-8") as file:
        if cut_short:
            file.write("\n")
        for count, (key, row) in enumerate(_computed(missing, jobs, run), start=1):
            kept[key] = {"key": key, **row}
            file.write(json.dumps(kept[key], ensure_ascii=False) + "\n")
            file.flush()
            _tell(missing[key], row, count, len(missing), started)
    return {k: kept[k] for k in wanted}


def _computed(
    missing: dict[str, Task], jobs: int, run: Callable[[Task], dict[str, Any]]
) -> Iterable[tuple[str, dict[str, Any]]]:
    if jobs <= 1:
        for key, task in missing.items():
            yield key, timed(task, run)
        return
    for name in ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ[name] = "1"  # read by the workers as they start: each uses one processor
    context = get_context("spawn")  # compiled kernels and their threads do not survive a fork
    first = context.Value("i", 0)
    with ProcessPoolExecutor(jobs, mp_context=context, initializer=_keep_to_one, initargs=(first,)) as pool:
        waiting = {pool.submit(timed, task, run): key for key, task in missing.items()}
        for done in as_completed(waiting):
            yield waiting[done], done.result()


def _keep_to_one(number: Any) -> None:
    """A worker keeps to one processor, the next in turn: the others have one of their own."""
    if hasattr(os, "sched_setaffinity"):
        mine = sorted(os.sched_getaffinity(0))
        with number.get_lock():
            place, number.value = number.value, number.value + 1
        os.sched_setaffinity(0, {mine[place % len(mine)]})


def timed(task: Task, run: Callable[[Task], dict[str, Any]]) -> dict[str, Any]:
    """One car with its times; an unexpected error is a result too."""
    wall, used = time.perf_counter(), time.process_time()
    try:
        row = run(task)
    except Exception as error:  # whatever it is, the other cars go on and the page names it
        row = {"truth": [task.cause], "steps": [], "note": {"error": f"{type(error).__name__}: {error}"[:300]}}
    row |= {"suite": task.suite, "car": task.name}
    row["engine"] = os.environ.get("BOOSTPROOF_ENGINE", "")  # results of one differ from another's by rounding
    row["seconds"] = round(time.perf_counter() - wall, 2)
    row["processor_seconds"] = round(time.process_time() - used, 2)
    return row


def _tell(task: Task, row: dict[str, Any], count: int, total: int, started: float) -> None:
    minutes = (time.perf_counter() - started) / 60.0
    left = minutes / count * (total - count)
    said = row["note"].get("error") or row["note"].get("refused") or ""
    if row["steps"]:
        answer = row["steps"][-1]["answer"]
        first = max(answer, key=lambda i: (answer[i], i))
        said = f"{first} {answer[first]:.2f} after {len(row['steps']) - 1} tests"
    text = f"{count}/{total} {task.name}: {said}; {count / minutes:.1f} cars a minute, {left:.0f} min left"
    print(text, file=sys.stderr, flush=True)
