"""Repairs that are offered for a job, as forecast and kept, and the one of them that was decided on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from boostproof.report import forecast_words

if TYPE_CHECKING:
    from boostproof.jobs.records import KeptAnswer
    from boostproof.jobs.store import Store

KIND = "repair_options"
_DECIDED = "repair"  # the job's setting: which repairs, their title, and whether they are done
_MOST_MORE = 4  # repairs of a person's own that are shown beside the others


@dataclass(frozen=True)
class Offer:
    """One of the repairs side by side.

    Attributes
    ----------
    option : `OptionAnswer` with its forecast
    kept : the answer that it comes from
    """

    option: Mapping[str, Any]
    kept: KeptAnswer

    @property
    def repairs(self) -> list[str]:
        """As they are asked for ("port 31 mm")."""
        return list(self.option["repairs"])


def offered(store: Store, job_id: int) -> list[Offer]:
    """Repairs that fit, then a person's own for the same files."""
    kept = store.answers.of_job(job_id, KIND)
    base = next((k for k in kept if "options" not in k.choices), None)
    if base is None:
        return []
    out = [Offer(option, base) for option in base.answer["options"]]
    most = len(out) + _MOST_MORE
    seen = {tuple(one.repairs) for one in out}
    for one in kept:
        if "options" not in one.choices or one.content != base.content:
            continue
        for option in one.answer["options"]:
            if tuple(option["repairs"]) not in seen and len(out) < most:
                seen.add(tuple(option["repairs"]))
                out.append(Offer(option, one))
    return out


def numbered(written: str, offers: Sequence[Offer], otherwise: int = 0) -> int:
    """Number of an offer as written in an address, ``otherwise`` where there is none of that number."""
    return int(written) if written.isdecimal() and int(written) < len(offers) else otherwise


def in_size(option: Mapping[str, Any], size: str) -> list[str] | None:
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


@dataclass(frozen=True)
class Decision:
    """What was decided on: the repairs as they are asked for, in words, and whether they are done."""

    repairs: list[str]
    title: str
    done: bool = False


def decision(store: Store, job_id: int) -> Decision | None:
    """What was decided on in a job, None where nothing was."""
    kept = store.settings.of_job(job_id).get(_DECIDED)
    return Decision(kept["repairs"], kept["title"], bool(kept.get("done"))) if kept else None


def keep_decision(store: Store, job_id: int, decided: Decision) -> None:
    """Keep what was decided on in a job."""
    store.settings.of_job(job_id).set(_DECIDED, asdict(decided))
