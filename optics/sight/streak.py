"""What a rod makes of a wall: a pattern drawn out into streaks, each as sharp as the eye is across.

A rod's grooves are so strong that a point's light lies over tens of degrees at right angles to
them, evenly over any picture: the middle of the streak, lit through one chord of the pupil along
the grooves. Across it the image is that of the chord alone, on which the rod's own phase stands
still. So all of a pattern is summed along the streak and blurred across it, in one dimension.
"""

import math
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np

from optics.eye.chromatic import Spectrum, chromatic_defocus_d
from optics.eye.transfer import LIMIT_CPD
from optics.eye.wavefront import Wavefront, defocus_path
from optics.eye.zernike import derivative, evaluate
from optics.sight.canvas import Canvas
from optics.sight.raster import Pattern, pieces, wave
from optics.units import DEG_PER_RAD, ComplexArray, FloatArray

SAMPLES = 400  # along the chord, and across the pupil for its area
LEAST_MARGIN_DEG = 0.5


@dataclass(frozen=True, kw_only=True)
class Streak:
    """A point's light behind a rod, in one light.

    ``across`` is the direction of the grooves (unit vector, chart frame), ``per_deg`` the share
    of the light on a degree of the streak, ``open_mm2`` the area that lets light through.
    """

    wavefront: Wavefront = field(repr=False)
    light: Spectrum
    across: tuple[float, float]
    per_deg: float
    open_mm2: float

    @cached_property
    def chord(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The chord's points: how far along the grooves (mm), and x and y in the pupil."""
        (x_mm, y_mm), (right, up) = self.wavefront.centre_mm(), self.across
        along = _along(self.wavefront.radius_mm())
        return along, x_mm + along * right, y_mm + along * up

    @property
    def reach_deg(self) -> float:
        """How far light goes to either side of the streak, by its rays."""
        slope = self._bent(self.wavefront.path, 1)
        return float(np.abs(slope).max()) * 1e-3 * DEG_PER_RAD

    def at(self, frequency_cpd: FloatArray) -> ComplexArray:
        """Return the transfer across the streak at frequencies (n,), the first 0, where it is 1.

        The chord laid over itself, moved by wavelength times frequency, as the whole pupil is
        in ``optics.eye.overlap``.
        """
        along, x, y = self.chord
        lit = self.wavefront.amplitude(x, y, float(along[1] - along[0]))
        total = np.zeros(len(frequency_cpd), np.complex64)
        lights = zip(self.light.wavelengths_nm, self.light.weights, strict=True)
        for wavelength_nm, weight in lights:
            path = self.wavefront.path + defocus_path((chromatic_defocus_d(wavelength_nm), 0, 0))
            moved = frequency_cpd[:, np.newaxis] * (wavelength_nm * 1e-6 * DEG_PER_RAD)
            by_moved = np.hstack([moved, moved**3 / 24.0, moved**5 / 1920.0])
            bent = np.stack([self._bent(path, order) for order in (1, 3, 5)])
            phase = (by_moved @ bent * (-2e3 * math.pi / wavelength_nm)).astype(np.float32)
            ahead, behind = (
                np.interp(along + half, along, lit, 0.0, 0.0) for half in (moved / 2, -moved / 2)
            )
            both = (ahead * behind).astype(np.float32)
            share = weight / max(float(both[0].sum()), 1e-12)
            total.real += share * np.einsum("fn,fn->f", both, np.cos(phase))
            total.imag += share * np.einsum("fn,fn->f", both, np.sin(phase))
        seen: ComplexArray = total * self.wavefront.media.transfer(frequency_cpd)
        return seen

    def _bent(self, path: FloatArray, order: int) -> FloatArray:
        """Return a derivative of a path along the chord, at its points."""
        _, x, y = self.chord
        right, up = self.across
        terms = [
            math.comb(order, j) * right ** (order - j) * up**j * derivative(path, order - j, j)
            for j in range(order + 1)
        ]
        bent: FloatArray = evaluate(np.sum(terms, axis=0), x, y)
        return bent


def streak_of(wavefront: Wavefront, light: Spectrum, grooves_deg: float) -> Streak | None:
    """Return the streak of a rod in a wavefront, or None where no light passes.

    ``grooves_deg`` is their TABO axis, facing the person. The light of a millimetre of pupil
    goes as many milliradians of the streak as the wavefront bends there, in D.
    """
    angle = math.radians(180.0 - grooves_deg)  # the person's view mirrors the examiner's
    right, up = math.cos(angle), math.sin(angle)
    reach_mm, (x_mm, y_mm) = wavefront.radius_mm(), wavefront.centre_mm()
    if reach_mm <= 0.0:
        return None
    along = _along(reach_mm)
    step_mm = float(along[1] - along[0])

    def lit_mm(x: FloatArray, y: FloatArray) -> float:
        lit = wavefront.amplitude(x, y, step_mm) * wavefront.apodisation(x, y)
        return float(lit.sum()) * step_mm

    open_mm2 = lit_mm(x_mm + along[np.newaxis, :], y_mm + along[:, np.newaxis]) * step_mm
    if open_mm2 <= 0.0:
        return None
    xx, xy, yy = (
        float(evaluate(derivative(wavefront.path, *by), np.array(x_mm), np.array(y_mm)))
        for by in ((2, 0), (1, 1), (0, 2))
    )
    bend_d = abs(xx * up**2 - 2.0 * xy * up * right + yy * right**2)  # along the streak
    per_mm = lit_mm(x_mm + along * right, y_mm + along * up) / open_mm2
    return Streak(
        wavefront=wavefront,
        light=light,
        across=(right, up),
        per_deg=per_mm / (bend_d * 1e-3 * DEG_PER_RAD),
        open_mm2=open_mm2,
    )


def _along(reach_mm: float) -> FloatArray:
    places: FloatArray = ((np.arange(SAMPLES) + 0.5) / SAMPLES * 2.0 - 1.0) * reach_mm
    return places


def streaked(pattern: Pattern, canvas: Canvas, streak: Streak) -> FloatArray:
    """Return the light of each pixel behind a rod, shape (height, width), linear."""
    right, up = streak.across
    degrees = canvas.arcmin_per_pixel / 60.0
    half_deg = degrees * math.hypot(canvas.width, canvas.height) / 2.0
    away_deg = (math.hypot(*pattern.size_arcmin) / 2.0 + math.hypot(*canvas.middle_arcmin)) / 60.0
    reach_deg = streak.reach_deg + LEAST_MARGIN_DEG
    # nothing comes back from the other side; in quarters, so that sums can be kept
    step_cpd = 2.0 / math.ceil(4.0 * (half_deg + away_deg + reach_deg))
    highest_cpd = min(LIMIT_CPD, 0.5 / degrees)
    frequency = np.arange(int(highest_cpd / step_cpd) + 1) * step_cpd
    drawn_out = _summed_along(pattern, canvas, step_cpd, len(frequency), streak.across)
    passed = drawn_out * streak.at(frequency)
    passed[1:] *= 2.0  # each stands for its mirror image too
    places = np.linspace(-half_deg, half_deg, 2 * max(canvas.width, canvas.height))
    profile = (wave(places, frequency).conj() @ passed).real * (step_cpd * streak.per_deg)
    x = (np.arange(canvas.width) + 0.5 - canvas.width / 2.0) * degrees
    y = (canvas.height / 2.0 - np.arange(canvas.height) - 0.5) * degrees
    at = x[np.newaxis, :] * right + y[:, np.newaxis] * up
    seen: FloatArray = np.interp(at, places, profile).astype(np.float32)
    return seen + np.float32(pattern.surround)


@lru_cache(maxsize=24)
def _summed_along(
    pattern: Pattern, canvas: Canvas, step_cpd: float, count: int, across: tuple[float, float]
) -> ComplexArray:
    """Return the transform of what differs, summed along the streak, at steps across it."""
    frequency = np.arange(count) * step_cpd
    right, up = frequency * across[0], frequency * across[1]
    total = np.zeros(len(frequency), np.complex64)
    for light, x_deg, y_deg, step_x, step_y in pieces(pattern, canvas):
        across_rows = light @ wave(x_deg, right)
        sampled = np.sinc(right * step_x) * np.sinc(up * step_y) * step_x * step_y
        total += (wave(y_deg, up) * across_rows).sum(axis=0) * sampled
    total.setflags(write=False)
    return total
