"""Gas properties and the few power laws that the model needs, as arithmetic.

The transient model uses one consistent triple (cp, gamma, R = cp (gamma - 1) / gamma) for air and
one for burnt mixture at the turbine; the ranges below say what that costs.
"""

from __future__ import annotations

from boostproof.physics.ops import component, sqrt

AIR_GAS_CONSTANT = 287.05  # J/(kg K), ISO 2533
AIR_GAMMA = 1.4
AIR_CP = AIR_GAS_CONSTANT * AIR_GAMMA / (AIR_GAMMA - 1.0)  # 1004.7, CoolProp gives 1003-1015 for 250-400 K

# Burnt CH1.87 mixture at lambda 0.85 and 1100 K: gamma 1.2946, R 296.3 (Cantera, gri30, frozen).
# Between 900 and 1300 K gamma moves by +-0.013, the turbine work by about +-1.5 %.
EXHAUST_GAMMA = 1.2946
EXHAUST_GAS_CONSTANT = 296.3
EXHAUST_CP = EXHAUST_GAS_CONSTANT * EXHAUST_GAMMA / (EXHAUST_GAMMA - 1.0)

STOICHIOMETRIC_AIR_FUEL = 14.6  # petrol CH1.87

_AIR_EXTRA = (AIR_GAMMA - 1.0) / AIR_GAMMA - 0.25
_EXHAUST_EXTRA = (EXHAUST_GAMMA - 1.0) / EXHAUST_GAMMA - 0.25


@component
def fourth_root(ratio):
    """Fourth root of a positive ratio, by two reciprocal square roots, which are faster than roots. [1]

    >>> float(fourth_root(16.0))
    2.0
    """
    # without the addend the compiler would make the slow roots of it again
    return 1.0 / sqrt(1.0 / sqrt(ratio) + 1e-20)


@component
def _stretch(root, extra):
    """``root**(4 * extra)`` for a small exponent; relative error below 2e-4 for root 0.5 to 1.6."""
    z = (root - 1.0) / (root + 1.0)
    z2 = z * z
    u = 8.0 * extra * z * (1.0 + z2 * (0.333333 + 0.2 * z2))
    return 1.0 + u * (1.0 + 0.5 * u)


@component
def isentropic_ratio_air(root):
    """Temperature ratio of isentropic compression of air, from the fourth root of the pressure ratio.

    ``PI ** ((gamma - 1) / gamma)`` with gamma 1.4. Pressure ratios 0.2 to 6. [1]

    >>> round(float(isentropic_ratio_air(2.0 ** 0.25)), 4), round(2.0 ** (0.4 / 1.4), 4)
    (1.219, 1.219)
    """
    return root * _stretch(root, _AIR_EXTRA)


@component
def isentropic_ratio_exhaust(root):
    """Temperature ratio of isentropic expansion of exhaust, from the fourth root of p4/p3. [1]

    >>> round(float(isentropic_ratio_exhaust(0.5 ** 0.25)), 4), round(0.5 ** (0.2946 / 1.2946), 4)
    (0.8541, 0.8541)
    """
    return root * _stretch(root, _EXHAUST_EXTRA)


@component
def exhaust_per_air(mixture):
    """Exhaust mass per air mass, ``1 + 1 / (14.6 lambda)``. [1]

    >>> round(float(exhaust_per_air(0.85)), 4)
    1.0806
    """
    return 1.0 + 1.0 / (STOICHIOMETRIC_AIR_FUEL * mixture)
