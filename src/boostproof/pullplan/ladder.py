"""The ladder: which pull comes next, and what the ones after it would be if the car does as expected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from boostproof.pullplan.ensemble import Ensemble
from boostproof.pullplan.outlook import Driven, Outlook, outlook, quantile, refit
from boostproof.pullplan.rungs import HIGH, LEAST_STEP, LOW, Held, Rung, highest, rung
from boostproof.pullplan.terms import FOUND, LEAST, Terms

_BIN = 200.0 * np.pi / 30.0  # rad/s, bins of a pull that is foreseen
_MOST_RUNGS = 8
_TELLS = 0.25  # of the hard limit: below it all cars are only spooling
_PARTS = 1.5  # standard deviations of the model between cars that a pull would tell apart

Why = Literal["done", "unsafe"]


@dataclass(frozen=True)
class Halt:
    """No further pull is asked for.

    Attributes
    ----------
    why : "done" as the car went to the redline as found, "unsafe" where no step is safe enough
    set_up : in which the next pull would have been
    causes : what would pass the limit there, likeliest first, each with its chance of doing so; where a pull
        ran away already, what may be wrong
    """

    why: Why
    set_up: str
    causes: tuple[tuple[str, float], ...] = ()


def next_pull(ensemble: Ensemble, pulls: Sequence[Driven], terms: Terms) -> Rung | Halt:
    """The next pull after those driven, or why there is none.

    The first is driven with the least boost and a low ceiling. Once that was reached, and more of the least boost would
    not tell what runs away as found, the car as found follows, low again.

    Parameters
    ----------
    ensemble : candidates before the pulls
    pulls : driven so far, in order
    terms : of the ladder
    """
    car = refit(ensemble, pulls)
    views = {s: outlook(car, s, pulls) for s in car.set_ups}
    options = {s: _option(views, s, pulls, terms) for s in car.set_ups}
    away = _runs_away(pulls, terms)
    if away is not None:
        return Halt("unsafe", away, tuple(car.chances().items())[:5])
    if _reached(pulls, FOUND) >= HIGH * terms.redline - LEAST_STEP:
        return Halt("done", FOUND)
    for set_up in _order(car, views, options, pulls, terms):
        ceiling, held = options[set_up]
        if ceiling >= _floor(set_up, pulls, terms):
            return rung(views[set_up], set_up, ceiling, held, terms, _last(pulls, set_up))
    wanted = FOUND if LEAST not in car.set_ups or _low_reached(pulls, terms) else LEAST
    return Halt("unsafe", wanted, _to_blame(car, views[wanted], _floor(wanted, pulls, terms) + terms.overrun, terms))


def foresee(ensemble: Ensemble, pulls: Sequence[Driven], terms: Terms) -> tuple[list[Rung], Halt | None]:
    """The whole ladder, each pull supposed to go as the middle of the candidates says.

    Only the first rung is to be driven: the others change with what it shows.

    Returns
    -------
    rungs, and what ends the ladder (None where it is longer than is worth foreseeing)
    """
    done, out = list(pulls), list[Rung]()
    for _ in range(_MOST_RUNGS):
        step = next_pull(ensemble, done, terms)
        if isinstance(step, Halt):
            return out, step
        out.append(step)
        done.append(_as_expected(ensemble, step, done, terms))
    return out, None


def _option(views: dict[str, Outlook], set_up: str, pulls: Sequence[Driven], terms: Terms) -> tuple[float, Held]:
    last = _last(pulls, set_up)
    cap: tuple[float, Held] = (HIGH * terms.redline, "redline")
    if last is None:
        cap = (LOW * terms.redline, "low ceiling")
    return highest(views[set_up], terms, last, *cap, nothing_yet=_nothing_yet(pulls, terms))


def _order(
    car: Ensemble, views: dict[str, Outlook], options: dict[str, tuple[float, Held]], pulls: Sequence[Driven], terms: Terms
) -> list[str]:
    """Set-ups that may be driven now, in the order in which they are considered."""
    if LEAST not in views:
        return [FOUND]
    if not _low_reached(pulls, terms):
        return [LEAST]
    if _last(pulls, FOUND) is None and _would_tell(car, views, options[LEAST][0], terms):
        return [LEAST, FOUND]
    return [FOUND]


def _nothing_yet(pulls: Sequence[Driven], terms: Terms) -> bool:
    """Whether no pull has come into the boost where cars differ."""
    return all(float(p.boost.max()) < _TELLS * terms.hard for p in pulls)


def _runs_away(pulls: Sequence[Driven], terms: Terms) -> str | None:
    """Set-up of a pull that passed the limit, or of the least boost where it is above the boost wanted: as found it
    would be no less. None without one."""
    for pull in pulls:
        limit = terms.hard if pull.set_up == FOUND else min(terms.target + terms.gauge_error, terms.hard)
        if float(pull.boost.max()) > limit:
            return pull.set_up
    if len(pulls) > 1 and pulls[-1].set_up == pulls[-2].set_up and not pulls[-1].counted:
        # stopped where the one before it ended: the same again would add nothing
        return pulls[-1].set_up if pulls[-1].ceiling <= pulls[-2].ceiling else None
    return None


def _low_reached(pulls: Sequence[Driven], terms: Terms) -> bool:
    """Whether the least boost was driven far enough for the car as found to follow."""
    return _reached(pulls, LEAST) >= LOW * terms.redline - LEAST_STEP


def _would_tell(car: Ensemble, views: dict[str, Outlook], ceiling: float, terms: Terms) -> bool:
    """Whether a further pull of least boost parts the cars that run away as found from the others."""
    view = views[LEAST]
    row = int(np.searchsorted(view.speed, ceiling).clip(0, len(view.speed) - 1))
    passes = views[FOUND].each_passing(terms.hard, row)
    bad, good = car.weight * passes, car.weight * (1.0 - passes)
    if bad.sum() < 1e-9 or good.sum() < 1e-9:
        return False
    level = view.level[row]
    apart = abs(float(level @ bad / bad.sum() - level @ good / good.sum()))
    return apart > _PARTS * float(view.sd[row])


def _last(pulls: Sequence[Driven], set_up: str) -> Driven | None:
    """The pull of a set-up that went highest."""
    own = [p for p in pulls if p.set_up == set_up]
    return max(own, key=lambda p: p.ceiling) if own else None


def _reached(pulls: Sequence[Driven], set_up: str) -> float:
    last = _last(pulls, set_up)
    return 0.0 if last is None else last.ceiling


def _floor(set_up: str, pulls: Sequence[Driven], terms: Terms) -> float:
    """Ceiling below which a pull would add nothing."""
    last = _last(pulls, set_up)
    return terms.start + 1.5 * LEAST_STEP if last is None else last.ceiling + LEAST_STEP


def _to_blame(car: Ensemble, view: Outlook, speed: float, terms: Terms) -> tuple[tuple[str, float], ...]:
    row = int(np.searchsorted(view.speed, speed).clip(0, len(view.speed) - 1))
    chances = car.chances(view.each_passing(terms.hard, row))
    return tuple((name, p) for name, p in chances.items() if p > 2e-4)[:5]


def _as_expected(ensemble: Ensemble, step: Rung, pulls: Sequence[Driven], terms: Terms) -> Driven:
    """A pull as the middle of the candidates drives it."""
    car = refit(ensemble, pulls)
    view = outlook(car, step.set_up, pulls)
    edges = np.arange(terms.start, step.ceiling + 1e-6, _BIN)
    speed = np.append(edges[1:-1] - 0.5 * _BIN, step.ceiling) if len(edges) > 3 else np.linspace(terms.start, step.ceiling, 4)
    middle = np.array([quantile(row, view.weight, 0.5) for row in view.level])
    return Driven(step.set_up, speed, np.interp(speed, view.speed, middle), step.ceiling)
