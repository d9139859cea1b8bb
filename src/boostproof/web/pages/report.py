"""Report: the whole job as one document to read here, to print, and to take away as PDF, page or JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Request
from markupsafe import Markup
from starlette.responses import Response

from boostproof.errors import InputError
from boostproof.jobs import Task
from boostproof.jobs.after_repair import after_repair
from boostproof.jobs.records import UNDER_WAY
from boostproof.web import said
from boostproof.web.page import Page, answer, frame, in_hand, see_other, shows, store_of, units_of, work_of
from boostproof.web.pages.repair_offers import decision
from boostproof.web.pages.repair_prices import rates_of
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.records import KeptAnswer
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

router = APIRouter()
KIND = "report"
_TYPES = {"pdf": "application/pdf", "html": "text/html; charset=utf-8", "json": "application/json"}
_PROVED = ("before", "after", "repeated", "readings_after")
_LONGEST = 2000  # characters of what was done; enough for a job sheet


@dataclass(frozen=True)
class Asked:
    """What is asked of the person: who it is for, what was done (one thing a line), by whom, and when."""

    made_for: str
    done: str
    by: str
    dated: str


@dataclass(frozen=True, kw_only=True)
class ReportPage(Page):
    """The report of a job.

    Attributes
    ----------
    stage : "empty", "working" or "shown"
    task : work in hand, or that failed
    stale : something was changed since it was made
    asked : as asked for last, or as it suggests itself
    holds : which further parts it will have
    document : as in docs/schemas/report-answer.schema.json, None before
    """

    stage: str
    task: Task | None
    stale: bool
    asked: Asked
    holds: tuple[str, ...]
    document: Mapping[str, Any] | None

    @property
    def body(self) -> Markup:
        """The document as HTML within this page."""
        from boostproof.report.document.html import body

        return Markup("") if self.document is None else Markup(body(self.document, top=2))


def report_page(store: Store, work: Work, job_id: int, query: Mapping[str, str]) -> ReportPage:
    """The page of a job."""
    base = frame(store, work, job_id, "report")
    choices = _last(store, job_id)
    kept = None if choices is None else store.answers.latest(job_id, KIND, choices, current=False)
    task = None if choices is None else in_hand(work, job_id, KIND, choices)
    busy = task is not None and task.state in UNDER_WAY
    parts = _parts(store, job_id)
    return ReportPage(
        **base, stage="shown" if kept is not None else "working" if busy else "empty", task=task,
        stale=kept is not None and (kept.content != store.content(job_id) or _others(kept.choices, parts)),
        asked=_asked(store, job_id, choices),
        holds=tuple(t(f"report.holds.{name}") for name in ("repairs", "before") if parts.get(name)),
        document=None if kept is None else kept.answer,
    )  # fmt: skip


def _last(store: Store, job_id: int) -> dict[str, Any] | None:
    """Choices that were asked for last."""
    found = store.settings.of_job(job_id).get(KIND)
    return dict(found) if isinstance(found, Mapping) else None


def _parts(store: Store, job_id: int) -> dict[str, Any]:
    """What the job holds beyond its files: the repair forecast last, the pulls held against each other last, and what else
    was made after the repair."""
    from boostproof.casefolder.left_out import made_after

    parts: dict[str, Any] = {}
    forecast = store.answers.latest(job_id, "forecast", current=False)
    if forecast is not None and forecast.choices.get("repairs"):
        parts["repairs"] = list(forecast.choices["repairs"])
        parts |= rates_of(store)
    proof = store.answers.latest(job_id, "prove", current=False)
    if proof is not None:
        parts |= {name: proof.choices[name] for name in _PROVED if proof.choices.get(name)}
    after = after_repair(store, job_id)
    named = {*made_after(parts.get("before", ()), parts.get("after", ())).names, *parts.get("repeated", ())}
    more = [name for name in after.names if name not in named]
    return parts | ({"without": more} if more else {})


def _others(choices: Mapping[str, Any], parts: Mapping[str, Any]) -> bool:
    """Whether a forecast or a proof came since."""
    return any(choices.get(name) != parts.get(name) for name in ("repairs", "without", *_PROVED))


def _asked(store: Store, job_id: int, choices: Mapping[str, Any] | None) -> Asked:
    if choices is not None:
        return Asked(
            "customer" if choices.get("customer") else "shop", "\n".join(choices.get("done", ())), choices.get("by", ""),
            choices.get("dated", ""),
        )  # fmt: skip
    decided = decision(store, job_id)
    done = decided.title if decided is not None and decided.done else ""
    return Asked("customer", done, "", store.job(job_id).changed[:10])


@router.get("/jobs/{job_id}/report", **shows(ReportPage))
def show(request: Request, job_id: int) -> Response:
    """The report of a job, as it was made last."""
    page = report_page(store_of(request), work_of(request), job_id, request.query_params)
    return answer(request, page, "report.html")


@router.post("/jobs/{job_id}/report", status_code=303)
def make(
    request: Request,
    job_id: int,
    made_for: Annotated[str, Form()] = "customer",
    done: Annotated[str, Form()] = "",
    by: Annotated[str, Form()] = "",
    dated: Annotated[str, Form()] = "",
) -> Response:
    """Make the report: for "customer" or "shop"; what was done one thing a line, by whom, and the date as it is read."""
    store = store_of(request)
    choices: dict[str, Any] = {
        **_parts(store, job_id),
        "customer": made_for != "shop",
        "units": said.pressure_unit(units_of(store)),
        "done": [line.strip() for line in done[:_LONGEST].splitlines() if line.strip()],
        "shop": str(store.settings.get("shop", "") or ""),
        "by": by.strip()[:_LONGEST],
        "dated": dated.strip()[:_LONGEST],
    }
    work_of(request).start(job_id, KIND, choices)
    store.settings.of_job(job_id).set(KIND, choices)
    return see_other(f"/jobs/{job_id}/report")


@router.get(
    "/jobs/{job_id}/report.{form}",
    responses={200: {"content": {kind.split(";")[0]: {} for kind in _TYPES.values()}}}, response_class=Response,
)  # fmt: skip
def take(request: Request, job_id: int, form: str) -> Response:
    """The report as a file: pdf, html or json, all of one document."""
    from boostproof.workflows.report import in_form

    if form not in _TYPES:
        raise InputError(t("frame.errors.missing"), kind="missing", do=t("frame.errors.missing_do"))
    store = store_of(request)
    store.job(job_id)
    kept = _kept(store, job_id)
    if kept is None:
        raise InputError(t("report.not_made"), kind="no-report", do=t("report.not_made_do"))
    name = f"report-{job_id}.{form}"
    return Response(
        in_form(kept.answer, f".{form}"), media_type=_TYPES[form],  # type: ignore[arg-type]
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )  # fmt: skip


def _kept(store: Store, job_id: int) -> KeptAnswer | None:
    choices = _last(store, job_id)
    return None if choices is None else store.answers.latest(job_id, KIND, choices, current=False)
