"""What a repair costs in this shop: parts as a person wrote them down, and an hour at the bench."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from boostproof.web.pages.repair_texts import span
from boostproof.web.rates import read_rate
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.store import Store

_PRICES = "parts"  # setting of the shop: what parts cost, as written, by id of the repair


@dataclass(frozen=True)
class PriceShown:
    """What the parts of a repair cost here: name of its field, id, title, as written (may be empty), the usual range."""

    field: str
    id: str
    title: str
    written: str
    usual: str


def prices_shown(
    store: Store, forecasts: Iterable[Mapping[str, Any]], typed: Mapping[str, str]
) -> tuple[PriceShown, ...]:
    """Prices of the repairs that are forecast, as typed, else as kept."""
    from boostproof.repair.catalogue import BY_ID

    kept = store.settings.get(_PRICES) or {}
    ids = dict.fromkeys(r["id"] for forecast in forecasts for r in forecast["repairs"])
    return tuple(
        PriceShown(
            field_of(id), id, BY_ID[id].title, typed.get(field_of(id), kept.get(id, "")),
            t("repair.prices.usual", range=span(BY_ID[id].parts)),
        )
        for id in ids
    )  # fmt: skip


def field_of(id: str) -> str:
    """Name of a price's field in the form."""
    return f"price-{id.replace(' ', '-')}"


def written_prices(ids: Iterable[str], texts: Iterable[str]) -> tuple[dict[str, str], dict[str, str]]:
    """Prices as sent, by id of the repair, and what is wrong with some by field."""
    from boostproof.repair.catalogue import BY_ID

    written = {id: text.strip() for id, text in zip(ids, texts, strict=False) if id in BY_ID}
    wrong = {
        field_of(id): t("repair.prices.wrong") for id, text in written.items() if text and read_rate(text) is None
    }
    return written, wrong


def keep_prices(store: Store, written: Mapping[str, str]) -> None:
    """Keep prices; an empty one is forgotten."""
    store.settings.change(_PRICES, lambda kept: {id: text for id, text in {**(kept or {}), **written}.items() if text})


def rates_of(store: Store) -> dict[str, Any]:
    """What the shop takes for an hour at the bench and for parts, as choices for the work; nothing where not written."""
    rate = read_rate((store.settings.get("rates", {}) or {}).get("bench", ""))
    parts = {id: read_rate(text) for id, text in (store.settings.get(_PRICES) or {}).items()}
    told: dict[str, Any] = {} if rate is None else {"hour": sum(rate) / 2.0}
    return told | ({"parts": {id: list(span) for id, span in parts.items() if span}} if parts else {})
