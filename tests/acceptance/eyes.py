"""Ordinary eyes for the acceptance, drawn from numbers of their own, and what they see.

Ordinary: higher-order root mean square at most 0.35 um over 6 mm, best acuity 6/5 to 6/6, a 4 mm
pupil, 30 years, no accommodation unless stated. What is left uncorrected is counted from the end
point, the clearest of all corrections.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optics.eye.eye import Eye, EyePair
from optics.eye.media import Media
from optics.eye.nerve import nerve_of_age
from optics.eye.population import higher_order_rms_um, individual_aberrations
from optics.light.beam import Vector, beam_at_cornea
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.sight.best_acuity import nerve_for
from optics.sight.end_point import end_point
from optics.sight.targets import Wall
from optics.sight.view import View, look

RIGHT, LEFT = EyeSide.RIGHT, EyeSide.LEFT
FIRST = 40_001  # drawn persons; cases number theirs to 9999
ROUGHEST_UM = 0.35
BEST_LOGMAR = (math.log10(5.0 / 6.0), 0.0)
AGE_Y, PUPIL_MM = 30.0, 4.0
COVERED = TrialFrame().with_lens(
    LEFT, Place.HAND, PlacedLens(lens=TrialLens(kind=LensKind.OCCLUDER))
)
SHARP: Vector = (0.0, 0.0, 0.0)


@dataclass(frozen=True, kw_only=True)
class Tested:
    """A person whose right eye is tested: its best acuity, and the light it is best with.

    ``peak`` is the vergence at the cornea of its end point, the eye's own need being zero.
    """

    number: int
    eyes: EyePair
    best_logmar: float
    peak: Vector

    @property
    def line_logmar(self) -> float:
        """The line one above the best."""
        return self.best_logmar + 0.1

    def rng(self, subject: int) -> np.random.Generator:
        """Return a generator of this person's own for a subject."""
        return np.random.default_rng([self.number, subject])

    def view(
        self,
        left: Vector,
        held: PlacedLens | None = None,
        *,
        need_d: float = 0.0,
        amplitude_d: float = 0.0,
    ) -> View:
        """Return what is seen with (M, J0, J45) left uncorrected at the cornea.

        Positive M still wants plus. The eye needs a sphere of ``need_d`` and wears it; ``held``
        comes in front.
        """
        frame = COVERED.with_lens(RIGHT, Place.CELL_1, sphere(need_d)) if need_d else COVERED
        light = beam_at_cornea(frame, RIGHT, Wall().distance_m).vergence
        m, j0, j45 = (
            more + now - best for more, now, best in zip(left, light, self.peak, strict=True)
        )
        eye = replace(self.eyes.right, required_vergence=(m, j0, j45))
        eyes = replace(self.eyes.with_eye(eye), amplitude_d=amplitude_d)
        if held is not None:
            frame = frame.with_lens(RIGHT, Place.HAND, held)
        return look(eyes, frame, Wall())

    def with_best(self, best_logmar: float) -> "Tested":
        """Return the person with a nerve for another best acuity."""
        return _tested(self.number, self.eyes, best_logmar)


def ordinary(count: int, first: int = FIRST, pupil_mm: float = PUPIL_MM) -> Iterator[Tested]:
    """Yield so many ordinary eyes, the same for the same numbers."""
    number, found = first, 0
    while found < count:
        terms = individual_aberrations(number, RIGHT, AGE_Y)
        if higher_order_rms_um(terms) <= ROUGHEST_UM:
            found += 1
            eye = Eye(
                side=RIGHT,
                required_vergence=SHARP,
                pupil_mm=pupil_mm,
                zernike_um=terms,
                media=Media(age_y=AGE_Y),
                nerve=nerve_of_age(AGE_Y),
            )
            eyes = EyePair(right=eye, left=replace(eye, side=LEFT), age_y=AGE_Y, amplitude_d=0.0)
            best = np.random.default_rng([number, 0]).uniform(*BEST_LOGMAR)
            yield _tested(number, eyes, float(best))
        number += 1


def _tested(number: int, eyes: EyePair, best_logmar: float) -> Tested:
    plain = eyes.with_eye(replace(eyes.right, nerve=nerve_of_age(AGE_Y)))
    nerve = nerve_for(plain, RIGHT, best_logmar)
    solved = plain.with_eye(replace(eyes.right, nerve=nerve))
    best = end_point(solved, RIGHT)
    return Tested(number=number, eyes=solved, best_logmar=best.acuity_logmar, peak=best.vergence)


def with_pupil(tested: Tested, pupil_mm: float) -> Tested:
    """Return the person with another pupil and the best acuity kept."""
    eye = replace(tested.eyes.right, pupil_mm=pupil_mm)
    return _tested(tested.number, tested.eyes.with_eye(eye), tested.best_logmar)


def sphere(power_d: float) -> PlacedLens:
    """Return a trial sphere."""
    return PlacedLens(lens=TrialLens(kind=LensKind.SPHERE, power_d=power_d))


def cross(power_d: float, minus_axis_deg: float) -> PlacedLens:
    """Return a cross cylinder by its minus axis."""
    lens = TrialLens(kind=LensKind.CROSS_CYLINDER, power_d=power_d)
    return PlacedLens(lens=lens, direction_deg=minus_axis_deg % 180.0 or 180.0)


def slit(direction_deg: float) -> PlacedLens:
    """Return the slit turned to a direction."""
    return PlacedLens(lens=TrialLens(kind=LensKind.SLIT), direction_deg=direction_deg)


def astigmatism(cylinder_d: float, minus_axis_deg: float) -> tuple[float, float]:
    """Return (J0, J45) of the minus cylinder still needed; cylinder_d is its size."""
    doubled = math.radians(2.0 * minus_axis_deg)
    return cylinder_d / 2.0 * math.cos(doubled), cylinder_d / 2.0 * math.sin(doubled)
