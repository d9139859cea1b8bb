"""Sentences of a proof, in the unit that the reader chose."""

from __future__ import annotations

from collections.abc import Mapping

from boostproof.proof.band import BandCheck
from boostproof.proof.model import Proof, RangeResult, SwingResult
from boostproof.units import from_si, get_unit

_HEADS: Mapping[str, str] = {
    "cured": "The repair cured the car",
    "better": "The repair made it better",
    "no different": "The repair changed nothing that matters",
    "worse": "The car is worse than before the repair",
    "cannot say": "Whether the repair helped cannot be said yet",
}
_WHERE: Mapping[str, str] = {
    "spool": "while boost builds",
    "plateau": "where boost is held",
    "top end": "at the top end",
    "spike": "in the spike after the knee",
    "oscillation": "in the swinging of boost",
}


def pressure(kilopascal: float, units: str, *, signed: bool = False) -> str:
    """A pressure or a difference in the chosen unit."""
    unit = get_unit(units, "pressure")
    digits = {"psi": 1, "bar": 2, "kPa": 0}.get(unit.name, 1)
    return f"{float(from_si(1e3 * kilopascal, unit)):{'+' if signed else ''}.{digits}f} {unit.name}"


def customer_sentence(proof: Proof, units: str = "kPa") -> str:
    """One sentence for the customer: the answer and the figures that it rests on."""
    head = _HEADS[proof.verdict]
    item = _telling(proof)
    if item is None or proof.verdict == "cannot say":
        return f"{head}{': ' + _first(proof.missing[0]) if proof.missing else '.'}"
    return f"{head}: {_figures(item, units)}."


def _telling(proof: Proof) -> RangeResult | SwingResult | None:
    """The range or swing that decided: the largest change of the verdict's own kind."""
    kinds = {"cured": ("better",), "better": ("better",), "worse": ("worse",)}.get(proof.verdict)
    items: list[RangeResult | SwingResult] = [*proof.ranges, *proof.swings]
    chosen = [item for item in items if kinds is None or item.change in kinds]
    if kinds is None:  # nothing changed: where it is still off, else where boost must be held
        held = [item for item in chosen if item.name != "spool"]
        chosen = [item for item in held if item.name in proof.still_outside] or held or chosen
    return max(chosen, key=lambda item: abs(item.difference.value), default=None)


def _figures(item: RangeResult | SwingResult, units: str) -> str:
    change = f"{pressure(item.difference.value, units, signed=True)} ± {pressure(item.difference.expanded, units)}"
    if isinstance(item, SwingResult):
        return (
            f"the {item.name} went from {pressure(item.before.value, units)} to {pressure(item.after.value, units)} "
            f"({change})"
        )
    over = f"from {item.rpm_from:,.0f} to {item.rpm_to:,.0f} rpm"
    text = (
        f"{_WHERE[item.name]}, {over}, boost was {pressure(item.before.value, units)} and is "
        f"{pressure(item.after.value, units)} (difference on a standard day {change})"
    )
    if item.off_after is not None:
        wanted = item.after.value - item.off_after.value
        text += f", wanted is {pressure(wanted, units)}"
    return text


def _first(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def next_step(proof: Proof) -> str:
    """What to do now: diagnose again where the car is still not sound; empty where it is cured."""
    if not proof.still_outside:
        return ""
    names = " and ".join(_WHERE[name] for name in proof.still_outside)
    head = "Boost is still not what a sound car makes"
    if proof.second_fault:
        head = "The repair mended something and boost is still off, so a second fault may be there: it shows"
    return f"{head} {names}. Diagnose the case again with the pulls after the repair."


def cautions(proof: Proof, units: str = "kPa") -> tuple[str, ...]:
    """What can hurt engine or people, before anything else is done."""
    said = []
    stop = proof.margins.below_stop
    if stop is not None and stop.value < 0.0:
        said.append(
            f"Boost passed the stop boost by {pressure(-stop.value, units)} after the repair: no further full-load pull "
            "before that is set right."
        )
    elif stop is not None and stop.value < stop.expanded:
        said.append(
            f"Only {pressure(stop.value, units)} are left to the stop boost, which the next pull may use up: lift early."
        )
    if proof.target is None and proof.verdict != "no different":
        said.append("No target is written, so nobody has said that this boost is safe for the engine.")
    overall = proof.overall
    if abs(overall.value) > overall.expanded:
        word = "more" if overall.value > 0.0 else "less"
        said.append(f"The engine now gets {word} air than it was set up with: recheck fuelling and knock.")
    if proof.verdict in ("worse", "cannot say") or proof.still_outside:
        said.append("Further pulls start from a low engine-speed ceiling, with somebody at the stop.")
    return tuple(said)


def band_sentence(check: BandCheck, units: str = "kPa", *, cause: str = "") -> str:
    """Whether the curve after the repair is as forecast, and where it is not; ``cause`` names what the band is for."""
    supposed = cause or check.of
    said = _against_band(check, units)
    return f"{said} The forecast took this to be the cause: {supposed}." if supposed else said


def _against_band(check: BandCheck, units: str) -> str:
    band = "the band of the forecast"
    if not check.left:
        return f"Boost after the repair lies in {band} all along."
    widest = max(check.left, key=lambda one: (one.sure, one.most))
    where = f"from {widest.rpm_from:,.0f} to {widest.rpm_to:,.0f} rpm"
    how = f"up to {pressure(widest.most, units)} {widest.side} {band}"
    if check.verdict == "as forecast":
        return f"Boost after the repair is as forecast: {where} it lies {how}, no more than its own doubt."
    return f"Boost after the repair is not as forecast: {where} it lies {how}."
