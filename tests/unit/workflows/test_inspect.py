"""What inspect says about the pulls of a recording, in its answer and on the terminal's side of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from boostproof.errors import InputError
from boostproof.recording.pulls.metrics import METRICS
from boostproof.workflows.inspect import inspect


def _log(path: Path, *, opening: tuple[float, ...], wrong: int = 0) -> Path:
    """Ramps from 2000 to 6000 rpm in 8 s each at these throttle openings, 20 samples a second."""
    rows = ["time (s),engine speed (rpm),throttle (%),boost gauge (kPa),lambda"]
    rng = np.random.default_rng(3)
    now = 0.0
    for wide in opening:
        for step in range(240):
            at = step / 20
            rising = 2.0 <= at < 10.0
            rpm = 2000 + 500 * (at - 2.0) if rising else max(2000.0, 6000 - 3000 * max(at - 10.0, 0.0))
            rpm = 2000.0 if at < 2.0 else rpm
            boost = min(80.0, 30.0 * (at - 2.0)) if rising else -50.0
            cells = (now, rpm + rng.normal(0, 3), wide if rising else 10, boost + rng.normal(0, 0.3))
            rows.append(",".join(f"{v:.2f}" for v in cells) + (",0.82" if wide > 60 else ",1.00"))
            now += 0.05
    for place in range(60, 60 + wrong):
        cells_of = rows[3 * place].split(",")
        rows[3 * place] = ",".join([cells_of[0], "0", *cells_of[2:]])
    path.write_text("\n".join(rows) + "\n")
    return path


def test_a_part_throttle_sweep_is_listed_without_figures(tmp_path: Path) -> None:
    found = inspect(_log(tmp_path / "two.csv", opening=(98.0, 40.0)))
    answer = found.as_json()
    assert [pull["full_load"] for pull in answer["pulls"]] == [True, False]
    full, part = answer["pulls"]
    assert (full["rpm_from"], full["rpm_to"]) == pytest.approx((2000, 5975), abs=60)
    assert full["metrics"]["plateau_kpa_gauge"]["value"] == pytest.approx(80.0, abs=0.5)
    assert set(part["metrics"]) == set(METRICS) and not any(part["metrics"].values())
    assert [f.kind for f in found.findings if f.kind in ("part-load", "no-pull")] == ["part-load"]


def test_only_part_throttle_is_no_pull(tmp_path: Path) -> None:
    found = inspect(_log(tmp_path / "part.csv", opening=(40.0,)))
    assert [pull.full_load for pull in found.pulls] == [False]
    assert {"part-load", "no-pull"} <= {f.kind for f in found.findings}


def test_engine_speeds_that_cannot_be_are_counted_and_left_out(tmp_path: Path) -> None:
    clean = inspect(_log(tmp_path / "clean.csv", opening=(98.0,)))
    found = inspect(_log(tmp_path / "wrong.csv", opening=(98.0,), wrong=4))
    assert "engine-speed-glitches" not in {f.kind for f in clean.findings}
    (said,) = [f for f in found.findings if f.kind == "engine-speed-glitches"]
    assert " 4 samples" in said.says and said.do
    assert [(p.start, p.stop) for p in found.pulls] == [(p.start, p.stop) for p in clean.pulls]


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"not_here\.csv"):
        inspect(tmp_path / "not_here.csv")


def test_the_recording_is_handed_on_before_its_pulls_are_looked_for(tmp_path: Path) -> None:
    steps: list[str] = []
    found = inspect(
        _log(tmp_path / "one.csv", opening=(98.0,)),
        read=lambda recording: steps.append(f"{recording.rows} rows"),
        progress=lambda says, share: steps.append(says),
    )
    assert len(found.pulls) == 1
    assert steps[:3] == ["reading the file", "240 rows", "looking for pulls"]
