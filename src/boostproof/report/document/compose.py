"""The whole document from the results."""

from __future__ import annotations

from typing import TYPE_CHECKING

from boostproof.report.document.about import cautions, in_short, not_tested, sign_off, the_car, what_was_done
from boostproof.report.document.found import verdict
from boostproof.report.document.measured import bench, pulls
from boostproof.report.document.mended import forecast, proof
from boostproof.report.document.results import Results, Told
from boostproof.version import __version__

if TYPE_CHECKING:
    from boostproof.workflows.report_answers import ReportAnswer

# as it is read: the answer first, then how it came about, then what is left
_PARTS = (
    in_short, the_car, pulls, bench, verdict, what_was_done, forecast, proof, cautions, not_tested, sign_off,
)  # fmt: skip


def compose(results: Results, told: Told) -> ReportAnswer:
    """The document.

    Parameters
    ----------
    results : of the other commands
    told : by a person, for the report

    Returns
    -------
    ReportAnswer
        Plain text and figures; a part that was not done says so.
    """
    return {
        "format": 1, "language": "en", "title": f"Boost report: {results.name}", "car": results.name,
        "shop": told.shop, "made_for": "customer" if told.customer else "shop", "dated": told.dated,
        "units": told.units, "seed": results.seed, "version": __version__, "case": results.case,
        "sections": [part(results, told) for part in _PARTS], "written": [],
    }  # fmt: skip
