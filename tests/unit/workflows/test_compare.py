"""boostproof compare and what inspect says beside the metrics, on a small case whose pulls are drawn."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from tests.unit.recording.drawn_pulls import drawn_pull, drive_around
from tests.unit.small_car import small_car

from boostproof.cli import main
from boostproof.errors import InputError
from boostproof.report.comparison_figure import draw_comparison, headline
from boostproof.workflows.answers import schemas
from boostproof.workflows.compare import compare, write_figure
from boostproof.workflows.inspect import inspect

CAR = small_car("""[weather]
barometer = "95.0 kPa"
temperature = "20 C"
[pull_place]
equivalent_mass = "950 kg"
""")
HEADER = "time (s),engine speed (rpm),throttle (%),boost gauge (kPa),vehicle speed (km/h),torque (Nm)"


def _log(path: Path, seeds: range, *, shift: float = 0.0, ramp: float = 500.0) -> None:
    """Pulls of a 2.0 m/s2 car at 200 Nm, each from a steady cruise."""
    rows, now = [HEADER], 0.0
    for seed in seeds:
        rng = np.random.default_rng(seed)
        pull = drawn_pull(rng, scatter=1.0, shift=shift, ramp=ramp)
        for rpm, opening, boost, torque in drive_around(rng, pull, 200.0):
            rows.append(f"{now:.2f},{rpm:.0f},{opening},{boost:.2f},{rpm * 0.0144 * ramp / 500:.3f},{torque}")
            now += 0.05
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("compare")
    (folder / "recordings").mkdir()
    (folder / "car.toml").write_text(CAR, encoding="utf-8")
    _log(folder / "recordings" / "old.csv", range(1, 4))
    _log(folder / "recordings" / "new.csv", range(4, 7), shift=-12.0)
    return folder


def test_two_recordings_with_their_repeats(case: Path) -> None:
    result = compare(case, ["old.csv"], ["recordings/new.csv"])
    answer = json.loads(json.dumps(result.as_json(), allow_nan=False))
    jsonschema.validate(answer, schemas()["compare-answer"])
    assert answer["verdict"] == "different"
    assert answer["before"] == {"name": "old", "pulls": ["old.csv#1", "old.csv#2", "old.csv#3"]}
    assert answer["mean_difference_kpa"]["value"] == pytest.approx(-12.0, abs=2.0)
    assert answer["scatter"]["repeats"] == 4 and answer["findings"] == []


def test_single_pulls_by_their_number(case: Path) -> None:
    result = compare(case, ["old#1"], ["old.csv#2", "old.csv#3"])
    assert result.after.pulls == ("old.csv#2", "old.csv#3")
    assert result.comparison.verdict != "different"
    assert "old, pull 1" in result.comparison.says
    for run in ("old.csv#2-3", "old.csv#2-", "recordings/old.csv#2, 3"):
        assert compare(case, ["old#1"], [run]).after.pulls == result.after.pulls
    assert compare(case, ["old#1"], ["old#2-"]).after.name == "old, pulls 2 on"


def test_what_is_not_there_is_named(case: Path) -> None:
    with pytest.raises(InputError, match=r'no recording "odl\.csv"') as missing:
        compare(case, ["odl.csv"], ["new.csv"])
    assert "old.csv" in missing.value.do
    with pytest.raises(InputError, match=r"new\.csv has no pull 9; it holds 3 pulls"):
        compare(case, ["old.csv"], ["new.csv#9"])


def test_what_recorded_them_tells_whether_it_was_one_sensor(case: Path) -> None:
    one = compare(case, ["old.csv"], ["new.csv"]).comparison.sd_point
    pulls = case / "pulls.toml"
    pulls.write_text(
        'format = 1\n[[recording]]\nfile = "recordings/old.csv"\nsource = "ECU"\n'
        '[[recording]]\nfile = "recordings/new.csv"\nsource = "dyno"\n'
    )
    try:
        two = compare(case, ["old.csv"], ["new.csv"]).comparison.sd_point
        assert np.all(two > one)
        told = compare(case, ["old.csv"], ["new.csv"], same_sensor=True).comparison.sd_point
        assert told == pytest.approx(one)
    finally:
        pulls.unlink()


def test_the_picture(case: Path, tmp_path: Path) -> None:
    result = compare(case, ["old.csv"], ["new.csv"])
    above, below = draw_comparison(result.comparison, names=("old", "new"), units="kPa")
    assert above.get_ylabel() == "boost, kPa" and below.get_ylabel() == "difference, kPa"
    measured = next(line for line in below.lines if line.get_label() == "measured")
    assert np.asarray(measured.get_ydata()) == pytest.approx(result.comparison.difference)
    band = np.asarray(below.collections[0].get_paths()[0].vertices)[:, 1]
    assert band.max() == pytest.approx(result.comparison.band_high.max())
    assert headline(result.comparison, ("old", "new"), "psi").startswith("new: 1.")
    # The legend lies above the panel, never on the band.
    below.figure.canvas.draw()  # type: ignore[union-attr]
    legend = below.get_legend()
    assert legend is not None
    assert legend.get_window_extent().y0 >= below.get_window_extent().y1 - 0.5
    first, again = tmp_path / "a.svg", tmp_path / "b.svg"
    write_figure(result, first)
    write_figure(result, again)
    assert first.read_bytes() == again.read_bytes()
    with pytest.raises(InputError, match="no name of a picture"):
        write_figure(result, tmp_path / "a.txt")


def test_headlines_of_the_other_answers(case: Path) -> None:
    alone = compare(case, ["old.csv#1"], ["old.csv#2"]).comparison
    assert headline(alone, ("a", "b"), "psi") == "b against a: cannot be told apart yet"


def test_the_command(case: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["compare", str(case), "--before", "old.csv", "--after", "new.csv"]
    assert main([*words, "--figure", str(tmp_path / "out.png"), "--units", "kPa"]) == 0
    said = capsys.readouterr().out
    assert "new against old: They differ" in said and "lower from" in said and "Wrote" in said
    assert "from 4 repeats" in said
    assert (tmp_path / "out.png").read_bytes()[1:4] == b"PNG"
    assert main([*words, "--json"]) == 0
    jsonschema.validate(json.loads(capsys.readouterr().out), schemas()["compare-answer"])
    assert main(["compare", str(case), "--before", "old.csv#1", "--after", "old.csv#2"]) == 0
    said = capsys.readouterr().out
    assert "It cannot be told yet" in said and "(as is usual)" in said and "Worth knowing" in said
    assert main([*words, "--figure", str(tmp_path / "out.txt")]) == 1


def test_inspect_tells_what_makes_pulls_comparable(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = case / "recordings" / "old.csv"
    answer = json.loads(json.dumps(inspect(file, case=case).as_json(), allow_nan=False))
    jsonschema.validate(answer, schemas()["inspect-answer"])
    assert len(answer["pulls"]) == len(answer["weather"]) == len(answer["air"]) == 3
    day = answer["weather"][0]
    # 200 Nm at 6375 rpm: 133.5 kW, and beside it what the factors make of it.
    assert day["peak_power_kw"]["uncorrected"]["value"] == pytest.approx(133.5, rel=0.01)
    ratio = day["peak_power_kw"]["sae_j1349"]["value"] / day["peak_power_kw"]["uncorrected"]["value"]
    assert ratio == pytest.approx(day["factors"]["sae_j1349"]["factor"]["value"])
    # A ball and a spring hold gauge pressure.
    assert set(day["boost_at_standard"]) == {"gauge"}
    # 0.0144 km/h for each rpm and 500 rpm/s: 2.0 m/s2, and 25.5 m/s at the end: 950 kg take 48 kW.
    run = answer["air"][0]["inertia_dyno"]
    assert run["peak_power_kw"]["value"] == pytest.approx(0.95 * 2.0 * 0.95 * 25.5, rel=0.08)
    line = answer["air"][0]["operating_line"]
    assert 0.1 < line["peak"]["peak_corrected_flow_kg_s"]["value"] < 0.3
    assert answer["repeats"]["pulls"] == 3
    assert main(["inspect", str(file), "--case", str(case)]) == 0
    said = capsys.readouterr().out
    assert "uncorrected" in said and "losses not included" in said and "the 3 pulls differ by" in said


def test_inspect_without_a_case_knows_less(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = case / "recordings" / "old.csv"
    answer = json.loads(json.dumps(inspect(file).as_json(), allow_nan=False))
    jsonschema.validate(answer, schemas()["inspect-answer"])
    assert answer["weather"] == [None] * 3 and answer["air"] == [None] * 3
    assert answer["repeats"]["pulls"] == 3


def test_pulls_of_another_gear_are_no_repeats(tmp_path: Path) -> None:
    _log(tmp_path / "gears.csv", range(2), ramp=500.0)
    slow = (tmp_path / "gears.csv").read_text()
    _log(tmp_path / "fast.csv", range(5, 6), ramp=1100.0)
    rows = slow.splitlines()
    last = float(rows[-1].split(",")[0])
    for row in (tmp_path / "fast.csv").read_text().splitlines()[1:]:
        time, rest = row.split(",", 1)
        rows.append(f"{last + 0.05 + float(time):.2f},{rest}")
    (tmp_path / "gears.csv").write_text("\n".join(rows) + "\n")
    result = inspect(tmp_path / "gears.csv")
    assert len(result.pulls) == 3
    assert result.figures.repeats is not None and result.figures.repeats.pulls == 2
