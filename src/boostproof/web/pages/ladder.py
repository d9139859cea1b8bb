"""Ladder: the pull plan of a job: cautions, a go/no-go card to tick, rungs from low to high, where to stop and wait."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from boostproof.bench.procedures import fill
from boostproof.errors import InputError
from boostproof.jobs import Task
from boostproof.jobs.after_repair import after_repair, mended_at
from boostproof.jobs.records import UNDER_WAY
from boostproof.report.curves import Level, Line, Picture, picture
from boostproof.report.words import title_of_test
from boostproof.web import said, shown
from boostproof.web.once import Once
from boostproof.web.page import (
    Page,
    answer,
    carried_out,
    frame,
    in_hand,
    see_other,
    shows,
    store_of,
    units_of,
    work_of,
)
from boostproof.web.pages.repair_offers import decision
from boostproof.web.pages.repair_texts import boost_axis
from boostproof.web.shown import kpa_numbers
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.records import KeptAnswer
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

router = APIRouter()
KIND = "plan"
CARD = "card"  # the job's setting: which points are ticked, and for which plan
_STEP, _LOWEST = 64, 36  # of the drawn ladder: from rung to rung, and the lowest above its foot [px]


@dataclass(frozen=True)
class CardItem:
    """One point before the pull; a no stops everything."""

    key: str
    asks: str
    ticked: bool


@dataclass(frozen=True)
class RungShown:
    """One pull to come.

    Attributes
    ----------
    number : counted upwards, driven ones too
    set_up, says : how the car stands
    foreseen : not to be driven yet, it changes with what the pulls before it show
    start, ceiling, stop, band : from where, how far, at which boost to lift, and what to expect there
    why : what holds the ceiling
    chance : of passing the boost never to be passed
    look_at, cool_down : after it
    """

    number: int
    set_up: str
    says: str
    foreseen: bool
    start: str
    ceiling: str
    stop: str
    band: str
    why: str
    chance: str
    look_at: tuple[str, ...]
    cool_down: str


@dataclass(frozen=True)
class DrivenShown:
    """A pull that was driven."""

    number: int
    set_up: str
    ceiling: str
    highest: str


@dataclass(frozen=True)
class Step:
    """A rung as it is drawn: how far from the top [px], its look, and the words at its ends."""

    y: int
    look: str
    left: str
    right: str


@dataclass(frozen=True)
class Drawn:
    """The ladder as it is drawn, as wide as there is room, lowest rung at the bottom; height in px."""

    height: int
    steps: tuple[Step, ...]
    says: str


@dataclass(frozen=True, kw_only=True)
class LadderPage(Page):
    """The pull plan; ``stage`` is "ready", "working" or "shown".

    Attributes
    ----------
    told : what was said for the plan: "closed_road", "mixture"
    repaired : the plan is of the car after its repair
    cautions : first of all
    refusals : what stands against pulls, and what would lift it
    card : points to tick before the next pull; go where all are ticked; ticked_at when (ISO 8601, UTC, or empty)
    gauge : boost must be read on a gauge of its own
    stop_lines, log : of every pull
    driven, rung, foreseen : pulls driven, the next one, and those after it, from low to high
    halt : what ends the ladder: what is so, and what to do
    ladder, boost : pictures
    """

    stage: str
    task: Task | None
    stale: bool
    told: Mapping[str, bool]
    repaired: bool
    cautions: tuple[str, ...]
    refusals: tuple[tuple[str, str], ...]
    card: tuple[CardItem, ...]
    go: bool
    ticked_at: str
    gauge: bool
    stop_lines: tuple[str, ...]
    log: tuple[str, ...]
    driver: str
    driven: tuple[DrivenShown, ...]
    rung: RungShown | None
    foreseen: tuple[RungShown, ...]
    halt: tuple[str, ...]
    findings: tuple[tuple[str, str], ...]
    ladder: Drawn | None
    boost: Picture | None


def ladder_page(store: Store, work: Work, job_id: int, query: Mapping[str, str]) -> LadderPage:
    """The pull plan of a job."""
    units = units_of(store)
    kept = store.answers.latest(job_id, KIND, current=False)
    task = in_hand(work, job_id, KIND)
    busy = task is not None and task.state in UNDER_WAY
    stage = "shown" if kept is not None else "working" if busy else "ready"
    plan: Mapping[str, Any] = {} if kept is None else kept.answer
    repaired = bool(plan.get("inputs", {}).get("repaired"))
    driven = _driven(plan.get("driven", []), units, repaired)
    rungs = tuple(_rung(r, len(driven) + k + 1, units, repaired) for k, r in enumerate(plan.get("rungs", [])))
    ticks = store.settings.of_job(job_id).get(CARD) or {}
    mine = kept is not None and ticks.get("plan") == {"answer": kept.id}
    card = tuple(CardItem(i["key"], i["asks"], mine and i["key"] in ticks["ticked"]) for i in plan.get("card", []))
    return LadderPage(
        **frame(store, work, job_id, "repair"), stage=stage, task=task,
        stale=kept is not None
        and (kept.content != store.content(job_id) or _since(kept.choices) != since_repair(store, job_id)),
        repaired=repaired,
        told={name: bool(kept.choices.get(name)) if kept else False for name in ("closed_road", "mixture")},
        cautions=tuple(fill(c, pressure=said.pressure_unit(units)) for c in plan.get("cautions", [])),
        refusals=tuple((r["says"], _told(r["do"])) for r in plan.get("refusals", [])),
        card=card, go=bool(card) and all(item.ticked for item in card), ticked_at=ticks.get("at", "") if mine else "",
        gauge=bool(plan.get("own_gauge")),
        stop_lines=tuple(_stop_line(line, units) for line in plan.get("stop_lines", [])), log=tuple(plan.get("log", ())),
        driver=_driver(plan["driver"]) if plan else "", driven=driven, rung=rungs[0] if rungs else None,
        foreseen=rungs[1:], halt=_halt(plan.get("halt")),
        findings=tuple((said.in_units(f["says"], units), f["do"]) for f in plan.get("findings", [])),
        ladder=_drawn(driven, rungs) if driven or rungs else None,
        boost=_boost(plan, units) if plan.get("rungs") else None,
    )  # fmt: skip


_SINCE = ("repaired", "repairs", "after", "neither")


def since_repair(store: Store, job_id: int) -> dict[str, Any]:
    """Choices of a plan that say what was repaired and what was made after it; none where nothing was."""
    after = after_repair(store, job_id)
    if not after and not mended_at(store, job_id):
        return {}
    decided = decision(store, job_id)
    repairs = decided.repairs if decided is not None and decided.done else []
    neither = [f"{path}#{numbers}" for path, numbers in after.between]
    choices = {"repaired": True, "repairs": repairs, "after": list(after.since.names)}
    return choices | ({"neither": neither} if neither else {})


def _since(choices: Mapping[str, Any]) -> dict[str, Any]:
    return {name: choices[name] for name in _SINCE if name in choices}


def _driven(pulls: Sequence[Mapping[str, Any]], units: str, repaired: bool) -> tuple[DrivenShown, ...]:
    """Driven pulls, the lowest ceiling first."""
    rising = sorted(pulls, key=lambda p: p["ceiling_rpm"])
    return tuple(
        DrivenShown(
            k + 1, _set_up(p["set_up"], repaired), shown.rpm(p["ceiling_rpm"]),
            shown.kpa(p["highest_kpa_gauge"], units),
        )
        for k, p in enumerate(rising)
    )  # fmt: skip


def _name(set_up: str) -> str:
    return set_up.replace(" ", "_")


def _set_up(name: str, repaired: bool) -> str:
    if name == "as found" and repaired:
        return t("ladder.set_up.as_repaired")
    return t(f"ladder.set_up.{_name(name)}")


def _rung(r: Mapping[str, Any], number: int, units: str, repaired: bool) -> RungShown:
    return RungShown(
        number, _set_up(r["set_up"], repaired), r["says"], r["foreseen"], shown.rpm(r["rpm_from"]),
        shown.rpm(r["ceiling_rpm"]), shown.kpa(r["stop_kpa_gauge"], units),
        t("ladder.band", low=_number(r["low_kpa_gauge"], units), high=shown.kpa(r["high_kpa_gauge"], units)),
        t(f"ladder.why.{_name(r['held_by'])}", slope=shown.kpa_difference(r["slope_kpa_per_1000_rpm"], units)),
        shown.share(r["chance_of_passing"]), tuple(r["look_at"]), r["cool_down"],
    )  # fmt: skip


def _number(value: float, units: str) -> str:
    return shown.kpa(value, units).split("\u202f")[0]


def _told(do: str) -> str:
    """What would lift a refusal, in the words of this page instead of those of the command line."""
    return do.replace("--closed-road", t("ladder.closed_road_quoted")).replace("--mixture", t("ladder.mixture_quoted"))


def _stop_line(line: Mapping[str, Any], units: str) -> str:
    value = {
        "kPa gauge": lambda v: shown.kpa(v, units), "degC": lambda v: shown.celsius(v, units), "1": lambda v: f"{v:.2f}",
    }[line["unit"]](line["value"])  # fmt: skip
    told = "" if line["told"] else t("ladder.usual")
    return t("ladder.stop_line", what=line["what"], value=value) + told


def _driver(driver: Mapping[str, Any]) -> str:
    words = "ladder.driver_gear" if driver["gear"] is not None else "ladder.driver"
    return t(words, rate=f"{driver['rpm_per_s']:,.0f}", gear=driver["gear"])


def _halt(halt: Mapping[str, Any] | None) -> tuple[str, ...]:
    if halt is None:
        return ()
    tests = {c["test"]: title_of_test(c["test"]).lower() for c in halt["causes"] if c["test"]}
    do = halt["do"]
    for id, title in tests.items():
        do = do.replace(id, title)
    causes = [
        t("ladder.feared", cause=said.cause_title(c["id"]), share=shown.share(c["chance"])) for c in halt["causes"]
    ]
    return tuple(text for text in (halt["says"], do, *causes) if text)


def _drawn(driven: Sequence[DrivenShown], rungs: Sequence[RungShown]) -> Drawn:
    count = len(driven) + len(rungs)
    height = _STEP * count + _LOWEST // 2
    steps = []
    for k in range(count):
        y = height - _LOWEST - _STEP * k
        if k < len(driven):
            steps.append(Step(y, "driven", driven[k].ceiling, t("ladder.drawn.driven", boost=driven[k].highest)))
        else:
            rung = rungs[k - len(driven)]
            look = "foreseen" if rung.foreseen else "next"
            steps.append(Step(y, look, rung.ceiling, t("ladder.drawn.stop", boost=rung.stop)))
    says = t("ladder.drawn.says", driven=len(driven), coming=len(rungs))
    return Drawn(height, tuple(steps), says)


def _boost(plan: Mapping[str, Any], units: str) -> Picture:
    """Most boost to be expected on the next pull, where to lift, and the boost never to be passed."""
    r = plan["rungs"][0]
    hard = kpa_numbers([plan["hard_kpa_gauge"]], units)[0]
    return picture(
        "next-boost", r["rpm"], says=t("ladder.draw.says"), x_says=t("repair.axis.rpm"), y_says=boost_axis(units),
        lines=[Line("most", "most", t("ladder.draw.most"), kpa_numbers(r["most_kpa_gauge"], units))],
        levels=[
            Level("lift", "there", t("ladder.draw.lift"), kpa_numbers([r["stop_kpa_gauge"]], units)[0]),
            Level("hard", "stop", t("repair.draw.stop"), hard),
        ],
        y_range=(0.0, 1.08 * hard), x_range=(min(r["rpm_from"], *r["rpm"]), max(r["rpm"])), size=(700.0, 400.0),
    )  # fmt: skip


# Addresses


@router.get("/jobs/{job_id}/repair/ladder", **shows(LadderPage))
def show(request: Request, job_id: int) -> Response:
    """The pull plan of a job as a ladder."""
    page = ladder_page(store_of(request), work_of(request), job_id, request.query_params)
    return answer(request, page, "ladder.html")


@router.post("/jobs/{job_id}/repair/ladder", status_code=303)
def plan(
    request: Request, job_id: int, closed_road: Annotated[str, Form()] = "", mixture: Annotated[str, Form()] = ""
) -> Response:
    """Plan the next pull; ``closed_road``: closed, and a second person reads; ``mixture``: a reading is in sight."""
    choices = {name: True for name, said_so in (("closed_road", closed_road), ("mixture", mixture)) if said_so}
    work_of(request).start(job_id, KIND, {**choices, **since_repair(store_of(request), job_id)})
    return see_other(f"/jobs/{job_id}/repair/ladder")


@router.post("/jobs/{job_id}/repair/card", status_code=303)
def tick(
    request: Request, job_id: int, once: Once, ticked: Annotated[list[str] | None, Form()] = None
) -> Response:
    """Keep which points of the go/no-go card are ticked for the next pull; all of them is a go."""
    store = store_of(request)
    kept: KeptAnswer | None = store.answers.latest(job_id, KIND, current=False)
    if kept is None:
        raise InputError(t("ladder.no_plan"), kind="no-plan", do=t("ladder.no_plan_do"))
    keys = [item["key"] for item in kept.answer["card"]]
    chosen = [key for key in keys if key in (ticked or [])]
    at = datetime.now(UTC).isoformat(timespec="seconds")

    def keep() -> str:
        store.settings.of_job(job_id).set(CARD, {"plan": {"answer": kept.id}, "ticked": chosen, "at": at})
        store.log(job_id, t("ladder.log.go") if chosen == keys else t("ladder.log.no", n=len(keys) - len(chosen)))
        return f"/jobs/{job_id}/repair/ladder"

    return carried_out(request, once, keep)
