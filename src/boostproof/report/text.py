"""The verdict as plain text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from boostproof.bench.procedures import fill
from boostproof.findings import LEFT_OUT, LEFT_OUT_TRIED
from boostproof.report.words import (
    UNCONFIRMED_CAP,
    Weighed,
    called_test,
    percent,
    severity_in_words,
    shown_percent,
    title_of_test,
)

if TYPE_CHECKING:
    from boostproof.findings import Finding
    from boostproof.workflows.verdict import EvidenceShare, NextTest, RankedCause, Verdict

MISFIT = 0.01  # chance of so large a misfit below which no known cause is put forward as the answer
COMMON = "how common it is"  # source of the share that no evidence has
SOUND_TITLE = "Sound"
OTHERS = "all others together"
_SHOWN = 0.01
_MOST = 6
_BAR = 20
_TURNS = 4
TRUST = {
    "ok": "The numbers can be taken as they stand.",
    "about": "The numbers are rough: read them as about.",
    "order only": "Only the order can be trusted, not the numbers; another test settles more than more computing.",
}
UNEXPLAINED = "Even the leading cause does not explain all that was measured."
SAFETY = (
    "Full-load pulls, shop air and hot parts can hurt: regulator and relief valve, eyes covered, hands clear, "
    "parts cool, a second person at the stop. Local rules and the maker's limits go first."
)


def verdict_text(verdict: Verdict, *, width: int = 100, units: str = "psi") -> str:
    """The verdict as a technician reads it.

    Parameters
    ----------
    verdict : finished result
    width : columns; no line is longer
    units : "psi", "bar" or "kPa"
    """
    parts = [
        _wrapped(f"{verdict.car}: {headline(verdict)}", width),
        "\n".join(_wrapped(_said_of(finding), width, "    ", "  ! ") for finding in left_out(verdict)),
        _ranking(verdict, width),
        _why(verdict, width, units),
        _look_alikes(verdict, width),
        _next(verdict, width, units),
        _would_change(verdict, width, units),
        _doubt(verdict, width),
        _wrapped(SAFETY, width),
    ]
    return "\n\n".join(p for p in parts if p) + "\n"


def _wrapped(text: str, width: int, indent: str = "", first: str | None = None) -> str:
    return textwrap.fill(
        text,
        width,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=True,
    )


def title_of(verdict: Verdict, cause_id: str) -> str:
    """What an answer is called by itself."""
    if cause_id == "healthy":
        return SOUND_TITLE
    return next((c.title for c in verdict.causes if c.id == cause_id), cause_id)


def name_of(verdict: Verdict, answer: str) -> str:
    """An answer within a sentence."""
    if answer in ("healthy", "none_of_these"):
        return "a sound car" if answer == "healthy" else "none of these"
    title = title_of(verdict, answer)
    return title[0].lower() + title[1:]


def headline(verdict: Verdict) -> str:
    """What came of it, as the rest of a sentence that begins with the name of the car."""
    leader, trust = verdict.leader, verdict.fit.trust
    if verdict.fit.misfit < MISFIT:
        near = "healthy" if verdict.healthy >= leader.probability else leader.id
        return (
            "none of the known causes explains all that was measured. Look for something that nobody has thought "
            f"of, or check the inputs; {name_of(verdict, near)} comes nearest."
        )
    if verdict.healthy >= max(leader.probability, verdict.none_of_these):
        p = percent(verdict.healthy, trust)
        return "nothing found wrong" + (f" ({p})." if p else ", as far as the order can be trusted.")
    if verdict.none_of_these >= leader.probability:
        return "none of the known causes fits. Look for something that nobody has thought of, or check the inputs."
    p = shown_percent(leader, trust)
    much = f" ({p})" if p else ""
    name = leader.title[0].lower() + leader.title[1:]
    if leader.confirmed and leader.probability > UNCONFIRMED_CAP:
        return f"{name}{much}, confirmed by its own test ({leader.direct_test})."
    if leader.confirmed:
        return f"probably {name}{much}; its own test ({leader.direct_test}) read so, yet something else may be."
    if leader.probability > UNCONFIRMED_CAP:
        open_tests = {t.id for t in verdict.next_tests}
        if leader.direct_test in open_tests:
            return f"most likely {name}, not yet confirmed: confirm it by {leader.direct_test}."
        return f"most likely {name}, by weighing all that was found; no single reading proves it."
    if leader.probability > 0.5:
        return f"probably {name}{much}."
    return f"not decided yet; {name} leads{much}."


def ranking(verdict: Verdict) -> list[tuple[str, float, str]]:
    """Name, probability and how it may be said ("" where only the order can be trusted), most probable first."""
    return ranked_rows(verdict.causes, verdict.healthy, verdict.none_of_these, verdict.fit.trust)


def ranked_rows(
    causes: Sequence[Weighed], healthy: float, none_of_these: float, trust: str
) -> list[tuple[str, float, str]]:
    """The rows of `ranking`, from the probabilities."""
    rows: list[tuple[str, float, str]] = [
        (c.title, c.probability, shown_percent(c, trust)) for c in causes if c.probability >= _SHOWN
    ]
    for name, p in ((SOUND_TITLE, healthy), ("None of these", none_of_these)):
        if p >= _SHOWN:
            rows.append((name, p, percent(p, trust)))
    rows.sort(key=lambda row: -row[1])
    shown = rows[:_MOST]
    rest = 1.0 - sum(p for _, p, _ in shown)
    return [*shown, (OTHERS, rest, percent(rest, trust))] if rest > _SHOWN and trust != "order only" else shown


def _ranking(verdict: Verdict, width: int) -> str:
    return "\n".join(["WHAT IT MAY BE", *ranking_lines(ranking(verdict), verdict.fit.trust, width)])


def ranking_lines(rows: Sequence[tuple[str, float, str]], trust: str, width: int) -> list[str]:
    """Rows of `ranking` as lines: a bar for each, or its place where only the order can be trusted."""
    column = max(16, min(48, width - _BAR - 16))
    lines = []
    for place, (name, p, said) in enumerate(rows, start=1):
        bar = "" if name == OTHERS else "█" * max(1, round(_BAR * p)) if trust != "order only" else f"{place}."
        lines.append(
            f"  {textwrap.shorten(name, column, placeholder='…'):{column}s} {bar:{_BAR}s} {said}".rstrip()
        )
    return lines


def _why(verdict: Verdict, width: int, units: str) -> str:
    leader = verdict.leader
    if leader.probability < max(verdict.healthy, verdict.none_of_these):
        return ""
    lines = [f"WHY {leader.title.upper()}"]
    for e in reasons(leader):
        lines.append(_wrapped(e.says, width, "    ", "  + " if e.nats > 0 else "  - "))
    for s in leader.severity:
        said = severity_in_words(s, units)
        if said:
            lines.append(_wrapped(f"How bad: {said}.", width, "    ", "  "))
    lines.append(_wrapped(f"Usual repair: {leader.repair}", width, "    ", "  "))
    return "\n".join(lines)


def reasons(cause: RankedCause) -> list[EvidenceShare]:
    """What speaks for a cause, strongest first, then what speaks against it."""
    # one cause among many is never common: that is no reason against this one
    telling = [e for e in cause.evidence if e.strength != "none" and e.source != COMMON]
    return [e for e in telling if e.nats > 0][:4] + [e for e in telling if e.nats < 0][:3]


def look_alikes(verdict: Verdict) -> list[str]:
    """Which causes the evidence leaves together, and what parts them."""
    said = []
    for group in verdict.look_alikes[:3]:
        names = " / ".join(title_of(verdict, i) for i in group.ids[:5])
        how = f"{called_test(group.split_by)} parts them" if group.split_by else "no open test here parts them"
        said.append(f"{names}: {how}.")
    return said


def _look_alikes(verdict: Verdict, width: int) -> str:
    lines = [_wrapped(said, width, "    ", "  ") for said in look_alikes(verdict)]
    return "\n".join(["LOOK-ALIKES", *lines]) if lines else ""


def _next(verdict: Verdict, width: int, units: str) -> str:
    worth = [t for t in verdict.next_tests if t.minutes_saved > 0.0]
    if not worth:
        if verdict.leader.confirmed and verdict.leader.probability > UNCONFIRMED_CAP:
            return _wrapped("DO THIS NEXT  Repair it, then repeat the failing test and a pull.", width)
        return _wrapped(
            "DO THIS NEXT  No open test saves more time than it takes; repair in the order above.", width
        )
    best = worth[0]

    def put(text: str) -> str:
        return fill(text, pressure=units)

    lines = [_wrapped(f"{best.title} ({best.id}, {best.minutes:.0f} min)", width, "    ", "DO THIS NEXT  ")]
    lines += [_wrapped(f"Caution: {put(text)}", width, "    ", "  ! ") for text in best.cautions]
    lines += [_wrapped(put(step), width, "     ", f"  {n}. ") for n, step in enumerate(best.steps, start=1)]
    lines += _expected(verdict, best, width, put)
    lines.append(
        _wrapped(f"Saves about {best.minutes_saved:.0f} minutes of repair on average.", width, "    ", "  ")
    )
    for t in worth[1:4]:
        lines.append(_wrapped(f"or {t.title} ({t.id}, {t.minutes:.0f} min)", width, "    ", "  "))
    return "\n".join(lines)


def _expected(verdict: Verdict, test: NextTest, width: int, put: Callable[[str], str]) -> list[str]:
    lines = []
    for cause_id, said in test.expected.items():
        if said:
            lines.append(_wrapped(f"{title_of(verdict, cause_id)}: {put(said)}", width, "      ", "  → "))
    return lines


def would_change(verdict: Verdict, units: str) -> list[str]:
    """With which readings something else would lead, a sentence for each test."""
    tests: dict[str, dict[str, list[str]]] = {}
    for turn in verdict.would_change[:_TURNS]:
        tests.setdefault(turn.test, {}).setdefault(turn.leader, []).append(fill(turn.when, pressure=units))
    return [
        f"{title_of_test(test)}: " + "; ".join(
            f"with {' or '.join(readings)}, {name_of(verdict, leader)} would lead" for leader, readings in leaders.items()
        ) + "." for test, leaders in tests.items()
    ]  # fmt: skip


def _would_change(verdict: Verdict, width: int, units: str) -> str:
    lines = [_wrapped(said, width, "    ", "  ") for said in would_change(verdict, units)]
    return "\n".join(["WHAT WOULD CHANGE IT", *lines]) if lines else ""


def _leading(verdict: Verdict) -> str:
    """Id of what leads."""
    chances = {"healthy": verdict.healthy, "none_of_these": verdict.none_of_these}
    chances[verdict.leader.id] = verdict.leader.probability
    return max(chances, key=lambda name: chances[name])


def under_other_assumptions(verdict: Verdict) -> str:
    """Whether the leader hangs on what had to be assumed."""
    if not verdict.sensitivity:
        return ""
    now = _leading(verdict)
    other: dict[str, list[str]] = {}
    for tried in verdict.sensitivity:
        if tried.leader != now:
            other.setdefault(tried.leader, []).append(f"with {tried.what}")
    if not other:
        return "The leader stays the same under every other assumption tried."
    said = "; ".join(f"{', and '.join(each)}, {name_of(verdict, leader)} leads" for leader, each in other.items())
    return f"The leader hangs on what is assumed: {said}."


def left_out(verdict: Verdict) -> list[Finding]:
    """What says which recordings, pulls and readings the ranking does not rest on."""
    return [finding for finding in verdict.findings if finding.kind in (LEFT_OUT, LEFT_OUT_TRIED)]


def _said_of(finding: Finding) -> str:
    return f"{finding.where}: {finding.says} {finding.do}".strip()


def _doubt(verdict: Verdict, width: int) -> str:
    fit = verdict.fit
    lines = ["HOW SURE"]
    lines.append(_wrapped(TRUST[fit.trust], width, "  "))
    assumed = under_other_assumptions(verdict)
    if assumed:
        lines.append(_wrapped(assumed, width, "  "))
    if fit.misfit < MISFIT:
        lines.append(_wrapped(UNEXPLAINED, width, "  "))
    doubts = [finding for finding in verdict.findings if finding not in left_out(verdict)]
    lines += [_wrapped(_said_of(finding), width, "    ", "  · ") for finding in doubts[:_MOST]]
    if len(doubts) > _MOST:
        lines.append(f"  · and {len(doubts) - _MOST} more findings (see --json)")
    if verdict.missing:
        known = [m.removeprefix("test: ") for m in verdict.missing[:6]]
        lines.append(_wrapped(f"Not known or not done: {', '.join(known)}.", width, "  "))
    return "\n".join(lines)
