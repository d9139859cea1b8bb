"""The typed Repair page: everything that its template and its JSON show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from boostproof.jobs import Task
from boostproof.jobs.records import UNDER_WAY
from boostproof.report import forecast_words
from boostproof.report.curves import Picture
from boostproof.web import said, shown
from boostproof.web.kept_parts import keeps, kept_part, named
from boostproof.web.page import Page, frame, in_hand, units_of
from boostproof.web.pages import repair_texts as texts
from boostproof.web.pages.repair_money import MoneyShown, money_of
from boostproof.web.pages.repair_offers import KIND, Offer, decision, numbered, offered
from boostproof.web.pages.repair_prices import PriceShown, prices_shown
from boostproof.web.pages.repair_sizes import SliderShown, slider_of
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work


@keeps
@dataclass(frozen=True)
class OptionShown:
    """One repair beside the others.

    Attributes
    ----------
    number : in the address
    address : of the page with it in full
    here : it is the one in full
    decided : it is the one that was decided on
    for_causes : each leading cause that it is for, with its chance and whether it is undone
    cures, holds, reaches : chances, as texts
    minutes, parts, money : ranges
    picture : small, of boost over engine speed
    """

    number: int
    title: str
    repairs: tuple[str, ...]
    address: str
    here: bool
    decided: bool
    for_causes: tuple[str, ...]
    cures: str
    cures_share: float
    holds: str
    reaches: str
    minutes: str
    parts: str
    money: str
    picture: Picture


@keeps
@dataclass(frozen=True)
class DetailShown:
    """One repair in full."""

    title: str
    repairs: tuple[str, ...]
    decision: texts.DecisionShown
    area: Picture
    area_says: str
    boost: Picture
    summary: str
    legend: tuple[tuple[str, str], ...]
    apart: str
    slider: SliderShown | None
    sizing: str
    setting: str
    limits: tuple[texts.LimitShown, ...]
    by_cause: tuple[texts.CauseAfterShown, ...]
    notes: tuple[str, ...]
    recheck_fuelling: bool
    beside: tuple[texts.InsteadShown, ...]
    findings: tuple[tuple[str, str], ...]
    compressor: Picture
    compressor_says: tuple[str, ...]
    takes: str


@dataclass(frozen=True, kw_only=True)
class RepairPage(Page):
    """The page; which of its parts are there is told by ``stage``: "verdict first", "ready", "working" or "shown".

    Attributes
    ----------
    task : work in hand, or that failed
    stale : the forecasts rest on files that were changed since
    sound : most likely nothing is wrong, so that no repair mends anything
    leading : causes that the options are for
    options, detail : repairs side by side, and one of them in full
    more : other repairs for these causes, as they are asked for
    decided : what was decided on, empty where nothing was
    done : the repair decided on was done
    money : approved and spent
    prices : what parts cost here, for the repairs in view
    typed, wrong : what was typed, and messages by field
    """

    stage: str
    task: Task | None
    stale: bool
    sound: bool
    leading: tuple[str, ...]
    options: tuple[OptionShown, ...]
    detail: DetailShown | None
    more: tuple[str, ...]
    decided: str
    done: bool
    money: MoneyShown
    prices: tuple[PriceShown, ...]
    typed: Mapping[str, str]
    wrong: Mapping[str, str]


def repair_page(
    store: Store,
    work: Work,
    job_id: int,
    query: Mapping[str, str],
    *,
    typed: Mapping[str, str] | None = None,
    wrong: Mapping[str, str] | None = None,
) -> RepairPage:
    """The page of a job; ``option`` and ``size`` of the query choose what is shown in full."""
    units = units_of(store)
    offers = offered(store, job_id)
    decided = decision(store, job_id)
    wanted = None if decided is None else decided.repairs
    number = numbered(query.get("option", ""), offers, _place(offers, wanted))
    options = tuple(
        replace(_kept_option(store, job_id, k, one, units), here=k == number, decided=one.repairs == wanted)
        for k, one in enumerate(offers)
    )
    chosen = offers[number].option if offers else None
    task = in_hand(work, job_id, KIND)
    base = offers[0].kept if offers else None
    busy = task is not None and task.state in UNDER_WAY
    stage = "shown" if offers else "working" if busy else "ready" if _judged(store, job_id) else "verdict first"
    return RepairPage(
        **frame(store, work, job_id, "repair"), stage=stage, task=task,
        stale=base is not None and base.content != store.content(job_id, KIND), sound=_sound(store, job_id),
        leading=tuple(said.cause_title(i) for i in (base.answer["leading"] if base is not None else ())),
        options=options,
        detail=_kept_detail(store, job_id, number, offers[number], units, query.get("size", "")) if offers else None,
        more=tuple(base.answer["more"]) if base is not None else (),
        decided="" if decided is None else decided.title, done=decided is not None and decided.done,
        money=money_of(store, job_id, None if chosen is None else chosen["forecast"]["costs"]["money"]),
        prices=prices_shown(store, (one.option["forecast"] for one in offers), typed or {}),
        typed=dict(typed or {}), wrong=dict(wrong or {}),
    )  # fmt: skip


def _sound(store: Store, job_id: int) -> bool:
    verdict = store.answers.latest(job_id, "diagnose", current=False)
    if verdict is None:
        return False
    return bool(verdict.answer["healthy"] > max((c["probability"] for c in verdict.answer["causes"]), default=0.0))


def _judged(store: Store, job_id: int) -> bool:
    return store.answers.latest(job_id, "diagnose", current=False) is not None


def _place(offers: Sequence[Offer], repairs: Sequence[str] | None) -> int:
    """Number of the option that was decided on, else of the usual repair of the leading cause, which is the first."""
    return next((k for k, one in enumerate(offers) if one.repairs == repairs), 0)


def make_ready(store: Store, job_id: int) -> None:
    """Make what the page of the latest forecasts rests on, as it is shown first."""
    units, offers, decided = units_of(store), offered(store, job_id), decision(store, job_id)
    for k, one in enumerate(offers):
        _kept_option(store, job_id, k, one, units)
    if offers:
        number = _place(offers, None if decided is None else decided.repairs)
        _kept_detail(store, job_id, number, offers[number], units, "")


def _kept_option(store: Store, job_id: int, number: int, offer: Offer, units: str) -> OptionShown:
    trust = _trust(store, job_id)

    def made() -> OptionShown:
        return _option(number, offer.option, units, job_id, trust)

    return kept_part(store, OptionShown, _of(job_id, number, offer, units, trust), made)


def _kept_detail(store: Store, job_id: int, number: int, offer: Offer, units: str, size: str) -> DetailShown:
    trust = _trust(store, job_id)

    def made() -> DetailShown:
        return _detail(offer.option, units, job_id, number, size, trust)

    return made() if size else kept_part(store, DetailShown, _of(job_id, number, offer, units, trust), made)


def _of(job_id: int, number: int, offer: Offer, units: str, trust: str) -> str:
    return f"option {number} of job {job_id}: {offer.repairs} of {named(offer.kept)} in {units}, {trust}"


def _trust(store: Store, job_id: int) -> str:
    """How far the numbers of the latest verdict can be trusted."""
    verdict = store.answers.latest(job_id, "diagnose", current=False)
    return "ok" if verdict is None else str(verdict.answer.get("fit", {}).get("trust", "ok"))


def _option(number: int, option: Mapping[str, Any], units: str, job_id: int, trust: str) -> OptionShown:
    """One repair, not yet in full nor decided on."""
    forecast = option["forecast"]
    costs = forecast["costs"]
    return OptionShown(
        number, texts.repairs_text(forecast), tuple(option["repairs"]), f"/jobs/{job_id}/repair?option={number}",
        False, False,
        tuple(
            t("repair.option.undone" if c["undone"] else "repair.option.made_up", cause=c["title"].lower(),
              share=texts.chance_of(c["probability"], trust))
            for c in option["for_causes"]
        ),
        shown.share(costs["cures"]), costs["cures"], shown.share(forecast["holds"]), shown.share(forecast["reaches"]),
        texts.span(costs["minutes"], shown.minutes), texts.span(costs["parts"]), texts.span(costs["money"]),
        texts.boost_picture(f"small-{number}", forecast, units, small=True),
    )  # fmt: skip


def _detail(
    option: Mapping[str, Any], units: str, job_id: int, number: int, size: str, trust: str
) -> DetailShown:
    forecast = option["forecast"]
    unit = said.pressure_unit(units)
    slider = None if option["sizes"] is None else slider_of(option, units, job_id, number, size)
    boost = texts.boost_picture("boost", forecast, units) if slider is None else slider.boost
    names = texts.titles(forecast)
    apart = [said.cause_title(i).lower() for i in forecast["apart"]]
    limits = {m["id"]: m for m in forecast["margins"]}
    return DetailShown(
        texts.repairs_text(forecast), tuple(option["repairs"]), texts.decision(forecast, units, job_id),
        texts.area_picture(forecast), forecast_words.area(forecast["area"]), boost,
        forecast_words.summary(forecast, unit),
        tuple((b.look, b.says) for b in boost.bands),
        t("repair.apart", one=apart[0], other=apart[1]) if apart else "", slider,
        "" if forecast["sizing"] is None else forecast_words.sizing(forecast["sizing"], unit, names),
        "" if forecast["setting"] is None else forecast_words.setting(forecast["setting"], unit),
        texts.limits(forecast, units), texts.by_cause(forecast, trust),
        tuple(r["caution"] for r in forecast["repairs"] if r["caution"]), forecast["recheck_fuelling"],
        texts.beside(forecast, units), texts.findings(forecast, units), texts.compressor_picture(option["compressor"], units),
        tuple(
            t(f"repair.compressor.{key}", share=shown.share(limits[f"compressor-{key}"]["chance"]))
            for key in ("choke", "surge") if f"compressor-{key}" in limits
        ),
        forecast_words.takes(forecast["costs"]),
    )  # fmt: skip
