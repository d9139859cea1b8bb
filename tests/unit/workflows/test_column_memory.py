"""Answers kept on disk: written whole, never lost, used by inspect and diagnose, taken back."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from boostproof.cli import main
from boostproof.errors import InputError
from boostproof.recording.model import Column, ColumnChoice, Table
from boostproof.workflows.column_memory import ColumnMemory, data_folder, overruled

LOG = Path(__file__).resolve().parents[2] / "fixtures" / "recordings" / "unlabelled.csv"
ANSWER = {"boost": ColumnChoice("Pressure 1", "psi", "gauge")}


def _table(*headers: str) -> Table:
    return Table("log.csv", "csv", 3, tuple(Column(header, "", np.zeros(3)) for header in headers))


TABLE = _table("RPM", "Pressure 1")


def test_an_answer_is_found_again_whatever_the_order_of_the_columns(tmp_path: Path) -> None:
    path = ColumnMemory(tmp_path).remember(TABLE, ANSWER)
    assert path.parent == tmp_path / "columns" and [p.name for p in path.parent.iterdir()] == [path.name]
    again = ColumnMemory(tmp_path)
    assert dict(again.of(_table("Pressure 1", "RPM"))) == ANSWER
    assert dict(again.of(_table("Pressure 1", "RPM", "TPS"))) == {}
    assert again.findings == []


def test_answers_gather_and_are_taken_back_together(tmp_path: Path) -> None:
    memory = ColumnMemory(tmp_path)
    memory.remember(TABLE, ANSWER)
    memory.remember(TABLE, {"engine_speed": ColumnChoice("RPM")})
    assert set(memory.of(TABLE)) == {"boost", "engine_speed"}
    assert memory.forget(TABLE) and not memory.forget(TABLE)
    assert dict(memory.of(TABLE)) == {}


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format": 1, "channels": {"boost": 3}}', "\x00\xff"])
def test_a_damaged_file_is_set_aside_and_nothing_is_lost(tmp_path: Path, text: str) -> None:
    path = ColumnMemory(tmp_path).remember(TABLE, ANSWER)
    for number in (1, 2):
        path.write_bytes(text.encode("latin-1"))
        memory = ColumnMemory(tmp_path)
        memory.remember(TABLE, ANSWER)
        (finding,) = memory.findings
        assert finding.kind == "damaged-answers" and f"damaged-{number}" in finding.says
        assert path.with_suffix(f".damaged-{number}").read_bytes() == text.encode("latin-1")
        assert dict(ColumnMemory(tmp_path).of(TABLE)) == ANSWER


def test_a_write_that_fails_leaves_the_old_answer_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    memory = ColumnMemory(tmp_path)
    path = memory.remember(TABLE, ANSWER)
    before = path.read_bytes()

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(InputError, match="could not be kept: No space left"):
        memory.remember(TABLE, {"engine_speed": ColumnChoice("RPM")})
    assert path.read_bytes() == before and [p.name for p in path.parent.iterdir()] == [path.name]


def test_the_folder_is_that_of_the_user(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("BOOSTPROOF_DATA", str(tmp_path))
    assert data_folder() == tmp_path
    monkeypatch.delenv("BOOSTPROOF_DATA")
    assert data_folder().name == "boostproof" and data_folder().is_absolute()


def test_what_is_named_now_goes_before_the_case() -> None:
    told = {"manifold_pressure": ColumnChoice("MAP"), "pedal": ColumnChoice("APP")}
    assert overruled(told, {"boost": ColumnChoice("Boost")}) == {
        "pedal": ColumnChoice("APP"),
        "boost": ColumnChoice("Boost"),
    }
    assert overruled(told, {}) == told


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BOOSTPROOF_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def _inspect(capsys: pytest.CaptureFixture[str], *options: str) -> dict[str, object]:
    assert main(["inspect", str(LOG), "--json", *options]) == 0
    answer: dict[str, object] = json.loads(capsys.readouterr().out)
    return answer


def _boost(answer: dict[str, object]) -> tuple[str, str]:
    channels = answer["channels"]
    assert isinstance(channels, list)
    (found,) = [c for c in channels if c["column"] == "Pressure 1"]
    return found["name"], found["why"]


def _kinds(answer: dict[str, object]) -> set[str]:
    findings = answer["findings"]
    assert isinstance(findings, list)
    return {finding["kind"] for finding in findings}


def test_the_command_asks_takes_an_answer_remembers_and_forgets(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = _inspect(capsys)
    assert asked["questions"] and _boost(asked)[0] == "manifold_pressure" and not data.exists()

    once = _inspect(capsys, "--column", "boost=Pressure 1, psi, gauge")
    assert _boost(once)[0] == "boost" and "--column" in _boost(once)[1] and not data.exists()

    kept = _inspect(capsys, "--column", "boost=pressure 1, psi, gauge", "--remember")
    assert "columns-remembered" in _kinds(kept) and len(list((data / "columns").iterdir())) == 1

    later = _inspect(capsys)
    assert _boost(later)[0] == "boost" and _boost(later)[1].startswith("as answered before")
    assert "remembered-columns" in _kinds(later) and later["questions"] == []

    back = _inspect(capsys, "--forget")
    assert _boost(back)[0] == "manifold_pressure" and "columns-forgotten" in _kinds(back)
    assert list((data / "columns").iterdir()) == []


def test_the_text_shows_what_is_asked_and_how_to_answer(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["inspect", str(LOG)]) == 0
    text = capsys.readouterr().out
    assert "To be sure" in text and 'Is "Pressure 1"' in text and "--remember" in text
    assert '--column "manifold_pressure=Pressure 1, psi, abs"' in " ".join(text.split())


def test_remember_without_an_answer_is_a_wrong_command_line(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["inspect", str(LOG), "--remember"]) == 2
    assert not data.exists()


def test_a_column_that_is_not_there_is_said_and_not_remembered(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["inspect", str(LOG), "--column", "boost=Presure 9", "--remember"]) == 1
    assert "Pressure 1" in capsys.readouterr().err and not data.exists()
