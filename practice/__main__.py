"""``python -m practice``: diagnose every practice case, print the scores, write the table."""

from __future__ import annotations

import argparse
import json
import sys
import time
import tomllib
from pathlib import Path
from typing import Any

from practice.cases import answer_of, cases_in, practice_folder, truth_of
from practice.score import Scored, summary

SETS = ("log", "readings")

# what a practice case's `evidence` names, and the test whose reading shows it
SHOWN_BY = {
    "map_sensor_key_on": "sensor-check",
    "map_sensor_at_15_psi_gauge": "sensor-check",
    "charge_pipe_pressure_test": "intake-pressurise",
    "gate_by_hand": "free-travel",
    "gate_port_mm": "port-measure",
    "turbo_shaft_by_hand": "shaft-check",
}


def evidence_group(truth: dict[str, Any], done: set[str]) -> str:
    """Whether a reading at hand decides the case, only the log shows it, or nothing does."""
    evidence = truth.get("evidence", [])
    if truth["causes"] == ["healthy"]:
        return "sound"
    if ("bench" in evidence and done) or any(SHOWN_BY.get(e) in done for e in evidence):
        return "decisive reading present"
    return "log only" if "log" in evidence else "invisible"


def run_case(folder: Path, without_readings: bool, seed: int) -> Scored:
    """Diagnose one case and hold it against its truth."""
    from boostproof.workflows.diagnose import diagnose

    truth = truth_of(folder)
    readings = folder / "readings.toml"
    done = set()
    if readings.is_file() and not without_readings:
        done = {r["test"] for r in tomllib.loads(readings.read_text(encoding="utf-8")).get("reading", [])}
    started = time.perf_counter()
    verdict = diagnose(folder, without_readings=without_readings, seed=seed, fresh=True)
    seconds = time.perf_counter() - started
    return Scored(
        folder.name,
        tuple(truth["causes"]),
        answer_of(verdict),
        evidence_group(truth, done),
        dict(verdict.sizes),
        seconds,
    )


def table(results: dict[str, list[Scored]]) -> str:
    """The results as a page in Markdown."""
    lines = [
        "# Practice cases",
        "",
        "Made by `python3 dev.py practice`; no number here is written by hand.",
        "",
    ]
    for name, cases in results.items():
        title = "log and readings" if name == "readings" else "log alone"
        lines += [f"## With {title}", ""]
        groups = {"all": cases}
        for case in cases:
            groups.setdefault(case.group, []).append(case)
        lines.append(
            "| cases | n | top-1 | top-3 | mean p(truth) | Brier | log score | ECE (floor mean, 95 %) "
            "| confident wrong | ESS median, least | s mean, most |"
        )
        lines.append("|---" * 11 + "|")
        for group, some in groups.items():
            s = summary(some)
            lines.append(
                f"| {group} | {len(some)} | {s['top1']:.2f} | {s['top3']:.2f} | {s['mean_p_truth']:.2f} "
                f"| {s['brier']:.2f} | {s['log_score']:.2f} "
                f"| {s['ece']:.2f} ({s['ece_floor_mean']:.2f}, {s['ece_floor_95']:.2f}) "
                f"| {s['confident_wrong']:.0f} | {s['ess_median']:.0f}, {s['ess_least']:.0f} "
                f"| {s['seconds_mean']:.1f}, {s['seconds_most']:.1f} |"
            )
        lines += ["", "| case | truth | p(truth) | first | second | third |", "|---|---|---|---|---|---|"]
        for c in cases:
            first = [f"{i} {c.answer[i]:.2f}" for i in c.ranking[:3]]
            mark = "" if c.hit(1) else " ✗"
            lines.append(
                f"| {c.name} ({c.group}) | {c.truth[0]}{mark} | {c.on_truth:.2f} | {' | '.join(first)} |"
            )
        lines.append("")
    return "\n".join(lines)


def main() -> int:
    """Run and report."""
    parser = argparse.ArgumentParser(prog="practice", description=__doc__)
    parser.add_argument("--only", choices=SETS, help="log alone, or log and readings")
    parser.add_argument("--cases", help="comma-separated numbers of the cases, all by default")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, default=None, help="another folder of cases")
    parser.add_argument("--write", type=Path, default=None, help="write the table to this file")
    parser.add_argument("--json", action="store_true", help="print the scores as JSON")
    given = parser.parse_args()
    folder = given.folder or practice_folder()
    if not folder.is_dir():
        print(f"There are no practice cases at {folder}. Set BOOSTPROOF_PRACTICE.", file=sys.stderr)
        return 1
    cases = cases_in(folder)
    if given.cases:
        wanted = {int(x) for x in given.cases.split(",")}
        cases = [p for p in cases if int(p.name.rsplit("-", 1)[-1]) in wanted]
    results: dict[str, list[Scored]] = {}
    for name in (given.only,) if given.only else SETS:
        results[name] = []
        for case in cases:
            scored = run_case(case, name == "log", given.seed)
            results[name].append(scored)
            mark = "ok" if scored.hit(1) else "3 " if scored.hit(3) else "no"
            first = ", ".join(f"{i} {scored.answer[i]:.2f}" for i in scored.ranking[:3])
            print(
                f"{name:8s} {case.name} {mark} p={scored.on_truth:.2f} {scored.seconds:4.1f}s "
                f"{scored.truth[0]} <- {first}",
                file=sys.stderr,
                flush=True,
            )
    scores = {name: summary(some) for name, some in results.items()}
    page = table(results)
    if given.write:
        given.write.parent.mkdir(parents=True, exist_ok=True)
        given.write.write_text(page + "\n", encoding="utf-8")
    print(json.dumps(scores, indent=1) if given.json else page)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
