"""Repair: the repairs that fit side by side, a size to slide, deciding on one, prices and money."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from boostproof.errors import InputError
from boostproof.web.once import Once
from boostproof.web.page import (
    answer,
    carried_out,
    json_answer,
    see_other,
    shows,
    store_of,
    units_of,
    work_of,
)
from boostproof.web.pages.repair_money import add_spent, approve, money_of, parsed_amount
from boostproof.web.pages.repair_offers import (
    KIND,
    Decision,
    decision,
    in_size,
    keep_decision,
    numbered,
    offered,
)
from boostproof.web.pages.repair_page import RepairPage, repair_page
from boostproof.web.pages.repair_prices import field_of, keep_prices, rates_of, written_prices
from boostproof.web.pages.repair_sizes import slider_answer
from boostproof.web.pages.repair_texts import repairs_text
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.store import Store

router = APIRouter()


@router.get("/jobs/{job_id}/repair", **shows(RepairPage))
def show(request: Request, job_id: int) -> Response:
    """The repairs of a job; ``option`` and ``size`` choose what is shown in full."""
    page = repair_page(store_of(request), work_of(request), job_id, request.query_params)
    return answer(request, page, "repair.html")


@router.get("/jobs/{job_id}/repair/sizes")
def sizes(request: Request, job_id: int, option: str = "0") -> Response:
    """Bands for every size of one of the options, in the shop's units, as JSON: what the slider draws from."""
    store = store_of(request)
    offers = offered(store, job_id)
    number = numbered(option, offers)
    if not offers or offers[number].option["sizes"] is None:
        raise InputError(t("repair.no_sizes"), kind="no-sizes", do=t("repair.no_sizes_do"))
    return json_answer(slider_answer(offers[number].option, units_of(store)))


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
    forecast = store.answers.latest(job_id, "forecast", current=False)
    if forecast is None or store.job(job_id).state != "needs approval":
        return
    if not money_of(store, job_id, forecast.answer["costs"]["money"]).ask:
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
    offers = offered(store, job_id)
    if not offers:
        raise InputError(t("repair.nothing_offered"), kind="no-options", do=t("repair.nothing_offered_do"))
    number = numbered(option, offers)
    chosen = offers[number]
    other = in_size(chosen.option, size)
    if other is not None:
        work.start(job_id, KIND, {**rates_of(store), "options": [other]})
        return see_other(f"/jobs/{job_id}/repair?option={number}")
    forecast = chosen.option["forecast"]
    decided = Decision(chosen.repairs, repairs_text(forecast))

    def keep() -> str:
        store.answers.keep(job_id, "forecast", forecast, {"repairs": decided.repairs}, chosen.kept.content)
        keep_decision(store, job_id, decided)
        store.log(job_id, t("repair.log.decided", repair=decided.title))
        ask = money_of(store, job_id, forecast["costs"]["money"]).ask
        store.set_state(job_id, "needs approval" if ask else "found")
        return f"/jobs/{job_id}/repair?option={number}"

    return carried_out(request, once, keep)


@router.post("/jobs/{job_id}/repair/done", status_code=303)
def done(request: Request, job_id: int, once: Once) -> Response:
    """The repair that was decided on has been done."""
    store = store_of(request)
    decided = decision(store, job_id)
    if decided is None:
        raise InputError(t("repair.nothing_decided"), kind="nothing-decided", do=t("repair.nothing_decided_do"))

    def mended() -> str:
        keep_decision(store, job_id, replace(decided, done=True))
        store.log(job_id, t("repair.log.done", repair=decided.title))
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
    store, work = store_of(request), work_of(request)
    written, wrong = written_prices(repair or [], price or [])
    if wrong:
        typed = {field_of(id): text for id, text in written.items()}
        page = repair_page(store, work, job_id, request.query_params, typed=typed, wrong=wrong)
        return answer(request, page, "repair.html", status=422)
    keep_prices(store, written)
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
