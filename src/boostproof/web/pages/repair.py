"""Repair: area needed against area there, the repairs that fit side by side, a size to slide, money, what else to do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from boostproof.errors import InputError
from boostproof.jobs import Task
from boostproof.jobs.records import UNDER_WAY
from boostproof.report import forecast_words
from boostproof.report.curves import Picture
from boostproof.web import said, shown
from boostproof.web.once import Once
from boostproof.web.page import (
    Page,
    answer,
    carried_out,
    frame,
    in_hand,
    json_answer,
    see_other,
    shows,
    store_of,
    units_of,
    work_of,
)
from boostproof.web.pages import repair_texts as texts
from boostproof.web.pages.repair_money import MoneyShown, add_spent, approve, money_of, parsed_amount
from boostproof.web.pages.repair_sizes import SliderShown, slider_answer, slider_of
from boostproof.web.rates import read_rate
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

router = APIRouter()
KIND = "repair_options"
DECIDED = "repair"  # the job's setting: which repairs, their title, and whether they are done
PRICES = "parts"  # setting of the shop: what parts cost, as written, by id of the repair
_MOST_MORE = 4  # repairs of a person's own that are shown beside the others


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


@dataclass(frozen=True)
class PriceShown:
    """What the parts of a repair cost here: name of its field, id, title, as written (may be empty), the usual range."""

    field: str
    id: str
    title: str
    written: str
    usual: str


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
    offered = _offered(store, job_id)
    decided = store.job_setting(job_id, DECIDED) or {}
    number = _number(query.get("option", ""), len(offered), _place(offered, decided.get("repairs")))
    wanted = decided.get("repairs")
    options = tuple(
        _option(k, one["option"], units, job_id, here=k == number, decided=one["option"]["repairs"] == wanted)
        for k, one in enumerate(offered)
    )
    chosen = offered[number]["option"] if offered else None
    task = in_hand(work, job_id, KIND)
    base = offered[0]["kept"] if offered else None
    busy = task is not None and task.state in UNDER_WAY
    stage = "shown" if offered else "working" if busy else "ready" if _judged(store, job_id) else "verdict first"
    return RepairPage(
        **frame(store, work, job_id, "repair"), stage=stage, task=task,
        stale=base is not None and base.content != store.content(job_id, KIND), sound=_sound(store, job_id),
        leading=tuple(said.cause_title(i) for i in (base.answer["leading"] if base is not None else ())),
        options=options, detail=None if chosen is None else _detail(chosen, units, job_id, number, query.get("size", "")),
        more=tuple(base.answer["more"]) if base is not None else (),
        decided=decided.get("title", ""), done=bool(decided.get("done")),
        money=money_of(store, job_id, None if chosen is None else chosen["forecast"]["costs"]["money"]),
        prices=_prices(store, offered, typed or {}),
        typed=dict(typed or {}), wrong=dict(wrong or {}),
    )  # fmt: skip


def _sound(store: Store, job_id: int) -> bool:
    verdict = store.answer(job_id, "diagnose", current=False)
    if verdict is None:
        return False
    return bool(verdict.answer["healthy"] > max((c["probability"] for c in verdict.answer["causes"]), default=0.0))


def _judged(store: Store, job_id: int) -> bool:
    return store.answer(job_id, "diagnose", current=False) is not None


def _offered(store: Store, job_id: int) -> list[dict[str, Any]]:
    """Options with the kept answers that they come from: those that fit, then a person's own for the same files."""
    kept = [k for k in store.answers(job_id) if k.kind == KIND]
    base = next((k for k in kept if "options" not in k.choices), None)
    if base is None:
        return []
    out = [{"option": option, "kept": base} for option in base.answer["options"]]
    seen = {tuple(one["option"]["repairs"]) for one in out}
    for one in kept:
        if "options" not in one.choices or one.content != base.content:
            continue
        for option in one.answer["options"]:
            if tuple(option["repairs"]) not in seen and len(out) < len(base.answer["options"]) + _MOST_MORE:
                seen.add(tuple(option["repairs"]))
                out.append({"option": option, "kept": one})
    return out


def _prices(
    store: Store, offered: list[dict[str, Any]], typed: Mapping[str, str]
) -> tuple[PriceShown, ...]:
    """Prices of the repairs that stand on the page, as typed, else as kept."""
    from boostproof.repair.catalogue import BY_ID

    kept = store.setting(PRICES) or {}
    ids = dict.fromkeys(r["id"] for one in offered for r in one["option"]["forecast"]["repairs"])
    return tuple(
        PriceShown(
            _field(id), id, BY_ID[id].title, typed.get(_field(id), kept.get(id, "")),
            t("repair.prices.usual", range=texts.span(BY_ID[id].parts)),
        )
        for id in ids
    )  # fmt: skip


def _field(id: str) -> str:
    return f"price-{id.replace(' ', '-')}"


def _number(written: str, count: int, otherwise: int) -> int:
    return int(written) if written.isdecimal() and int(written) < count else otherwise


def _place(offered: list[dict[str, Any]], repairs: Any) -> int:
    """Number of the option that was decided on, else of the usual repair of the leading cause, which is the first."""
    return next((k for k, one in enumerate(offered) if one["option"]["repairs"] == repairs), 0)


def _option(
    number: int, option: Mapping[str, Any], units: str, job_id: int, *, here: bool, decided: bool
) -> OptionShown:
    forecast = option["forecast"]
    costs = forecast["costs"]
    return OptionShown(
        number, texts.repairs_text(forecast), tuple(option["repairs"]), f"/jobs/{job_id}/repair?option={number}", here,
        decided,
        tuple(
            t("repair.option.undone" if c["undone"] else "repair.option.made_up", cause=c["title"].lower(),
              share=shown.share(c["probability"]))
            for c in option["for_causes"]
        ),
        shown.share(costs["cures"]), costs["cures"], shown.share(forecast["holds"]), shown.share(forecast["reaches"]),
        texts.span(costs["minutes"], shown.minutes), texts.span(costs["parts"]), texts.span(costs["money"]),
        texts.boost_picture(f"small-{number}", forecast, units, small=True),
    )  # fmt: skip


def _detail(option: Mapping[str, Any], units: str, job_id: int, number: int, size: str) -> DetailShown:
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
        texts.limits(forecast, units), texts.by_cause(forecast),
        tuple(r["caution"] for r in forecast["repairs"] if r["caution"]), forecast["recheck_fuelling"],
        texts.beside(forecast, units), texts.findings(forecast, units), texts.compressor_picture(option["compressor"], units),
        tuple(
            t(f"repair.compressor.{key}", share=shown.share(limits[f"compressor-{key}"]["chance"]))
            for key in ("choke", "surge") if f"compressor-{key}" in limits
        ),
        forecast_words.takes(forecast["costs"]),
    )  # fmt: skip


def rates_of(store: Store) -> dict[str, Any]:
    """What the shop takes for an hour at the bench and for parts, as choices for the work; nothing where not written."""
    rate = read_rate((store.setting("rates", {}) or {}).get("bench", ""))
    parts = {id: read_rate(text) for id, text in (store.setting(PRICES) or {}).items()}
    told: dict[str, Any] = {} if rate is None else {"hour": sum(rate) / 2.0}
    return told | ({"parts": {id: list(span) for id, span in parts.items() if span}} if parts else {})


# Addresses


@router.get("/jobs/{job_id}/repair", **shows(RepairPage))
def show(request: Request, job_id: int) -> Response:
    """The repairs of a job; ``option`` and ``size`` choose what is shown in full."""
    page = repair_page(store_of(request), work_of(request), job_id, request.query_params)
    return answer(request, page, "repair.html")


@router.get("/jobs/{job_id}/repair/sizes")
def sizes(request: Request, job_id: int, option: str = "0") -> Response:
    """Bands for every size of one of the options, in the shop's units, as JSON: what the slider draws from."""
    store = store_of(request)
    offered = _offered(store, job_id)
    number = _number(option, len(offered), 0)
    if not offered or offered[number]["option"]["sizes"] is None:
        raise InputError(t("repair.no_sizes"), kind="no-sizes", do=t("repair.no_sizes_do"))
    return json_answer(slider_answer(offered[number]["option"], units_of(store)))


@router.post("/jobs/{job_id}/repair/options", status_code=303)
def work_out(
    request: Request, job_id: int, repair: Annotated[str, Form()] = "", own: Annotated[str, Form()] = ""
) -> Response:
    """Forecast the repairs that fit; with ``repair`` ("port 31 mm + spring 12 psi") this one beside them."""
    store, work = store_of(request), work_of(request)
    choices: dict[str, Any] = rates_of(store)
    if own:
        wanted = [part.strip() for part in repair.split("+") if part.strip()]
        wrong = _unread(store, job_id, wanted)
        if wrong:
            page = repair_page(store, work, job_id, {}, typed={"repair": repair}, wrong={"repair": wrong})
            return answer(request, page, "repair.html", status=422)
        choices["options"] = [wanted]
    work.start(job_id, KIND, choices)
    return see_other(f"/jobs/{job_id}/repair")


def _go_on(store: Store, job_id: int) -> None:
    """A job that waited for approval waits no longer where what was decided on is now covered."""
    decided = store.answer(job_id, "forecast", current=False)
    if decided is None or store.job(job_id).state != "needs approval":
        return
    if not money_of(store, job_id, decided.answer["costs"]["money"]).ask:
        store.set_state(job_id, "found")


def _unread(store: Store, job_id: int, wanted: list[str]) -> str:
    """Why repairs in words cannot be read; empty where they can."""
    from boostproof.workflows.forecast import asked_of, fitted_of

    try:
        asked_of(fitted_of(store.folder(job_id)), wanted)
    except InputError as error:
        return f"{error.says} {error.do}".strip()
    return ""


@router.post("/jobs/{job_id}/repair/decide", status_code=303)
def decide(
    request: Request, job_id: int, once: Once, option: Annotated[str, Form()], size: Annotated[str, Form()] = ""
) -> Response:
    """Decide on one of the options, in a size of the trade where it has sizes: kept as the forecast of the job."""
    store, work = store_of(request), work_of(request)
    offered = _offered(store, job_id)
    if not offered:
        raise InputError(t("repair.nothing_offered"), kind="no-options", do=t("repair.nothing_offered_do"))
    number = _number(option, len(offered), 0)
    chosen, kept = offered[number]["option"], offered[number]["kept"]
    other = _in_size(chosen, size)
    if other is not None:
        work.start(job_id, KIND, {**rates_of(store), "options": [other]})
        return see_other(f"/jobs/{job_id}/repair?option={number}")
    forecast = chosen["forecast"]
    title = texts.repairs_text(forecast)

    def keep() -> str:
        store.keep_answer(job_id, "forecast", forecast, {"repairs": list(chosen["repairs"])}, kept.content)
        store.set_job_setting(job_id, DECIDED, {"repairs": list(chosen["repairs"]), "title": title, "done": False})
        store.log(job_id, t("repair.log.decided", repair=title))
        ask = money_of(store, job_id, forecast["costs"]["money"]).ask
        store.set_state(job_id, "needs approval" if ask else "found")
        return f"/jobs/{job_id}/repair?option={number}"

    return carried_out(request, once, keep)


def _in_size(option: Mapping[str, Any], size: str) -> list[str] | None:
    """The repairs in another size than they were forecast in; None where it is that one, or nothing is known of it."""
    sizes = option["sizes"]
    try:
        wanted = float(size)
    except ValueError:
        return None
    sized = next((r for r in option["forecast"]["repairs"] if sizes and r["id"] == sizes["repair"]), None)
    if sized is None or sized["size"] == wanted:
        return None
    near = min((s["size"] for s in sizes["sizes"]), key=lambda s: abs(s - wanted))
    if near == sized["size"]:
        return None
    return [
        f"{r['id']} {forecast_words.size(near, sizes['unit'], 'kPa')}" if r is sized else r["written"]
        for r in option["forecast"]["repairs"]
    ]


@router.post("/jobs/{job_id}/repair/done", status_code=303)
def done(request: Request, job_id: int, once: Once) -> Response:
    """The repair that was decided on has been done."""
    store = store_of(request)
    decided = store.job_setting(job_id, DECIDED) or {}
    if not decided:
        raise InputError(t("repair.nothing_decided"), kind="nothing-decided", do=t("repair.nothing_decided_do"))

    def mended() -> str:
        store.set_job_setting(job_id, DECIDED, {**decided, "done": True})
        store.log(job_id, t("repair.log.done", repair=decided["title"]))
        store.set_state(job_id, "mended")
        return f"/jobs/{job_id}/proof"

    return carried_out(request, once, mended)


@router.post("/jobs/{job_id}/repair/leave", status_code=303)
def leave(request: Request, job_id: int, once: Once) -> Response:
    """The car is left as it is."""
    store = store_of(request)

    def left() -> str:
        store.log(job_id, t("repair.log.left"))
        store.set_state(job_id, "left as is")
        return f"/jobs/{job_id}/repair"

    return carried_out(request, once, left)


@router.post("/jobs/{job_id}/repair/prices", status_code=303)
def prices(
    request: Request,
    job_id: int,
    repair: Annotated[list[str] | None, Form()] = None,
    price: Annotated[list[str] | None, Form()] = None,
) -> Response:
    """Keep what parts cost in this shop, ``price`` in the order of ``repair``, and forecast the repairs again."""
    from boostproof.repair.catalogue import BY_ID

    store, work = store_of(request), work_of(request)
    written = {id: text.strip() for id, text in zip(repair or [], price or [], strict=False) if id in BY_ID}
    wrong = {_field(id): t("repair.prices.wrong") for id, text in written.items() if text and read_rate(text) is None}
    if wrong:
        typed = {_field(id): text for id, text in written.items()}
        page = repair_page(store, work, job_id, request.query_params, typed=typed, wrong=wrong)
        return answer(request, page, "repair.html", status=422)
    store.change_setting(PRICES, lambda kept: {id: text for id, text in {**(kept or {}), **written}.items() if text})
    work.start(job_id, KIND, rates_of(store))
    return see_other(f"/jobs/{job_id}/repair")


@router.post("/jobs/{job_id}/repair/money", status_code=303)
def money(
    request: Request,
    job_id: int,
    once: Once,
    approved: Annotated[str, Form()] = "",
    amount: Annotated[str, Form()] = "",
    what: Annotated[str, Form()] = "",
) -> Response:
    """Note what the customer has approved, and what was spent on what."""
    store, work = store_of(request), work_of(request)
    values = {name: parsed_amount(text) for name, text in (("approved", approved), ("amount", amount))}
    wrong = {
        name: t("repair.money.wrong")
        for name, text in (("approved", approved), ("amount", amount))
        if text.strip() and values[name] is None
    }
    if wrong:
        typed = {"approved": approved, "amount": amount, "what": what}
        page = repair_page(store, work, job_id, request.query_params, typed=typed, wrong=wrong)
        return answer(request, page, "repair.html", status=422)

    def note() -> str:
        if values["approved"] is not None:
            approve(store, job_id, values["approved"])
            _go_on(store, job_id)
        if values["amount"] is not None:
            add_spent(store, job_id, values["amount"], what.strip())
        return f"/jobs/{job_id}/repair"

    return carried_out(request, once, note)
