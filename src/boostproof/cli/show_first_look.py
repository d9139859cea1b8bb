"""First looks at a case on a terminal, while the full answer is worked out."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from typing import TYPE_CHECKING

from boostproof.report.text import ranking_lines

if TYPE_CHECKING:
    from boostproof.workflows.first_look import FirstRanking

FIRST = "FIRST LOOK, provisional: from the highest pull alone. The full answer follows."
SECOND = "SECOND LOOK, provisional: from all pulls, weighed roughly. The full answer follows."
_MOST = 4


class Looks:
    """Tells the first look, and the second where something else leads then.

    Parameters
    ----------
    tell : takes what is to be shown
    width : columns
    """

    def __init__(self, tell: Callable[[str], None], width: int) -> None:
        self._tell, self._width = tell, width
        self._leader = ""

    def __call__(self, found: FirstRanking) -> None:
        leader = found.ranking[0].id
        if leader != self._leader:
            self._tell(show_first_look(found, width=self._width))
        self._leader = leader


def show_first_look(found: FirstRanking, *, width: int) -> str:
    """What it may be at first sight, plainly marked as that.

    Parameters
    ----------
    found : the provisional ranking
    width : columns; no line is longer
    """
    heading = SECOND if found.all_pulls else FIRST
    rows = [(one.title, one.share, one.shown) for one in found.ranking][:_MOST]
    return "\n".join([*textwrap.wrap(heading, width), *ranking_lines(rows, found.trust, width)])
