"""One observed number or word, as the likelihood takes it: plain values shared by bench and diagnosis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["equal", "above", "below", "word"]
REPEAT = 0.5  # usual share of an error that a repetition does not remove (judgement)


@dataclass(frozen=True)
class Observation:
    """What was observed of one predicted feature.

    Attributes
    ----------
    feature : name, stable, for explanations
    kind : "equal" a reading; "above"/"below" a censored one ("none up to"); "word" a category,
        given as the interval of the feature that the word stands for
    value : reading or limit, in the feature's unit
    sd : its standard deviation (reading noise; what is shared with other readings stands apart)
    low, high : interval of a word, in the feature's unit
    wrong : chance that the word or the limit was written down although it did not apply
    shared : standard deviation of the error shared by all observations of the block (a gauge's zero)
    repeat : share of the error that comes again when the test is repeated: of the variance of a reading,
        of the chances of a word (same eye, same hand, same set-up)
    """

    feature: str
    kind: Kind
    value: float
    sd: float
    low: float = float("-inf")
    high: float = float("inf")
    wrong: float = 0.03
    shared: float = 0.0
    repeat: float = REPEAT


def reading(
    feature: str, value: float, sd: float, *, shared: float = 0.0, repeat: float = REPEAT
) -> Observation:
    """A reading with its noise."""
    return Observation(feature, "equal", value, sd, shared=shared, repeat=repeat)


def none_up_to(feature: str, limit: float, sd: float, *, wrong: float = 0.03) -> Observation:
    """Nothing seen up to a limit: the feature lies above it."""
    return Observation(feature, "above", limit, sd, low=limit, wrong=wrong)


def word(feature: str, low: float, high: float, sd: float, *, wrong: float = 0.05) -> Observation:
    """A word that stands for an interval of the feature."""
    return Observation(feature, "word", 0.5 * (max(low, -1e9) + min(high, 1e9)), sd, low, high, wrong)
