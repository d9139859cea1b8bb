"""What the verdict page shows, computed from a verdict, and the ranking at once after one more reading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from boostproof.bench.procedures import fill
from boostproof.report.text import (
    MISFIT,
    OTHERS,
    SOUND_TITLE,
    TRUST,
    UNEXPLAINED,
    headline,
    ranking,
    reasons,
    title_of,
    under_other_assumptions,
    would_change,
)
from boostproof.report.words import UNCONFIRMED_CAP, Weighed, percent, severity_in_words, shown_percent
from boostproof.units import from_si, get_unit

if TYPE_CHECKING:
    from boostproof.diagnosis.reasons.provisional import Provisional
    from boostproof.workflows.verdict import (
        Band,
        Curve,
        LookAlikes,
        NextTest,
        RankedCause,
        Verdict,
        WouldChange,
    )

SOUND, NONE, REST = "healthy", "none_of_these", "rest"
ORDER = "order only"
_EXPLAINED = 4  # leading causes whose reasons unfold
_INVOLVED = 0.05
_PREDICTED = 3


@dataclass(frozen=True)
class Ranked:
    """One line of the ranking.

    Attributes
    ----------
    id : of a cause or pair, "healthy", "none_of_these" or "rest"
    title : in words
    share : computed probability, for the length of its bar
    shown : the probability as it may be said, empty where only the order can be trusted
    strength : "confirmed", "most likely", "probably", "possible", "less likely" or "hardly"; empty for the rest
    """

    id: str
    title: str
    share: float
    shown: str
    strength: str


@dataclass(frozen=True)
class Explained:
    """A leading cause with its reasons.

    Attributes
    ----------
    id, title, looks_like, repair : of the cause
    speaks_for, speaks_against : sentences, strongest first
    severity : how bad, in words
    confirmed : shown by its own test
    own_test : title of that test, empty where there is none
    """

    id: str
    title: str
    looks_like: str
    repair: str
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]
    severity: tuple[str, ...]
    confirmed: bool
    own_test: str


@dataclass(frozen=True)
class Alike:
    """Causes that look the same so far, and the test that parts them (empty: none at hand)."""

    titles: tuple[str, ...]
    test: str
    test_title: str


@dataclass(frozen=True)
class Predicted:
    """What a test would read if this were the cause."""

    title: str
    reads: str


@dataclass(frozen=True)
class Proposed:
    """A test worth doing.

    Attributes
    ----------
    id, title : the test
    minutes, minutes_saved : what it takes, and what it saves on average [min]
    predicted : what each leading cause would read
    confirms : title of the cause whose own part it measures, where it is offered for that
    risky : chance that the pull passes the stop boost, in percent; 0 for none
    """

    id: str
    title: str
    minutes: float
    minutes_saved: float
    predicted: tuple[Predicted, ...]
    confirms: str = ""
    risky: int = 0


@dataclass(frozen=True)
class PlotLine:
    """A line of the picture: x in rpm, y in the unit of the picture."""

    name: str
    x: tuple[float, ...] = field(repr=False)
    y: tuple[float, ...] = field(repr=False)
    leads: bool = False


@dataclass(frozen=True)
class PlotBand:
    """A band of the picture: nine in ten predictions of a cause, and their middle."""

    id: str
    title: str
    shown: str
    x: tuple[float, ...] = field(repr=False)
    low: tuple[float, ...] = field(repr=False)
    middle: tuple[float, ...] = field(repr=False)
    high: tuple[float, ...] = field(repr=False)


@dataclass(frozen=True)
class Plot:
    """Measured boost over what the leading causes predict."""

    unit: str
    lines: tuple[PlotLine, ...]
    bands: tuple[PlotBand, ...]
    wanted: float | None


@dataclass(frozen=True)
class History:
    """What was said of the car: what it did to the leader, and whether it counted."""

    counted: bool
    told: bool
    says: str


@dataclass(frozen=True)
class VerdictView:
    """All that a verdict says, in the units of the shop.

    Attributes
    ----------
    headline : one sentence
    order_only : only the order can be trusted
    ranking : most probable first
    explained : the leading causes with their reasons
    involved : titles of single causes at fault, alone or paired, and how probable
    alike : look-alikes
    next : the test to do next, None where none saves more than it takes
    then : other tests that save more than they take
    repair_now : nothing is worth testing, and the leader is confirmed
    plot : the picture
    trust : how far to trust the numbers, one sentence
    unexplained : that even the leader does not explain all, else empty
    none_leads, sound_leads : that none of the causes, or a sound car, leads
    would_change : with which readings something else would lead
    assumed : whether the leader hangs on what was assumed
    history : what was said of the car
    doubts : doubtful data
    missing : what is not known or not done
    """

    headline: str
    order_only: bool
    ranking: tuple[Ranked, ...]
    explained: tuple[Explained, ...]
    involved: tuple[tuple[str, str], ...]
    alike: tuple[Alike, ...]
    next: Proposed | None
    then: tuple[Proposed, ...]
    repair_now: bool
    plot: Plot
    trust: str
    unexplained: str
    none_leads: bool
    sound_leads: bool
    would_change: tuple[str, ...]
    assumed: str
    history: History
    doubts: tuple[str, ...]
    missing: tuple[str, ...]


def verdict_view(verdict: Verdict, *, pressure: str = "psi") -> VerdictView:
    """What a page shows of a verdict.

    Parameters
    ----------
    verdict : finished, or as it was kept
    pressure : unit of pressures
    """
    leads = max(verdict.leader.probability, verdict.healthy, verdict.none_of_these)
    worth = [t for t in verdict.next_tests if t.minutes_saved > 0.0]
    unexplained = verdict.fit.misfit < MISFIT
    sentence = headline(verdict)
    return VerdictView(
        headline=f"{sentence[:1].upper()}{sentence[1:]}",
        order_only=verdict.fit.trust == ORDER,
        ranking=_ranking(verdict),
        explained=tuple(_explained(c, pressure) for c in verdict.causes[:_EXPLAINED] if c.probability >= 0.01),
        involved=_involved(verdict),
        alike=tuple(_alike(verdict, g) for g in verdict.look_alikes[:3]),
        next=_proposed(verdict, worth[0], pressure) if worth else None,
        then=tuple(_proposed(verdict, t, pressure) for t in worth[1:4]),
        repair_now=not worth and verdict.leader.confirmed and verdict.leader.probability > UNCONFIRMED_CAP,
        plot=plot_of(verdict, pressure),
        trust=TRUST[verdict.fit.trust],
        unexplained=UNEXPLAINED if unexplained else "",
        none_leads=unexplained or verdict.none_of_these == leads,
        sound_leads=not unexplained and verdict.healthy == leads,
        would_change=tuple(would_change(replace(verdict, would_change=_plainest(verdict)), pressure)),
        assumed=under_other_assumptions(verdict),
        history=_history(verdict),
        doubts=tuple(f"{f.where}: {f.says} {f.do}".strip() for f in verdict.findings),
        missing=_missing(verdict),
    )


def with_provisional(verdict: Verdict, found: Provisional) -> Verdict:
    """The verdict with the ranking of a re-weighting in place of its own; reasons and tests stay those of before."""
    causes = sorted(
        (replace(c, probability=found.probability.get(c.id, 0.0)) for c in verdict.causes),
        key=lambda c: (-c.probability, c.id),
    )
    return replace(
        verdict, causes=tuple(causes), healthy=found.healthy, none_of_these=found.none_of_these,
        involved=dict(found.involved), fit=replace(verdict.fit, trust=found.trust),
    )  # fmt: skip


def ranking_of(verdict: Verdict) -> tuple[Ranked, ...]:
    """The ranking alone."""
    return _ranking(verdict)


def plot_of(verdict: Verdict, pressure: str) -> Plot:
    """Measured boost over the bands of the leading causes."""
    unit = get_unit(pressure, "pressure")

    def shown(pascal: Any) -> tuple[float, ...]:
        return tuple(round(float(v), 3) for v in np.asarray(from_si(np.asarray(pascal, float), unit)))

    longest = max((float(c.rpm[-1]) for c in verdict.curves), default=0.0)
    main = next((i for i, c in enumerate(verdict.curves) if float(c.rpm[-1]) == longest), -1)
    return Plot(
        unit=unit.name,
        lines=tuple(_line(c, shown, i == main) for i, c in enumerate(verdict.curves)),
        bands=tuple(_band(b, verdict, shown) for b in verdict.bands),
        wanted=None if verdict.target is None else shown([verdict.target])[0],
    )


def strength(probability: float, confirmed: bool) -> str:
    """How probable in a word.

    >>> strength(0.9, True), strength(0.9, False), strength(0.3, False)
    ('confirmed', 'most likely', 'possible')
    """
    if confirmed and probability > 0.5:
        return "confirmed"
    steps = ((UNCONFIRMED_CAP, "most likely"), (0.5, "probably"), (0.2, "possible"), (0.05, "less likely"))
    return next((word for least, word in steps if probability > least), "hardly")


def _ranking(verdict: Verdict) -> tuple[Ranked, ...]:
    return ranked(verdict.causes, ranking(verdict))


def ranked(causes: Sequence[Weighed], rows: Sequence[tuple[str, float, str]]) -> tuple[Ranked, ...]:
    """Lines of a ranking from the rows of `report.text.ranking`."""
    by_title = {c.title: c for c in causes}
    out = []
    for title, share, said in rows:
        if title == OTHERS:
            out.append(Ranked(REST, title, share, said, ""))
            continue
        cause = by_title.get(title)
        name = cause.id if cause is not None else SOUND if title == SOUND_TITLE else NONE
        sure = cause is not None and cause.confirmed
        out.append(Ranked(name, title, share, said, strength(share, sure)))
    return tuple(out)


def _explained(cause: RankedCause, pressure: str) -> Explained:
    from boostproof.bench.tests import BY_ID

    told = reasons(cause)
    test = BY_ID.get(cause.direct_test)
    return Explained(
        id=cause.id,
        title=cause.title,
        looks_like=fill(cause.looks_like, pressure=pressure),
        repair=fill(cause.repair, pressure=pressure),
        speaks_for=tuple(_sentence(e.says) for e in told if e.nats > 0),
        speaks_against=tuple(_sentence(e.says) for e in told if e.nats < 0),
        severity=tuple(_sentence(s) for s in (severity_in_words(s, pressure) for s in cause.severity) if s),
        confirmed=cause.confirmed,
        own_test="" if test is None else test.title,
    )


def _sentence(text: str) -> str:
    ended = text if text.endswith((".", "!", "?")) else f"{text}."
    return f"{ended[:1].upper()}{ended[1:]}"


def _involved(verdict: Verdict) -> tuple[tuple[str, str], ...]:
    """Single causes with their chance to be at fault at all; said only where pairs matter."""
    if verdict.fit.trust == ORDER:
        return ()
    alone = {c.id: c.probability for c in verdict.causes if len(c.parts) == 1}
    confirmed = {c.id for c in verdict.causes if c.confirmed}
    paired = [
        (i, p) for i, p in verdict.involved.items() if p >= _INVOLVED and p - alone.get(i, 0.0) > 0.5 * _INVOLVED
    ]
    capped = [(i, p if i in confirmed else min(p, UNCONFIRMED_CAP)) for i, p in sorted(paired, key=lambda x: -x[1])]
    return tuple((title_of(verdict, i), percent(p, verdict.fit.trust)) for i, p in capped)


def _alike(verdict: Verdict, group: LookAlikes) -> Alike:
    from boostproof.bench.tests import BY_ID

    test = BY_ID.get(group.split_by)
    titles = tuple(title_of(verdict, i) for i in group.ids[:5])
    return Alike(titles, group.split_by, "" if test is None else test.title)


def _proposed(verdict: Verdict, test: NextTest, pressure: str) -> Proposed:
    place = {c.id: n for n, c in enumerate(verdict.causes)}
    predicted = sorted(
        ((i, said) for i, said in test.expected.items() if said), key=lambda one: place.get(one[0], len(place))
    )
    return Proposed(
        id=test.id,
        title=test.title,
        minutes=test.minutes,
        minutes_saved=test.minutes_saved,
        predicted=tuple(
            Predicted(title_of(verdict, i), _sentence(fill(said, pressure=pressure))) for i, said in predicted[:_PREDICTED]
        ),
        confirms=title_of(verdict, test.confirms) if test.confirms else "",
        risky=round(100 * test.risk),
    )


def _line(curve: Curve, shown: Any, leads: bool) -> PlotLine:
    return PlotLine(curve.name, tuple(round(float(v), 1) for v in curve.rpm), shown(curve.boost), leads)


def _band(band: Band, verdict: Verdict, shown: Any) -> PlotBand:
    cause = next((c for c in verdict.causes if c.id == band.id), None)
    trust = verdict.fit.trust  # the same number as in the ranking beside it
    said = percent(band.probability, trust) if cause is None else shown_percent(cause, trust)
    return PlotBand(
        band.id, band.title, said, tuple(round(float(v), 1) for v in band.rpm),
        shown(band.low), shown(band.middle), shown(band.high),
    )  # fmt: skip


def _plainest(verdict: Verdict) -> tuple[WouldChange, ...]:
    """Of each test only its likeliest reading that puts a cause in front."""
    best: dict[tuple[str, str], WouldChange] = {}
    for turn in verdict.would_change:
        of = (turn.test, turn.leader)
        if of not in best or turn.probability > best[of].probability:
            best[of] = turn
    return tuple(best.values())


def _history(verdict: Verdict) -> History:
    told = "history" in verdict.used
    counted = not verdict.inputs.get("without_history", False)
    line = next((e.says for e in verdict.leader.evidence if e.source == "history"), "")
    return History(counted, told or not counted, _sentence(line) if line and counted else "")


def _missing(verdict: Verdict) -> tuple[str, ...]:
    """What is not known or not done, as a person would say it; the tests stand on the bench page."""
    return tuple(
        item.partition(": ")[2].replace("_", " ") for item in verdict.missing if not item.startswith("test: ")
    )


def added_rows(before: Sequence[Mapping[str, Any]], now: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]] | None:
    """Readings that came after an answer; None where what was there before was changed or taken out."""
    return list(now[len(before) :]) if list(now[: len(before)]) == list(before) else None
