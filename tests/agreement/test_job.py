"""A whole job on the demo generator's car, which shares nothing with the inference model."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from boostproof.demo import write_demo_case
from boostproof.workflows.diagnose import diagnose
from boostproof.workflows.verdict import Verdict


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_demo_case(tmp_path_factory.mktemp("job") / "case")


@pytest.fixture(scope="module")
def verdict(case: Path) -> Verdict:
    return diagnose(case)


def test_probabilities_sum_to_one(verdict: Verdict) -> None:
    answer = verdict.as_json()
    total = sum(c["probability"] for c in answer["causes"]) + answer["healthy"] + answer["none_of_these"]
    assert total == pytest.approx(1.0, abs=1e-9)
    assert all(c["parts"] == c["id"].split(" + ") for c in answer["causes"])


def test_truth_leads(case: Path, verdict: Verdict) -> None:
    truth = tomllib.loads((case / "truth.toml").read_text(encoding="utf-8"))["causes"]
    assert sum(c.probability for c in verdict.causes if c.id in truth) > 0.7


def test_tests_done_are_not_proposed(case: Path, verdict: Verdict) -> None:
    done = {r["test"] for r in tomllib.loads((case / "readings.toml").read_text(encoding="utf-8"))["reading"]}
    assert not done & {t.id for t in verdict.next_tests}
    assert all(t.cautions or t.id == "sensor-check" for t in verdict.next_tests)


def test_order_of_readings_does_not_matter(case: Path, verdict: Verdict, tmp_path: Path) -> None:
    text = (case / "readings.toml").read_text(encoding="utf-8")
    head, *readings = text.split("[[reading]]")
    other = tmp_path / "case"
    other.mkdir()
    (other / "recordings").mkdir()
    for path in case.iterdir():
        if path.is_file():
            (other / path.name).write_bytes(path.read_bytes())
    for path in (case / "recordings").iterdir():
        (other / "recordings" / path.name).write_bytes(path.read_bytes())
    turned = "[[reading]]".join([head, *[r.rstrip("\n") + "\n\n" for r in reversed(readings)]])
    (other / "readings.toml").write_text(turned, encoding="utf-8")
    again = diagnose(other)
    first = {c.id: c.probability for c in verdict.causes}
    for c in again.causes:
        assert c.probability == pytest.approx(first[c.id], abs=1e-6)


def test_log_alone_is_less_sure(case: Path, verdict: Verdict) -> None:
    alone = diagnose(case, without_readings=True)
    assert not any(c.confirmed for c in alone.causes)
    assert {"actuator-sweep", "cold-look"} <= {t.id for t in alone.next_tests}
    assert "actuator-sweep" not in alone.used and "actuator-sweep" in verdict.used
