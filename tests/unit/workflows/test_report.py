"""boostproof report on a small case that was not driven: nothing is faked, and the forms are written."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from tests.unit.small_car import small_car
from tests.unit.workflows.test_prove import CAR, READINGS, write_log

from boostproof.casefolder import read_case
from boostproof.cli import main
from boostproof.errors import InputError
from boostproof.workflows import diagnose as diagnosing
from boostproof.workflows import report as workflow
from boostproof.workflows.answers import schemas
from boostproof.workflows.driven import read_driven
from boostproof.workflows.report import report


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("undriven")
    (folder / "car.toml").write_text(small_car('[limits]\ntarget = "90 kPa"\n'), encoding="utf-8")
    (folder / "readings.toml").write_text(READINGS.format(first=60, full=95), encoding="utf-8")
    return folder


def test_without_a_pull_there_is_no_verdict_and_the_bench_is_still_read(case: Path) -> None:
    document = report(case, units="kPa", done=["Hose renewed"]).document
    parts = {part["id"]: part for part in document["sections"]}
    assert {name for name, part in parts.items() if not part["done"]} == {"pulls", "verdict", "forecast", "proof"}
    said = json.dumps(parts["verdict"])
    assert "There is no verdict" in said and "recording" in said
    assert "opening pressure" in json.dumps(parts["bench"]) and "Hose renewed" in json.dumps(parts["done"])


def test_what_was_made_after_the_repair_is_shown_and_not_judged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    case = tmp_path / "case"
    (case / "recordings").mkdir(parents=True)
    (case / "car.toml").write_text(CAR, encoding="utf-8")
    for seed, (name, over) in enumerate({"old": 18.0, "new": 0.0, "later": 0.0}.items(), 1):
        write_log(case / "recordings" / f"{name}.csv", seed, over, 200.0)
    again = READINGS.format(first=85, full=120).partition("[[reading]]")
    (case / "readings.toml").write_text(READINGS.format(first=60, full=95) + "".join(again[1:]), encoding="utf-8")
    judged: list[list[str]] = []

    def look_only(folder: Path, *, without: tuple[str, ...], **told: object) -> None:
        seen = read_case(folder, without=without)
        driven, _ = read_driven(seen)
        judged.append([item.recording.file for item in driven] + [r.test for r in seen.readings.reading])
        raise InputError("Looked only.", kind="no-pull")

    monkeypatch.setattr(diagnosing, "diagnose", look_only)
    document = report(
        case, before=["old"], after=["recordings/new.csv#1", "new.csv#2"], repeated=["actuator-sweep#2"],
        without=["later"], units="kPa",
    ).document  # fmt: skip
    assert judged == [["old.csv", "actuator-sweep"]]
    parts = {part["id"]: json.dumps(part) for part in document["sections"]}
    assert "Boost in new.csv, after the repair" in parts["pulls"] and "Boost in old.csv" in parts["pulls"]
    assert "old.csv, after the repair" not in parts["pulls"]
    assert "On the bench, before and after" in parts["proof"]


def test_the_command_writes_every_form_of_one_document(
    case: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["report", str(case), "--customer", "--done", "Hose renewed", "--by", "A. Fitter", "--date", "1 May"]
    for ending in ("pdf", "html", "json"):
        assert main([*words, "-o", str(tmp_path / f"out.{ending}")]) == 0
        assert capsys.readouterr().out.strip() == f"Wrote {tmp_path / f'out.{ending}'}"
    written = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
    jsonschema.validate(written, schemas()["report-answer"])
    assert (tmp_path / "out.pdf").read_bytes().startswith(b"%PDF-")
    assert "Hose renewed" in (tmp_path / "out.html").read_text(encoding="utf-8")
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == written
    assert main(words) == 0
    said = capsys.readouterr().out
    assert said.startswith("Boost report: the grey estate\n") and "- Hose renewed" in said and "…" not in said
    assert main([*words, "-o", str(tmp_path / "again.pdf")]) == 0
    assert (tmp_path / "again.pdf").read_bytes() == (tmp_path / "out.pdf").read_bytes()


def test_what_cannot_be_is_refused_before_anything_is_computed(
    case: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(InputError, match="needs pulls before the repair and pulls after it"):
        report(case, before=["old.csv"])
    assert main(["report", str(case), "-o", "out.docx"]) == 1
    assert "no name of a report" in capsys.readouterr().err

    def never(*_: object, **__: object) -> None:
        raise AssertionError("computed all the same")

    monkeypatch.setattr(workflow, "_verdict", never)
    assert main(["report", str(case), "-o", "out.docx"]) == 1
    assert main(["report", str(case), "--after", "new.csv"]) == 1
    assert "--before" in capsys.readouterr().err
    with pytest.raises(InputError):
        report(case / "absent")
