"""Money of a job: what the customer has approved, what was spent, and when to ask before going on."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from boostproof.web.pages.repair_texts import amount, span
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.store import Store

MONEY = "money"  # the job's setting: {"approved": sum, "spent": [{at, what, amount}]}
_AMOUNT = re.compile(r"^\d{1,7}(?:[.,]\d{1,2})?$")


@dataclass(frozen=True)
class SpentShown:
    """One sum that was spent: when (ISO 8601, UTC), on what, how much."""

    at: str
    what: str
    amount: str


@dataclass(frozen=True)
class MoneyShown:
    """Money of a job.

    Attributes
    ----------
    approved, spent, left : as texts; approved and left empty where nothing was approved yet
    rows : what was spent, in order
    next : what the repair in view takes, as a range; empty where none is
    ask : going on may pass what was approved, or nothing was approved
    says : whether there is room, in a sentence
    """

    approved: str
    spent: str
    left: str
    rows: tuple[SpentShown, ...]
    next: str
    ask: bool
    says: str


def money_of(store: Store, job_id: int, repair: Sequence[float] | None) -> MoneyShown:
    """Money of a job beside what a repair takes.

    Parameters
    ----------
    repair : lowest and highest cost of the repair in view, None where there is none
    """
    kept = _kept(store, job_id)
    approved: float | None = kept.get("approved")
    spent = sum(row["amount"] for row in kept.get("spent", []))
    left = None if approved is None else approved - spent
    ask = repair is not None and (left is None or repair[1] > left)
    rows = tuple(SpentShown(row["at"], row["what"], amount(row["amount"])) for row in kept.get("spent", []))
    return MoneyShown(
        "" if approved is None else amount(approved), amount(spent), "" if left is None else amount(left), rows,
        "" if repair is None else span(repair), ask, _says(repair, approved, left),
    )  # fmt: skip


def _says(repair: Sequence[float] | None, approved: float | None, left: float | None) -> str:
    if repair is None:
        return ""
    if approved is None or left is None:
        return t("repair.money.nothing_approved", range=span(repair))
    if repair[0] > left:
        return t("repair.money.over", range=span(repair), left=amount(max(left, 0.0)))
    if repair[1] > left:
        return t("repair.money.may_be_over", range=span(repair), left=amount(max(left, 0.0)))
    return t("repair.money.enough", range=span(repair), left=amount(left))


def approve(store: Store, job_id: int, limit: float) -> None:
    """The customer has approved so much in all."""
    store.settings.of_job(job_id).change(MONEY, lambda kept: {**(kept or {}), "approved": limit})
    store.log(job_id, t("repair.log.approved", amount=amount(limit)))


def add_spent(store: Store, job_id: int, spent: float, what: str) -> None:
    """So much was spent on something."""
    row = {"at": datetime.now(UTC).isoformat(timespec="seconds"), "what": what, "amount": spent}
    store.settings.of_job(job_id).change(MONEY, lambda kept: {**(kept or {}), "spent": [*(kept or {}).get("spent", []), row]})
    store.log(job_id, t("repair.log.spent", amount=amount(spent), what=what or t("repair.money.unnamed")))


def parsed_amount(text: str) -> float | None:
    """A sum as written ("450", "129,50"), None where it is none.

    >>> parsed_amount("450"), parsed_amount("129,50"), parsed_amount("1 000"), parsed_amount("a lot")
    (450.0, 129.5, 1000.0, None)
    """
    tidy = re.sub(r"[\s\u202f']", "", text)
    return float(tidy.replace(",", ".")) if _AMOUNT.match(tidy) else None


def _kept(store: Store, job_id: int) -> dict[str, Any]:
    return dict(store.settings.of_job(job_id).get(MONEY) or {})
