"""What is shown of a recording: read once, kept as plain JSON, and typed again with what pulls.toml says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.unit.small_car import small_car

from boostproof.casefolder import read_case
from boostproof.errors import InputError
from boostproof.quantity import parse_quantity
from boostproof.recording.setup import RecordingSetup, SetUp
from boostproof.workflows.pull_curves import boost_at, on_shared, round_speeds, shared_speeds, target_band
from boostproof.workflows.recording_look import headers_of, look
from boostproof.workflows.recordings_seen import FileSeen, file_seen

LOG = "recordings/log.csv"


def _case(folder: Path, *, car: str | None = None, pulls: str = "", header: str = "boost gauge (kPa)") -> Path:
    """One pull from 2000 to 6000 rpm in 8 s holding 80 kPa in 4th gear, 20 samples a second, and a sweep at part load."""
    rows = [f"time (s),engine speed (rpm),throttle (%),{header},gear,mystery"]
    rng = np.random.default_rng(3)
    for number, wide in enumerate((98.0, 40.0)):
        for step in range(260):
            since = step / 20 - 2.0
            rising = 0.0 <= since < 8.0
            rpm = 2000 + 500 * since if rising else 2000.0 if since < 0.0 else max(2000.0, 6000 - 3000 * (since - 8.0))
            boost = min(80.0, 30.0 * since) * wide / 98.0 if rising else -50.0
            cells = (rpm + rng.normal(0, 3), wide if rising else 10, boost + rng.normal(0, 0.3), 4, step % 7)
            rows.append(f"{13.0 * number + step / 20:.2f}," + ",".join(f"{v:.2f}" for v in cells))
    (folder / "recordings").mkdir(parents=True)
    (folder / LOG).write_text("\n".join(rows) + "\n")
    (folder / "car.toml").write_text(small_car() if car is None else car)
    if pulls:
        (folder / "pulls.toml").write_text(pulls)
    return folder


@pytest.fixture(scope="module")
def answer(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """As the store keeps it: through JSON."""
    found: dict[str, Any] = json.loads(json.dumps(look(_case(tmp_path_factory.mktemp("case")), LOG)))
    return found


def _seen(answer: dict[str, Any], setup: RecordingSetup | None = None, place: int = 1) -> FileSeen:
    return file_seen(LOG, answer, setup, place)


def test_pulls_carry_their_place_gear_set_up_and_curve(answer: dict[str, Any]) -> None:
    full, part = _seen(answer, place=5).pulls
    assert (full.key, full.place, full.gear, full.controller) == (f"{LOG}#1", 5, 4, "")
    assert (part.place, part.full_load, part.figures) == (0, False, {})
    assert full.figures["plateau_kpa_gauge"].value == pytest.approx(80.0, abs=0.5)
    assert (full.rpm[0], full.rpm[-1]) == (pytest.approx(2025, abs=50), pytest.approx(5950, abs=50))
    assert np.all(np.diff(full.rpm) == 25.0)
    assert full.boost[full.rpm > 4000.0] == pytest.approx(80.0, abs=1.0)
    assert np.isfinite(full.boost).all() and (full.sd > 0.0).all()
    told = RecordingSetup(file=LOG, gear=3, set_up=SetUp(controller="bypassed", gate="held open"))
    named = _seen(answer, told).pulls[0]
    assert (named.gear, named.controller, named.gate) == (3, "bypassed", "held open")


def test_columns_say_how_sure_they_are_and_what_else_they_may_be(answer: dict[str, Any]) -> None:
    seen = _seen(answer)
    columns = {column.channel: column for column in seen.columns}
    assert columns["engine_speed"].certainty == "sure"
    assert ("pedal", "throttle (%)") in {(c.channel, c.column) for c in columns["throttle"].others}
    assert "mystery" in seen.unused and "boost gauge (kPa)" not in seen.unused


def test_what_a_person_named_is_said_to_be_told_and_survives_an_unfinished_car(tmp_path: Path) -> None:
    pulls = (
        f'format = 1\n[[recording]]\nfile = "{LOG}"\nchannels = {{boost = {{column = "spare", unit = "kPa"}}}}\n'
        "excluded = [{from = 0, to = 13}]\n"
    )
    case = _case(tmp_path, car='format = 1\n[car]\nname = "only a name"\n', pulls=pulls, header="spare")
    seen = file_seen(LOG, look(case, LOG), None)
    (boost,) = [column for column in seen.columns if column.channel == "boost"]
    assert (boost.certainty, boost.column) == ("told", "spare")
    assert seen.case_trouble is not None and seen.case_trouble["do"]
    assert not [pull for pull in seen.pulls if pull.full_load]  # it lies in the stretch that is left out


def test_the_recording_is_handed_on_so_that_nobody_reads_it_again(tmp_path: Path) -> None:
    kept, said = [], []
    look(_case(tmp_path), LOG, keep=kept.append, progress=lambda says, share: said.append(share))
    assert kept[0].rows == 520
    assert said == sorted(said) and len(said) >= 3 and said[-1] < 1.0


def test_a_log_without_engine_speed_still_says_its_columns(tmp_path: Path) -> None:
    case = _case(tmp_path)
    (case / LOG).write_text("time (s),oil temp (C)\n" + "".join(f"{i},{90 + i % 3}\n" for i in range(50)))
    with pytest.raises(InputError) as error:
        look(case, LOG)
    assert error.value.kind == "no-engine-speed"
    assert headers_of(case / LOG) == ("time (s)", "oil temp (C)")
    (case / LOG).write_bytes(b"%PDF-1.4\n" + bytes(range(256)))
    assert headers_of(case / LOG) == ()


def test_the_target_of_the_car_is_a_band_over_engine_speed(tmp_path: Path) -> None:
    rpm = np.array([2000.0, 3000.0, 4000.0])
    psi = 6.894757
    band = target_band(parse_quantity("10 psi +/- 1 psi", dimension="pressure"), rpm, 101_325.0)
    assert band is not None
    assert band.wanted == pytest.approx([10 * psi] * 3, rel=1e-4)
    # A tolerance is what the value lies within: two standard deviations.
    assert band.high - band.low == pytest.approx([2 * psi] * 3, rel=1e-3)
    rows = '[[limits.target]]\nrpm = "2000 rpm"\nboost = "8 psi"\n[[limits.target]]\nrpm = "4000 rpm"\nboost = "12 psi"\n'
    car = read_case(_case(tmp_path, car=small_car(rows))).car
    over = target_band(car.limits.target, rpm, 101_325.0)
    assert over is not None and over.wanted == pytest.approx([8 * psi, 10 * psi, 12 * psi], rel=1e-4)
    assert target_band(None, rpm, 101_325.0) is None


def test_curves_of_all_pulls_lie_on_shared_engine_speeds(answer: dict[str, Any]) -> None:
    pulls = _seen(answer).pulls
    grid = shared_speeds(pulls)
    line = on_shared(pulls[0], pulls[0].boost, np.arange(grid[0] - 100.0, grid[-1] + 100.0, 25.0))
    assert np.isnan(line[:4]).all() and np.isfinite(line[4 : 4 + len(grid)]).all()
    np.testing.assert_array_equal(line[4 : 4 + len(grid)], pulls[0].boost)


def test_a_pull_in_numbers_at_round_engine_speeds(answer: dict[str, Any]) -> None:
    pulls = [pull for pull in _seen(answer).pulls if len(pull.rpm)]
    speeds = round_speeds(pulls, 500.0)
    assert set(np.diff(speeds)) == {500.0} and not np.any(speeds % 500.0)
    assert min(p.rpm[0] for p in pulls) <= speeds[0] < min(p.rpm[0] for p in pulls) + 500.0
    held = boost_at(pulls[0], 5000.0)  # it holds 80 kPa by then, as the log was written
    assert held is not None and held[0] == pytest.approx(80.0, abs=1.0) and held[1] > 0.0
    assert boost_at(pulls[0], 900.0) is None
