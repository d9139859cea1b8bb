"""The demo from complaint to verdict, as ``python3 dev.py demo`` runs it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from boostproof.cli import main
from boostproof.workflows.demo import ABOUT, DemoResult, run_demo


@pytest.fixture(scope="module")
def told() -> list[tuple[str, float]]:
    return []


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory, told: list[tuple[str, float]]) -> DemoResult:
    folder = tmp_path_factory.mktemp("demo") / "shop"
    return run_demo(folder, progress=lambda says, share: told.append((says, share)))


def test_everything_that_it_names_is_there(result: DemoResult) -> None:
    about = (result.directory / ABOUT).read_text("utf-8")
    assert (result.case / "car.toml").stat().st_size > 0
    for path in result.written:
        assert path.stat().st_size > 0
        assert path.name in about


def test_the_answer_keeps_its_contract(result: DemoResult) -> None:
    """design: contract of ``boostproof diagnose CASE --json``: probabilities of all hypotheses sum to 1."""
    answer = json.loads((result.directory / "verdict.json").read_text("utf-8"))
    shares = [cause["probability"] for cause in answer["causes"]]
    assert sum(shares) + answer["healthy"] + answer["none_of_these"] == pytest.approx(1.0, abs=1e-9)
    assert shares == sorted(shares, reverse=True)
    assert answer["next_tests"] and answer["pulls"]
    assert result.as_json()["verdict"] == answer


def test_the_text_names_the_leader_and_where_things_are(result: DemoResult) -> None:
    text = result.text()
    assert result.verdict.leader.title in re.sub(r"\s+", " ", text)
    for path in result.written:
        assert str(path) in text


def test_the_picture_can_be_shown(result: DemoResult) -> None:
    root = ElementTree.parse(result.directory / "verdict.svg").getroot()
    assert root.tag.endswith("svg")
    assert (result.directory / "verdict.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_progress_grows(result: DemoResult, told: list[tuple[str, float]]) -> None:
    shares = [share for _, share in told]
    assert len(shares) > 2 and shares == sorted(shares)
    assert all(says for says, _ in told)


def test_a_folder_with_somebody_elses_work_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "work.txt").write_text("mine", encoding="utf-8")
    assert main(["demo", "--directory", str(tmp_path)]) == 1
    assert "holds files that no demo wrote" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["work.txt"]
    assert main(["demo", "--json", "--directory", str(tmp_path / "work.txt")]) == 1
    assert json.loads(capsys.readouterr().out)["error"]["kind"] == "folder-taken"
