"""How a person likes acuities and prescriptions written; kept per browser."""

import re
from dataclasses import dataclass
from typing import Literal, get_args

from optics.light.notation import axis_text, power_text, prescription_text
from optics.light.power import SpheroCylinder
from optics.units import decimal_acuity, feet_snellen, metric_snellen

AcuityForm = Literal["6", "20", "decimal", "logmar"]
CylinderForm = Literal["minus", "plus"]
_MARK = re.compile(r"\[(-?\d+\.\d+) logMAR\]")
COOKIE = "notation"
COOKIE_LIFE_S = 365 * 24 * 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class Notation:
    """The acuity's form and the sign of cylinders."""

    acuity: AcuityForm = "6"
    cylinder: CylinderForm = "minus"

    def acuity_text(self, acuity_logmar: float) -> str:
        """Return an acuity or line size in this form."""
        if self.acuity == "20":
            return feet_snellen(acuity_logmar)
        if self.acuity == "decimal":
            return f"{decimal_acuity(acuity_logmar):.2f}"
        if self.acuity == "logmar":
            return f"{'−' if acuity_logmar < -0.004 else ''}{abs(acuity_logmar):.2f}"
        return metric_snellen(acuity_logmar)

    def in_words(self, words: str) -> str:
        """Return kept words with their acuities in this form."""
        return _MARK.sub(lambda mark: self.acuity_text(float(mark[1])), words)

    def lens_text(self, power: SpheroCylinder) -> str:
        """Return a prescription with the preferred sign of cylinder."""
        return prescription_text(self.in_form(power))

    def parts(self, power: SpheroCylinder) -> tuple[str, str, str]:
        """Return sphere, cylinder and axis as texts; without a cylinder the last two are dashes."""
        lens = self.in_form(power)
        if round(lens.cylinder_d, 2) == 0.0:
            return power_text(lens.sphere_d), "–", "–"
        return power_text(lens.sphere_d), power_text(lens.cylinder_d), axis_text(lens.axis_deg)

    def in_form(self, power: SpheroCylinder) -> SpheroCylinder:
        """Return a lens in the preferred sign of cylinder."""
        return power.in_plus_cylinder() if self.cylinder == "plus" else power.in_minus_cylinder()

    @property
    def cookie(self) -> str:
        """The cookie's value."""
        return f"{self.acuity}.{self.cylinder}"


def notation_of(cookie: str | None) -> Notation:
    """Return the notation of a cookie; the usual one if it says nothing known."""
    acuity, _, cylinder = (cookie or "").partition(".")
    return Notation(
        acuity=next((form for form in get_args(AcuityForm) if form == acuity), "6"),
        cylinder=next((form for form in get_args(CylinderForm) if form == cylinder), "minus"),
    )
