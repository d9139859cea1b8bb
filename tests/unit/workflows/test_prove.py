"""boostproof prove on a small case whose pulls are drawn."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from tests.unit.proof.drawn_repairs import faulty
from tests.unit.recording.drawn_pulls import drive_around
from tests.unit.small_car import small_car

from boostproof.cli import main
from boostproof.errors import InputError
from boostproof.report.proof_figure import draw_proof
from boostproof.workflows.answers import schemas
from boostproof.workflows.forecast_band import read_bands
from boostproof.workflows.prove import prove, write_figure

CAR = small_car("""[limits]
target = "90 kPa"
stop = "115 kPa"
[weather]
barometer = "99.0 kPa"
temperature = "22 C"
""")
HEADER = "time (s),engine speed (rpm),throttle (%),boost gauge (kPa),torque (Nm)"
READINGS = """format = 1
[gauge]
smallest_mark = "2 kPa"
range = "400 kPa"
[[reading]]
test = "actuator-sweep"
first_movement = "{first} kPa"
full_travel = "{full} kPa"
travel = "14 mm"
"""


def write_log(path: Path, seed: int, over: float, torque: float) -> None:
    """Three pulls, each from a steady cruise."""
    rows, now = [HEADER], 0.0
    rng = np.random.default_rng(seed)
    for pull in faulty(rng, 3, over, scatter=1.0):
        for speed, opening, kpa, newton_metre in drive_around(rng, pull, torque):
            rows.append(f"{now:.2f},{speed:.0f},{opening},{kpa:.2f},{newton_metre}")
            now += 0.05
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("prove")
    (folder / "recordings").mkdir()
    (folder / "car.toml").write_text(CAR, encoding="utf-8")
    write_log(folder / "recordings" / "old.csv", 1, 18.0, 210.0)
    write_log(folder / "recordings" / "new.csv", 2, 0.0, 200.0)
    (folder / "readings.toml").write_text(READINGS.format(first=60, full=95), encoding="utf-8")
    (folder / "after.toml").write_text(READINGS.format(first=85, full=120), encoding="utf-8")
    return folder


def forecast(folder: Path, low: float, high: float, *, of: str = "") -> Path:
    """As `boostproof forecast --json` answers; with ``of``, where the causes part too much for one band."""
    file = folder / "forecast.json"

    def band(bottom: float, top: float) -> dict[str, list[float]]:
        return {"low_kpa_gauge": [bottom] * 2, "middle_kpa_gauge": [bottom] * 2, "high_kpa_gauge": [top] * 2}

    answer = {
        "format": 1, "rpm": [4000.0, 6000.0], "found": band(0.0, 1.0), "together": None if of else band(low, high),
        "by_cause": [{"id": "other", "band": band(10.0, 20.0)}, {"id": of or "one", "band": band(low, high)}],
    }  # fmt: skip
    file.write_text(json.dumps(answer), encoding="utf-8")
    return file


def test_a_cured_car_from_its_folder(case: Path, tmp_path: Path) -> None:
    result = prove(case, ["old.csv"], ["new.csv"], forecast=forecast(tmp_path, 80.0, 100.0), readings_after="after.toml")
    answer = json.loads(json.dumps(result.as_json(), allow_nan=False))
    jsonschema.validate(answer, schemas()["prove-answer"])
    assert answer["verdict"] == "cured"
    assert answer["after"] == {"name": "new", "pulls": ["new.csv#1", "new.csv#2", "new.csv#3"]}
    assert answer["forecast"]["verdict"] == "as forecast" and answer["forecast"]["inside"] == 1.0
    # The gate opens later by 25 kPa on the same gauge, whose zero cancels.
    opening = next(one for one in answer["readings"] if one["unit"] == "kPa gauge")
    assert opening["difference"]["value"] == pytest.approx(25.0, abs=2.0)
    assert opening["difference"]["expanded"] < 8.0 and opening["verdict"] in ("changed", "cured")
    # 10 Nm less of 210 at one engine speed: 4.8 % of the power.
    power = answer["power"]
    assert power["basis"] == "sae_j1349" and power["difference_kw"]["value"] < 0.0
    assert power["after_kw"]["value"] / power["before_kw"]["value"] == pytest.approx(200.0 / 210.0, rel=0.02)


def test_pulls_of_both_sides_in_one_recording(case: Path, tmp_path: Path) -> None:
    both = tmp_path / "both"
    shutil.copytree(case, both)
    old, new = ((both / "recordings" / f"{name}.csv").read_text(encoding="utf-8").splitlines() for name in ("old", "new"))
    later = [f"{float(row.split(',')[0]) + 600.0:.2f},{row.split(',', 1)[1]}" for row in new[1:]]
    (both / "recordings" / "both.csv").write_text("\n".join([*old, *later]) + "\n", encoding="utf-8")
    named = prove(both, ["both.csv#1-3"], ["both.csv#4-"]).as_json()
    assert named["verdict"] == "cured"
    assert named["after"] == {"name": "both, pulls 4 on", "pulls": ["both.csv#4", "both.csv#5", "both.csv#6"]}
    with pytest.raises(InputError, match="named before the repair and after it"):
        prove(both, ["both.csv"], ["both.csv"])
    (both / "pulls.toml").write_text(
        'format = 1\n[[recording]]\nfile = "recordings/both.csv"\nafter_repair = "4-"\n', encoding="utf-8"
    )
    told = prove(both, ["both.csv"], ["both.csv"]).as_json()
    assert [told[side]["pulls"] for side in ("before", "after")] == [named[side]["pulls"] for side in ("before", "after")]


def test_readings_of_one_file_are_parted_by_name(case: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    both = tmp_path / "both"
    shutil.copytree(case, both)
    again = READINGS.format(first=85, full=120).partition("[[reading]]")
    with (both / "readings.toml").open("a", encoding="utf-8") as file:
        file.write("".join(again[1:]))
    of_files = prove(case, ["old"], ["new"], readings_after="after.toml").as_json()["readings"]
    assert of_files and prove(both, ["old"], ["new"], repeated=["actuator-sweep#2"]).as_json()["readings"] == of_files
    words = ["prove", str(both), "--before", "old", "--after", "new"]
    assert main([*words, "--repeated", "actuator-sweep#3"]) == 1
    assert "actuator-sweep#1, actuator-sweep#2" in capsys.readouterr().err
    assert main([*words, "--repeated", "actuator-sweep#2", "--readings-after", "after.toml"]) == 1
    assert "Name them with --repeated, or" in capsys.readouterr().err


def test_a_forecast_that_did_not_come_true(case: Path, tmp_path: Path) -> None:
    result = prove(case, ["old"], ["new"], forecast=forecast(tmp_path, 60.0, 75.0))
    assert result.forecast is not None and result.forecast.verdict == "not as forecast"
    (left,) = result.forecast.left
    assert (left.rpm_from, left.rpm_to, left.side, left.sure) == (4000.0, 6000.0, "above", True)
    assert left.most == pytest.approx(90.0 - 75.0, abs=3.0)
    assert "not as forecast" in result.sentences("kPa")["forecast_says"]


def test_bands_are_found_or_refused(case: Path, tmp_path: Path) -> None:
    (together,) = read_bands(forecast(tmp_path, 60.0, 75.0))
    assert together.low.tolist() == [60e3, 60e3] and together.of == ""
    parted = forecast(tmp_path, 80.0, 100.0, of="port-too-small")
    assert [band.of for band in read_bands(parted)] == ["other", "port-too-small"]
    check = prove(case, ["old"], ["new"], forecast=parted).forecast
    assert check is not None and (check.of, check.verdict) == ("port-too-small", "as forecast")
    plain = tmp_path / "plain.json"
    plain.write_text('{"rpm": [3000, 5000], "low_kpa_gauge": [50, 60], "high_kpa_gauge": [70, 80]}')
    assert read_bands(plain)[0].high.tolist() == [70e3, 80e3]
    for text in ('{"rpm": [3000]}', "[1]", '{"rpm": [1, 2], "found": {"low_kpa_gauge": [1, 2], "high_kpa_gauge": [1, 2]}}'):
        plain.write_text(text)
        with pytest.raises(InputError, match="holds no band"):
            read_bands(plain)
    plain.write_text("rpm")
    with pytest.raises(InputError, match="no JSON answer"):
        read_bands(plain)
    with pytest.raises(InputError, match="cannot be read"):
        read_bands(tmp_path / "absent.json")


def test_targets_as_people_write_them(case: Path) -> None:
    text = (case / "car.toml").read_text()

    def told(target: str) -> tuple[float | None, float]:
        (case / "car.toml").write_text(text.replace('target = "90 kPa"', target))
        try:
            proof = prove(case, ["old"], ["new"]).proof
        finally:
            (case / "car.toml").write_text(text)
        return proof.tolerance, proof.holds_from

    assert told('target = "90 kPa +/- 4 kPa"')[0] == pytest.approx(4.0)
    assert told('target = "85..97 kPa"')[0] == pytest.approx(6.0)
    rows = 'target = [{rpm = "3900 rpm", boost = "90 kPa"}, {rpm = "6500 rpm", boost = "90 kPa"}]'
    assert told(rows) == (7.0, pytest.approx(3900.0))
    # 189 kPa abs on a day of 99 kPa is 90 kPa gauge.
    assert told('target = "189 kPa abs"')[0] == 7.0
    assert told('target = "not known"')[0] is None


def test_another_gear_in_pulls_toml_is_refused(case: Path) -> None:
    pulls = case / "pulls.toml"
    pulls.write_text(
        'format = 1\n[[recording]]\nfile = "recordings/old.csv"\ngear = 3\n'
        '[[recording]]\nfile = "recordings/new.csv"\ngear = 4\nset_up = {controller = "bypassed"}\n'
    )
    try:
        answer = prove(case, ["old"], ["new"]).as_json()
    finally:
        pulls.unlink()
    assert answer["verdict"] == "cannot say"
    assert "another gear" in answer["missing"][0] and "another set-up" in answer["missing"][1]


def test_a_pull_is_on_one_side_only(case: Path) -> None:
    with pytest.raises(InputError, match=r"old\.csv#2 is named before the repair and after it"):
        prove(case, ["old.csv#1", "old.csv#2"], ["old.csv#2", "old.csv#3"])
    parted = prove(case, ["old.csv#1"], ["old.csv#2", "old.csv#3"])
    assert parted.proof.verdict in ("no different", "cannot say") and parted.proof.pulls_after == 2


def test_the_picture(case: Path, tmp_path: Path) -> None:
    result = prove(case, ["old"], ["new"])
    above, below = draw_proof(result.proof, title="cured", stop=115.0, units="kPa")
    assert above.get_ylabel() == "boost, kPa"
    lines = {line.get_label(): np.asarray(line.get_ydata(), float) for line in above.lines}
    assert lines["after"] == pytest.approx(result.proof.after) and lines["stop"][0] == pytest.approx(115.0)
    assert np.asarray(below.lines[0].get_ydata()) == pytest.approx(result.proof.difference)
    first, again = tmp_path / "a.svg", tmp_path / "b.svg"
    write_figure(result, first)
    write_figure(result, again)
    assert first.read_bytes() == again.read_bytes()


def test_the_command(case: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["prove", str(case), "--before", "old.csv", "--after", "new.csv"]
    more = ["--readings-after", "after.toml", "--figure", str(tmp_path / "out.png"), "--units", "psi"]
    assert main([*words, *more]) == 0
    said = capsys.readouterr().out
    assert said.startswith("The repair cured the car") and "wanted is 13.1 psi" in said
    assert "Take care" in said and "On the bench" in said and "top end" in said and "Wrote" in said
    assert "opening pressure" in said and "psi gauge" in said
    assert said.index("Take care") < said.index("top end")
    assert main([*words, "--json"]) == 0
    jsonschema.validate(json.loads(capsys.readouterr().out), schemas()["prove-answer"])
    assert main([*words, "--readings-before", "readings.toml"]) == 1
    assert "need those after it" in capsys.readouterr().err
    turned = ["prove", str(case), "--before", "new.csv", "--after", "old.csv"]
    assert main(turned) == 0
    assert "The car is worse" in capsys.readouterr().out
