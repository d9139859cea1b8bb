"""Typed pages: one frozen dataclass holds all that a page shows; it becomes HTML, or JSON for programs.

A page of its own does this::

    @dataclass(frozen=True, kw_only=True)
    class PullsPage(Page):
        pulls: tuple[PullRow, ...]

    def pulls_page(store: Store, work: Work, job_id: int, query: Mapping[str, str]) -> PullsPage:
        return PullsPage(**frame(store, work, job_id, "pulls"), pulls=...)

    @router.get("/jobs/{job_id}/pulls", **shows(PullsPage))
    def show(request: Request, job_id: int) -> Response:
        \"\"\"The pulls of a job.\"\"\"
        page = pulls_page(store_of(request), work_of(request), job_id, request.query_params)
        return answer(request, page, "pulls.html")

    @router.post("/jobs/{job_id}/pulls")
    def change(request: Request, job_id: int, name: Annotated[str, Form()] = "") -> Response:
        \"\"\"Change ...\"\"\"
        ...                                            # InputError beside a field: answer(..., status=422)
        return see_other(f"/jobs/{job_id}/pulls")
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict

import jinja2
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from boostproof.jobs import STATES, Job, Task
from boostproof.jobs.once import once
from boostproof.jobs.repaired import came_from, went_on
from boostproof.web import shown, static
from boostproof.web.once import token_field
from boostproof.web.stations import Held, NextStep, Station, next_step, stations
from boostproof.web.words import LANGUAGE, t

if TYPE_CHECKING:
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

TEMPLATES = Path(__file__).parent / "templates"
BAYS = ("", "bright", "dark")  # "": as the device is set


@dataclass(frozen=True)
class Notice:
    """Something a person should know on this page: what it is about, what is so, what to do."""

    kind: str
    says: str
    do: str = ""


@dataclass(frozen=True, kw_only=True)
class Page:
    """What every page has.

    Attributes
    ----------
    title : of the window
    units : "imperial" or "metric", in which texts are shown
    job : the job, None outside one
    here : name of the page
    came_from, went_on : the job of the same car before its repair, and after it
    stations : the six pages of the job with what each holds
    next : what would help most next
    notices : said on top
    """

    title: str
    units: str
    job: Job | None
    here: str
    came_from: Job | None = None
    went_on: Job | None = None
    stations: tuple[Station, ...] = ()
    next: NextStep | None = None
    notices: tuple[Notice, ...] = ()


class Frame(TypedDict):
    """The fields of :class:`Page`, to be handed on with ``**``."""

    title: str
    units: str
    job: Job | None
    here: str
    came_from: Job | None
    went_on: Job | None
    stations: tuple[Station, ...]
    next: NextStep | None
    notices: tuple[Notice, ...]


def frame(store: Store, work: Work, job_id: int | None, here: str, notices: tuple[Notice, ...] = ()) -> Frame:
    """What every page has, for one of them.

    Parameters
    ----------
    job_id : None outside a job
    here : "car", "pulls", "bench", "verdict", "repair", "proof", "report", "shop", "settings" ...

    Raises
    ------
    InputError
        If there is no such job.
    """
    title = t(f"frame.titles.{here}")
    units = units_of(store)
    if job_id is None:
        return Frame(
            title=title, units=units, job=None, here=here, came_from=None, went_on=None, stations=(), next=None,
            notices=notices,
        )  # fmt: skip
    job = store.job(job_id)
    held = Held(store, job)
    return Frame(
        title=f"{title} – {job.name}", units=units, job=job, here=here,
        came_from=came_from(store, job_id), went_on=went_on(store, job_id),
        stations=stations(held, work, here), next=next_step(held, work), notices=notices,
    )  # fmt: skip


def units_of(store: Store) -> str:
    """The shop's choice of units."""
    chosen = store.settings.get("units", shown.IMPERIAL)
    return chosen if chosen in shown.SYSTEMS else shown.IMPERIAL


def store_of(request: Request) -> Store:
    """The store behind a request."""
    store: Store = request.app.state.store
    return store


def work_of(request: Request) -> Work:
    """The long work behind a request."""
    work: Work = request.app.state.work
    return work


def in_hand(work: Work, job_id: int, kind: str, choices: Mapping[str, Any] | None = None) -> Task | None:
    """The latest work of a kind (with these choices, where there are any), unless it is done."""
    asked = (one for one in work.tasks(job_id) if one.kind == kind and choices in (None, one.choices))
    found = next(asked, None)
    return None if found is None or found.state == "done" else found


def wants_json(request: Request) -> bool:
    """Whether a program asks: ``?as=json``, or JSON is accepted and HTML is not."""
    if "as" in request.query_params:
        return request.query_params["as"] == "json"
    accepted = request.headers.get("accept", "")
    return "application/json" in accepted and "text/html" not in accepted


def answer(request: Request, page: Page, template: str, *, status: int = 200) -> Response:
    """A page as HTML, or as JSON where a program asks for it."""
    if wants_json(request):
        return json_answer({"format": 1, **asdict(page)}, status)
    return HTMLResponse(render(request, page, template), status)


def render(request: Request, page: Page, template: str) -> str:
    """The HTML of a page."""
    store = store_of(request)
    bay = store.settings.get("bay", "")
    return _environment().get_template(template).render(
        page=page, units=page.units, bay=bay if bay in BAYS else "", shop=store.settings.get("shop", "") or "",
        language=LANGUAGE, address=request.url.path, store=_name_of(store.root),
    )  # fmt: skip


def _name_of(folder: Path) -> str:
    """Tells the jobs of one folder from those of another at the same address, in what a browser keeps."""
    return hashlib.sha256(str(folder.resolve()).encode()).hexdigest()[:8]


def json_answer(content: dict[str, Any], status: int = 200) -> Response:
    """JSON; a value that JSON does not have (NaN) is a fault of ours and raises."""
    text = json.dumps(content, ensure_ascii=False, allow_nan=False)
    return Response(text, status, media_type="application/json")


def see_other(address: str) -> Response:
    """After a change: look at this page now."""
    return RedirectResponse(address, 303)


def carried_out(request: Request, key: str, change: Callable[[], str]) -> Response:
    """Make a change, the same sent again not again, and look at the address that it gave.

    Parameters
    ----------
    key : of what was sent (`boostproof.web.once.Once`)
    change : writes to the store, and gives the address that it leads to
    """
    return see_other(once(store_of(request), key, change))


def shows(page: type[Page]) -> dict[str, Any]:
    """For a route that shows a page: its JSON is documented from the page's dataclass."""
    html = {"text/html": {"schema": {"type": "string"}}}
    return {"responses": {200: {"model": page, "content": html, "description": "The page"}}}


def load_templates() -> None:
    """Have every template ready, so that nobody waits for it."""
    for name in _environment().list_templates():
        _environment().get_template(name)


@lru_cache(maxsize=4096)
def _again(macro: Callable[[Any], str], shown: Any) -> str:
    """What a macro makes of something that cannot change, made once; for macros in which nothing else has a hand."""
    return macro(shown)


@lru_cache(maxsize=1)
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES), autoescape=True, undefined=jinja2.StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.globals.update(
        t=t, states=STATES, static=static.address, unit_name=shown.unit_name, once=token_field, again=_again,
    )  # fmt: skip
    environment.filters.update(shown.FILTERS)
    return environment
