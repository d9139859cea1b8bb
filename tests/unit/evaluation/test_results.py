"""A run that was interrupted goes on, and a changed product does not answer with old results."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from evaluation import results
from evaluation.results import key_of, read_lines, run_all
from evaluation.suites import Task

TASKS = [Task("S7", "no turbo", k, 1_000_000, 1.0, 0) for k in range(4)]


def answer(task: Task) -> dict[str, Any]:
    return {"truth": [task.cause], "steps": [], "note": {"number": task.number}}


def test_what_is_kept_is_not_computed_again(tmp_path: Path) -> None:
    asked: list[int] = []

    def counting(task: Task) -> dict[str, Any]:
        asked.append(task.number)
        return answer(task)

    run_all(TASKS[:2], tmp_path, jobs=1, run=counting)
    with (tmp_path / "results.jsonl").open("a", encoding="utf-8") as file:
        file.write('{"key": "cut sho')  # the power went
    rows = run_all(TASKS, tmp_path, jobs=1, run=counting)
    assert sorted(asked) == [0, 1, 2, 3]
    assert [rows[key_of(t)]["note"]["number"] for t in TASKS] == [0, 1, 2, 3]


def test_a_line_that_was_cut_short_spoils_only_itself(tmp_path: Path) -> None:
    run_all(TASKS[:1], tmp_path, jobs=1, run=answer)
    path = tmp_path / "results.jsonl"
    path.write_text('{"key": "cut sho' + "\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    assert len(read_lines(path)) == 1
    path.write_text('{"key": "cut sho', encoding="utf-8")
    run_all(TASKS[:2], tmp_path, jobs=1, run=answer)
    assert len(read_lines(path)) == 2


def test_an_error_of_the_program_is_a_result_and_the_others_go_on(tmp_path: Path) -> None:
    def failing(task: Task) -> dict[str, Any]:
        if task.number == 1:
            raise ZeroDivisionError("of a bin without samples")
        return answer(task)

    rows = run_all(TASKS, tmp_path, jobs=1, run=failing)
    assert rows[key_of(TASKS[1])]["note"]["error"] == "ZeroDivisionError: of a bin without samples"
    assert len(rows) == 4


def test_the_key_changes_with_car_seed_tests_and_code(monkeypatch: pytest.MonkeyPatch) -> None:
    task = TASKS[0]
    others = [replace(task, number=9), replace(task, base=2_000_000), replace(task, tests=2)]
    keys = {key_of(t) for t in (task, *others)}
    assert len(keys) == 4
    assert key_of(replace(task, weight=0.2)) == key_of(task)  # how much it counts is not computed
    monkeypatch.setattr(results, "version_of", lambda suite: "another text")
    assert key_of(task) not in keys
