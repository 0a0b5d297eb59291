"""The truth that is marked: the engine's own end point for a case, as a lens."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from optics.light.beam import Vector
from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder
from optics.sight.end_point import end_point, lens_for
from server.casebook import Case

MARKED_VERTEX_MM = 12.0
MARKED_DISTANCE_M = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """An eye's end point: the vergence at the cornea in D, and the acuity there."""

    vergence: Vector = field(repr=False)
    acuity_logmar: float

    def lens(self, vertex_mm: float = MARKED_VERTEX_MM) -> SpheroCylinder:
        """Return it as the lens at a vertex for the chart at 6 m."""
        return lens_for(self.vergence, vertex_mm, MARKED_DISTANCE_M)

    def as_body(self) -> dict[str, Any]:
        """Return it as the store keeps it."""
        return {"vergence": list(self.vergence), "acuity_logmar": self.acuity_logmar}

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> "Truth":
        """Return what the store kept."""
        m, j0, j45 = (float(part) for part in body["vergence"])
        return cls(vergence=(m, j0, j45), acuity_logmar=float(body["acuity_logmar"]))


def find_truth(case: Case, side: EyeSide) -> Truth:
    """Return the end point of a case's eye by search."""
    found = end_point(case.eyes, side)
    return Truth(vergence=found.vergence, acuity_logmar=found.acuity_logmar)
