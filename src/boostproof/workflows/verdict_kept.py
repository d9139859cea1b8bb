"""A verdict as it is kept: the answer for programs with what a page or a report needs beside it, and back again.

What stands under ``sheet`` is no part of the contract of ``diagnose --json``: curves and bands for the picture, and
texts whose quantities are still placeholders, so that each shop reads them in its own units. An answer without it
(one that a program wrote) can be read as well; it has no curves then.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from boostproof.findings import Finding
from boostproof.workflows.verdict import (
    Band,
    Curve,
    EvidenceShare,
    Fit,
    LookAlikes,
    NextTest,
    RankedCause,
    SeverityShare,
    SupposedOtherwise,
    UnknownWorth,
    Verdict,
    WouldChange,
)

SHEET = "sheet"
_POINTS = 160  # of a curve: what a page of 1,180 pixels can show


def to_kept(verdict: Verdict) -> dict[str, Any]:
    """What is kept of a verdict, as JSON."""
    return {
        **verdict.as_json(),
        SHEET: {
            "car": verdict.car,
            "target_kpa_gauge": None if verdict.target is None else verdict.target / 1e3,
            "sizes": verdict.sizes,
            "curves": [
                {"name": c.name, "rpm": _numbers(c.rpm, 1), "boost_kpa_gauge": _numbers(c.boost / 1e3, 2)}
                for c in map(_thinned, verdict.curves)
            ],
            "bands": [
                {
                    "id": b.id,
                    "title": b.title,
                    "probability": b.probability,
                    "rpm": _numbers(b.rpm, 1),
                    **{f"{k}_kpa_gauge": _numbers(getattr(b, k) / 1e3, 2) for k in ("low", "middle", "high")},
                }
                for b in verdict.bands
            ],
            "next_tests": [
                {"expected": t.expected, "cautions": list(t.cautions), "risk": t.risk, "confirms": t.confirms}
                for t in verdict.next_tests
            ],
            "would_change": [w.when for w in verdict.would_change],
        },
    }


def from_kept(answer: Mapping[str, Any]) -> Verdict:
    """The verdict that was kept.

    Parameters
    ----------
    answer : as `to_kept` gives it, or the answer of ``diagnose --json`` alone
    """
    sheet = answer.get(SHEET, {})
    target = sheet.get("target_kpa_gauge")
    return Verdict(
        car=sheet.get("car", ""),
        target=None if target is None else 1e3 * target,
        causes=tuple(_cause(c) for c in answer["causes"]),
        healthy=answer["healthy"],
        none_of_these=answer["none_of_these"],
        involved=dict(answer["involved"]),
        look_alikes=tuple(
            LookAlikes(tuple(g["ids"]), g["probability"], g["split_by"] or "") for g in answer["look_alikes"]
        ),
        next_tests=_tests(answer["next_tests"], sheet.get("next_tests", ())),
        pulls=tuple(answer["pulls"]),
        findings=tuple(Finding(**f) for f in answer["findings"]),
        fit=Fit(**{**answer["fit"], "audit_difference": 1e3 * answer["fit"].get("audit_difference", 0.0)}),
        sizes=dict(sheet.get("sizes", {})),
        used=tuple(answer["used"]),
        missing=tuple(answer["missing"]),
        curves=tuple(
            Curve(c["name"], np.array(c["rpm"]), 1e3 * np.array(c["boost_kpa_gauge"])) for c in sheet.get("curves", ())
        ),
        bands=tuple(
            Band(
                b["id"], b["title"], b["probability"], np.array(b["rpm"]),
                *(1e3 * np.array(b[f"{k}_kpa_gauge"]) for k in ("low", "middle", "high")),
            )
            for b in sheet.get("bands", ())
        ),
        seed=answer["seed"],
        versions=dict(answer["versions"]),
        seconds=answer["seconds"],
        would_change=_changes(answer["would_change"], sheet.get("would_change", ())),
        sensitivity=tuple(SupposedOtherwise(**s) for s in answer["sensitivity"]),
        inputs=dict(answer["inputs"]),
        unknowns=tuple(UnknownWorth(**u) for u in answer.get("unknowns", ())),
    )  # fmt: skip


def _cause(c: Mapping[str, Any]) -> RankedCause:
    from boostproof.diagnosis.causes import BY_ID
    from boostproof.workflows.explained import together

    parts = [BY_ID[i] for i in c["parts"]]
    return RankedCause(
        id=c["id"],
        parts=tuple(c["parts"]),
        title=together([p.title for p in parts]),
        looks_like=" ".join(p.looks_like for p in parts),
        repair=" ".join(p.repair for p in parts),
        probability=c["probability"],
        confirmed=c["confirmed"],
        direct_test=parts[0].direct_test,
        severity=tuple(SeverityShare(**s) for s in c["severity"]),
        evidence=tuple(EvidenceShare(**e) for e in c["evidence"]),
    )


def _tests(rows: Sequence[Mapping[str, Any]], texts: Sequence[Mapping[str, Any]]) -> tuple[NextTest, ...]:
    from boostproof.bench.tests import BY_ID

    out = []
    for i, row in enumerate(rows):
        said = texts[i] if i < len(texts) else {}
        test = BY_ID[row["id"]]
        out.append(
            NextTest(
                row["id"], test.title, row["minutes"], row["minutes_saved"], row["information_bits"], row["cost"],
                dict(said.get("expected", row["expected"])), tuple(said.get("cautions", row["cautions"])), test.steps,
                said.get("risk", 0.0), said.get("confirms", ""),
            )
        )  # fmt: skip
    return tuple(out)


def _changes(rows: Sequence[Mapping[str, Any]], texts: Sequence[str]) -> tuple[WouldChange, ...]:
    return tuple(
        WouldChange(row["test"], texts[i] if i < len(texts) else row["when"], row["leader"], row["probability"])
        for i, row in enumerate(rows)
    )


def _thinned(curve: Curve) -> Curve:
    """A curve with no more points than can be seen: means over equal stretches of rows."""
    n = len(curve.rpm)
    if n <= _POINTS:
        return curve
    edges = np.linspace(0, n, _POINTS + 1).astype(int)
    starts, counts = edges[:-1], np.diff(edges)
    return Curve(
        curve.name,
        np.add.reduceat(curve.rpm, starts) / counts,
        np.add.reduceat(curve.boost, starts) / counts,
    )


def _numbers(values: Any, digits: int) -> list[float]:
    return [float(v) for v in np.round(np.asarray(values, float), digits)]
