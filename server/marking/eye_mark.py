"""How far one eye's record lies from its end point, and what that is worth."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from optics.errors import OpticsError
from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from optics.light.notation import axis_text, power_text
from optics.light.power import SpheroCylinder
from server.marking.accuracy import accuracy, recorded_lens
from server.marking.crosses import turned_deg
from server.marking.rubric import Rubric
from server.marking.truth import MARKED_VERTEX_MM, Truth

GOOD_LOGMAR = 0.1
NAMED_BANDS = ((0.25, "close"), (0.50, "fair"), (1.00, "wide"))
Written = tuple[float, float, float]  # sphere, cylinder, axis


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeMark:
    """One eye: the answer and the end point at 12 mm, and the one number between them.

    ``error_d`` is the defocus equivalent, ``allowed_d`` what is taken off it before ``share`` of
    the points is read; ``mean_off_d`` is answer minus end point, ``named`` calls it over-minus or
    over-plus where that is charged. Sphere, cylinder (sizes) and axis are in minus form.
    None where nothing readable was recorded, which ``missing`` explains.
    """

    side: str
    given: Written | None = field(repr=False)
    truth: Written = field(repr=False)
    error_d: float | None = field(repr=False)
    allowed_d: float = field(repr=False)
    share: float
    band: str
    mean_off_d: float = field(default=0.0, repr=False)
    named: str = ""
    details: tuple[tuple[str, str], ...] = field(default=(), repr=False)
    no_need: bool = False
    missing: str = ""

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> "EyeMark":
        """Return what was stored."""
        given = body["given"]
        changes = {
            "given": None if given is None else tuple(given),
            "truth": tuple(body["truth"]),
            "details": tuple((str(name), str(words)) for name, words in body["details"]),
        }
        return cls(**dict(body) | changes)


def eye_mark(side: EyeSide, record: Mapping[str, str], truth: Truth, rubric: Rubric) -> EyeMark:
    """Return what the record of one eye is worth beside its end point."""
    ideal = truth.lens()
    allowed_d = rubric.allowed_d(truth.acuity_logmar, ideal.spherical_equivalent_d)
    no_need = _no_need(ideal, truth, rubric)
    try:
        given = recorded_lens(record, SIDE_NAMES[side])
        missing = "nothing was recorded"
    except OpticsError as fault:
        given, missing = None, str(fault)
    if given is None:
        return EyeMark(
            side=side.value,
            given=None,
            truth=_written(ideal),
            error_d=None,
            allowed_d=allowed_d,
            share=0.0,
            band="missing",
            no_need=no_need,
            missing=missing,
        )
    beside = accuracy(given, float(record.get("vertex") or MARKED_VERTEX_MM), truth)
    rightly_plano = no_need and given == SpheroCylinder(sphere_d=0.0)
    left_d = max(0.0, beside.defocus_equivalent_d - allowed_d)
    return EyeMark(
        side=side.value,
        given=_written(beside.answer),
        truth=_written(ideal),
        error_d=beside.defocus_equivalent_d,
        allowed_d=allowed_d,
        share=1.0 if rightly_plano else rubric.share_at(left_d),
        band=_band(left_d),
        mean_off_d=beside.difference_m_d,
        named=_named(beside.difference_m_d, rubric.mean_off_from_d + allowed_d),
        details=_details(beside.answer, ideal, rubric),
        no_need=no_need,
    )


def _no_need(ideal: SpheroCylinder, truth: Truth, rubric: Rubric) -> bool:
    small = max(abs(ideal.spherical_equivalent_d), abs(ideal.cylinder_d)) <= rubric.no_need_d + 1e-9
    return small and truth.acuity_logmar <= GOOD_LOGMAR


def _written(lens: SpheroCylinder) -> Written:
    minus = lens.in_minus_cylinder()
    return (minus.sphere_d, minus.cylinder_d, minus.axis_deg)


def _band(error_d: float) -> str:
    return next((name for upto, name in NAMED_BANDS if error_d <= upto + 1e-9), "far")


def _named(mean_off_d: float, from_d: float) -> str:
    if abs(mean_off_d) < from_d - 1e-9:
        return ""
    return "over-minus" if mean_off_d < 0.0 else "over-plus"


def _details(
    given: SpheroCylinder, ideal: SpheroCylinder, rubric: Rubric
) -> tuple[tuple[str, str], ...]:
    """Return sphere, cylinder and axis side by side, for reading: they are not added up."""
    one, other = given.in_minus_cylinder(), ideal.in_minus_cylinder()
    parts = [
        ("sphere", _power_words(one.sphere_d, other.sphere_d, rubric)),
        ("cylinder", _power_words(one.cylinder_d, other.cylinder_d, rubric)),
    ]
    if min(-one.cylinder_d, -other.cylinder_d) >= 0.12:
        off = abs(turned_deg(other.axis_deg, one.axis_deg))
        within = rubric.axis_within_deg(other.cylinder_d)
        judged = "within" if off <= within else "outside"
        words = f"{axis_text(one.axis_deg)} for {axis_text(other.axis_deg)}: {off:.0f} degrees off"
        parts.append(("axis", f"{words}, {judged} {within:.0f}"))
    return tuple(parts)


def _power_words(given_d: float, ideal_d: float, rubric: Rubric) -> str:
    off = abs(given_d - ideal_d)
    if off <= rubric.power_full_d + 1e-9:
        judged = f"within {rubric.power_full_d:.2f}"
    else:
        passed = off <= rubric.power_pass_d + 1e-9
        judged = f"{'within' if passed else 'outside'} {rubric.power_pass_d:.2f}"
    return f"{power_text(given_d)} for {power_text(ideal_d)}: {off:.2f} D off, {judged}"
