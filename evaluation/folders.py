"""Case folders as cars: written by the demo's simulator or for practice, diagnosed by the whole product."""

from __future__ import annotations

import re
import shutil
import tempfile
import tomllib
from itertools import pairwise
from pathlib import Path

from practice.cases import answer_of

from evaluation.session import Step, from_readings

_HEAD = re.compile(r"^\[\[reading\]\]\s*$", re.MULTILINE)


def split_readings(text: str) -> tuple[str, dict[str, list[str]]]:
    """What stands before the first reading, and the text of the readings by test in the order done.

    >>> split_readings('format = 1\\n[[reading]]\\ntest = "seat-leak"\\ngap = "none"\\n')[1]
    {'seat-leak': ['[[reading]]\\ntest = "seat-leak"\\ngap = "none"\\n']}
    """
    starts = [m.start() for m in _HEAD.finditer(text)] + [len(text)]
    found: dict[str, list[str]] = {}
    for begin, end in pairwise(starts):
        part = text[begin:end]
        found.setdefault(tomllib.loads(part)["reading"][0]["test"], []).append(part)
    return text[: starts[0]], found


def said_of(folder: Path) -> list[str]:
    """Kinds of the findings about a case's recordings, as the diagnosis makes them before it infers."""
    from boostproof.casefolder import read_case
    from boostproof.workflows.driven import read_driven

    return sorted({f.kind for f in read_driven(read_case(folder))[1]})


def session(folder: Path, *, tests: int) -> tuple[list[Step], list[str]]:
    """Diagnose a case on its log, then with its readings one at a time.

    Parameters
    ----------
    folder : the case; it is copied and not touched
    tests : at most so many readings

    Returns
    -------
    steps, and the kinds of the findings of the first step
    """
    from boostproof.workflows.diagnose import diagnose

    readings = folder / "readings.toml"
    head, held = split_readings(readings.read_text(encoding="utf-8")) if readings.is_file() else ("", {})
    kinds: list[str] = []
    with tempfile.TemporaryDirectory(prefix="boostproof-evaluation-") as place:
        copy = Path(place) / "case"
        shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("truth.toml", "readings.toml"))

        def run(done: tuple[str, ...]) -> tuple[dict[str, float], list[tuple[str, float, float]], float]:
            if done:
                text = head + "".join(part for test in done for part in held[test])
                (copy / "readings.toml").write_text(text, encoding="utf-8")
            verdict = diagnose(copy, seed=1, fresh=True)
            if not done:
                kinds.extend(sorted({f.kind for f in verdict.findings}))
            open_tests = [(t.id, t.cost, t.minutes_saved) for t in verdict.next_tests]
            return answer_of(verdict), open_tests, verdict.fit.ess

        steps = from_readings(run, held, tests=tests)
    return steps, kinds
