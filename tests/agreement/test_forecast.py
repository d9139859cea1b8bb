"""boostproof forecast on the demo shop's car: the answer and its schema, the text in every unit, the picture, refusals."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from boostproof.cli import main
from boostproof.cli.show_forecast import show_forecast
from boostproof.demo import write_demo_case
from boostproof.errors import InputError
from boostproof.units import from_si, get_unit
from boostproof.workflows import repair_view
from boostproof.workflows.answers import schemas
from boostproof.workflows.forecast import RepairForecast, forecast
from boostproof.workflows.forecast_answers import as_json
from boostproof.workflows.repair_view import repair_options
from boostproof.workflows.size_bands import size_bands


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_demo_case(tmp_path_factory.mktemp("forecast") / "case")


@pytest.fixture(scope="module")
def found(case: Path) -> RepairForecast:
    return forecast(case, ["port 30 mm"])


def test_the_answer_fits_its_schema(found: RepairForecast) -> None:
    answer = json.loads(json.dumps(found.as_json(), allow_nan=False))
    jsonschema.validate(answer, schemas()["forecast-answer"])
    for band in (answer["found"], *(c["band"] for c in answer["by_cause"])):
        low, middle, high = (band[f"{k}_kpa_gauge"] for k in ("low", "middle", "high"))
        assert len(low) == len(answer["rpm"])
        assert all(a <= b <= c for a, b, c in zip(low, middle, high, strict=True))
    assert (answer["together"] is None) == bool(answer["apart"])
    assert answer["repairs"][0]["size"] == 30.0 and answer["repairs"][0]["unit"] == "mm"
    assert answer["recheck_fuelling"] is True


@pytest.mark.parametrize("units", ["psi", "bar", "kPa"])
@pytest.mark.parametrize("width", [60, 100])
def test_the_text_is_in_the_units_asked_for(found: RepairForecast, units: str, width: int) -> None:
    answer = as_json(found, pressure=units)
    text = show_forecast(answer, units=units, width=width)
    wanted = from_si(1e3 * answer["target_kpa_gauge"], get_unit(units, "pressure"))
    digits = {"psi": 1, "bar": 2, "kPa": 0}[units]
    assert f"{wanted:.{digits}f} {units} wanted" in " ".join(text.split())
    for other in {"psi", " bar", "kPa"} - {units, f" {units}"}:
        assert other not in text
    assert max(map(len, text.splitlines())) <= width
    for word in ("Leave as is", "Raise the target", "Recheck fuelling", "What it takes"):
        assert word in " ".join(text.split())


def test_the_command_writes_picture_and_object(
    case: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    picture = tmp_path / "after.svg"
    command = ["forecast", str(case), "--repair", "port 30 mm", "--hour", "90", "--parts", "port", "100", "200",
               "--figure", str(picture), "--json"]  # fmt: skip
    assert main(command) == 0
    answer = json.loads(capsys.readouterr().out)
    jsonschema.validate(answer, schemas()["forecast-answer"])
    assert answer["written"] == [str(picture)] and picture.read_text(encoding="utf-8").startswith("<?xml")
    assert answer["costs"]["money_per_hour"] == 90.0 and answer["costs"]["parts"] == [100.0, 200.0]


def test_what_cannot_be_done_is_refused_before_computing(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["forecast", str(case), "--repair", "prot 30 mm", "--json"]) == 1
    error = json.loads(capsys.readouterr().out)["error"]
    assert error["kind"] == "unknown-repair" and "port" in error["do"]
    with pytest.raises(InputError, match="tolerance"):
        forecast(case, ["port"], tolerance="900 psi")
    with pytest.raises(InputError, match="laid through two known ones"):
        forecast(case, ["port"], known=["2 turns 12 psi"])
    with pytest.raises(InputError, match="No repair is called"):
        forecast(case, ["port"], parts={"prot": (1.0, 2.0)})


def test_the_repair_that_fits_comes_in_its_size_and_through_every_other(case: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Port or way into it, says the log alone: a larger port serves both, in a size that holds where the gate is open."""
    monkeypatch.setattr(repair_view, "_OPTIONS", 2)
    said: list[float] = []
    answer = json.loads(json.dumps(repair_options(case, progress=lambda text, share: said.append(share)), allow_nan=False))
    jsonschema.validate(answer, schemas()["repair-options-answer"])
    assert {"port-too-small", "port-entry-poor"} <= set(answer["leading"]) and "external gate" in answer["more"]
    assert [option["repairs"] for option in answer["options"] if option["sizes"] is None] == [["entry"]]
    (option,) = (option for option in answer["options"] if option["sizes"] is not None)
    sizing, sizes = option["forecast"]["sizing"], option["sizes"]["sizes"]
    assert option["repairs"] == [f"port {sizing['chosen']['size']:g} mm"]
    assert {c["id"]: c["undone"] for c in option["for_causes"]} == {"port-too-small": True, "port-entry-poor": False}
    assert option["forecast"]["repairs"][0]["size"] == sizing["chosen"]["size"]
    assert [row["size"] for row in sizes] == [row["size"] for row in sizing["tried"]]
    assert sizes[0]["peak_kpa_gauge"] > sizes[-1]["peak_kpa_gauge"]
    assert said == sorted(said) and said[-1] == 1.0
    alone = size_bands(case, option["repairs"])
    jsonschema.validate(json.loads(json.dumps(alone)), schemas()["size-bands-answer"])
    assert alone["sizes"] == option["sizes"]["sizes"]


def test_what_comes_in_no_sizes_has_no_bands_for_them(case: Path) -> None:
    with pytest.raises(InputError, match="comes in no sizes"):
        size_bands(case, ["entry"])
