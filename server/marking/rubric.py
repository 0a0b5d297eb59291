"""What is marked, with how many points and which tolerances: data, with a version.

Points and tolerances are common practice, no source, but for the yardstick of accuracy (Taylor
and others, Eye 2011;25:1333-6) and the just noticeable difference of a low acuity.
"""

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from itertools import pairwise
from typing import Any

from server.errors import Refused

Bands = tuple[tuple[float, float], ...]
AxisBands = tuple[tuple[float, float], ...]
OWN = "+"  # in a version: a case's own weights are laid over the rubric named before it

PROCEDURE: Mapping[str, float] = {
    "fit": 3.0,
    "unaided": 3.0,
    "pinhole": 2.0,
    "cover": 4.0,
    "fog": 4.0,
    "sphere": 3.0,
    "axis": 2.0,
    "compensation": 3.0,
    "end-point": 2.0,
    "acuity": 2.0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rubric:
    """One set of weights and tolerances. Errors in D, points as whole parts of 100.

    ``bands`` are (error, share of the points), between them in proportion. The error is first
    made smaller by what is allowed: for an acuity worse than ``allows_from_logmar`` half of the
    just noticeable difference, and ``allows_strong`` times the mean sphere beyond
    ``strong_from_d``. ``axis_bands`` are (cylinder up to, degrees). Faults cost ``minor``,
    ``major`` or ``critical`` points; ``procedure`` gives the points of each item, halved
    between the eyes; caps are on the total of 100. ``judged_from_level`` cases have
    ``judged_points`` for judgement, taken from accuracy.

    Raises
    ------
    Refused
        If a value is outside what is allowed, naming the field, what came and what is allowed.
    """

    version: str = "1"
    eye_points: float = 18.0
    vertex_points: float = 2.0
    pd_points: float = 2.0
    bands: Bands = (
        *((0.125, 1.0), (0.25, 6 / 7), (0.375, 5 / 7), (0.50, 4 / 7), (0.625, 3 / 7)),
        *((0.75, 2 / 7), (0.875, 1 / 7), (1.00, 0.0)),
    )
    allows_from_logmar: float = 0.30
    allows_strong: float = 0.02
    strong_from_d: float = 5.0
    mean_off_from_d: float = 0.375
    mean_off_points: float = 2.0
    power_full_d: float = 0.25
    power_pass_d: float = 0.50
    axis_bands: AxisBands = ((0.50, 20.0), (1.00, 10.0), (2.00, 7.0), (math.inf, 5.0))
    vertex_from_d: float = 4.0
    pd_full_mm: float = 1.0
    pd_half_mm: float = 2.0
    no_need_d: float = 0.25
    procedure: Mapping[str, float] = field(default_factory=lambda: dict(PROCEDURE))
    talk_points: float = 6.0
    record_points: float = 6.0
    judgement_points: float = 6.0
    judged_from_level: int = 4
    judged_points: float = 10.0
    time_points: float = 2.0
    minutes: tuple[float, ...] = (20.0, 25.0, 25.0, 30.0)
    minor: float = 1.0
    major: float = 3.0
    critical: float = 6.0
    safety_cap: float = 40.0
    swap_cap: float = 50.0
    sign_cap: float = 50.0
    sign_from_d: float = 2.0
    guess_cap: float = 10.0
    guess_under: int = 5
    pass_total: float = 65.0

    def __post_init__(self) -> None:
        _within("version", len(self.version), 1, 20, "characters")
        for one in fields(self):
            value = getattr(self, one.name)
            if isinstance(value, int | float):
                _within(one.name, value, 0, 100, "")
        for name, points in self.procedure.items():
            if name not in PROCEDURE:
                raise Refused(
                    f"procedure: no item {name[:40]!r}; one of {', '.join(PROCEDURE)}", name
                )
            _within(f"procedure.{name}", points, 0, 100, "points")
        _rising("bands", self.bands)
        _rising("axis_bands", self.axis_bands)
        shares = [share for _, share in self.bands]
        if shares != sorted(shares, reverse=True):
            raise Refused(f"bands: shares must not rise, got {shares!r}", "bands")
        if len(self.minutes) != 4:
            raise Refused(f"minutes: one for each of 4 levels, got {len(self.minutes)}", "minutes")
        for minutes in self.minutes:
            _within("minutes", minutes, 1, 240, "minutes")

    def weighed_anew(self, values: Mapping[str, Any]) -> "Rubric":
        """Return the rubric with other values; its version tells what was changed apart.

        Values that are as they were change nothing.
        """
        changes = {name: to for name, to in values.items() if to != getattr(self, name)}
        if not changes:
            return self
        text = json.dumps(changes, sort_keys=True)
        digest = hashlib.sha256(text.encode()).hexdigest()[:8]
        return replace(self, version=f"{self.version}{OWN}{digest}", **changes)

    def share_at(self, error_d: float) -> float:
        """Return the share of the points that an error keeps, 0 to 1."""
        (least, share), *more = self.bands
        if error_d <= least:
            return share
        for at, falls_to in more:
            if error_d <= at:
                return share + (falls_to - share) * (error_d - least) / (at - least)
            least, share = at, falls_to
        return share

    def allowed_d(self, acuity_logmar: float, mean_d: float) -> float:
        """Return what is taken off an error for a poor acuity and a strong lens."""
        poor = acuity_logmar > self.allows_from_logmar + 1e-9
        strong_d = max(0.0, abs(mean_d) - self.strong_from_d)
        return (just_noticeable_d(acuity_logmar) / 2.0 if poor else 0.0) + (
            self.allows_strong * strong_d
        )

    def axis_within_deg(self, cylinder_d: float) -> float:
        """Return how far the axis of a cylinder may be off."""
        return next(
            (within for upto, within in self.axis_bands if abs(cylinder_d) <= upto + 1e-9),
            self.axis_bands[-1][1],
        )


def just_noticeable_d(acuity_logmar: float) -> float:
    """Return the change of sphere that an acuity just shows: x/30 D for 6/x.

    Teaching rule of low-vision refraction (20/50: 0.50 D), common practice.
    """
    return float(6.0 * 10.0**acuity_logmar / 30.0)


def _within(name: str, value: float, least: float, most: float, unit: str) -> None:
    if not least <= value <= most:
        raise Refused(
            f"{name} must be {least:g} to {most:g} {unit}".rstrip() + f", got {value!r}", name
        )


def _rising(name: str, bands: Bands) -> None:
    limits = [limit for limit, _ in bands]
    if not bands or any(one >= other for one, other in pairwise(limits)):
        raise Refused(f"{name}: limits must rise, got {limits!r}", name)


def has_own_weights(version: str) -> bool:
    """Tell by a rubric's version whether a case has laid its own weights over it."""
    return OWN in version


RUBRIC = Rubric()
