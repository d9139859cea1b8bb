"""The first look at a case on a terminal, while the full answer is worked out."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from boostproof.report.text import ranking_lines

if TYPE_CHECKING:
    from boostproof.workflows.first_look import FirstRanking

_MOST = 4


def show_first_look(found: FirstRanking, *, width: int) -> str:
    """What it may be at first sight, plainly marked as that.

    Parameters
    ----------
    found : the provisional ranking
    width : columns; no line is longer
    """
    heading = "FIRST LOOK, provisional: from the highest pull alone. The full answer follows."
    rows = [(one.title, one.share, one.shown) for one in found.ranking][:_MOST]
    return "\n".join([*textwrap.wrap(heading, width), *ranking_lines(rows, found.trust, width)])
