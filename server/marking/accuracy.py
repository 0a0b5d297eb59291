"""How close an answer comes to the truth: both as lenses at one vertex."""

from collections.abc import Mapping
from dataclasses import dataclass

from optics.errors import NotationError
from optics.light.notation import parse_axis, parse_power
from optics.light.power import (
    SpheroCylinder,
    at_vertex,
    blur_strength_d,
    defocus_equivalent_d,
    power_vector,
)
from server.marking.truth import MARKED_VERTEX_MM, Truth


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """An answer beside the truth, both at the marked vertex; differences answer minus truth."""

    answer: SpheroCylinder
    truth: SpheroCylinder
    difference_m_d: float
    defocus_equivalent_d: float
    blur_strength_d: float


def recorded_lens(record: Mapping[str, str], eye: str) -> SpheroCylinder | None:
    """Return what the card says of the ``right`` or ``left`` eye; None without a sphere."""
    sphere, cylinder, axis = (
        record.get(f"{eye}_{name}", "") for name in ("sphere", "cylinder", "axis")
    )
    if not sphere:
        return None
    cylinder_d = parse_power(cylinder) if cylinder else 0.0
    if cylinder_d and not axis:
        raise NotationError(f"the {eye} cylinder stands without an axis")
    return SpheroCylinder(
        sphere_d=parse_power(sphere),
        cylinder_d=cylinder_d,
        axis_deg=parse_axis(axis) if axis else 180.0,
    )


def accuracy(answer: SpheroCylinder, vertex_mm: float, truth: Truth) -> Accuracy:
    """Return how far an answer written at a vertex lies from the truth, at 12 mm.

    The yardstick is the defocus equivalent |M| + |C|/2 of the lens that turns the answer
    into the truth (Taylor and others, Eye 2011, from memory).
    """
    moved = at_vertex(answer, vertex_mm, MARKED_VERTEX_MM)
    ideal = truth.lens()
    difference = power_vector(moved) - power_vector(ideal)
    return Accuracy(
        answer=moved,
        truth=ideal,
        difference_m_d=float(difference[0]),
        defocus_equivalent_d=defocus_equivalent_d(difference),
        blur_strength_d=blur_strength_d(difference),
    )
