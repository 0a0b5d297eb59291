"""Nominal eyes made of plain formulas, for tests of what is made of the answers.

Acuity falls by half a logMAR a dioptre of blur, whatever its direction; a line is the clearer
the larger it is above that.
"""

import math

import numpy as np

from optics.evidence.lookup import Supposed, supposed
from optics.evidence.nominal import EYES, J_D, LINES_LOGMAR, M_D, WIDTH, NominalEyes
from optics.sight.probit import normal_cdf

BEST_LOGMAR, FALL_PER_D, SLOPE = -0.1, 0.5, 0.08


def plain_eyes() -> NominalEyes:
    m, j = np.meshgrid(M_D, J_D, indexing="ij")
    acuity = BEST_LOGMAR + FALL_PER_D * np.hypot(m, j)
    above = np.array(LINES_LOGMAR) - acuity[..., np.newaxis]
    clear = 0.3 * np.log1p(np.exp(above / 0.1))
    colour = 0.6 * np.tanh(2.0 * m)[..., np.newaxis] * clear
    right = 0.1 + 0.9 * normal_cdf(above / SLOPE)
    letters = 5.0 * right.sum(axis=-1)
    pull = 0.5 * np.sign(m) * np.minimum(j, np.abs(m))
    ghost = np.minimum(0.5 * j, 1.0)
    rest = np.stack([acuity, letters, pull, 2.0 * pull, ghost], axis=-1)
    values = np.concatenate([clear, colour, right, rest], axis=-1).astype(np.float32)
    assert values.shape == (len(M_D), len(J_D), WIDTH)
    return NominalEyes(age_y=60.0, values=np.broadcast_to(values, (EYES, *values.shape)).copy())


def plain_supposed(amplitude_d: float = 0.0) -> Supposed:
    return supposed(plain_eyes(), amplitude_d)


def chance_of_a_letter(line_logmar: float, blur_d: float) -> float:
    """Return what the formulas say, without the table."""
    z = (line_logmar - BEST_LOGMAR - FALL_PER_D * blur_d) / SLOPE
    return 0.1 + 0.9 * 0.5 * math.erfc(-z / math.sqrt(2.0))
