"""What lies behind the optics: how coarse and how noisy an eye's retina and pathway are.

One for an ordinary young eye. ``loss`` coarsens: the neural transfer N(f) becomes N(loss f) / loss,
as if everything were that much smaller; ``noise`` multiplies the noise. Amblyopia and macular
disease have both: noise alone would leave the just-noticeable change far too small.
"""

import math
from dataclasses import dataclass

from optics.errors import EyeError


@dataclass(frozen=True, slots=True, kw_only=True)
class Nerve:
    """An eye's neural part: loss and noise as multiples of the ordinary young eye's."""

    loss: float = 1.0
    noise: float = 1.0

    def __post_init__(self) -> None:
        if not (1.0 <= self.loss <= 100.0 and self.noise > 0.0 and math.isfinite(self.noise)):
            raise EyeError(f"loss must be 1 to 100 and noise above 0, got {self!r}")


ORDINARY = Nerve()


AGES_FROM_Y = 30.0
# one fitted number: acuity above 75 years, Elliott, Yang & Whitaker, Optom Vis Sci 1995;72:186
LOG_NOISE_PER_Y = 0.0036


def nerve_of_age(age_y: float) -> Nerve:
    """Return the mean neural part at an age."""
    return Nerve(noise=10.0 ** (LOG_NOISE_PER_Y * max(0.0, age_y - AGES_FROM_Y)))
