"""Units of sight: visual angle, minimum angle of resolution, acuity notations.

MAR is the stroke of the smallest letter read, in minutes of arc; a letter is five
strokes high (ISO 8596). logMAR is log10 of it; smaller is better.
"""

import math
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.floating]
ComplexArray: TypeAlias = NDArray[np.complexfloating]

ARCMIN_PER_RAD = 60.0 * 180.0 / math.pi
DEG_PER_RAD = 180.0 / math.pi
STROKES_PER_LETTER = 5.0


def mar_arcmin(acuity_logmar: float) -> float:
    """Return the minimum angle of resolution in minutes of arc."""
    return float(10.0**acuity_logmar)


def letter_height_deg(acuity_logmar: float) -> float:
    """Return the visual angle of a letter of that size, in degrees."""
    return STROKES_PER_LETTER * mar_arcmin(acuity_logmar) / 60.0


def letter_height_mm(acuity_logmar: float, distance_m: float) -> float:
    """Return the printed height of a letter seen from ``distance_m``, in mm.

    Height = 2 d tan(half the visual angle); ISO 8596 grade 1.0 subtends 5 minutes.
    """
    half_rad = math.radians(letter_height_deg(acuity_logmar)) / 2.0
    return 2000.0 * distance_m * math.tan(half_rad)


# the usual rounded names of the steps of 0.1 logMAR (common practice, no source)
METRIC_NAMES = (60.0, 48.0, 38.0, 30.0, 24.0, 19.0, 15.0, 12.0, 9.5, 7.5, 6.0, 4.8, 3.8, 3.0)


def metric_snellen(acuity_logmar: float) -> str:
    """Return the acuity as 6/x; chart steps get their usual names (6/7.5, 6/9.5, 6/12)."""
    return f"6/{_denominator(6.0 * mar_arcmin(acuity_logmar))}"


def feet_snellen(acuity_logmar: float) -> str:
    """Return the acuity as 20/x."""
    return f"20/{_denominator(20.0 * mar_arcmin(acuity_logmar))}"


def decimal_acuity(acuity_logmar: float) -> float:
    """Return the decimal acuity, 1/MAR."""
    return 1.0 / mar_arcmin(acuity_logmar)


def _denominator(value: float) -> str:
    named = min(METRIC_NAMES, key=lambda name: abs(name - value))
    value = named if abs(named / value - 1.0) < 0.008 else value
    if value >= 9.95:
        return f"{value:.0f}"
    return f"{value:.1f}".removesuffix(".0")
