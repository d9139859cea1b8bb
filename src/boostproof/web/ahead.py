"""What pages are made of, made in the worker's process as soon as an answer is there: nobody waits for it at a page.

The parts are kept beside the store (`boostproof.web.kept_parts`), where the pages look for them. What is not made here, or
is lost, is made when a page is first shown.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.errors import BoostproofError

if TYPE_CHECKING:
    from boostproof.jobs.kinds import Progress
    from boostproof.jobs.store import Store

PLACE = "boostproof.web.ahead:make_ready"  # for the worker, which knows no pages
_log = logging.getLogger("boostproof.web")


def make_ready(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Make the parts of a job's pages.

    Parameters
    ----------
    folder : of the store
    choices : ``job``, its number
    progress : not called; it takes less than a second

    Returns
    -------
    Nothing, as the worker takes it.
    """
    from boostproof.web import pulls_held
    from boostproof.web.pages import bench, car, proof, repair_page, verdict

    store = _opened(folder)
    makers = (*(page.make_ready for page in (verdict, bench, proof, car, repair_page)), pulls_held.has_target)
    for make in makers:
        try:
            make(store, choices["job"])
        except BoostproofError as error:  # whoever opens the page is told
            _log.info("not made ahead: %s", error.says)
    return {}


@lru_cache(maxsize=1)
def _opened(folder: Path) -> Store:
    from boostproof.jobs.store import Store

    return Store.open(folder)
