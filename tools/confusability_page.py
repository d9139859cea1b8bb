"""The page docs/confusability.md: which causes can be told apart, computed for three kinds of car.

``python -m tools.confusability_page`` computes and writes it, which takes some ten minutes; with ``--check`` it only
says whether its stamp is still that of causes, tests, priors and method.
"""

from __future__ import annotations

import argparse
import hashlib
import re
import sys
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from evaluation.families import car_of
from tests.unit.diagnosis.look_alike_table import APART, PAIRS, TOGETHER
from tests.unit.small_car import small_car

from boostproof.bench.tests import CATALOGUE as TESTS
from boostproof.car.prior import STANDARD_TARGET, build_prior
from boostproof.car.spec import CarSpec
from boostproof.diagnosis.catalogue import confusability
from boostproof.diagnosis.catalogue.confusability import Remaining, remaining, together
from boostproof.diagnosis.catalogue.expected import bank_of, subject_of
from boostproof.diagnosis.causes import BY_ID, CATALOGUE
from boostproof.diagnosis.evidence.pulls import CHANNELS
from boostproof.diagnosis.evidence.setup import context_of

PAGE = Path(__file__).resolve().parent.parent / "docs" / "confusability.md"
KINDS: Mapping[str, tuple[str, str]] = {
    "Internal flapper, ball and spring": ("internal flapper", "ball and spring"),
    "External gate, three-port solenoid in closed loop": ("external poppet", "solenoid 3-port"),
    "Internal flapper, no controller": ("internal flapper", "none"),
}
SEVERITIES = confusability.TRUE_SEVERITIES
_METHOD = 1  # raise it where the model or the way of computing changes so that the page would
_STAMP = re.compile(r"<!-- stamp ([0-9a-f]{16}) -->")
_INTRO = """# Which causes can be told apart

Made by `python -m tools.confusability_page`, computed and not measured on engines. On a two-litre car of each
kind, sound in every part and wanting 90 kPa, every cause is made true, at {severities} of its range from mild to severe.
Its log of one slow ramp (boost, and duty where there is a solenoid) and what every test would read are free of noise,
with the errors that a diagnosis allows them. Then every other cause is fitted to them: how well can it imitate the true one,
with all that is not known of the car? Every cause is as likely beforehand, so that the
probabilities say what the evidence does and not how common a cause is. They are those of the expected verdict;
noise moves a single one. Fits are stopped early: where several causes compete, a probability is good to about 0.2.

- *Log alone* and *all tests*: probability that is left on the true cause, mean over its variants. "All tests"
  are all that the catalogue holds for this car, each done once.
- *Taken for*: the two causes that it is most taken for, with their probabilities.
- Where a single ramp cannot show a cause (boost that does not come back, a first pull that is right), the
  log alone is poorer here than a log of several pulls.

`boostproof causes --case CASE` computes the groups that nothing can part for one car and one shop.
"""


def page(found: Mapping[str, tuple[Mapping[str, Remaining], Mapping[str, Remaining]]]) -> str:
    """The page, of what is left with the log alone and with all tests, by kind of car."""
    severities = " and ".join(f"{s:.1f}" for s in SEVERITIES)
    lines = [f"<!-- stamp {stamp()} -->", _INTRO.format(severities=severities)]
    for kind, (log, everything) in found.items():
        lines += [f"## {kind}", "", *_summary(log, everything), ""]
        lines += ["| cause | log alone | taken for | all tests | taken for |", "|---|---|---|---|---|"]
        lines += [
            f"| {_link(i)} | {log[i].truth:.2f} | {_taken(log[i])} | {everything[i].truth:.2f} | {_taken(everything[i])} |"
            for i in log
        ]
        lines += ["", "Left together by the log and every test:", "", *_groups(everything), ""]
    return "\n".join([*lines, *_pairs()]) + "\n"


def _summary(log: Mapping[str, Remaining], everything: Mapping[str, Remaining]) -> list[str]:
    def count(left: Mapping[str, Remaining]) -> int:
        return sum(one.truth > 0.8 for one in left.values())

    return [
        f"Of {len(log)} causes {count(log)} end above 0.80 by the log alone and {count(everything)} with all tests."
    ]


def _groups(left: Mapping[str, Remaining]) -> list[str]:
    rows = []
    for group in together(left):
        same = len({BY_ID[i].mechanism for i in group}) == 1
        why = " (one and the same change of the car, as it is simulated)" if same else ""
        rows.append(f"- {', '.join(_link(i) for i in group)}{why}")
    return rows or ["- none"]


def _pairs() -> list[str]:
    lines = [
        "## Look-alike pairs of the trade", "",
        f"Pairs that logs alone are said not to separate, held against the simulation on usual cars by a test: "
        f"the log leaves each below {TOGETHER:g} against the other where the traces are most alike, and each test named "
        f"puts the true one above {APART:g}.", "",
        "| pair | on | parted by | what the simulation adds |", "|---|---|---|---|",
    ]  # fmt: skip
    for pair in PAIRS:
        tests = ", ".join(f"[{t}](tests.md#{t})" for t in pair.tests)
        fails = f"; not by [{pair.fails}](tests.md#{pair.fails})" if pair.fails else ""
        lines.append(
            f"| {_link(pair.first)}, {_link(pair.second)} | {pair.kind} | {tests}{fails} | {pair.finding} |"
        )
    return lines


def _link(cause: str) -> str:
    return f"[{cause}](causes.md#{cause})"


def _taken(left: Remaining) -> str:
    return ", ".join(f"{cause} {p:.2f}" for cause, p in left.taken_for(above=0.02)) or "nothing else"


def compute(kind: str) -> tuple[dict[str, Remaining], dict[str, Remaining]]:
    """What is left of every cause on a kind of car: by the log alone, and with all tests."""
    subject = subject_of(_described(*KINDS[kind]))
    tests = [t.id for t in subject.tests]
    bank = bank_of(subject, tests)
    return remaining(bank, (), severities=SEVERITIES), remaining(bank, tests, severities=SEVERITIES)


def _described(gate: str, controller: str) -> CarSpec:
    return car_of(small_car('[limits]\ntarget = "90 kPa"', controller=controller, gate=gate))


def stamp() -> str:
    """Hash of what the page is computed from: causes, tests, priors, the pairs, and how it is computed."""
    told: list[object] = [_METHOD, PAIRS, SEVERITIES, confusability.NEAR, CHANNELS]
    told += [(c.id, c.mechanism, c.variants, dict(c.by_controller)) for c in CATALOGUE]
    for kind in KINDS.values():
        car = _described(*kind)
        prior, context = build_prior(car), context_of(car, STANDARD_TARGET)
        told += [prior.nuisances, sorted(prior.fixed.items())]
        told += [(t.id, t.need, t.probe(context).observations) for t in TESTS if t.fits(context)]
    return hashlib.sha256(repr(told).encode()).hexdigest()[:16]


def current(path: Path = PAGE) -> bool:
    """Whether the page there was made by what stands in the code now."""
    found = _STAMP.search(path.read_text(encoding="utf-8")) if path.exists() else None
    return found is not None and found[1] == stamp()


def write(path: Path = PAGE, processes: int = 2) -> None:
    """Compute and write the page."""
    with ProcessPoolExecutor(processes) as pool:
        found = dict(zip(KINDS, pool.map(compute, KINDS), strict=True))
    path.write_text(page(found), encoding="utf-8", newline="\n")


def main(arguments: Sequence[str] | None = None) -> int:
    """Write, or check; 1 where the page is not current."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="compute nothing, say whether it is current")
    if not parser.parse_args(arguments).check:
        write()
        return 0
    if current():
        return 0
    sys.stdout.write("docs/confusability.md is not current.\n")
    return 1


if __name__ == "__main__":
    sys.exit(main())
