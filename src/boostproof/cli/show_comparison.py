"""The plain text of ``boostproof compare``, made from its JSON answer (formats.md, Answers)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from boostproof.cli.layout import ending, wrapped
from boostproof.report.words import from_kpa as pressure

_HEADS = {
    "different": "They differ",
    "no different": "No difference that matters",
    "cannot tell": "It cannot be told yet",
}


def show_comparison(answer: Mapping[str, Any], *, units: str, width: int) -> str:
    """What came of a comparison, for a terminal of ``width`` columns, pressures in ``units``."""
    before, after = answer["before"], answer["after"]
    lines = wrapped(f"{after['name']} against {before['name']}: {_HEADS[answer['verdict']]}", width)
    lines += [f"  {side['name']}: {', '.join(side['pulls'])}" for side in (before, after)]
    blocks = ["\n".join(lines), "\n".join(_found(answer, units, width))]
    return "\n\n".join([*blocks, *ending(answer, width)]) + "\n"


def _found(answer: Mapping[str, Any], units: str, width: int) -> list[str]:
    lines = []
    for span in answer["spans"]:
        word = "higher" if span["mean_kpa"] > 0.0 else "lower"
        how = " on average" if span["averaged"] else ""
        lines += wrapped(
            f"boost {pressure(abs(span['mean_kpa']), units)} {word}{how} from {span['rpm_from']:,.0f} to "
            f"{span['rpm_to']:,.0f} rpm",
            width, indent=2, hanging=2,
        )  # fmt: skip
    mean = answer["mean_difference_kpa"]
    sign = "-" if mean["value"] < 0.0 else "+"
    lines += wrapped(
        f"over {answer['rpm'][0]:,.0f} to {answer['rpm'][-1]:,.0f} rpm: {sign}{pressure(abs(mean['value']), units)} "
        f"± {pressure(2.0 * mean['sd'], units)}",
        width, indent=2, hanging=2,
    )  # fmt: skip
    repeats = answer["scatter"]["repeats"]
    said = "as is usual" if repeats == 0 else f"from {repeats} repeat{'' if repeats == 1 else 's'}"
    lines += wrapped(
        f"pulls of one set-up differ by {pressure(answer['scatter']['sd_kpa'], units)} ({said}); a change of "
        f"{pressure(answer['tells_from_kpa'], units)} would be found",
        width, indent=2, hanging=2,
    )  # fmt: skip
    return lines
