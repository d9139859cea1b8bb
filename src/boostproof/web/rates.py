"""What an hour costs, as written in the settings: one amount, or a range ("80..110")."""

from __future__ import annotations

import re
from collections.abc import Mapping

from boostproof.web.words import t

RATES = ("bench", "dyno")

_NUMBER = r"\d+(?:[.,]\d{1,2})?"
_FORM = re.compile(rf"^\s*({_NUMBER})(?:\s*(?:\.\.|-|–|to|or)\s*({_NUMBER}))?\s*$", re.IGNORECASE)


def read_rate(text: str) -> tuple[float, float] | None:
    """Lowest and highest amount of a rate as written, None where it cannot be read."""
    match = _FORM.match(text)
    if match is None:
        return None
    low, high = (float((part or match[1]).replace(",", ".")) for part in match.groups())
    return (low, high) if low <= high else None


def read_rates(written: Mapping[str, str]) -> tuple[dict[str, str], dict[str, str]]:
    """The rates that are given, tidied, and what is wrong with the others by field (``rate_bench``)."""
    rates, wrong = {}, {}
    for name, text in written.items():
        if not text.strip():
            continue
        if read_rate(text) is None:
            wrong[f"rate_{name}"] = t("settings.rate_wrong")
        else:
            rates[name] = text.strip()
    return rates, wrong
