"""A lens that stands oblique to the line of sight: Martin's formulae as a matrix.

Martin: S' = S (1 + sin^2 t / 2n) and C' = S' tan^2 t at the axis of the tilt (handbook
formulae, from memory). For any power matrix F: the lens's own plane is seen foreshortened by
P, so that F' = (1 + sin^2 t / 2n) P^-T F P^-1, t the whole angle between lens and line of
sight; for a sphere these are Martin's two numbers.
"""

import math

import numpy as np

from optics.units import FloatArray

CROWN_INDEX = 1.523  # crown glass; common practice, no source


def tilted(
    power: FloatArray, tilt_deg: float, turn_deg: float, index: float = CROWN_INDEX
) -> FloatArray:
    """Return the power matrix (2, 2) in D that a tilted lens has along the line of sight.

    ``tilt_deg`` is pantoscopic: positive brings the lower edge to the cheek. ``turn_deg``
    positive turns the front towards the examiner's right. Facing frame.
    """
    if tilt_deg == 0.0 and turn_deg == 0.0:
        return power
    tilt, turn = math.radians(tilt_deg), math.radians(turn_deg)
    across, upward = math.cos(turn), math.cos(tilt)
    # P = [[across, 0], [shear, upward]]: how the lens's own axes look, turned, then tilted
    shear = math.sin(tilt) * math.sin(turn)
    back = np.array([[1.0 / across, 0.0], [-shear / (across * upward), 1.0 / upward]])
    stronger = 1.0 + (1.0 - (across * upward) ** 2) / (2.0 * index)
    oblique: FloatArray = stronger * (back.T @ power @ back)
    return oblique
