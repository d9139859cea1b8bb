"""The verdict with its doubt."""

from __future__ import annotations

from typing import TYPE_CHECKING

from boostproof.bench.procedures import fill
from boostproof.report.document.blocks import bullets, not_done, ranking, section, text
from boostproof.report.document.drawn import HIGH, figure
from boostproof.report.document.results import Results, Told
from boostproof.report.text import (
    MISFIT,
    OTHERS,
    TRUST,
    UNEXPLAINED,
    headline,
    look_alikes,
    reasons,
    title_of,
    under_other_assumptions,
    would_change,
)
from boostproof.report.text import ranking as ranked
from boostproof.report.words import severity_in_words

if TYPE_CHECKING:
    from boostproof.workflows.report_answers import BlockAnswer, FigureAnswer, SectionAnswer
    from boostproof.workflows.verdict import Verdict

_TITLE = "Verdict"


def verdict(results: Results, told: Told) -> SectionAnswer:
    """What it may be, why, what would tell more, and how sure that is."""
    found = results.verdict
    if found is None:
        return not_done("verdict", _TITLE, f"There is no verdict. {results.why_not}".strip())
    said = headline(found)
    blocks: list[BlockAnswer] = [text(said[:1].upper() + said[1:], lead=True), _ranking(found)]
    if found.curves:
        blocks.append(_bands(found, told.units))
    blocks += _why(found, told)
    if not told.customer:
        blocks += bullets(look_alikes(found), "What looks alike")
    if results.proof is None:  # else it speaks of the car as it was, and no test can tell of that any more
        blocks += _next(found, told)
    blocks += _doubt(found)
    if not told.customer and results.proof is None:
        blocks += bullets(would_change(found, told.units), "What would change it")
    return section("verdict", _TITLE, blocks)


def _ranking(found: Verdict) -> BlockAnswer:
    sure = found.fit.trust != "order only"
    rows = [(name, said, _share(p, said) if sure else None) for name, p, said in ranked(found)]
    return ranking("What it may be", [(_others(name), said, share) for name, said, share in rows])


def _others(name: str) -> str:
    return name[:1].upper() + name[1:] if name == OTHERS else name


def _share(probability: float, said: str) -> float:
    """As much as may be shown: a bar must not say more than the words beside it."""
    digits = "".join(c for c in said if c.isdigit())
    return round(min(probability, int(digits) / 100.0 if digits else probability), 3)


def _bands(found: Verdict, units: str) -> FigureAnswer:
    from boostproof.report.verdict_figure import draw_verdict

    names = "; ".join(band.title for band in found.bands)
    alt = "Line drawing of the measured boost over engine speed"
    alt += f", over the ranges that the leading causes predict: {names}." if names else "."
    return figure(
        lambda empty: draw_verdict(found, empty.add_subplot(), units=units),
        "Measured boost over what the leading causes predict" if names else "Measured boost", alt, HIGH, name="verdict",
        legend_above=True,
    )  # fmt: skip


def _why(found: Verdict, told: Told) -> list[BlockAnswer]:
    leader = found.leader
    if leader.probability < max(found.healthy, found.none_of_these):
        return []
    telling = [(e.nats > 0.0, _sentence(e.says)) for e in reasons(leader)]
    blocks: list[BlockAnswer] = [*bullets([s for good, s in telling if good], f"What speaks for: {leader.title}")]
    blocks += bullets([s for good, s in telling if not good], "What speaks against it")
    sizes = [severity_in_words(s, told.units) for s in leader.severity]
    blocks += [text(f"How bad: {said}.") for said in sizes if said]
    return [*blocks, text(f"Usual repair: {leader.repair}")]


def _sentence(said: str) -> str:
    return said[:1].upper() + said[1:].rstrip(".") + "."


def _next(found: Verdict, told: Told) -> list[BlockAnswer]:
    worth = [t for t in found.next_tests if t.minutes_saved > 0.0]
    if not worth:
        return [text("No open test saves more time than it takes.")]
    best = worth[0]
    blocks: list[BlockAnswer] = [*bullets([
        f"{best.title}, about {best.minutes:.0f} minutes; it saves about {best.minutes_saved:.0f} minutes of repair on "
        "average."
    ], "What to do next")]  # fmt: skip
    expected = [
        f"{title_of(found, cause)}: {fill(said, pressure=told.units)}" for cause, said in best.expected.items() if said
    ]
    return [*blocks, *bullets(expected, "What that test would read")]


def _doubt(found: Verdict) -> list[BlockAnswer]:
    said = [TRUST[found.fit.trust], under_other_assumptions(found)]
    if found.fit.misfit < MISFIT:
        said.append(UNEXPLAINED)
    return [*bullets([one for one in said if one], "How sure that is")]
