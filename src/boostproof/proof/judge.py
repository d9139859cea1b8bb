"""The verdict from the ranges, and what is missing where there is none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from boostproof.proof.model import RangeResult, SwingResult, Verdict

ENOUGH = 3  # pulls of one side; common practice, no source


@dataclass(frozen=True)
class Judged:
    """What `judge` says; fields as in `Proof`."""

    verdict: Verdict
    missing: tuple[str, ...]
    still_outside: tuple[str, ...]
    second_fault: tuple[str, ...]


def judge(
    ranges: Sequence[RangeResult],
    swings: Sequence[SwingResult],
    *,
    beyond: Sequence[str],
    pulls: tuple[int, int],
    target_known: bool,
    spool_known: bool,
    over_stop: bool,
    same_sensor: bool,
) -> Judged:
    """The verdict of a repair.

    Parameters
    ----------
    ranges, swings : each with its change and its states
    beyond : why the two cannot be held against each other; then nothing is claimed
    pulls : how many before and after
    target_known : somebody said what boost is wanted
    spool_known : somebody said from which engine speed on
    over_stop : a pull after passed the stop boost
    same_sensor : one sensor recorded both
    """
    items: list[RangeResult | SwingResult] = [*ranges, *swings]
    outside = tuple(item.name for item in items if item.state_after == "outside")
    improved = [item for item in items if item.change == "better"]
    worsened = [item for item in items if item.change == "worse" and item.state_after != "holds"]
    missing: list[str] = list(beyond)
    if beyond:
        return Judged("cannot say", tuple(missing), outside, ())
    verdict: Verdict
    held_better, held_worse = ([i for i in some if i.name != "spool"] for some in (improved, worsened))
    if held_better and held_worse:
        verdict = _mixed(held_better, held_worse)
    elif held_worse or (worsened and not held_better):
        verdict = "worse"
    elif improved:
        lacking = _short_of_cured(items, improved, pulls, spool_known=spool_known, over_stop=over_stop)
        if worsened:
            lacking.append("Boost builds later than before the repair.")
        verdict = "better" if lacking else "cured"
        missing += lacking
    elif all(item.change in ("no different", "better", "worse") for item in items):
        verdict = "no different"
    else:
        verdict = "cannot say"
        missing += _for_an_answer(ranges, pulls, target_known=target_known, same_sensor=same_sensor)
    mended = {item.name for item in improved if item.state_after != "outside"}
    second = outside if mended else ()
    return Judged(verdict, tuple(missing), outside, second)


def _mixed(
    improved: Sequence[RangeResult | SwingResult], worsened: Sequence[RangeResult | SwingResult]
) -> Verdict:
    """One range better and another worse: worse where boost now lies above what is wanted, else the larger one."""
    if any(_above(item) for item in worsened):
        return "worse"
    gained = max(abs(item.difference.value) for item in improved)
    lost = max(abs(item.difference.value) for item in worsened)
    return "better" if gained > lost else "worse"


def _above(item: RangeResult | SwingResult) -> bool:
    if isinstance(item, SwingResult):
        return True
    return item.off_after is not None and item.off_after.value > 0.0


def _short_of_cured(
    items: Sequence[RangeResult | SwingResult],
    improved: Sequence[RangeResult | SwingResult],
    pulls: tuple[int, int],
    *,
    spool_known: bool,
    over_stop: bool,
) -> list[str]:
    """Sentences for what keeps "better" from being "cured"; empty where nothing does."""
    said = []
    held = [item for item in items if item.name != "spool"]
    if over_stop:
        said.append("Boost still passes the stop boost.")
    still = [item.name for item in held if item.state_after == "outside"]
    if still:
        said.append(f"After the repair boost is still off in the {' and '.join(still)}.")
    unsure = [item.name for item in held if item.state_after == "cannot tell"]
    if unsure:
        said.append(_unsure(unsure, pulls[1]))
    if any(item.state_after is None for item in held):
        said.append("Write the boost that is wanted into limits.target: without it nothing can be called cured.")
    if not said and not any(item.state_before != "holds" for item in improved if item.name != "spool"):
        said.append(_only_spool(spool_known=spool_known))
    elif not said and not spool_known and _came_late(items, improved):
        said.append(_only_spool(spool_known=False))
    return said


def _came_late(
    items: Sequence[RangeResult | SwingResult], improved: Sequence[RangeResult | SwingResult]
) -> bool:
    """Whether all that was wrong before is that boost came late: too low at first, and right in the end."""
    top_right = all(item.state_before != "outside" for item in items if item.name == "top end")
    low = all(
        isinstance(item, RangeResult) and (item.off_before is None or item.off_before.value < 0.0)
        for item in improved
    )
    return top_right and low and any(item.name == "spool" for item in improved)


def _only_spool(*, spool_known: bool) -> str:
    if spool_known:
        return "Only where boost builds did anything change, and the target says nothing of that."
    return (
        "Boost builds sooner; from which engine speed it is wanted is not written: give limits.target in rows of rpm "
        "and boost."
    )


def _unsure(names: Sequence[str], after: int) -> str:
    where = " and ".join(names)
    if after < ENOUGH:
        count = ENOUGH - after
        more = f"{count} more pull{'' if count == 1 else 's'}"
        return f"With {after} pull{'' if after == 1 else 's'} after the repair the {where} is not proved: drive {more}."
    return f"The {where} lies too near the edge of what is allowed to be called cured: drive more pulls."


def _for_an_answer(
    ranges: Sequence[RangeResult], pulls: tuple[int, int], *, target_known: bool, same_sensor: bool
) -> list[str]:
    """Sentences for what would turn "cannot say" into an answer."""
    said = []
    if not target_known and any(item.change == "different" for item in ranges):
        said.append("Boost changed; write the boost that is wanted into limits.target to tell whether for the better.")
    few = [
        f"{ENOUGH - count} more {word} the repair" for count, word in zip(pulls, ("before", "after"), strict=True)
        if count < ENOUGH
    ]  # fmt: skip
    if few:
        said.append(f"Too few pulls: drive {' and '.join(few)}, in the same gear from the same temperature.")
    if not same_sensor:
        said.append("Another sensor recorded the pulls after the repair: hold one against the other at key-on.")
    if not said:
        said.append("The pulls differ too much from each other: drive more of them, from the same temperature.")
    return said
