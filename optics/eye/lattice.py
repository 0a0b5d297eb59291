"""From the pupil on a square lattice to the energy of a point's image, by cosines and sines.

A field split into parts even and odd in x and y needs real matrices of a quarter of the size,
on one quadrant. The image is sampled over its whole period, however few the samples, so that
sums over it are overlaps of the lattice with itself. Where the blur is strong, its mean
defocus E is taken out first: exp(i k E x^2 / 2 - i k t x) is a square in x - t / E, so that the
field at the angle t = E x' is the rest of the pupil spread by a chirp, its diffracted shadow
(Goodman, Introduction to Fourier Optics, ch. 4, from memory).
"""

import math
from functools import lru_cache

import numpy as np

from optics.eye.slit import (
    along_samples,
    lattice_middle_mm,
    reach_mm,
    through_slits,
    without_slits,
)
from optics.eye.wavefront import Wavefront
from optics.eye.zernike import SIZE
from optics.units import ComplexArray, FloatArray

EDGE_STEPS = 0.5  # width of a round edge in samples; wider or harder ones were less true
BLOCK = 30_000  # samples at once: small enough to stay near the processor
Parts = tuple[FloatArray, FloatArray, FloatArray, FloatArray]  # parity down the rows, across


def pupil_lattice(
    wavefront: Wavefront, path: FloatArray, wavelength_nm: float, step_mm: float
) -> tuple[list[FloatArray], float]:
    """Return pupil functions (2, y, x), real and imaginary, and the lit area in mm^2.

    One, or behind a slit along the samples two, whose images add up. y and x are odd, the
    lattice's middle in the middle; ``path`` is the wavefront at this wavelength.
    """
    middle_mm = lattice_middle_mm(wavefront, step_mm)
    halves = [math.ceil(reach / step_mm) + 1 for reach in reach_mm(wavefront, middle_mm)]
    across, upward = (
        (middle + np.arange(-half, half + 1) * step_mm).astype(np.float32)
        for middle, half in zip(middle_mm, halves, strict=True)
    )
    in_x = (path * (2e3 * math.pi / wavelength_nm)).T.astype(np.float32) @ _powers(across).T
    size = (2, len(upward), len(across))
    strip = along_samples(wavefront)
    pupils = [np.empty(size, np.float32) for _ in range(2 if strip else 1)]
    whole = without_slits(wavefront) if strip else wavefront
    lit = 0.0
    rows = max(1, BLOCK // len(across))
    for start in range(0, len(upward), rows):
        some = slice(start, start + rows)
        y = upward[some, np.newaxis]
        apodised = wavefront.apodisation(across, y)
        amplitudes = [whole.inside(across, y, EDGE_STEPS * step_mm) * apodised]
        if strip:
            amplitudes = [
                amplitudes[0] * left for left in through_slits(wavefront, across, y, step_mm)
            ]
        phase = _powers(upward[some]) @ in_x
        cos, sin = np.cos(phase), np.sin(phase)
        for pupil, amplitude in zip(pupils, amplitudes, strict=True):
            np.multiply(cos, amplitude, out=pupil[0, some])
            np.multiply(sin, amplitude, out=pupil[1, some])
        lit += float(np.vdot(amplitudes[0], apodised))
    return pupils, lit * step_mm**2


def _powers(axis: FloatArray) -> FloatArray:
    powers: FloatArray = np.vander(axis, SIZE, increasing=True).astype(axis.dtype)
    return powers


def point_image(pupil: FloatArray, size: int) -> FloatArray:
    """Return |Fourier transform|^2 of a pupil at ``size`` places each way, its sum 1, in parts.

    Shape (4, size // 2 + 1, size // 2 + 1): even, odd in x, odd in y, odd in both; rows in y.
    """
    return _energy(_transformed(pupil, size))


def shadow(pupil: FloatArray, chirp: float, spread: int, size: int) -> FloatArray:
    """Return the same of a pupil that lacks a defocus; the image lies on ``spread`` samples.

    ``chirp`` is pi wavelength / (E (spread step)^2), signed; ``size`` of the samples are kept.
    """
    ee, eo, oe, oo = _transformed(pupil, spread)
    place = np.arange(spread // 2 + 1)
    one_way = np.exp(-1j * chirp * place**2) * np.where(place, 2.0, 1.0)
    spreading = np.outer(one_way, one_way).astype(np.complex64)
    cos, sin = _waves(size, spread // 2)
    ee, eo, oe, oo = (_times(part, spreading) for part in (ee, eo, oe, oo))
    ee, eo, oe, oo = _turned(_turned((ee, eo, oe, oo), cos, sin), cos, sin)
    parts = _energy((ee, _times(eo, -1j), _times(oe, -1j), -oo))
    if chirp > 0.0:  # transformed forwards twice: the shadow stands on its head
        parts[1:3] *= -1.0
    return parts


def from_values(values: ComplexArray) -> FloatArray:
    """Return the same of an image whose transfer is known at steps, x from 0, y from below."""
    half = values.shape[1] - 1
    above, below = values[half:], values[half::-1]
    even, odd = (above + below) / 2.0, (above - below) / 2.0
    sides = np.where(np.arange(half + 1), 2.0, 1.0)
    cos, sin = (wave * sides / (2 * half + 1) for wave in _waves(2 * half + 1, half))
    pairs = ((cos, even.real, cos), (cos, -even.imag, sin), (sin, -odd.imag, cos))
    parts = [up @ part @ across.T for up, part, across in (*pairs, (sin, -odd.real, sin))]
    return np.stack(parts).astype(np.float32)


def _times(part: FloatArray, factor: np.ndarray | complex) -> FloatArray:
    product = (part[0] + 1j * part[1]) * factor
    return np.stack([product.real, product.imag])


def _transformed(pupil: FloatArray, size: int) -> Parts:
    down, across = (_waves(size, samples // 2) for samples in pupil.shape[1:])
    return _turned(_turned(_split(pupil), *down), *across)


def _split(field: FloatArray) -> Parts:
    """Return the four parts of a field (2, y, x) on one quadrant, from the middle outwards."""
    down, half = field.shape[1] // 2, field.shape[2] // 2
    above, below = field[:, down:], field[:, down::-1]
    even, odd = above + below, above - below
    even[:, 0] *= 0.5
    parts = []
    for part in (even, odd):
        right, left = part[:, :, half:], part[:, :, half::-1]
        parts += [right + left, right - left]
        parts[-2][:, :, 0] *= 0.5
    return parts[0], parts[1], parts[2], parts[3]


def _turned(parts: Parts, cos: FloatArray, sin: FloatArray) -> Parts:
    """Return the parts transformed down their rows, rows and columns changed over.

    A field is then ee - oo - i (eo + oe) of what two turns make.
    """
    ee, eo, oe, oo = parts
    pairs = ((cos, ee), (sin, oe), (cos, eo), (sin, oo))
    ee, eo, oe, oo = ((wave @ part).swapaxes(-1, -2) for wave, part in pairs)
    return ee, eo, oe, oo


def _energy(parts: Parts) -> FloatArray:
    (ar, ai), (cr, ci), (dr, di), (br, bi) = a, c, d, b = parts
    energy: FloatArray = np.stack(
        [
            (a * a + b * b + c * c + d * d).sum(axis=0),
            2.0 * (ar * ci - ai * cr + bi * dr - br * di),
            2.0 * (ar * di - ai * dr + bi * cr - br * ci),
            2.0 * (cr * dr + ci * di - ar * br - ai * bi),
        ]
    )
    return energy


def _waves(size: int, half: int) -> tuple[FloatArray, FloatArray]:
    """Return cosines and sines (size // 2 + 1, half + 1) of products of whole places."""
    cos, sin = _table(size)
    if half <= size // 2:
        return cos[:, : half + 1], sin[:, : half + 1]
    turns = np.arange(half + 1) % size
    near = np.minimum(turns, size - turns)
    return cos[:, near], sin[:, near] * np.where(turns > near, -1.0, 1.0).astype(np.float32)


@lru_cache(maxsize=128)
def _table(size: int) -> tuple[FloatArray, FloatArray]:
    places = np.arange(size // 2 + 1)
    turns = np.outer(places, places) % size
    angle = np.arange(size) * (2.0 * math.pi / size)
    return np.cos(angle).astype(np.float32)[turns], np.sin(angle).astype(np.float32)[turns]
