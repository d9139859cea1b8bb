"""Which figures of the benchmarks end a run as failed."""

from __future__ import annotations

import json
import sys

import pytest
from benchmarks import __main__ as bench
from benchmarks.figure import Figure

FIGURES = "dict[str, Figure]"
# Everything that measures figures, so that nothing is measured here.
MEASURE = [name for name, one in vars(bench).items() if getattr(one, "__annotations__", {}).get("return") == FIGURES]


@pytest.mark.parametrize(
    ("value", "unit", "at_least", "marked", "fails", "fails_in_smoke"),
    [
        (1.9, "s", False, False, False, False),
        (2.1, "s", False, True, True, False),  # slow on a busy machine
        (4.1, "s", False, True, True, True),  # broken on any
        (1.9, "1/s", True, True, True, False),
        (0.9, "1/s", True, True, True, True),
        (2.1, "", False, True, True, True),
        (2.1, "kPa", False, True, True, True),
        (2.1, "GB", False, True, True, True),
        (2.1, "kB", False, True, True, True),
        (2.1, "%", False, True, True, True),
        (float("nan"), "s", False, True, True, True),
    ],
)
def test_only_clock_time_is_given_room_in_a_quick_look(
    value: float, unit: str, at_least: bool, marked: bool, fails: bool, fails_in_smoke: bool
) -> None:
    figure = Figure("a figure", value, unit, 2.0, at_least=at_least)
    assert figure.good is not marked
    assert figure.fails(smoke=False) is fails
    assert figure.fails(smoke=True) is fails_in_smoke


def test_without_a_limit_nothing_fails() -> None:
    figure = Figure("a figure", 1e9, "s")
    assert figure.good and not figure.fails(smoke=True) and not figure.fails(smoke=False)


@pytest.mark.parametrize(
    ("figure", "options", "code"),
    [
        (Figure("drawn", 2.043, "s", 2.0), ["--smoke"], 0),
        (Figure("drawn", 4.043, "s", 2.0), ["--smoke"], 1),
        (Figure("drawn", 2.043, "s", 2.0), [], 1),
        (Figure("over bare", 8.1, "", 8.0), ["--smoke"], 1),
    ],
)
def test_a_run_says_what_is_worse_and_ends_by_what_fails(
    figure: Figure, options: list[str], code: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert {"start_up", "uploads"} < set(MEASURE)
    for name in MEASURE:
        monkeypatch.setattr(bench, name, lambda *_: {})
    monkeypatch.setattr(bench, "fma_gflops", lambda: 50.0)
    monkeypatch.setattr(bench, "uploads", lambda: {"drawn": figure})
    monkeypatch.setattr(sys, "argv", ["bench", *options])
    assert bench.main() == code
    assert "WORSE THAN NEEDED" in next(line for line in capsys.readouterr().out.splitlines() if figure.name in line)
    monkeypatch.setattr(sys, "argv", ["bench", "--json", *options])
    assert bench.main() == code
    row = next(one for one in json.loads(capsys.readouterr().out)["figures"] if one["key"] == "drawn")
    assert (row["good"], row["fails"]) == (False, bool(code))
