"""Two pulls held against each other on the Pulls page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from boostproof.errors import BoostproofError
from boostproof.jobs.recordings import AT_ONCE
from boostproof.web.pulls_words import compared_words, pull_name
from boostproof.web.words import t
from boostproof.workflows.recordings_seen import Noticed, PullSeen

if TYPE_CHECKING:
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work


@dataclass(frozen=True)
class ComparedShown:
    """Two pulls held against each other; ``says`` is empty until there is an answer."""

    before: str
    after: str
    says: str = ""
    remark: str = ""
    noticed: tuple[Noticed, ...] = ()
    task: Any = None
    wrong: str = ""


def compared(
    store: Store, work: Work, job_id: int, pulls: Sequence[PullSeen], query: Mapping[str, str], units: str
) -> ComparedShown:
    """Two of the pulls of a job: compared at once, or as a task where their recordings are large.

    Parameters
    ----------
    pulls : that can be chosen
    query : before, after; the keys of the two
    """
    by_key = {pull.key: pull for pull in pulls if len(pull.rpm)}
    before, after = query.get("before", ""), query.get("after", "")
    if before not in by_key or after not in by_key:
        return ComparedShown(before, after)
    if before == after:
        return ComparedShown(before, after, wrong=t("pulls.compare.same"))
    choices = {"before": [before], "after": [after]}
    kept = store.answers.latest(job_id, "compare", choices)
    if kept is None:
        sizes = {file.path: file.size for file in store.files(job_id)}
        if sum(sizes[path] for path in {by_key[before].file, by_key[after].file}) > AT_ONCE / 4:
            return ComparedShown(before, after, task=work.start(job_id, "compare", choices))
        try:
            kept = _compare_now(store, job_id, choices)
        except BoostproofError as error:
            wrong = f"{error.says} {error.do}" if _case_is_whole(store, job_id) else t("pulls.compare.needs_car")
            return ComparedShown(before, after, wrong=wrong)
    names = (pull_name(by_key[before]), pull_name(by_key[after]))
    says, remark = compared_words(kept.answer, names, units)
    noticed = tuple(Noticed(f["kind"], f["says"], f["do"]) for f in kept.answer["findings"])
    return ComparedShown(before, after, says[:1].upper() + says[1:], remark, noticed)


def _case_is_whole(store: Store, job_id: int) -> bool:
    from boostproof.casefolder import read_case

    try:
        read_case(store.folder(job_id), with_readings=False)
    except BoostproofError:
        return False
    return True


def _compare_now(store: Store, job_id: int, choices: dict[str, list[str]]) -> Any:
    from boostproof.workflows.compare import compare

    answer = compare(store.folder(job_id), choices["before"], choices["after"]).as_json()
    return store.answers.keep(job_id, "compare", answer, choices, store.content(job_id))
