"""The page says what was measured, from results alone, and the same results give the same bytes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from evaluation.metrics import Result
from evaluation.page import said_so, write_page


def made(suite: str, count: int) -> list[Result]:
    """Cars of which two in three are right, with answers that say so."""
    out = []
    for k in range(count):
        truth, other = ("charge-leak", "turbo-worn") if k % 2 else ("turbo-worn", "charge-leak")
        first, second = (truth, other) if k % 3 else (other, truth)
        answer = {first: 0.66, second: 0.24, "healthy": 0.06, "none-of-these": 0.04}
        step = {"test": "", "minutes": 10.0, "answer": answer, "least_size": 44.0}
        note = {"processor_seconds": 30.0, "findings": [], "family": "x"}
        out.append(Result(suite, f"{suite} {truth} {k}", truth, (truth,), 1.0, (step, step), note))
    return out


def written(folder: Path, results: dict[str, list[Result]]) -> str:
    return write_page(folder, results, tier="issue", chosen="", seeds=dict.fromkeys(results, "score"), tests=2)


def test_page_and_picture_are_written_and_do_not_change(tmp_path: Path) -> None:
    results = {"S1": made("S1", 60)}
    text = written(tmp_path / "one", results)
    assert (tmp_path / "one" / "index.md").read_text(encoding="utf-8") == text
    assert "| first cause right, log alone | 60 | 0.667 |" in text
    assert "60 cars, 30 processor seconds each" in text
    written(tmp_path / "two", results)
    pictures = [(tmp_path / name / "S1.svg").read_bytes() for name in ("one", "two")]
    assert pictures[0] == pictures[1]


def test_marks_are_of_two_tests_and_a_table_tells_of_more(tmp_path: Path) -> None:
    """Right only after the third test: no mark may count it, the row of three tests must."""

    def step(right: float) -> dict[str, object]:
        answer = {"charge-leak": right, "turbo-worn": 1.0 - right}
        return {"test": "", "minutes": 10.0, "answer": answer, "least_size": 44.0}

    steps = tuple(step(p) for p in (0.2, 0.3, 0.4, 0.9))
    note = {"processor_seconds": 1.0, "findings": [], "family": "x"}
    cars = [Result("S1", f"{k}", "charge-leak", ("charge-leak",), 1.0, steps, note) for k in range(40)]
    text = written(tmp_path, {"S1": cars})
    assert "| first cause right after two tests at most | 40 | 0.000 |" in text
    assert "| 2 | 2.00 | 0.00 | 0.40 | 0.00 |" in text
    assert "| 3 | 3.00 | 1.00 | 0.90 | 0.00 |" in text


def test_refusals_and_errors_are_counted_and_named(tmp_path: Path) -> None:
    refused = Result("S2", "a", "charge-leak", ("charge-leak",), 1.0, (), {"refused": "no-pull", "processor_seconds": 1.0})
    failed = Result("S2", "b", "charge-leak", ("charge-leak",), 1.0, (), {"error": "KeyError: x", "processor_seconds": 1.0})
    text = written(tmp_path, {"S2": [*made("S2", 40), refused, failed]})
    assert "refused: no-pull 1" in text
    assert "errors of the program: 1 (b: KeyError: x)" in text
    assert "| first cause right, log alone | 40 |" in text


def test_logs_without_a_turbo_must_all_be_told(tmp_path: Path) -> None:
    notes = [{"findings": ["naturally-aspirated"]}, {"refused": "naturally-aspirated"}, {"findings": ["gap-in-log"]}]
    assert [said_so(n) for n in notes] == [True, True, False]
    cars = [Result("S7", "x", "no turbo", ("no turbo",), 1.0, (), {**n, "processor_seconds": 0.1}) for n in notes]
    assert "| told to be without a turbo | 3 | 0.667 | ≥ 1 | **not met** |" in written(tmp_path, {"S7": cars})


def test_a_struck_cause_is_judged_by_what_is_told_to_be_unknown(tmp_path: Path) -> None:
    answer = {"none-of-these": 0.8, "charge-leak": 0.2}
    step = {"test": "", "minutes": 0.0, "answer": answer, "least_size": 44.0}
    cars = [
        Result("S3", f"{k}", cause, ("none-of-these",), 1.0, (step,), {"processor_seconds": 1.0})
        for k, cause in enumerate(np.repeat(["turbo-worn", "spring-weak"], 20).tolist())
    ]
    text = written(tmp_path, {"S3": cars})
    assert "| told to be none of the known causes | 40 | 1.000 |" in text
