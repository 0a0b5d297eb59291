"""How a person answers: what is theirs beside the optics of their eyes."""

import math
from dataclasses import dataclass
from enum import StrEnum

from optics.errors import EyeError

TIRES_OVER_MIN = 20.0  # minutes after which a wholly tiring person's noise has doubled
LEADING_SD = 0.5  # how far a leading question moves an answer; common practice, no source
RELIEF_LOGMAR = 0.3  # how much a wholly suggestible claim gives way; common practice, no source


class Manner(StrEnum):
    """How a question is put: sameness offered, a choice demanded, the answer suggested."""

    OFFERED = "offered"
    FORCED = "forced"
    LEADING = "leading"


@dataclass(frozen=True, slots=True, kw_only=True)
class Traits:
    """Noise (1 ordinary, 0.7 trained, to 4), and habits of answering.

    ``band_sd`` is the difference, in standard deviations of the noise, below which two views
    are "about the same"; ``lapse`` the share of answers given without looking; ``lean_sd`` how
    far answers lean to what was shown second; ``tires`` 0 to 1; ``claims_logmar`` the best
    acuity that the person owns up to; ``suggestible`` 0 to 1.
    """

    noise: float = 1.0
    band_sd: float = 0.6
    lapse: float = 0.0
    lean_sd: float = 0.0
    tires: float = 0.0
    suggestible: float = 0.0
    claims_logmar: float | None = None

    def __post_init__(self) -> None:
        for name, value, least, most in (
            ("noise", self.noise, 0.1, 10.0),
            ("band_sd", self.band_sd, 0.0, 5.0),
            ("lapse", self.lapse, 0.0, 1.0),
            ("lean_sd", self.lean_sd, -5.0, 5.0),
            ("tires", self.tires, 0.0, 1.0),
            ("suggestible", self.suggestible, 0.0, 1.0),
            ("claims_logmar", self.claims_logmar, -0.5, 3.0),
        ):
            if value is not None and not (math.isfinite(value) and least <= value <= most):
                raise EyeError(f"{name} must be {least:g} to {most:g}, got {value!r}")

    def noise_after(self, minutes: float) -> float:
        """Return the noise after so many minutes of questions."""
        return self.noise * (1.0 + self.tires * max(minutes, 0.0) / TIRES_OVER_MIN)


ORDINARY = Traits()
