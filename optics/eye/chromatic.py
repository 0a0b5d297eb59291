"""Colour: longitudinal chromatic aberration and the wavelengths that stand for white light.

Wavelengths in nm. The chromatic difference of refraction is relative to 570 nm, the
wavelength in which a case's need is stated.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optics.units import FloatArray

REFERENCE_NM = 570.0

# CIE 1924 photopic luminous efficiency V(lambda), 400 to 700 nm by 10 (CIE 018:2019)
V_LAMBDA_NM = np.arange(400.0, 701.0, 10.0)
V_LAMBDA = np.array(
    [
        *(0.000396, 0.00121, 0.004, 0.0116, 0.023, 0.038, 0.06, 0.09098, 0.13902, 0.20802),
        *(0.323, 0.503, 0.71, 0.862, 0.954, 0.99495, 0.995, 0.952, 0.87, 0.757),
        *(0.631, 0.503, 0.381, 0.265, 0.175, 0.107, 0.061, 0.032, 0.017, 0.00821, 0.004102),
    ]
)


def chromatic_refraction_d(wavelength_nm: float) -> float:
    """Return the eye's chromatic difference of refraction, zero at 590 nm, in D.

    Thibos LN, Ye M, Zhang X, Bradley A. Appl Opt 1992;31:3594-3600: 1.68524 - 633.46 /
    (wavelength - 214.102). A second constant in use (1.7312) puts the zero at 580 nm; only
    differences matter here. Negative in the blue: the eye is more myopic there.
    """
    return 1.68524 - 633.46 / (wavelength_nm - 214.102)


def chromatic_defocus_d(wavelength_nm: float) -> float:
    """Return the myopic defocus that a wavelength adds to that of 570 nm, in D."""
    return chromatic_refraction_d(REFERENCE_NM) - chromatic_refraction_d(wavelength_nm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spectrum:
    """A few wavelengths (nm) and their shares of the light, which add up to 1."""

    wavelengths_nm: tuple[float, ...]
    weights: tuple[float, ...]


@lru_cache(maxsize=8)
def white_light(count: int) -> Spectrum:
    """Return ``count`` wavelengths that stand for equal-energy white light seen by the eye.

    Gaussian quadrature for the weight V(lambda): integrates every polynomial in wavelength up
    to degree 2 count - 1 exactly (Golub & Welsch, Math Comp 1969;23:221-230), so that three
    wavelengths already serve a search.
    """
    diagonal, off_diagonal = _recurrence(V_LAMBDA_NM, V_LAMBDA / V_LAMBDA.sum(), count)
    jacobi = np.diag(diagonal) + np.diag(off_diagonal, 1) + np.diag(off_diagonal, -1)
    nodes, vectors = np.linalg.eigh(jacobi)
    return Spectrum(
        wavelengths_nm=tuple(float(node) for node in nodes),
        weights=tuple(float(first) ** 2 for first in vectors[0]),
    )


def _recurrence(x: FloatArray, weight: FloatArray, count: int) -> tuple[FloatArray, FloatArray]:
    """Return the Jacobi matrix's diagonals for a discrete weight (Stieltjes' procedure)."""
    before, now = np.zeros_like(x), np.ones_like(x)
    norm_before, alphas, betas = 1.0, [], []
    for index in range(count):
        norm = float(np.sum(weight * now * now))
        alpha = float(np.sum(weight * x * now * now)) / norm
        beta = norm / norm_before if index else 0.0
        alphas.append(alpha)
        betas.append(beta)
        before, now = now, (x - alpha) * now - beta * before
        norm_before = norm
    return np.array(alphas), np.sqrt(np.array(betas[1:]))


def single_wavelength(wavelength_nm: float) -> Spectrum:
    """Return monochromatic light."""
    return Spectrum(wavelengths_nm=(wavelength_nm,), weights=(1.0,))
