"""The population's higher-order aberrations: the mean eye, and believable single eyes.

Means and standard deviations over 200 well-corrected eyes through a 6 mm pupil, right eyes,
ANSI Z80.28 order: Thibos LN, Bradley A, Hong X. Ophthalmic Physiol Opt 2002;22:427-433 (open
statistical eye data, from which only these figures are taken). Terms (4, +-2) and (4, +-4)
have a filler of 0.05 um that brings the rms to its published size: our own choice, no source.
Left eyes are taken as the mirror image of right ones.

With age the mean of C(4,0) grows by 0.0011 um a year, that of C(3,1) by 0.0017, and the rms
by 0.0032, at 5 mm (Berrio E, Tabernero J, Artal P. J Vision 2010;10(14):34). They are carried
to 6 mm by the power of the radius of their order, the rms by the mean of both; the spread
of single eyes widens until the rms grows as published. The sign of the coma is taken as
printed. Growth counts from 26 years, the mean age of the 200 (from memory), and ends at 80.
"""

import hashlib
import math
from collections.abc import Sequence
from statistics import NormalDist

import numpy as np

from optics.errors import EyeError
from optics.light.lens import EyeSide
from optics.units import FloatArray

ABERRATION_RADIUS_MM = 3.0
Terms = tuple[tuple[tuple[int, int], float], ...]

AVERAGE_RIGHT_UM: Terms = (
    ((3, -3), -0.021),
    ((3, -1), -0.032),
    ((3, 1), +0.002),
    ((3, 3), -0.003),
    ((4, 0), +0.094),
)
FILLER_UM = 0.05
SPREAD_UM: Terms = (
    ((3, -3), 0.115),
    ((3, -1), 0.168),
    ((3, 1), 0.105),
    ((3, 3), 0.094),
    ((4, 0), 0.098),
    ((4, -4), FILLER_UM),
    ((4, -2), FILLER_UM),
    ((4, 2), FILLER_UM),
    ((4, 4), FILLER_UM),
)
DEVIATES = len(SPREAD_UM)

STATED_AGE_Y, OLDEST_Y = 26.0, 80.0
THIRD_TO_6_MM, FOURTH_TO_6_MM = (6.0 / 5.0) ** 3, (6.0 / 5.0) ** 4
GROWTH_UM_A_YEAR = {(4, 0): 0.0011 * FOURTH_TO_6_MM, (3, 1): 0.0017 * THIRD_TO_6_MM}
RMS_GROWTH_UM_A_YEAR = 0.0032 * (THIRD_TO_6_MM + FOURTH_TO_6_MM) / 2.0


def average_aberrations(side: EyeSide, age_y: float | None = None) -> Terms:
    """Return the mean Zernike terms of an eye, in micrometres over a 6 mm pupil.

    Without an age those of the 200 eyes as printed.
    """
    years = _years_beyond(age_y)
    right = tuple((nm, um + years * GROWTH_UM_A_YEAR.get(nm, 0.0)) for nm, um in AVERAGE_RIGHT_UM)
    return right if side is EyeSide.RIGHT else mirrored_terms(right)


def drawn_aberrations(
    deviates: Sequence[float] | FloatArray, side: EyeSide, age_y: float | None = None
) -> Terms:
    """Return the Zernike terms of one eye out of the population, in micrometres over 6 mm.

    ``deviates`` are nine independent standard normal numbers, one a term of ``SPREAD_UM``,
    drawn by the caller; the terms are taken as independent of one another.

    Raises
    ------
    EyeError
        If there are not nine of them, or one is not finite.
    """
    if len(deviates) != DEVIATES or not all(math.isfinite(one) for one in deviates):
        raise EyeError(f"deviates must be {DEVIATES} finite numbers, got {len(deviates)} numbers")
    mean = dict(average_aberrations(EyeSide.RIGHT, age_y))
    wider = _widening(age_y)
    right = tuple(
        (nm, mean.get(nm, 0.0) + wider * spread_um * float(deviate))
        for (nm, spread_um), deviate in zip(SPREAD_UM, deviates, strict=True)
    )
    return right if side is EyeSide.RIGHT else mirrored_terms(right)


def standardised_sample(count: int, seed: int, age_y: float | None = None) -> tuple[Terms, ...]:
    """Return right eyes whose means and standard deviations are exactly the printed ones.

    The same for the same seed everywhere: deviates come from SHA-256 of seed and number.

    Raises
    ------
    EyeError
        If fewer than two eyes are asked for.
    """
    if count < 2:
        raise EyeError(f"count must be at least 2, got {count!r}")
    normal = NormalDist()
    raw = np.array(
        [
            [normal.inv_cdf(_uniform(f"{seed}/{eye}/{term}")) for term in range(DEVIATES)]
            for eye in range(count)
        ]
    )
    standard = (raw - raw.mean(axis=0)) / raw.std(axis=0, ddof=1)
    return tuple(drawn_aberrations(row, EyeSide.RIGHT, age_y) for row in standard)


def individual_aberrations(number: int, side: EyeSide, age_y: float | None = None) -> Terms:
    """Return the Zernike terms of an eye of the drawn person of that number, always the same."""
    words = [f"person {number}/{side.value}/{term}" for term in range(DEVIATES)]
    return drawn_aberrations([NormalDist().inv_cdf(_uniform(one)) for one in words], side, age_y)


def _uniform(words: str) -> float:
    """Return a number within 0 and 1 that depends on the words alone."""
    digest = hashlib.sha256(words.encode()).digest()
    return (int.from_bytes(digest[:6]) + 0.5) / 2.0**48


def higher_order_rms_um(terms: Terms) -> float:
    """Return the root mean square of the wavefront of terms of order 3 and beyond."""
    return math.sqrt(sum(um**2 for (n, _), um in terms if n >= 3))


def _years_beyond(age_y: float | None) -> float:
    return 0.0 if age_y is None else min(max(age_y, STATED_AGE_Y), OLDEST_Y) - STATED_AGE_Y


def _widening(age_y: float | None) -> float:
    """Return how much wider eyes spread than at the stated age, so that the rms has grown."""
    spread = sum(um**2 for _, um in SPREAD_UM)
    stated = spread + sum(um**2 for _, um in AVERAGE_RIGHT_UM)
    grown = math.sqrt(stated) + RMS_GROWTH_UM_A_YEAR * _years_beyond(age_y)
    mean = sum(um**2 for _, um in average_aberrations(EyeSide.RIGHT, age_y))
    return math.sqrt((grown**2 - mean) / spread)


def mirrored_terms(terms: Terms) -> Terms:
    """Return the terms of the mirror-image eye: those odd in x change sign."""
    return tuple(((n, m), -um if _odd_in_x(m) else um) for (n, m), um in terms)


def _odd_in_x(m: int) -> bool:
    return m % 2 == 1 if m >= 0 else m % 2 == 0
