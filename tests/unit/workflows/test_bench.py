"""boostproof bench on a small case: the answer and its schema, the text, the picture, refusals."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from tests.unit.small_car import small_car

from boostproof.cli import main
from boostproof.cli.show_bench import show_bench
from boostproof.errors import InputError
from boostproof.report.bench_figure import draw_sweeps
from boostproof.workflows.answers import schemas
from boostproof.workflows.bench import bench, facts_of, write_figure

CAR = small_car(
    """opening_pressure = "1.30 bar"
[actuator]
opening_pressure = "0.90 bar"
diaphragm = "45 mm"
[limits]
target = "1.0 bar"
""",
    wastegate='full_travel = "12 mm"',
)
READINGS = """format = 1
[gauge]
smallest_mark = "0.02 bar"
[[reading]]
test = "actuator-sweep"
supply_up_to = "1.7 bar"
first_movement = "0.50 bar"
full_travel = "0.78 bar"
last_return = "0.46 bar"
travel = "12 mm"
[reading.leak]
start = "0.66 bar"
after_60_s = "0.66 bar"
[[reading]]
test = "controller-sweep"
first_movement = "0.92 bar"
full_travel = "1.2 bar"
travel = "12 mm"
follows = "0 s"
[[reading]]
test = "port-measure"
port = "29 mm"
[[reading]]
test = "sensor-check"
rows = [{ applied = "0 bar", reads = "101.0 kPa abs", barometer = "101.2 kPa" },
        { applied = "1 bar", reads = "201.3 kPa abs" }]
[[reading]]
test = "intake-pressurise"
supply = "0.9 bar"
drop_in_30_s = "0.05 bar"
[[reading]]
test = "cold-look"
hoses = "no damage seen"
"""


@pytest.fixture
def case(tmp_path: Path) -> Path:
    folder = tmp_path / "case"
    folder.mkdir()
    (folder / "car.toml").write_text(CAR, encoding="utf-8")
    (folder / "readings.toml").write_text(READINGS, encoding="utf-8")
    return folder


def test_answer_holds_to_its_schema(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bench", str(case), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    jsonschema.validate(answer, schemas()["bench-answer"])
    found = {m["id"]: m for m in answer["meanings"]}
    opening = found["opening-pressure"]
    assert (opening["unit"], opening["group"], opening["verdict"]) == ("kPa gauge", "actuator", "low")
    assert opening["value"] == pytest.approx(50.0, abs=1.5) and opening["low"] < 49.5 < opening["high"]
    assert opening["healthy"]["why"] == "as specified" and opening["healthy"]["low"] > 80.0
    assert found["controller-offset"]["value"] == pytest.approx(42.0, abs=0.1)
    assert found["controller-offset"]["verdict"] == "as it should be"
    assert found["spring-rate"]["unit"] == "N/mm"
    assert found["sensor-scale"]["correlated"]["sensor-offset"] < -0.8
    assert answer["seed"] == 1 and answer["written"] == []
    # 28 kPa over 12 mm, less what an eye misses at both ends
    assert found["spring-slope"]["value"] == pytest.approx(28.0 / 12.0, rel=0.1)


def test_text_in_the_chosen_unit(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bench", str(case), "--units", "kPa"]) == 0
    said = capsys.readouterr().out
    order = [said.index(f"\n{group}\n") for group in ("Actuator", "Controller", "Line", "Gate", "Sensor", "Engine")]
    assert order == sorted(order)
    row = next(line for line in said.splitlines() if line.strip().startswith("opening pressure"))
    assert "kPa gauge" in row and "low:" in row and "±" in row
    assert main(["bench", str(case), "--units", "psi"]) == 0
    psi = capsys.readouterr().out
    row = next(line for line in psi.splitlines() if line.strip().startswith("opening pressure"))
    # 50 kPa less what an eye misses, 49.2 kPa, are 7.13 psi
    assert "7.13 ± " in row and "psi gauge" in row
    assert max(len(line) for line in psi.splitlines()) <= 110


@pytest.mark.parametrize("width", [60, 80, 100, 110])
def test_no_figure_is_cut_on_a_narrow_screen(case: Path, width: int) -> None:
    said = show_bench(bench(case).as_json(), units="bar", width=width)
    assert "…" not in said and max(len(line) for line in said.splitlines()) <= width
    assert "opening pressure" in said and "spring rate at the rod" in said


def test_seed_decides(case: Path) -> None:
    assert bench(case).as_json() == bench(case).as_json()
    first, second = bench(case, seed=1).as_json(), bench(case, seed=2).as_json()
    for a, b in zip(first["meanings"], second["meanings"], strict=True):
        assert a["id"] == b["id"] and a["verdict"] == b["verdict"]
        assert b["value"] == pytest.approx(a["value"], rel=0.15, abs=0.01)


def test_what_is_as_found_is_no_measure(case: Path) -> None:
    from boostproof.casefolder import read_case

    assert facts_of(read_case(case).car).opening is not None
    text = CAR.replace("[actuator]", '[actuator]\nas = "found"')
    (case / "car.toml").write_text(text, encoding="utf-8")
    facts = facts_of(read_case(case).car)
    assert facts.opening is None and facts.diaphragm is not None


def test_drawn_cars_hold_their_target(case: Path) -> None:
    """Without a spec the bench opening through the controller lies a little above the boost held (T12)."""
    from boostproof.casefolder import read_case
    from boostproof.physics import rigs

    text = CAR.replace('opening_pressure = "1.30 bar"\n', "").replace('opening_pressure = "0.90 bar"\n', "")
    (case / "car.toml").write_text(text, encoding="utf-8")
    sound = facts_of(read_case(case).car).sound
    above = rigs.supply_for(sound, rigs.first_movement(sound)) - 1.0e5
    assert sound.shape[1] > 400 and above.min() > -5e3 and above.max() < 60e3


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_picture(case: Path, tmp_path: Path, ending: str, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / f"sweeps.{ending}"
    assert main(["bench", str(case), "--figure", str(file), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["written"] == [str(file)]
    assert file.stat().st_size > 5000


def test_what_the_picture_shows(case: Path) -> None:
    ax = draw_sweeps(bench(case), units="bar")
    assert "opens at less pressure" in ax.get_title(loc="left")
    labels = [text.get_text() for text in ax.get_legend().get_texts()]
    assert any("on the way home" in label for label in labels) and "through the controller" in labels
    lines = {line.get_label(): line.get_ydata() for line in ax.lines}
    assert lines["straight on the actuator, on the way home"][-1] == pytest.approx(0.46)


def test_nothing_to_draw_and_a_wrong_name(case: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no name of a picture"):
        write_figure(bench(case), tmp_path / "sweeps.doc")
    (case / "readings.toml").write_text('format = 1\n[[reading]]\ntest = "port-measure"\nport = "29 mm"\n', encoding="utf-8")
    with pytest.raises(InputError, match="nothing to draw"):
        write_figure(bench(case), tmp_path / "sweeps.svg")


def test_no_readings_and_words_alone(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (case / "readings.toml").write_text('format = 1\n[[reading]]\ntest = "cold-look"\nrod = "sound"\n', encoding="utf-8")
    assert [f.kind for f in bench(case).findings] == ["no-figures"]
    (case / "readings.toml").unlink()
    assert main(["bench", str(case), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["error"]["kind"] == "no-readings"


def test_an_impossible_reading_is_questioned(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = READINGS.replace('full_travel = "0.78 bar"', 'full_travel = "0.20 bar"')
    (case / "readings.toml").write_text(text, encoding="utf-8")
    result = bench(case)
    assert "impossible-reading" in {f.kind for f in result.findings}
    assert not {"opening-pressure", "spring-slope"} & {m.id for m in result.meanings}
    assert main(["bench", str(case)]) == 0
    assert "Worth knowing" in capsys.readouterr().out
