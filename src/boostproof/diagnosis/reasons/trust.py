"""How far numbers that rest on weighted candidates may be printed (notes on diagnosis, print policy)."""

from __future__ import annotations

from typing import Literal

Trust = Literal["ok", "about", "order only"]

TRUSTED, ROUGH = 30.0, 10.0  # effective sample sizes
AGREE = 0.03  # largest difference of a probability between two halves of the candidates that may be printed in percent
MATTERS = 0.05  # probability from which a hypothesis' size counts


def trust_of(size: float, apart: float = 0.0) -> Trust:
    """What may be said with an effective sample size: percent, percent rounded, or the order alone.

    ``apart`` is the largest difference of a probability between two halves of the candidates.

    >>> trust_of(30.0), trust_of(29.9), trust_of(9.9), trust_of(300.0, apart=0.04)
    ('ok', 'about', 'order only', 'about')
    """
    return "ok" if size >= TRUSTED and apart <= AGREE else "about" if size >= ROUGH else "order only"
