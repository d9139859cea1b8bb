"""The page of an evaluation: tables in Markdown, and a reliability diagram for every suite that has one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from evaluation.figures import draw_reliability
from evaluation.histories import FALSE, with_histories
from evaluation.marks import LAST, LOG, Measured, measure
from evaluation.metrics import HEALTHY, Result, scored, table_of, worst_cause
from evaluation.suites import TESTS, TITLES

_INTRO = """# Evaluation

Made by `python3 dev.py evaluate --tier {tier}{chosen} --write`; no number here is written by hand.

Every car's fault is known. The product ranks the causes on the log alone; then up to {tests} of the tests that
it proposes are done, one at a time, each only if it is expected to save more minutes than it takes.

Cars are drawn from fixed seeds, here {seeds}.
The set "dev" has other seeds and is what may be looked at while the product is changed; nothing is tuned on the
cars of the others. The sets "fresh" and "unseen" stand in, in this order, where single cars of the set before were
looked into.

Causes that are one and the same change of the car count as one answer. Rare causes are drawn more often than they
are met; every mean is weighted back to how often each is met. Intervals hold 95 % of bootstrap samples over cars,
drawn anew within every cause. A calibration error is computed in ten bins of equal weight, with the bias of finite
bins taken off; beside it stands what a perfectly calibrated tool would show with as many cars and the same
confidences (mean and 95 % point): a value below that says no more than that. With few cars a line proves little,
whatever its verdict.
"""

_NOT_YET = """## Not measured here

The band of the next boost and of the curve after a repair, pulls planned beyond the hard limit, and how far the
answer hangs on the seed.
"""

_ABOUT = {
    "S1": "Families of gate, controller and size; nuisances, fault and severity from the prior, such as hold their "
    "target when sound and are brought in; log and readings with the errors that the likelihood allows for. No car "
    "has two faults or one that is not on the list, for which the product keeps a share of its belief; a calibrated "
    "tool is therefore less sure here than it is right. Had it known, its confidence should match: two lines say so.",
    "S2": "Case folders by the simulator of `boostproof.demo`, which shares no physics with the inference, read and "
    "diagnosed like any case. Readings are held back and given as they are asked for; a proposed test whose reading "
    "is not there is passed over at no cost.",
    "practice": "Case folders by others, run as S2. They were looked at while the product was made, so they are no "
    "proof; and with 48 cars a calibration error says nothing.",
    "S3": "Cars as in S1; the true mechanism is taken off the list of causes before the diagnosis.",
    "S4": "Cars as in S1 with two faults that one car can have, each with a severity of its own.",
    "S5": "Cars as in S1 with no fault. Brought for a check, the chance that nothing is wrong starts at 25 % instead "
    "of 5 %; nothing else changes.",
    "S6": "Cases as in S2 whose log was spoilt. A clear refusal is an answer too; an error of the program is not. "
    "Also said: findings that the clean log does not get.",
    "S7": "Logs of engines without a turbo, told to be of a turbo car: reading them must say so.",
    "S8": "Few causes and tests, small enough that the best order of tests can be computed exactly.",
}


def write_page(
    folder: Path | None,
    results: dict[str, list[Result]],
    *,
    tier: str,
    chosen: str,
    seeds: Mapping[str, str],
    tests: int,
    exact: str = "",
) -> str:
    """The page as text; where a folder is given, also written there with its pictures.

    Parameters
    ----------
    folder : docs/evaluation
    results : by suite
    tier, chosen, tests : how they were made
    seeds : set of seeds by suite
    exact : lines of the suite with exact answers
    """
    parts = [_INTRO.format(tier=tier, chosen=chosen, tests=tests, seeds=_told_sets(seeds))]
    for suite, some in results.items():
        parts.append(f"## {suite}: {TITLES[suite]}\n\n{_ABOUT[suite]}\n")
        parts.append(_suite(suite, some, folder))
    if exact:
        parts.append(f"## S8: {TITLES['S8']}\n\n{_ABOUT['S8']}\n\n{exact}\n")
    text = "\n".join(part for part in [*parts, _NOT_YET] if part)
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "index.md").write_text(text, encoding="utf-8")
    return text


def _told_sets(seeds: Mapping[str, str]) -> str:
    """Sets of seeds with the suites that are drawn from each; practice cases are not drawn."""
    suites: dict[str, list[str]] = {}
    for suite, name in seeds.items():
        if suite != "practice":
            suites.setdefault(name, []).append(suite)
    return ", ".join(f'{" ".join(some)} of the set "{name}"' for name, some in suites.items()) or "none here"


def _suite(suite: str, results: Sequence[Result], folder: Path | None) -> str:
    lines = [_counts(results), ""]
    if suite == "S7":
        return "\n".join([*lines, *_aspirated(results)])
    answered = [r for r in results if r.steps]
    if not answered:
        return "\n".join(lines)
    lines += _marks(measure(suite, [within(r, TESTS) for r in results]))
    if suite == "S6":
        lines += _dirty(results)
    if len({r.stratum for r in answered}) > 1 and suite != "S4":
        lines += _by_cause(suite, answered)
    if suite in ("S1", "S2", "practice"):
        tables = (table_of(answered, LOG), table_of(answered, LAST))
        if folder is not None:
            draw_reliability(folder / f"{suite}.svg", f"{suite}: {TITLES[suite]}", tables)
        lines += [f"![Reliability of {suite}]({suite}.svg)", ""]
    if suite in ("S1", "S2", "practice"):
        lines += _by_tests(answered)
    if suite in ("S1", "S2"):
        lines += [*_by_severity(answered), *_histories(answered)]
    return "\n".join(lines)


def within(result: Result, tests: int) -> Result:
    """A car as it stood after so many tests at most."""
    return replace(result, steps=result.steps[: tests + 1])


def _by_tests(results: Sequence[Result]) -> list[str]:
    """How the answer grows with the tests, those of a car being fewer where no other was worth its minutes."""
    lines = ["By how many of the proposed tests were done at most:", ""]
    heads = (
        "tests", "done on average", "first right", "probability of the truth", "more than 90 % sure and wrong",
        "minutes over those of who knows the cause",
    )  # fmt: skip
    lines += [f"| {' | '.join(heads)} |", "|---" * len(heads) + "|"]
    for most in range(max(len(r.steps) for r in results)):
        table = table_of([within(r, most) for r in results], LAST)
        values = " | ".join(f"{table.mean(c):.2f}" for c in ("tests", "top1", "p_truth", "confident_wrong"))
        lines.append(f"| {most} | {values} | {table.mean('minutes') / table.mean('oracle'):.2f} |")
    return [*lines, ""]


def _by_severity(results: Sequence[Result]) -> list[str]:
    """How much of what is missed is missed because the fault is slight."""
    lines = ["By how far the fault has gone, in thirds of what is thought possible of it:", ""]
    lines += ["| severity | cars | right, log alone | right after the tests | probability of the truth |"]
    lines += ["|---" * 5 + "|"]
    for name, low, high in (("slight", 0.0, 1 / 3), ("middling", 1 / 3, 2 / 3), ("grave", 2 / 3, 1.01)):
        some = [r for r in results if r.stratum != HEALTHY and low <= _severity(r.note) < high]
        if some:
            first, last = table_of(some, LOG), table_of(some, LAST)
            lines.append(
                f"| {name} | {len(some)} | {first.mean('top1'):.2f} | {last.mean('top1'):.2f} "
                f"| {last.mean('p_truth'):.2f} |"
            )
    return [*lines, ""]


def _severity(note: dict[str, Any]) -> float:
    """Of the fault of a car with one, 0 to 1."""
    return float(note.get("severity", max(note.get("severities", ()), default=0.0)))


def _histories(results: Sequence[Result]) -> list[str]:
    """The same cars when their owners have said something, a share of it about another fault."""
    told = with_histories(results)
    false = [r for r in told if r.note["history_false"]]
    lines = [f"With what the customer says of each car, false in {FALSE:.0%} of them:", ""]
    lines += ["| | cars | first right | probability of the truth | log score | more than 90 % sure and wrong |"]
    lines += ["|---" * 6 + "|"]
    groups = (("nothing said", list(results)), ("told", told), ("of these falsely", false))
    for name, some in groups:
        for step, when in ((LOG, "log alone"), (LAST, "after the tests")):
            if some:
                t = table_of(some, step)
                values = " | ".join(f"{t.mean(c):.3f}" for c in ("top1", "p_truth", "log_score", "confident_wrong"))
                lines.append(f"| {name}, {when} | {t.size} | {values} |")
    return [*lines, ""]


def _counts(results: Sequence[Result]) -> str:
    refused = Counter(r.note["refused"] for r in results if "refused" in r.note)
    failed = [r for r in results if "error" in r.note]
    seconds = float(np.mean([r.note["processor_seconds"] for r in results]))
    said = [f"{len(results)} cars, {seconds:.0f} processor seconds each"]
    on_device = sum(r.note.get("engine") == "device" for r in results)
    if on_device:
        said[0] += f" ({on_device} with the pulls simulated on a graphics processor)"
    if refused:
        said.append("refused: " + ", ".join(f"{kind} {n}" for kind, n in sorted(refused.items())))
    if failed:
        said.append(f"errors of the program: {len(failed)} ({failed[0].name}: {failed[0].note['error']})")
    answered = [r for r in results if r.steps]
    if answered:
        table = table_of(answered, LAST)
        said.append(f"{table.mean('tests'):.1f} tests on average")
        said.append(f"fewer than 10 effective candidates for a leading cause in {table.mean('doubtful'):.0%}")
    return "; ".join(said) + "."


def _marks(measured: Sequence[Measured]) -> list[str]:
    lines = ["| | cars | measured | 95 % interval | perfect tool | pass | stretch | |", "|---" * 8 + "|"]
    for m in measured:
        sign = "≥" if m.mark.higher else "≤"
        limits = ["" if x is None else f"{sign} {x:g}" for x in (m.mark.passes, m.mark.reaches)]
        floor = "" if m.floor is None else f"{m.floor[0]:.3f}, {m.floor[1]:.3f}"
        lines.append(
            f"| {m.mark.says} | {m.cars} | {m.value:.3f} | {m.low:.3f} to {m.high:.3f} | {floor} "
            f"| {limits[0]} | {limits[1]} | {m.verdict} |"
        )
    return [*lines, ""]


def _by_cause(suite: str, results: Sequence[Result]) -> list[str]:
    tables = (table_of(results, LOG), table_of(results, LAST))
    last = "other" if suite == "S3" else "top1"
    name, value, count = worst_cause(tables[1], last)
    what = "told to be unknown" if suite == "S3" else "right after the tests"
    lines = [f"Worst cause with four cars or more: {name}, {what} in {value:.2f} of {count}.", ""] if name else []
    lines += [f"| cause | cars | right, log alone | {what} | probability of the truth | taken for |", "|---" * 6 + "|"]
    for cause in sorted(set(tables[0].stratum.tolist())):
        rows = np.flatnonzero(tables[0].stratum == cause)
        wrong: Counter[str] = Counter()
        for k in rows.tolist():
            case = scored(results[k], LAST)
            if case.ranking[0] not in case.truth:
                wrong[case.ranking[0]] += 1
        taken = ", ".join(f"{i} {n}" for i, n in wrong.most_common(3))
        lines.append(
            f"| {cause} | {len(rows)} | {tables[0].mean('top1', rows):.2f} | {tables[1].mean(last, rows):.2f} "
            f"| {tables[1].mean('p_truth', rows):.2f} | {taken} |"
        )
    return [*lines, ""]


def _dirty(results: Sequence[Result]) -> list[str]:
    lines = ["| spoilt | cars | answered | refused | errors | first right | more than 90 % sure and wrong | also said |"]
    lines.append("|---" * 8 + "|")
    for kind in sorted({r.note["spoilt"] for r in results}):
        some = [r for r in results if r.note["spoilt"] == kind]
        answered = [r for r in some if r.steps]
        table = table_of(answered, LAST) if answered else None
        right = f"{table.mean('top1'):.2f}" if table else ""
        wrong = f"{table.mean('confident_wrong'):.2f}" if table else ""
        said = Counter(k for r in answered for k in r.note["also_said"])
        words = ", ".join(f"{k} {n}" for k, n in said.most_common(3))
        lines.append(
            f"| {kind} | {len(some)} | {len(answered)} | {sum('refused' in r.note for r in some)} "
            f"| {sum('error' in r.note for r in some)} | {right} | {wrong} | {words} |"
        )
    return [*lines, ""]


def said_so(note: dict[str, Any]) -> bool:
    """Whether a log without a turbo was told to be one."""
    return note.get("refused") == "naturally-aspirated" or "naturally-aspirated" in note.get("findings", ())


def _aspirated(results: Sequence[Result]) -> list[str]:
    share = float(np.mean([said_so(r.note) for r in results]))
    verdict = "pass" if share == 1.0 else "**not met**"
    return [
        "| | cars | measured | pass | |",
        "|---" * 5 + "|",
        f"| told to be without a turbo | {len(results)} | {share:.3f} | ≥ 1 | {verdict} |",
        "",
    ]
