"""How far numbers that rest on weighted candidates may be printed (notes on diagnosis, print policy)."""

from __future__ import annotations

from typing import Literal

Trust = Literal["ok", "about", "order only"]

TRUSTED, ROUGH = 30.0, 10.0  # effective sample sizes
MATTERS = 0.05  # probability from which a hypothesis' size counts


def trust_of(size: float) -> Trust:
    """What may be said with an effective sample size: percent, percent rounded, or the order alone.

    >>> trust_of(30.0), trust_of(29.9), trust_of(9.9)
    ('ok', 'about', 'order only')
    """
    return "ok" if size >= TRUSTED else "about" if size >= ROUGH else "order only"
