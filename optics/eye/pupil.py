"""The natural pupil: Watson & Yellott's unified formula for its diameter in mm."""

import math

from optics.errors import EyeError

REFERENCE_AGE_Y = 28.58


def pupil_diameter_mm(
    luminance_cd_m2: float, field_deg2: float, age_y: float, eyes_open: int
) -> float:
    """Return the light-adapted pupil's diameter in mm.

    Watson AB, Yellott JI. A unified formula for light-adapted pupil size.
    J Vision 2012;12(10):12, Eq. 21, with the Stanley-Davies function of Eq. 13. Ages outside
    20 to 83 years are taken at the nearer end.

    Raises
    ------
    EyeError
        If luminance or field is not positive and finite.
    """
    flux = luminance_cd_m2 * field_deg2
    if not (math.isfinite(flux) and flux > 0.0):
        raise EyeError(f"luminance times field must be positive, got {flux!r}")
    effective = flux * (1.0 if eyes_open >= 2 else 0.1)
    ratio = math.pow(effective / 846.0, 0.41)
    standard_mm = 7.75 - 5.75 * ratio / (ratio + 2.0)
    age = min(max(age_y, 20.0), 83.0)
    return standard_mm + (age - REFERENCE_AGE_Y) * (0.02132 - 0.009562 * standard_mm)
