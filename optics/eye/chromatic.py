"""Colour: longitudinal chromatic aberration, filters, and a few wavelengths that stand for a light.

Wavelengths in nm. The chromatic difference of refraction is relative to 570 nm, the
wavelength in which a case's need is stated. Light before a filter is equal-energy white.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optics.errors import EyeError
from optics.units import FloatArray

Filters = tuple[str, ...]
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Filter:
    """A filter that passes a band about a wavelength, or all above an edge."""

    at_nm: float
    width_nm: float
    most: float
    band: bool

    def transmittance(self, wavelengths_nm: FloatArray) -> FloatArray:
        away = (wavelengths_nm - self.at_nm) / self.width_nm
        shape = np.exp(-(away**2) / 2.0) if self.band else 1.0 / (1.0 + np.exp(-away))
        passed: FloatArray = self.most * shape
        return passed


# Glasses of a trial set and the two halves of a dichromatic test. BS 3668:1963 specifies red
# and green filters for such tests; that what passes looks brightest near 620 and 535 nm, and
# that both halves are about equally bright, is from memory. The curves' form is our own: common
# practice, no source.
_FILTERS = {
    "red": _Filter(at_nm=605.0, width_nm=6.0, most=0.85, band=False),
    "green": _Filter(at_nm=530.0, width_nm=20.0, most=0.60, band=True),
    "red-panel": _Filter(at_nm=611.5, width_nm=6.0, most=0.85, band=False),
    "green-panel": _Filter(at_nm=533.0, width_nm=15.0, most=0.34, band=True),
}
FILTER_NAMES = tuple(_FILTERS)


def filter_transmittance(name: str, wavelengths_nm: FloatArray) -> FloatArray:
    """Return the share of light that a filter passes, 0 to 1, the shape of the wavelengths.

    Raises
    ------
    EyeError
        If there is no filter of that name.
    """
    if name not in _FILTERS:
        raise EyeError(f"a filter must be one of {', '.join(_FILTERS)}, got {name[:20]!r}")
    return _FILTERS[name].transmittance(np.asarray(wavelengths_nm, float))


def passed_light(filters: Filters) -> FloatArray:
    """Return the share that several filters together pass at each of V(lambda)'s wavelengths."""
    passed = np.ones_like(V_LAMBDA_NM)
    for name in filters:
        passed = passed * filter_transmittance(name, V_LAMBDA_NM)
    return passed


def luminous_transmittance(filters: Filters) -> float:
    """Return the share of equal-energy white light, as the eye weighs it, that filters pass."""
    return float(np.sum(V_LAMBDA * passed_light(filters)) / V_LAMBDA.sum())


def white_light(count: int) -> Spectrum:
    """Return ``count`` wavelengths that stand for equal-energy white light seen by the eye."""
    return filtered_light((), count)


@lru_cache(maxsize=64)
def filtered_light(filters: Filters, count: int) -> Spectrum:
    """Return ``count`` wavelengths that stand for white light through filters, seen by the eye."""
    return quadrature(V_LAMBDA * passed_light(filters), count)


def quadrature(weight: FloatArray, count: int) -> Spectrum:
    """Return ``count`` wavelengths for light of a weight at each of V(lambda)'s wavelengths.

    Gaussian quadrature: integrates every polynomial in wavelength up to degree 2 count - 1
    exactly (Golub & Welsch, Math Comp 1969;23:221-230), so that three wavelengths already
    serve a search.
    """
    diagonal, off_diagonal = _recurrence(V_LAMBDA_NM, weight / weight.sum(), count)
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
