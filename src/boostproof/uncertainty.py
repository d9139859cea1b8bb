"""Measurement uncertainty as the GUM reckons it (JCGM 100:2008, and JCGM 101:2008 by sampling).

A *standard uncertainty* is one standard deviation, in the unit of its value.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError

#: Draws that many values of one input: ``sampler(generator, trials)`` gives shape (trials,).
Sampler = Callable[[np.random.Generator, int], NDArray[np.float64]]


def rectangular_uncertainty(half_width: ArrayLike) -> NDArray[np.float64]:
    """Standard uncertainty of a value that may lie anywhere within +/- a half width, ``a / sqrt(3)``.

    Parameters
    ----------
    half_width : any shape, not negative; any unit, which the result has too

    Returns
    -------
    ndarray
        Same shape.

    Raises
    ------
    InputRangeError
        If a half width is negative.

    Notes
    -----
    JCGM 100, 4.3.7. The last digit of a display is such a rectangle of half a digit.

    Examples
    --------
    >>> round(float(rectangular_uncertainty(6.4)), 3)
    3.695
    """
    return np.asarray(_not_negative(half_width, "half_width", "rectangular_uncertainty") / math.sqrt(3.0))


def triangular_uncertainty(half_width: ArrayLike) -> NDArray[np.float64]:
    """Standard uncertainty where the middle is likelier than the ends, ``a / sqrt(6)``.

    Parameters
    ----------
    half_width : any shape, not negative; any unit, which the result has too

    Returns
    -------
    ndarray
        Same shape.

    Raises
    ------
    InputRangeError
        If a half width is negative.

    Notes
    -----
    JCGM 100, 4.3.9.

    Examples
    --------
    >>> round(float(triangular_uncertainty(1.0)), 4)
    0.4082
    """
    return np.asarray(_not_negative(half_width, "half_width", "triangular_uncertainty") / math.sqrt(6.0))


def combined_uncertainty(
    uncertainties: ArrayLike, sensitivities: ArrayLike | None = None, correlations: ArrayLike | None = None
) -> float:
    """Standard uncertainty of a result from those of its inputs, to first order.

    ``u_c^2 = sum_ij c_i c_j u_i u_j r_ij``

    Parameters
    ----------
    uncertainties : shape (inputs,), standard uncertainties, each in its input's unit
    sensitivities : shape (inputs,), d result / d input; 1 for each if left out
    correlations : shape (inputs, inputs), symmetric with ones on the diagonal; none if left out [1]

    Returns
    -------
    float
        In the unit of the result.

    Raises
    ------
    InputRangeError
        If an uncertainty is negative, the shapes differ, or the correlations cannot be.

    Notes
    -----
    JCGM 100, equations 10 and 16. First order only: where a sensitivity changes within an uncertainty use
    :func:`propagate_monte_carlo`.

    Examples
    --------
    >>> round(combined_uncertainty([3.0, 4.0]), 3)
    5.0
    >>> round(combined_uncertainty([3.0, 3.0], [1.0, -1.0], [[1.0, 1.0], [1.0, 1.0]]), 3)
    0.0
    """
    u = _not_negative(uncertainties, "uncertainties", "combined_uncertainty")
    c = np.ones_like(u) if sensitivities is None else np.asarray(sensitivities, dtype=float)
    r = np.eye(u.size) if correlations is None else np.asarray(correlations, dtype=float)
    if u.ndim != 1 or u.size == 0 or c.shape != u.shape or r.shape != (u.size, u.size):
        raise InputRangeError(
            f"uncertainties, sensitivities and correlations must have shapes (n,), (n,) and (n, n), "
            f"got {u.shape}, {c.shape} and {r.shape}.",
            kind="shape",
            where="combined_uncertainty",
            do="Give one number for each input.",
        )
    possible = np.allclose(r, r.T) and np.allclose(np.diag(r), 1.0) and np.linalg.eigvalsh(r).min() > -1e-9
    if not possible:
        raise InputRangeError(
            "correlations must be symmetric, with ones on the diagonal and no contradiction among them.",
            kind="range",
            where="combined_uncertainty",
            do="Check the matrix; each entry lies between -1 and 1.",
        )
    part = c * u
    return math.sqrt(max(float(part @ r @ part), 0.0))


def effective_degrees_of_freedom(contributions: ArrayLike, degrees_of_freedom: ArrayLike) -> float:
    """Degrees of freedom of a combined uncertainty by Welch and Satterthwaite.

    ``nu = u_c^4 / sum (u_i^4 / nu_i)``

    Parameters
    ----------
    contributions : shape (inputs,), standard uncertainty times sensitivity, uncorrelated, in the unit of
        the result
    degrees_of_freedom : shape (inputs,), above zero; infinite for one that is known exactly [1]

    Returns
    -------
    float
        Infinite if every contribution is known exactly. [1]

    Raises
    ------
    InputRangeError
        If the shapes differ, or a number of degrees of freedom is not above zero.

    Notes
    -----
    JCGM 100, equation G.2b.

    Examples
    --------
    >>> round(effective_degrees_of_freedom([3.0, 4.0], [9, float("inf")]), 1)
    69.4
    """
    u = np.asarray(contributions, dtype=float)
    nu = np.asarray(degrees_of_freedom, dtype=float)
    if u.shape != nu.shape or u.ndim != 1:
        raise InputRangeError(
            f"contributions and degrees_of_freedom must have one shape (n,), got {u.shape} and {nu.shape}.",
            kind="shape",
            where="effective_degrees_of_freedom",
            do="Give one number for each input.",
        )
    if not np.all(nu > 0.0):
        raise InputRangeError(
            f"degrees_of_freedom must be above zero, got {nu.min():g}.",
            kind="range",
            where="effective_degrees_of_freedom",
            do="n readings of one quantity have n - 1; a limit from a data sheet has infinitely many.",
        )
    below = float(np.sum(u**4 / nu))
    return float(np.sum(u**2)) ** 2 / below if below > 0.0 else math.inf


def coverage_factor(degrees_of_freedom: float = math.inf, *, coverage: float = 0.95) -> float:
    """Factor k from Student's distribution, the degrees of freedom cut to a whole number.

    Parameters
    ----------
    degrees_of_freedom : 1 or more, infinite allowed [1]
    coverage : share of cases within +/- k u, above 0 and below 1 [1]

    Returns
    -------
    float
        k. [1]

    Raises
    ------
    InputRangeError
        Outside these ranges.

    Notes
    -----
    JCGM 100, G.3 and G.4.1 (cut to the next lower whole number).

    Examples
    --------
    >>> round(coverage_factor(16.7, coverage=0.99), 2), round(coverage_factor(), 2)
    (2.92, 1.96)
    """
    from scipy.special import ndtri, stdtrit  # slow to import

    if not (degrees_of_freedom >= 1.0 and 0.0 < coverage < 1.0):
        raise InputRangeError(
            f"degrees_of_freedom must be 1 or more and coverage between 0 and 1, "
            f"got {degrees_of_freedom:g} and {coverage:g}.",
            kind="range",
            where="coverage_factor",
            do="Take more readings, or give the coverage as a share: 0.95.",
        )
    upper = 0.5 + 0.5 * coverage
    if math.isinf(degrees_of_freedom):
        return float(ndtri(upper))
    return float(stdtrit(math.floor(degrees_of_freedom), upper))


def expanded_uncertainty(
    contributions: ArrayLike, degrees_of_freedom: ArrayLike | None = None, *, coverage: float = 0.95
) -> float:
    """Half width of the interval that holds the value in a share of cases, ``U = k u_c``.

    Parameters
    ----------
    contributions : shape (inputs,), standard uncertainty times sensitivity, uncorrelated
    degrees_of_freedom : shape (inputs,), above zero; infinite for each if left out [1]
    coverage : above 0 and below 1 [1]

    Returns
    -------
    float
        In the unit of the result.

    Raises
    ------
    InputRangeError
        As the functions that it is made of.

    Notes
    -----
    JCGM 100, G.4.1: combined uncertainty, Welch-Satterthwaite, Student's factor.

    Examples
    --------
    A length of which four contributions are known, in nm (JCGM 100, H.1), 99 %:

    >>> round(expanded_uncertainty([25.0, 9.7, 2.9, 16.6], [18, 25.6, 50, 2], coverage=0.99))
    93
    """
    u = np.asarray(contributions, dtype=float)
    nu = np.full(u.shape, math.inf) if degrees_of_freedom is None else degrees_of_freedom
    k = coverage_factor(effective_degrees_of_freedom(u, nu), coverage=coverage)
    return k * combined_uncertainty(np.abs(u))


@dataclass(frozen=True)
class StraightLine:
    """A fitted line ``y = intercept + slope (x - x_reference)`` with its covariance.

    Attributes
    ----------
    intercept, slope : of the line
    covariance : shape (2, 2), of intercept and slope
    residual_sd : scatter of one reading about the line, in the unit of y
    degrees_of_freedom : readings less 2, or infinite where the scatter was given [1]
    x_reference : where the intercept counts from
    """

    intercept: float
    slope: float
    covariance: NDArray[np.float64]
    residual_sd: float
    degrees_of_freedom: float
    x_reference: float

    @property
    def intercept_uncertainty(self) -> float:
        """Standard uncertainty of the intercept."""
        return math.sqrt(self.covariance[0, 0])

    @property
    def slope_uncertainty(self) -> float:
        """Standard uncertainty of the slope."""
        return math.sqrt(self.covariance[1, 1])

    @property
    def correlation(self) -> float:
        """Correlation of intercept and slope. [1]"""
        return float(self.covariance[0, 1]) / (self.intercept_uncertainty * self.slope_uncertainty)

    def at(self, x: ArrayLike) -> NDArray[np.float64]:
        """The line at x, any shape."""
        return np.asarray(self.intercept + self.slope * (np.asarray(x, dtype=float) - self.x_reference))

    def uncertainty_at(self, x: ArrayLike) -> NDArray[np.float64]:
        """Standard uncertainty of the line at x, any shape; a single new reading scatters in addition."""
        d = np.asarray(x, dtype=float) - self.x_reference
        c = self.covariance
        return np.asarray(np.sqrt(c[0, 0] + 2.0 * d * c[0, 1] + d * d * c[1, 1]))


def fit_straight_line(
    x: ArrayLike, y: ArrayLike, *, x_reference: float = 0.0, y_uncertainty: ArrayLike | None = None
) -> StraightLine:
    """Calibration line by least squares, x taken as exact.

    Parameters
    ----------
    x, y : shape (readings,), at least three, at more than one x
    x_reference : where the intercept counts from; near the middle of x the two are hardly correlated
    y_uncertainty : standard uncertainty of each y (shape (readings,) or one number) where it is known;
        left out, all are alike and the scatter about the line tells it

    Returns
    -------
    StraightLine
        With the covariance of intercept and slope.

    Raises
    ------
    InputRangeError
        If shapes differ, numbers are missing, readings are too few or all at one x, or an uncertainty
        is not above zero.

    Notes
    -----
    JCGM 100, H.3 (equations H.13a to f); with known uncertainties weighted by ``1 / u^2``.

    Examples
    --------
    A gauge of 0 to 400 kPa against a dead weight, corrections in kPa (made-up readings):

    >>> line = fit_straight_line([0, 100, 200, 300, 400], [0.9, 1.6, 1.8, 2.6, 3.1], x_reference=200)
    >>> round(line.intercept, 2), round(line.slope, 4), round(float(line.uncertainty_at(400.0)), 3)
    (2.0, 0.0054, 0.113)
    """
    where = "fit_straight_line"
    a, b = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if a.ndim != 1 or a.shape != b.shape or a.size < 3 or not np.isfinite(a + b).all() or np.ptp(a) == 0.0:
        raise InputRangeError(
            f"x and y must be at least three finite pairs at more than one x, got {a.shape} and {b.shape}.",
            kind="shape",
            where=where,
            do="Leave out the incomplete readings, or read at more points.",
        )
    known = y_uncertainty is not None
    u = np.broadcast_to(np.asarray(y_uncertainty if known else 1.0, dtype=float), a.shape)
    if not np.all(u > 0.0):
        raise InputRangeError(
            f"y_uncertainty must be above zero, got {u.min():g}.",
            kind="range",
            where=where,
            do="Leave it out where it is not known.",
        )
    weight = 1.0 / (u * u)
    d = a - x_reference
    total = weight.sum()
    centre = float(weight @ d / total)
    spread = float(weight @ (d - centre) ** 2)
    slope = float(weight @ ((d - centre) * b) / spread)
    intercept = float(weight @ b / total) - slope * centre
    residual = b - intercept - slope * d
    scatter = math.sqrt(float(residual @ residual) / (a.size - 2))
    covariance = np.array([[1.0 / total + centre**2 / spread, -centre / spread], [-centre / spread, 1.0 / spread]])
    return StraightLine(
        intercept, slope, covariance * (1.0 if known else scatter**2), scatter,
        math.inf if known else float(a.size - 2), float(x_reference),
    )  # fmt: skip


def same_gauge_difference(
    first: float, second: float, *, reading_uncertainty: float, gain_uncertainty: float = 0.0
) -> tuple[float, float]:
    """Difference of two quantities read on one gauge, and its standard uncertainty.

    ``u^2 = 2 u_r^2 + (u_g (second - first))^2``: an offset that both readings share cancels, an error of
    the gauge's scale acts on the difference alone.

    Parameters
    ----------
    first, second : the readings, one unit
    reading_uncertainty : of one reading, without what both share: mark, hysteresis, unsteadiness
    gain_uncertainty : standard uncertainty of the scale [1]

    Returns
    -------
    tuple of float
        second - first, and its standard uncertainty, in the unit of the readings.

    Raises
    ------
    InputRangeError
        If an uncertainty is negative.

    Notes
    -----
    JCGM 100, 5.2 and F.1.2.3, for full correlation of the shared part. A gauge's class limits its offset
    and its scale together; nobody says how much of it is which, so it is the caller's to part.

    Examples
    --------
    >>> change, u = same_gauge_difference(95.0, 100.0, reading_uncertainty=0.816)
    >>> change, round(2 * u, 1)
    (5.0, 2.3)
    """
    for name, value in (("reading_uncertainty", reading_uncertainty), ("gain_uncertainty", gain_uncertainty)):
        _not_negative(value, name, "same_gauge_difference")
    change = second - first
    return change, math.sqrt(2.0 * reading_uncertainty**2 + (gain_uncertainty * change) ** 2)


@dataclass(frozen=True)
class Propagated:
    """What sampling says of a result.

    Attributes
    ----------
    mean : of the result
    standard_uncertainty : its standard deviation
    symmetric : interval with as many cases below as above it
    shortest : shortest interval of the same coverage
    coverage : of both intervals [1]
    trials : number of samples
    """

    mean: float
    standard_uncertainty: float
    symmetric: tuple[float, float]
    shortest: tuple[float, float]
    coverage: float
    trials: int


def propagate_monte_carlo(
    model: Callable[..., NDArray[np.float64]],
    inputs: Sequence[Sampler],
    *,
    generator: np.random.Generator,
    trials: int = 100_000,
    coverage: float = 0.95,
) -> Propagated:
    """Distribution of a result by sampling its inputs, for models that are not straight.

    Parameters
    ----------
    model : takes one array of shape (trials,) for each input, gives one of the same shape
    inputs : samplers, ``sampler(generator, trials)``, in the order of the model's arguments
    generator : source of chance, seeded by the caller
    trials : 1000 or more; the ends of an interval settle slowly [1]
    coverage : above 0 and below 1 [1]

    Returns
    -------
    Propagated

    Raises
    ------
    InputRangeError
        If trials or coverage lie outside, or the model gives another shape or numbers that are not finite.

    Notes
    -----
    JCGM 101, section 7 (fixed number of trials; 7.7 for the intervals).

    Examples
    --------
    >>> def unit(generator, trials):
    ...     return generator.uniform(-3**0.5, 3**0.5, trials)
    >>> seed = np.random.default_rng(1)
    >>> four = propagate_monte_carlo(lambda a, b, c, d: a + b + c + d, [unit] * 4, generator=seed)
    >>> round(four.standard_uncertainty, 1), round(four.symmetric[1], 1)
    (2.0, 3.9)
    """
    where = "propagate_monte_carlo"
    if not (trials >= 1000 and 0.0 < coverage < 1.0):
        raise InputRangeError(
            f"trials must be 1000 or more and coverage between 0 and 1, got {trials} and {coverage:g}.",
            kind="range",
            where=where,
            do="Take 100000 trials or more for an interval of 95 %.",
        )
    values = np.sort(np.asarray(model(*(draw(generator, trials) for draw in inputs)), dtype=float))
    if values.shape != (trials,) or not np.isfinite(values).all():
        raise InputRangeError(
            f"the model must give {trials} finite numbers, got shape {values.shape} "
            f"with {int(np.isfinite(values).sum())} finite.",
            kind="shape",
            where=where,
            do="Bound the inputs where the model has no answer.",
        )
    inside = min(max(round(coverage * trials), 1), trials - 1)
    first = (trials - inside) // 2
    narrow = int(np.argmin(values[inside:] - values[:-inside]))
    return Propagated(
        mean=float(values.mean()),
        standard_uncertainty=float(values.std(ddof=1)),
        symmetric=(float(values[first]), float(values[first + inside])),
        shortest=(float(values[narrow]), float(values[narrow + inside])),
        coverage=coverage,
        trials=trials,
    )


def _not_negative(values: ArrayLike, name: str, where: str) -> NDArray[np.float64]:
    array = np.asarray(values, dtype=float)
    if not np.all(array >= 0.0):  # NaN too: an uncertainty that nobody knows must not vanish
        raise InputRangeError(
            f"{name} must not be negative or missing, got {array.min():g}.",
            kind="range",
            where=where,
            do="Uncertainties are widths; give their magnitude.",
        )
    return array
