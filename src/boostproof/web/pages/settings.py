"""Settings of the shop: units, light of the bay, its name, and what an hour costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from boostproof.web.page import (
    BAYS,
    Notice,
    Page,
    answer,
    frame,
    see_other,
    shows,
    store_of,
    units_of,
    work_of,
)
from boostproof.web.rates import RATES, read_rates
from boostproof.web.shown import IMPERIAL, SYSTEMS
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

router = APIRouter()


@dataclass(frozen=True, kw_only=True)
class SettingsPage(Page):
    """The settings as kept or as typed, and what is wrong with them by field.

    Attributes
    ----------
    bay : "", "bright" or "dark"
    rates : money an hour by name, as written (``"80..110"``)
    """

    shop_name: str
    chosen_units: str
    bay: str
    rates: Mapping[str, str]
    wrong: Mapping[str, str]


def settings_page(
    store: Store, work: Work, query: Mapping[str, str], *, typed: Mapping[str, str] | None = None,
    wrong: Mapping[str, str] | None = None,
) -> SettingsPage:
    """The settings page; ``typed`` values take the place of the kept ones."""
    told = store.settings
    kept = {"shop": told.get("shop", "") or "", "units": units_of(store), "bay": told.get("bay", "") or ""}
    kept |= {f"rate_{name}": text for name, text in (told.get("rates", {}) or {}).items()}
    values = kept | dict(typed or {})
    notices = (Notice("saved", t("settings.saved")),) if query.get("saved") else ()
    return SettingsPage(
        **frame(store, work, None, "settings", notices),
        shop_name=values["shop"], chosen_units=values["units"], bay=values["bay"],
        rates={name: values.get(f"rate_{name}", "") for name in RATES}, wrong=wrong or {},
    )  # fmt: skip


@router.get("/settings", **shows(SettingsPage))
def show(request: Request, saved: str = "") -> Response:
    """The settings of the shop."""
    return answer(request, settings_page(store_of(request), work_of(request), {"saved": saved}), "settings.html")


@router.post("/settings", status_code=303)
def change(
    request: Request,
    shop: Annotated[str, Form()] = "",
    units: Annotated[str, Form()] = IMPERIAL,
    bay: Annotated[str, Form()] = "",
    rate_bench: Annotated[str, Form()] = "",
    rate_dyno: Annotated[str, Form()] = "",
) -> Response:
    """Change the settings; a rate is money an hour, as a range where it differs ("80..110")."""
    store = store_of(request)
    typed = {"shop": shop.strip(), "units": units, "bay": bay, "rate_bench": rate_bench, "rate_dyno": rate_dyno}
    rates, wrong = read_rates({"bench": rate_bench, "dyno": rate_dyno})
    if units not in SYSTEMS:
        wrong["units"] = t("settings.units_wrong")
    if bay not in BAYS:
        wrong["bay"] = t("settings.bay_wrong")
    if wrong:
        page = settings_page(store, work_of(request), {}, typed=typed, wrong=wrong)
        return answer(request, page, "settings.html", status=422)
    for key, value in (("shop", shop.strip()), ("units", units), ("bay", bay), ("rates", rates)):
        store.settings.set(key, value)
    return see_other("/settings?saved=yes")
