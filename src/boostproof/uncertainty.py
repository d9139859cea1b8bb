"""Measurement uncertainty as the GUM reckons it (JCGM 100:2008).

A *standard uncertainty* is one standard deviation, in the unit of its value.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError


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
