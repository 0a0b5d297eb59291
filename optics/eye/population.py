"""The average eye's higher-order aberrations.

Means over 200 well-corrected eyes through a 6 mm pupil, right eyes, ANSI Z80.28 order:
Thibos LN, Bradley A, Hong X. Ophthalmic Physiol Opt 2002;22:427-433 (open statistical eye
data). Left eyes are taken as the mirror image of right ones.
"""

from optics.light.lens import EyeSide

ABERRATION_RADIUS_MM = 3.0
Terms = tuple[tuple[tuple[int, int], float], ...]

AVERAGE_RIGHT_UM: Terms = (
    ((3, -3), -0.021),
    ((3, -1), -0.032),
    ((3, 1), +0.002),
    ((3, 3), -0.003),
    ((4, 0), +0.094),
)


def average_aberrations(side: EyeSide) -> Terms:
    """Return the mean Zernike terms of an eye, in micrometres over a 6 mm pupil."""
    return AVERAGE_RIGHT_UM if side is EyeSide.RIGHT else mirrored_terms(AVERAGE_RIGHT_UM)


def mirrored_terms(terms: Terms) -> Terms:
    """Return the terms of the mirror-image eye: those odd in x change sign."""
    return tuple(((n, m), -um if _odd_in_x(m) else um) for (n, m), um in terms)


def _odd_in_x(m: int) -> bool:
    return m % 2 == 1 if m >= 0 else m % 2 == 0
