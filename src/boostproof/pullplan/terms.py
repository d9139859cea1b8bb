"""Under which terms pulls are driven: the limit, the driver, the ramp, the gauge."""

from __future__ import annotations

from dataclasses import dataclass

LEAST, FOUND = "least boost", "as found"  # set-ups of the ladder

REACTION = 0.6  # s from a stop that nobody expected to boost falling: eye, call, foot, throttle, turbo (judgement)
LIFT = 0.3  # s from an engine speed that the driver waits for to boost falling: foot, throttle, turbo (judgement)
RAMP = {"brake dyno": 400.0, "inertia dyno": 600.0, "road": 600.0}  # rpm/s where it is not written (judgement)
GAUGE_ERROR = 3.0e3  # Pa, twice the standard error of a shop gauge held against the barometer (judgement)


@dataclass(frozen=True)
class Terms:
    """What a ladder of pulls is held to.

    Attributes
    ----------
    hard : boost that must not be passed [Pa gauge]
    told : it was given with the car; else it is a usual margin over the target
    target : boost wanted [Pa gauge]
    redline : [rad/s]
    ramp : how fast engine speed rises [rad/s2]
    reaction : from the moment to stop to boost falling [s]
    lift : from the ceiling, which the driver expects, to boost falling [s]
    gauge_error : of the boost that is read, twice its standard error [Pa]
    """

    hard: float
    told: bool
    target: float
    redline: float
    ramp: float
    reaction: float = REACTION
    lift: float = LIFT
    gauge_error: float = GAUGE_ERROR

    @property
    def start(self) -> float:
        """Engine speed at which a pull begins. [rad/s]"""
        return 0.23 * self.redline

    @property
    def overrun(self) -> float:
        """Engine speed that goes by while the driver lifts at the ceiling. [rad/s]"""
        return self.ramp * self.lift

    @property
    def surprise(self) -> float:
        """Engine speed that goes by while the driver reacts to a stop. [rad/s]"""
        return self.ramp * self.reaction
