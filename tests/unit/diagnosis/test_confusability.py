"""Telling causes apart: the fit against exact integrals, weighing and grouping by hand, small cars as they must come out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import multivariate_normal
from tests.unit.diagnosis.look_alike_table import PAIRS
from tests.unit.diagnosis.signature_table import BALL, EDGE, LOOP
from tests.unit.diagnosis.usual_subjects import described, usual_subject
from tools import confusability_page

from boostproof.bench.response import Candidates
from boostproof.diagnosis.catalogue.confusability import (
    Remaining,
    expected_verdict,
    left_together,
    linear_fits,
    log_evidences,
    probabilities,
    remaining,
    together,
)
from boostproof.diagnosis.catalogue.expected import bank_of, subject_of, with_steps
from boostproof.diagnosis.causes import applicable
from boostproof.diagnosis.evidence.blocks import EvidenceSet, gaussian_block
from boostproof.physics.system import OUTPUT_INDEX

FEW = ("spring-too-strong", "controller-set-high", "signal-line-leak", "gate-not-seating", "gate-debris")


def test_a_linear_model_is_fitted_as_its_exact_integral() -> None:
    """log of the integral of N(z; 0, I) N(y; A z + b, C), which is normal in y with covariance A A' + C."""
    rng = np.random.default_rng(5)
    a, b, y = rng.normal(size=(4, 3)), rng.normal(size=4), rng.normal(size=4)
    covariance = np.diag([0.5, 1.0, 2.0, 1.5])
    block = gaussian_block("log", lambda c: a @ c.par + b[:, None], y, covariance, group="log")
    z = np.concatenate([np.zeros((3, 1)), rng.normal(size=(3, 1))], axis=1)  # wherever the model is taken
    bank = SimpleNamespace(z=z, candidates=Candidates(with_steps(z), np.zeros(1), np.zeros((1, 1, 8))))
    best, _, logs = linear_fits(bank, EvidenceSet((block,)))  # type: ignore[arg-type]
    exact = multivariate_normal.logpdf(y, b, a @ a.T + covariance)
    np.testing.assert_allclose(logs, exact, rtol=1e-9)
    gain = a.T @ np.linalg.inv(a @ a.T + covariance)
    np.testing.assert_allclose(best, np.repeat((gain @ (y - b))[:, None], 2, axis=1), rtol=1e-7, atol=1e-9)


def test_fits_that_are_left_out_would_not_have_mattered() -> None:
    """Far less work leaves every probability within 0.25 of that of much more: as well as the page says."""
    bank = bank_of(usual_subject(BALL, FEW), ())
    for cause in FEW[:3]:
        own = next(i for i, h in enumerate(bank.subject.hypotheses) if cause in [c.id for c in h.causes])
        evidence = bank.evidence(bank.point(own, 0.7), ())
        quick = probabilities(bank, log_evidences(bank, evidence))
        full = probabilities(bank, log_evidences(bank, evidence, near=1e3, rounds=6))
        assert quick == pytest.approx(full, abs=0.25)


def test_variants_count_by_their_shares_and_ties_stay_ties() -> None:
    named = {name: SimpleNamespace(id=name) for name in "abc"}
    hypotheses = [
        SimpleNamespace(causes=(), share=1.0),
        SimpleNamespace(causes=(named["a"],), share=0.25),
        SimpleNamespace(causes=(named["a"],), share=0.75),
        SimpleNamespace(causes=(named["b"], named["c"]), share=1.0),
    ]
    bank = SimpleNamespace(subject=SimpleNamespace(hypotheses=hypotheses))
    evidence = np.array([9.0, np.log(4.0), -np.inf, 0.0])
    p = probabilities(bank, evidence)  # type: ignore[arg-type]
    assert p == pytest.approx({"a": 1 / 3, "b": 1 / 3, "c": 1 / 3})


def left(cause: str, **against: float) -> Remaining:
    return Remaining(cause, {}, against)


def test_groups_are_as_large_as_every_two_of_them_allow() -> None:
    """a, b and c cannot be told from each other; d is taken for c only, and c for d; e is taken for a, not back."""
    found = {
        "a": left("a", b=0.5, c=0.7, d=0.9, e=0.95),
        "b": left("b", a=0.5, c=0.6, d=0.99, e=1.0),
        "c": left("c", a=0.5, b=0.5, d=0.6, e=1.0),
        "d": left("d", a=0.9, b=0.9, c=0.79, e=1.0),
        "e": left("e", a=0.3, b=1.0, c=1.0, d=1.0),
    }
    assert together(found) == [("a", "b", "c"), ("c", "d")]
    assert together({}) == []


def test_what_a_cause_is_taken_for_comes_by_probability() -> None:
    one = Remaining("a", {"a": 0.5, "b": 0.1, "c": 0.395, "d": 0.005}, {})
    assert one.truth == 0.5 and one.taken_for() == [("c", 0.395), ("b", 0.1)]


def test_what_is_expected_of_the_true_car_fits_it_perfectly() -> None:
    bank = bank_of(usual_subject(LOOP, FEW[:1]), ("actuator-sweep",))
    point = bank.point(1, 0.5)
    evidence = bank.evidence(point, ("actuator-sweep",))
    residuals = evidence.residuals(bank.candidates)[:, point * bank.columns]
    blocks = dict(zip([b.source for b in evidence.blocks], evidence.split(residuals), strict=True))
    assert np.abs(blocks["pulls"]).max() < 1e-9 and np.abs(blocks["actuator-sweep"]).max() < 1e-9
    assert len(blocks["pulls"]) == 2 * bank.subject.simulator.drive.slots  # boost and duty
    shown = bank.candidates.all_outputs[:, OUTPUT_INDEX["boost"], point * bank.columns]
    assert shown.max() > 9.5e4  # and it is the faulty car


def test_one_change_of_the_car_with_two_names_is_never_parted() -> None:
    """Debris under the valve and a valve that does not seat are one leak; nothing asked here can tell them apart."""
    subject = usual_subject(BALL, ("gate-not-seating", "gate-debris", "spring-too-strong"))
    same = {h.mechanism for h in subject.hypotheses for c in h.causes if c.id != "spring-too-strong"}
    assert len(same) == 1
    bank = bank_of(subject, ("seat-leak",))
    p = expected_verdict(bank, 1, 0.7, ("seat-leak",)) if len(subject.hypotheses[1].causes) == 2 else (
        expected_verdict(bank, 2, 0.7, ("seat-leak",)))  # fmt: skip
    assert p["gate-not-seating"] == pytest.approx(p["gate-debris"]) and p["gate-debris"] > 0.45


def test_what_the_shop_cannot_do_leaves_causes_together() -> None:
    """Without a lift no port is measured and no flapper swung: size, travel and entry stay one to the shop."""
    subject = usual_subject(EDGE, ("port-too-small", "port-entry-poor", "charge-leak"))
    asked = ("cold-look", "port-measure", "free-travel", "floor-pull", "intake-pressurise")
    subject = replace(subject, tests=tuple(t for t in subject.tests if t.id in asked))
    assert ("port-too-small", "port-entry-poor") not in left_together(subject)
    without = [t for t in subject.tests if t.need != "lift"]
    assert len(without) < len(subject.tests)
    said: list[float] = []
    shop = replace(subject, tests=tuple(without))
    assert left_together(shop, progress=lambda text, share: said.append(share)) == [
        ("port-too-small", "port-entry-poor")
    ]
    assert said == sorted(said) and said[-1] < 1.0


def test_a_test_tells_more_than_the_log() -> None:
    bank = bank_of(usual_subject(BALL, FEW[:3]), ("spring-only-pull", "bleed-decay"))
    log, tested = remaining(bank, ()), remaining(bank, ("spring-only-pull", "bleed-decay"))
    assert list(log) == list(FEW[:3])
    assert sum(one.truth for one in tested.values()) > sum(one.truth for one in log.values()) + 0.3


def test_a_description_gives_the_causes_and_tests_of_its_car() -> None:
    car = described(BALL)
    subject = subject_of(car, {"lift": False, "duty_driver": True})
    held = {c.id for h in subject.hypotheses for c in h.causes}
    assert held == {c.id for c in applicable("ball and spring", False)}
    tests = {t.id for t in subject.tests}
    assert "controller-sweep" in tests and not {"free-travel", "port-measure", "solenoid-check"} & tests
    assert subject.channels == ("boost",)


@pytest.fixture(scope="module")
def found() -> dict[str, tuple[dict[str, Remaining], dict[str, Remaining]]]:
    """What would be computed for one kind of car, made up."""
    log = {
        "gate-debris": Remaining(
            "gate-debris", {"gate-debris": 0.4, "gate-flutter": 0.6}, {"gate-flutter": 0.4}
        ),
        "gate-flutter": Remaining(
            "gate-flutter", {"gate-debris": 0.1, "gate-flutter": 0.9}, {"gate-debris": 0.9}
        ),
    }
    tied = {
        one: Remaining(one, {one: 0.5, other: 0.5}, {other: 0.5})
        for one, other in (("gate-debris", "gate-flutter"), ("gate-flutter", "gate-debris"))
    }
    return {"A car": (log, tied)}


def test_the_committed_page_is_current(capsys: pytest.CaptureFixture[str]) -> None:
    assert confusability_page.main(["--check"]) == 0, "run: python -m tools.confusability_page"
    assert capsys.readouterr().out == ""


def test_the_page_shows_what_is_left(
    found: dict[str, tuple[dict[str, Remaining], dict[str, Remaining]]],
) -> None:
    text = confusability_page.page(found)
    row = "| [gate-debris](causes.md#gate-debris) | 0.40 | gate-flutter 0.60 | 0.50 | gate-flutter 0.50 |"
    assert row in text and "Of 2 causes 1 end above 0.80 by the log alone and 0 with all tests." in text
    assert "one and the same change" in text
    assert all(pair.finding in text and f"[{pair.first}]" in text for pair in PAIRS)


def test_the_stamp_tells_a_page_that_is_not_current(
    found: dict[str, tuple[dict[str, Remaining], dict[str, Remaining]]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    file = tmp_path / "confusability.md"
    assert not confusability_page.current(file)
    file.write_text(confusability_page.page(found), encoding="utf-8")
    assert confusability_page.current(file)
    monkeypatch.setattr(confusability_page, "CATALOGUE", confusability_page.CATALOGUE[1:])
    assert not confusability_page.current(file)
