"""Laying the memory of a detail on its image: where it fits, as well as that is known."""

import math
from functools import lru_cache

import numpy as np

from optics.eye.grid import TransferFunction
from optics.eye.nerve import Nerve
from optics.sight.letters import STEP_CYCLES, sloan_spectra
from optics.units import ComplexArray, FloatArray

NOISE = 0.0661  # for acuity in focus at 4 mm: drawn eyes -0.121 logMAR, the mean eye -0.141
LIGHT_EXPONENT = 0.175  # noise grows as light is lost: 0.02 logMAR a halving (Sheedy 1984)
REFERENCE_AREA_MM2 = 4.0 * math.pi
PLACES = 32  # over three letter heights, across and upward
ROW = 5.0  # letters that tell the place together: a chart's row
LEAST_LIKELY = -40.0  # a logarithm: all such places together count for nothing


def reading_noise(transfer: TransferFunction, nerve: Nerve) -> float:
    """Return the noise under which an eye with that nerve reads by that transfer function."""
    light = transfer.open_mm2 / REFERENCE_AREA_MM2
    return float(NOISE * nerve.noise * light**-LIGHT_EXPONENT)


def fit_of(contrast: FloatArray, heights_deg: FloatArray) -> FloatArray:
    """Return what a transfer is weighed with, (sizes, points), so that the sum is the match.

    ``contrast`` (sizes, points) is the detail's power as the nerve passes it, a point's mirror
    image counted with it. The match is in noise units once divided by the noise.
    """
    scale = heights_deg * STEP_CYCLES / np.sqrt(np.maximum(contrast.sum(axis=1), 1e-12))
    kept = contrast > 1e-9 * contrast.max()  # no less than single precision holds
    fit: FloatArray = np.where(kept, contrast * scale[:, np.newaxis], 0.0).astype("f4")
    return fit


def laid(seen: ComplexArray, fit: FloatArray, noise: float) -> ComplexArray:
    """Return transfers (sizes, points) with the image laid where the detail fits.

    Defocus, spherical aberration and coma move that place, differently at each size. Through
    noise it is known only so well: each place is as likely as an ideal observer of one row
    would find it, and evidence is averaged over all of them. (Signals known in white noise:
    Green & Swets, Signal Detection Theory and Psychophysics, 1966, from memory.)
    """
    points, level, mirrored = _points()
    spectrum = np.zeros((len(seen), PLACES * (PLACES // 2 + 1)), np.complex64)
    weighed = seen * fit
    weighed *= np.float32(PLACES**2 / 2.0 / noise)  # what transforming back divides by
    spectrum[:, points] = weighed
    spectrum[:, mirrored] += weighed[:, level].conj()
    likely = np.fft.irfft(np.fft.ifft(spectrum.reshape(len(seen), PLACES, -1), axis=1))
    best = likely.max(axis=(1, 2), keepdims=True)
    likely -= best
    likely *= ROW * best
    np.maximum(likely, LEAST_LIKELY, out=likely)
    turns = np.fft.fft(np.fft.rfft(np.exp(likely, out=likely)), axis=1)
    moved: ComplexArray = turns.reshape(len(seen), -1)[:, points].conj()
    moved *= seen
    moved /= turns[:, :1, 0].real
    return moved


@lru_cache(maxsize=1)
def _points() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return where the letters' points lie in a flat spectrum of places.

    And which of them lie on the level line, where both halves are asked for, with their mirrors.
    """
    across, upward = sloan_spectra().steps
    row = PLACES // 2 + 1
    level = np.flatnonzero(upward == 0)
    return across % PLACES * row + upward, level, -across[level] % PLACES * row
