"""The scores of the practice mirror on answers whose scores are known."""

from __future__ import annotations

import numpy as np
import pytest
from practice.__main__ import evidence_group
from practice.score import Scored, brier, calibration_error, calibration_floor, log_score, summary


def _case(truth: tuple[str, ...], **answer: float) -> Scored:
    return Scored("case", truth, {k.replace("_", "-"): v for k, v in answer.items()}, "log only", {}, 1.0)


def test_accepted_ids_count_together() -> None:
    case = _case(("a", "b"), a=0.4, b=0.3, c=0.3)
    assert case.on_truth == pytest.approx(0.7)
    assert case.hit(1) and not case.confident_wrong
    assert brier([case]) == pytest.approx(0.3**2 + 0.3**2)
    assert log_score([case]) == pytest.approx(-np.log(0.7))


def test_confident_wrong() -> None:
    assert _case(("a",), a=0.05, b=0.95).confident_wrong
    assert not _case(("a",), a=0.2, b=0.8).confident_wrong


def test_calibrated_answers_stay_near_the_floor_and_overconfident_ones_do_not() -> None:
    rng = np.random.default_rng(4)
    confidence = rng.uniform(0.3, 1.0, 3000)
    honest = calibration_error(confidence, (rng.random(3000) < confidence).astype(float))
    boastful = calibration_error(confidence, (rng.random(3000) < 0.7 * confidence).astype(float))
    assert honest < calibration_floor(confidence)[1] + 0.005
    assert boastful > 0.15


def test_decisive_reading() -> None:
    truth = {"causes": ["charge-leak"], "evidence": ["log", "charge_pipe_pressure_test"]}
    assert evidence_group(truth, {"intake-pressurise"}) == "decisive reading present"
    assert evidence_group(truth, set()) == "log only"
    assert evidence_group({"causes": ["x"], "evidence": ["boost_reference_seen"]}, set()) == "invisible"
    assert evidence_group({"causes": ["healthy"], "evidence": []}, set()) == "sound"


def test_summary_names_every_score() -> None:
    cases = [_case(("a",), a=0.9, b=0.1), _case(("b",), a=0.6, b=0.4)]
    s = summary(cases)
    assert s["top1"] == 0.5 and s["top3"] == 1.0 and s["mean_p_truth"] == pytest.approx(0.65)
