"""What a person reads: the text of ``inspect``, the lists, the progress line."""

from __future__ import annotations

import io
import sys
from typing import Any

import pytest

from boostproof.cli.layout import as_table, finding_lines
from boostproof.cli.progress import Progress
from boostproof.cli.show_inspection import show_inspection
from boostproof.report.words import from_kpa


def answer(**changes: Any) -> dict[str, Any]:
    """An answer of the shape in formats.md; invented figures."""
    base: dict[str, Any] = {
        "format": 1,
        "file": {"kind": "csv", "rows": 4312, "rate_hz": 10.0},
        "channels": [
            {
                "name": "manifold_pressure", "column": "MAP", "unit": "kPa", "reference": "abs",
                "sure": 0.97, "why": "reads the barometer with the engine off", "lost_cells": 3,
            }
        ],
        "pulls": [
            {
                "recording": "log.csv", "from_s": 12.41, "to_s": 18.93, "rpm_from": 2051.0, "rpm_to": 6481.0,
                "full_load": True, "ended": "lifted",
                "metrics": {
                    "boost_threshold_rpm": {"value": 2903.0, "sd": 30.0},
                    "knee_rpm": {"value": 3456.0, "sd": 40.0},
                    "knee_kpa_gauge": {"value": 100.0, "sd": 1.0},
                    "plateau_kpa_gauge": None,
                    "creep_kpa_per_1000rpm": {"value": 10.0, "sd": 1.0},
                    "creep_from_rpm": {"value": 5200.0, "sd": 50.0},
                },
            }
        ],
        "findings": [],
    }  # fmt: skip
    return base | changes


def test_inspect_says_what_was_read_and_what_the_pull_shows() -> None:
    text = show_inspection(answer(), name="log.csv", units="psi", width=100)
    assert "log.csv: CSV, 4,312 rows, 10 a second" in text
    assert 'manifold pressure  kPa abs  97 %  "MAP"; 3 cells unreadable; reads the barometer' in text
    assert "1  12.4 to 18.9 s, 2,050 to 6,480 rpm, full load, then lifted" in text
    # 100 kPa = 14.5038 psi (NIST SP 811, factor of the pound-force per square inch, from memory)
    assert "knee 14.5 psi at 3,460 rpm" in text
    assert "creeps up 1.5 psi per 1,000" in text
    assert "plateau" not in text  # null: the pull cannot show it


def test_a_taper_is_said_to_fall() -> None:
    pull = dict(answer()["pulls"][0], metrics={"creep_kpa_per_1000rpm": {"value": -20.0, "sd": 1.0}})
    text = show_inspection(answer(pulls=[pull]), name="log.csv", units="bar", width=100)
    assert "falls 0.20 bar per 1,000 rpm" in text and "creeps" not in text


def test_what_no_log_can_show_is_not_said() -> None:
    figures = {
        "creep_kpa_per_1000rpm": {"value": -0.5, "sd": 0.4}, "creep_from_rpm": {"value": 3400.0, "sd": 30.0},
        "spike_kpa": {"value": 0.7, "sd": 0.5}, "settling_s": {"value": 0.0, "sd": 0.1},
    }  # fmt: skip
    pull = dict(answer()["pulls"][0], metrics=figures)
    text = show_inspection(answer(pulls=[pull]), name="log.csv", units="psi", width=100)
    assert "holds level from 3,400 rpm" in text and "spike" not in text and "falls" not in text


def test_a_table_without_time_counts_rows() -> None:
    file = {"kind": "csv", "rows": 17, "rate_hz": None}
    pull = dict(answer()["pulls"][0], from_s=0.0, to_s=16.0)
    text = show_inspection(answer(file=file, pulls=[pull]), name="log.csv", units="psi", width=100)
    assert "1  rows 1 to 17, 2,050 to 6,480 rpm" in text


@pytest.mark.parametrize("width", [80, 120])
def test_headers_and_channels_are_never_cut(width: int) -> None:
    channel = dict(
        answer()["channels"][0], name="exhaust_temperature_before_turbine", unit="C", reference=None,
        column="Exhaust gas temperature before the turbine wheel (°C)",
    )  # fmt: skip
    text = " ".join(show_inspection(answer(channels=[channel]), name="log.csv", units="psi", width=width).split())
    assert "exhaust temperature before turbine" in text and "before the turbine wheel" in text and "…" not in text


def test_nothing_found_is_said() -> None:
    text = show_inspection(answer(channels=[], pulls=[]), name="log.csv", units="kPa", width=80)
    assert "none was recognised" in text and "no full-load run was found" in text


def test_findings_are_listed_with_what_to_do() -> None:
    where = "log.csv, 3.0 to 4.0 s"
    finding = {"kind": "gap", "where": where, "says": "The clock jumps.", "do": "Log again."}
    text = show_inspection(answer(findings=[finding]), name="log.csv", units="kPa", width=100)
    assert "- log.csv, 3.0 to 4.0 s: The clock jumps. Log again." in text


@pytest.mark.parametrize("width", [60, 80, 110])
def test_lines_fit_the_terminal(width: int) -> None:
    long = "a sentence that goes on for quite a while " * 6
    channel = dict(answer()["channels"][0], why=long)
    finding = {"kind": "x", "where": "log.csv", "says": long, "do": ""}
    text = show_inspection(
        answer(channels=[channel], findings=[finding]), name="log.csv", units="psi", width=width
    )
    assert max(len(line) for line in text.splitlines()) <= width


@pytest.mark.parametrize(("units", "text"), [("psi", "14.5 psi"), ("bar", "1.00 bar"), ("kPa", "100 kPa")])
def test_pressures_come_in_the_chosen_unit(units: str, text: str) -> None:
    assert from_kpa(100.0, units) == text


def test_a_table_keeps_every_word_of_its_last_column() -> None:
    words = [f"word{i}" for i in range(60)]
    text = as_table(("a", "b"), [("x" * 90, " ".join(words))], 70)
    assert text.split()[-60:] == words
    assert "…" in text  # a first column wider than a third of the screen is cut, and shows that it is


def test_a_finding_without_a_place_or_an_advice_reads_as_a_sentence() -> None:
    assert finding_lines([{"kind": "x", "where": "", "says": "It is so.", "do": ""}], 80) == ["  - It is so."]


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_is_silent_when_nobody_watches(capsys: pytest.CaptureFixture[str]) -> None:
    with Progress() as progress:
        progress("halfway", 0.5)
    assert capsys.readouterr() == ("", "")


def test_progress_on_a_terminal_is_one_line_that_goes_away(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with pytest.raises(ValueError, match="stop"), Progress() as progress:
        progress("halfway", 0.5)
        progress("done", 2.0)
        raise ValueError("stop")
    said = screen.getvalue()
    assert " 50 %  halfway" in said and "100 %  done" in said and "\n" not in said
    assert said.endswith("\r") and said.split("\r")[-2].strip() == ""
