"""Spoilt logs are spoilt as they say, and logs without a turbo are told to be such."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from evaluation.dirty import SPOILS, Sheet, read_sheet, write_aspirated, write_sheet
from evaluation.folders import said_of, split_readings

LOGS = {
    "comma": "Time (s),RPM (rpm),MAP abs (kPa),TPS (%)\n",
    "decimal comma": "# rolling road\nElapsed;RPM_rpm;Boost_psi;TPS_%\n",
    "quoted": 'Time,"RPM, rpm","Boost Pressure gauge, bar","Boost Target, bar"\n',
}


def log(kind: str, folder: Path) -> Path:
    n = 80
    time = np.arange(n) / 20.0
    boost = np.clip((time - 1.0) * 60.0, 0.0, 110.0)  # kPa gauge
    shown = {"comma": boost + 101.3, "decimal comma": boost / 6.894757, "quoted": boost / 100.0}[kind]
    separator = ";" if kind == "decimal comma" else ","
    rows = []
    for t, b in zip(time, shown, strict=True):
        line = separator.join([f"{t:.3f}", "3000", f"{b:.3f}", "100.0"])
        rows.append(line.replace(".", ",") if kind == "decimal comma" else line)
    path = folder / "log.csv"
    path.write_text(LOGS[kind] + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def spoilt(name: str, kind: str, folder: Path) -> tuple[Sheet, Sheet]:
    before = read_sheet(log(kind, folder))
    write_sheet(folder / "log.csv", SPOILS[name](before, np.random.default_rng(1)))
    return before, read_sheet(folder / "log.csv")


@pytest.mark.parametrize("kind", LOGS)
def test_a_sheet_comes_back_as_it_was(kind: str, tmp_path: Path) -> None:
    path = log(kind, tmp_path)
    text = path.read_text(encoding="utf-8")
    write_sheet(path, read_sheet(path))
    assert path.read_text(encoding="utf-8") == text


@pytest.mark.parametrize("kind", LOGS)
def test_each_spoil_does_what_it_says(kind: str, tmp_path: Path) -> None:
    before, after = spoilt("gaps", kind, tmp_path)
    assert len(after.rows) < len(before.rows)
    before, after = spoilt("wrong sign", kind, tmp_path)
    assert after.numbers(2) == pytest.approx(-before.numbers(2))
    before, after = spoilt("clipped", kind, tmp_path)
    assert after.numbers(2).max() < 0.95 * before.numbers(2).max()
    before, after = spoilt("wrong unit", kind, tmp_path)
    assert after.header[2] != before.header[2] and after.rows == before.rows
    before, after = spoilt("clock jumps", kind, tmp_path)
    assert np.diff(after.numbers(0)).max() > 29.0 and np.diff(after.numbers(0)).min() < 0.0
    before, after = spoilt("gauge and absolute", kind, tmp_path)
    shift = {"comma": -101.325, "decimal comma": 101.325 / 6.894757, "quoted": 1.01325}[kind]
    assert after.numbers(2) - before.numbers(2) == pytest.approx(shift, abs=2e-3)


@pytest.mark.parametrize("seed", range(6))
def test_a_log_without_a_turbo_is_told_to_be_one(seed: int, tmp_path: Path) -> None:
    folder = write_aspirated(tmp_path / "case", np.random.default_rng(seed))
    assert "naturally-aspirated" in said_of(folder)


def test_readings_are_parted_test_by_test() -> None:
    text = (
        'format = 1\n\n[gauge]\nsmallest_mark = "0.5 psi"\n\n[[reading]]\ntest = "actuator-sweep"\n'
        '[reading.vent]\nheld = "8 mm"\n\n[[reading]]\ntest = "seat-leak"\ngap = "none"\n'
        '[[reading]]\ntest = "seat-leak"\ngap = "1 mm"\n'
    )
    head, held = split_readings(text)
    assert "[gauge]" in head and "[[reading]]" not in head
    assert list(held) == ["actuator-sweep", "seat-leak"]
    assert len(held["seat-leak"]) == 2 and "[reading.vent]" in held["actuator-sweep"][0]
    assert head + "".join(p for parts in held.values() for p in parts) == text
