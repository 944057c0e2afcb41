"""Joints whose settings have a closed form: lognormal nut factor; preload stated with its spread.

Torque: F = T/(K d) without losses and K lognormal, so that ln F is normal. Stated scatter:
F = F0 (1 + c z), z standard normal, against fixed limits.
"""

import math

import numpy as np
from scipy.special import ndtr

MINIMUM, MAXIMUM = 30e3, 62e3
K, D, COV = 0.16, 12.0, 0.08
LOGNORMAL = {
    "friction.thread": None,
    "friction.bearing": None,
    "friction.nut_factor": {"law": "lognormal", "mean": K, "cov": COV},
    "settling.embedding": "0 um",
    "settling.relaxation": "0 %",
    "requirement.minimum_preload": "30 kN",
    "requirement.maximum_preload": "62 kN",
}
LOG_SD = math.sqrt(math.log1p(COV**2))
LOG_MEAN = math.log(K * D) - 0.5 * LOG_SD**2
WIDTH = math.log(MAXIMUM / MINIMUM)
TOOL = 0.03

# Standard deviation over mean of the stated preload; the seat is crushed at a fixed force.
SPREAD = 0.05
# mm²: the ring of 16.63 mm on a hole of 13.5 mm.
RING = math.pi / 4 * (16.63**2 - 13.5**2)


def lognormal_joint(make_case, under=None, over=None, **more):
    """The lognormal joint with what is allowed of each side."""
    allowed = {"requirement.allowed_under": under, "requirement.allowed_over": over}
    return make_case({**LOGNORMAL, **allowed, **more})


def lognormal_shares(torque, tool=0.0, friction=1.0):
    """Probabilities of under and over by quadrature over the tool's normal law."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    # Beyond 7 s.d. the weights are below 1e-11; there the tool would give a negative torque.
    nodes, weights = nodes[abs(nodes) < 7.0], weights[abs(nodes) < 7.0]
    e, w = 1.0 + tool * nodes, weights / weights.sum()
    sd = math.sqrt(math.log1p((friction * COV) ** 2))
    mean = math.log(K * D) - 0.5 * sd**2
    ln = np.log(np.multiply.outer(np.atleast_1d(torque), e))
    under = ndtr((mean + math.log(MINIMUM) - ln) / sd) @ w
    over = ndtr((ln - math.log(MAXIMUM) - mean) / sd) @ w
    return under, over


def crushed_joint(make_case, crushed_at, **more):
    """The joint of stated scatter, 30 to 60 kN, whose seats are crushed at a force in N."""
    layer = {
        "material": "steel",
        "thickness": "20 mm",
        "limiting_pressure": f"{crushed_at / RING} MPa",
    }
    return make_case(
        {
            "tightening.method": "stated scatter",
            "tightening.torque": None,
            "tightening.preload": {"law": "normal", "mean": "45 kN", "cov": SPREAD},
            "settling.embedding": "0 um",
            "settling.relaxation": "0 %",
            "clamped": [layer, layer],
            "requirement.minimum_preload": "30 kN",
            "requirement.maximum_preload": "60 kN",
            **more,
        }
    )
