"""A sample of believable eyes, refracted once, and what they read behind a stated error.

Each eye is first refracted at 4 mm, as people in studies are: the defocus with which the 6/6
line is clearest, found as end points are. Errors are added to that. Whatever was computed is
kept, so that rows and plots share it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optics.eye.eye import Eye
from optics.eye.grid import TransferFunction
from optics.eye.population import Terms, standardised_sample
from optics.eye.transfer import Accuracy, transfer_function
from optics.eye.wavefront import Wavefront, aberration_path, defocus_path
from optics.eye.zernike import mirrored
from optics.light.beam import Vector
from optics.light.lens import EyeSide
from optics.sight.end_point import FINE_D, climbed, peak_clarity
from optics.sight.probit import probit
from optics.sight.reader import GUESS, Reading, read_letters
from optics.units import FloatArray

EYES, SEED = 12, 1
STUDY_PUPIL_MM = 4.0
CLIMBS_D = (1 / 4, 1 / 8, 1 / 8, 1 / 16)  # from the Zernike focus, where every eye's peak is near


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """What each eye of a sample reads: acuities and psychometric spreads, shape (eyes,)."""

    acuity_logmar: FloatArray
    spread_logmar: FloatArray

    @property
    def mean_logmar(self) -> float:
        """The mean acuity."""
        return float(self.acuity_logmar.mean())

    @property
    def between_eyes_logmar(self) -> float:
        """The standard deviation between eyes by their optics alone; 0 for a single eye."""
        return float(self.acuity_logmar.std(ddof=1)) if len(self.acuity_logmar) > 1 else 0.0


class Sample:
    """Eyes with their aberrations; ``pause`` is called before every piece of work.

    ``pause`` may raise to end the work.
    """

    def __init__(self, eyes: tuple[Terms, ...], pause: Callable[[], None] = lambda: None) -> None:
        self.terms = eyes
        self._pause = pause
        self._bases = [
            aberration_path(
                Eye(side=EyeSide.RIGHT, required_vergence=(0.0, 0.0, 0.0), zernike_um=terms)
            )
            for terms in eyes
        ]
        self._refracted: dict[float, list[FloatArray]] = {}
        self._readings: dict[tuple[Vector, float], Readings] = {}
        self._curves: dict[tuple[str, float], FloatArray] = {}
        self._companions: dict[tuple[Terms, ...], Sample] = {}

    def refracted(self, pupil_mm: float = STUDY_PUPIL_MM) -> list[FloatArray]:
        """Return each eye's clearest defocus (3,) in D through a pupil."""
        if pupil_mm not in self._refracted:
            self._refracted[pupil_mm] = [self._best(base, pupil_mm) for base in self._bases]
        return self._refracted[pupil_mm]

    def _best(self, base: FloatArray, pupil_mm: float) -> FloatArray:
        self._pause()

        def score(accuracy: Accuracy) -> Callable[[FloatArray], float]:
            return lambda defocus: peak_clarity(wave_of(base, defocus, pupil_mm), accuracy)

        best: FloatArray = np.zeros(3)
        for reach_d in CLIMBS_D:
            best = climbed(score(Accuracy.QUICK), best, reach_d)
        return climbed(score(Accuracy.FINE), best, FINE_D)

    def waves(
        self, error: Vector, pupil_mm: float, refracted_mm: float = STUDY_PUPIL_MM
    ) -> list[Wavefront]:
        """Return each refracted eye's wavefront with an error (M, J0, J45 in D) added."""
        best = self.refracted(refracted_mm)
        return [
            wave_of(base, focus + np.array(error), pupil_mm)
            for base, focus in zip(self._bases, best, strict=True)
        ]

    def readings(self, error: Vector, pupil_mm: float) -> Readings:
        """Return what the eyes read with an error (M, J0, J45 in D), positive M myopic."""
        key = (error, pupil_mm)
        if key not in self._readings:
            read = [self._read(wave) for wave in self.waves(error, pupil_mm)]
            self._readings[key] = Readings(
                acuity_logmar=np.array([one.acuity_logmar for one in read]),
                spread_logmar=np.array([psychometric_spread(one) for one in read]),
            )
        return self._readings[key]

    def kept(self, name: tuple[str, float], curve: Callable[[], FloatArray]) -> FloatArray:
        """Return a curve under a name, computed once."""
        if name not in self._curves:
            self._curves[name] = curve()
        return self._curves[name]

    def companion(self, eyes: tuple[Terms, ...]) -> "Sample":
        """Return a sample of other eyes, the same for the same eyes."""
        if eyes not in self._companions:
            self._companions[eyes] = Sample(eyes, self._pause)
        return self._companions[eyes]

    def _read(self, wave: Wavefront) -> Reading:
        self._pause()
        return read_letters(lit(transfer_function(wave)))


def drawn_sample(pause: Callable[[], None] = lambda: None) -> Sample:
    """Return the dozen eyes that stand for the population in the table."""
    return Sample(standardised_sample(EYES, SEED), pause)


def sphere(defocus_d: float) -> Vector:
    """Return the error of a sphere left, positive myopic."""
    return (defocus_d, 0.0, 0.0)


def mixed(cylinder_d: float, axis_deg: float = 180.0) -> Vector:
    """Return the error of a cylinder left with its circle of least confusion on the retina."""
    double = math.radians(2.0 * axis_deg)
    return (0.0, cylinder_d / 2.0 * math.cos(double), cylinder_d / 2.0 * math.sin(double))


def simple_myopic(cylinder_d: float, axis_deg: float) -> Vector:
    """Return the error plano / -C x axis still needed: one focal line on the retina."""
    _, j0, j45 = mixed(cylinder_d, axis_deg)
    return (cylinder_d / 2.0, -j0, -j45)


def wave_of(base: FloatArray, defocus: FloatArray, pupil_mm: float) -> Wavefront:
    """Return the wavefront of an eye's aberrations (7, 7), facing frame, with a defocus (3,)."""
    m, j0, j45 = (float(part) for part in defocus)
    return Wavefront(path=mirrored(base + defocus_path((m, j0, j45))), pupil_mm=pupil_mm)


def lit(transfer: TransferFunction | None) -> TransferFunction:
    """Return the transfer function of a pupil without stops, which is never dark."""
    assert transfer is not None
    return transfer


def psychometric_spread(reading: Reading) -> float:
    """Return half the distance in logMAR between 16 and 84 of 100 letters beyond guessing."""
    z = np.maximum.accumulate(probit((reading.right.mean(axis=1) - GUESS) / (1.0 - GUESS)))
    small, large = np.interp([-1.0, 1.0], z, reading.sizes_logmar)
    return float(large - small) / 2.0
