"""The hidden facts of one eye and of the two eyes of a person.

The required vergence K (M, J0, J45 in D, facing frame) is the light that the eye needs at the
cornea for a sharp image, accommodation at zero, through a 4 mm pupil at 570 nm.
"""

import math
from dataclasses import dataclass, field, replace

import numpy as np

from optics.errors import EyeError
from optics.eye.accommodation import objective_amplitude_d
from optics.eye.media import YOUNG, YOUNG_Y, Media
from optics.eye.nerve import ORDINARY, Nerve, nerve_of_age
from optics.eye.population import Terms, average_aberrations
from optics.light.beam import Vector
from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder, matrix_vector, power_matrix, stepped


def required_vergence(need: SpheroCylinder, vertex_mm: float, distance_m: float) -> Vector:
    """Return K for an eye that ``need`` corrects at a vertex for an object at a distance.

    The distance is measured from the cornea; infinity is allowed, vertex 0 is a contact lens.
    """
    incoming = -np.eye(2) / (distance_m - vertex_mm / 1000.0)
    at_cornea = stepped(incoming + power_matrix(need), vertex_mm / 1000.0)
    m, j0, j45 = (float(part) for part in matrix_vector(at_cornea))
    return (m, j0, j45)


@dataclass(frozen=True, slots=True, kw_only=True)
class Eye:
    """One eye: what it needs, a fixed pupil, aberrations over 6 mm, its media and its nerve."""

    side: EyeSide
    required_vergence: Vector = field(repr=False)
    pupil_mm: float | None = None
    zernike_um: Terms = field(default=(), repr=False)
    media: Media = field(default=YOUNG, repr=False)
    nerve: Nerve = field(default=ORDINARY, repr=False)

    def __post_init__(self) -> None:
        if not all(math.isfinite(part) for part in self.required_vergence):
            raise EyeError("the required vergence must be finite")
        if not all(math.isfinite(um) for _, um in self.zernike_um):
            raise EyeError("the aberrations must be finite")
        if self.pupil_mm is not None and not 1.0 <= self.pupil_mm <= 9.0:
            raise EyeError(f"pupil_mm must be 1 to 9, got {self.pupil_mm!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class EyePair:
    """A person's two eyes and what they share: age and accommodation.

    Of the amplitude (D) the floor never relaxes (spasm); ``latent_d`` above it relaxes with the
    time under fog. Where nothing is seen the eyes rest at ``tonic_d``, if given; ``lag`` is the
    share of an effort that is not made.
    """

    right: Eye
    left: Eye
    age_y: float
    amplitude_d: float
    floor_d: float = 0.0
    latent_d: float = 0.0
    tonic_d: float | None = None
    lag: float = 0.0

    def __post_init__(self) -> None:
        if not 5.0 <= self.age_y <= 100.0:
            raise EyeError(f"age_y must be 5 to 100, got {self.age_y!r}")
        held_d = self.floor_d + self.latent_d
        if not (0.0 <= self.floor_d <= held_d <= self.amplitude_d <= 20.0):
            raise EyeError(
                "accommodation must keep 0 <= floor <= amplitude <= 20 D, the latent part with it,"
                f" got {self.floor_d!r} and {self.latent_d!r} of {self.amplitude_d!r}"
            )
        if not (0.0 <= (self.tonic_d or 0.0) <= self.amplitude_d and 0.0 <= self.lag <= 0.5):
            raise EyeError(
                "the tonic level must lie within the amplitude and the lag be 0 to 0.5,"
                f" got {self.tonic_d!r} D and {self.lag!r}"
            )

    def eye(self, side: EyeSide) -> Eye:
        """Return the right or the left eye."""
        return self.right if side is EyeSide.RIGHT else self.left

    def with_eye(self, eye: Eye) -> "EyePair":
        """Return the pair with one eye in the place of that on its side."""
        if eye.side is EyeSide.RIGHT:
            return replace(self, right=eye)
        return replace(self, left=eye)


def ordinary_eye(
    side: EyeSide, vergence: Vector, pupil_mm: float | None = None, age_y: float = YOUNG_Y
) -> Eye:
    """Return an eye with the population's mean aberrations, and media and nerve of its age."""
    return Eye(
        side=side,
        required_vergence=vergence,
        pupil_mm=pupil_mm,
        zernike_um=average_aberrations(side, age_y),
        media=Media(age_y=age_y),
        nerve=nerve_of_age(age_y),
    )


def ordinary_pair(
    right: Vector, left: Vector, *, age_y: float = 30.0, pupil_mm: float | None = None
) -> EyePair:
    """Return a person with mean aberrations and the mean amplitude of the age."""
    return EyePair(
        right=ordinary_eye(EyeSide.RIGHT, right, pupil_mm, age_y),
        left=ordinary_eye(EyeSide.LEFT, left, pupil_mm, age_y),
        age_y=age_y,
        amplitude_d=objective_amplitude_d(age_y),
    )
