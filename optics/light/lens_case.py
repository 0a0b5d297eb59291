"""The lens case: which physical lenses a trial set holds, and how many of each.

A full set (common practice, no source): 32 pairs of spheres and 20 pairs of cylinders of
each sign, ten single prisms, and the discs: occluder, pinhole, stenopaeic slit, plano, a red
and a green filter, a red rod, a neutral filter.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from optics.errors import LensError
from optics.light.lens import NEUTRAL_DENSITY, LensKind, TrialLens

EIGHTH_D = 0.12  # as engraved
SPHERE_STEPS_D = (
    EIGHTH_D,
    *(0.25 * step for step in range(1, 17)),  # to 4.00
    *(4.0 + 0.5 * step for step in range(1, 5)),  # to 6.00
    *(6.0 + step for step in range(1, 9)),  # to 14.00
    16.0,
    18.0,
    20.0,
)
CYLINDER_STEPS_D = (
    EIGHTH_D,
    *(0.25 * step for step in range(1, 15)),  # to 3.50
    *(3.5 + 0.5 * step for step in range(1, 6)),  # to 6.00
)
PRISM_STEPS_PD = (0.5, *(float(step) for step in range(1, 7)), 8.0, 10.0, 12.0)
PINHOLE_MM = 1.2


@dataclass(frozen=True, slots=True, kw_only=True)
class LensCase:
    """What a set holds: lens by code, and how many of each."""

    lenses: Mapping[str, TrialLens]
    counts: Mapping[str, int]

    def lens(self, code: str) -> TrialLens:
        """Return the lens of that code.

        Raises
        ------
        LensError
            If the set never held such a lens.
        """
        try:
            return self.lenses[code]
        except KeyError:
            raise LensError(f"the set has no lens {code[:40]!r}") from None

    def left(self, in_use: Iterable[TrialLens]) -> dict[str, int]:
        """Return how many of each lens lie in the case while ``in_use`` are out."""
        out = Counter(lens.code for lens in in_use)
        return {code: max(0, count - out[code]) for code, count in self.counts.items()}

    def powers(self, kind: LensKind) -> tuple[float, ...]:
        """Return the powers that the set has of a kind, most minus first."""
        return tuple(sorted(lens.power_d for lens in self.lenses.values() if lens.kind is kind))


def next_power(
    case: LensCase,
    in_use: Iterable[TrialLens],
    kind: LensKind,
    from_d: float,
    upwards: bool,
    *,
    eighths: bool = False,
) -> float | None:
    """Return the power that one step leads to, 0.0 for plano, None at the end of the set.

    ``in_use`` are the lenses out of the case, the one that is to be replaced left out.
    Lenses of which no other copy lies in the case are skipped, and so are those of an eighth of
    a dioptre unless ``eighths`` is set: else the steps about plano would be uneven.
    """
    left = case.left(in_use)
    held = [
        power_d
        for power_d in case.powers(kind)
        if left[TrialLens(kind=kind, power_d=power_d).code] > 0
        and (eighths or abs(power_d) != EIGHTH_D)
    ]
    if upwards:
        return min((power_d for power_d in (*held, 0.0) if power_d > from_d + 1e-9), default=None)
    return max((power_d for power_d in (*held, 0.0) if power_d < from_d - 1e-9), default=None)


@lru_cache(maxsize=4)
def full_set(pinhole_mm: float = PINHOLE_MM) -> LensCase:
    """Return a full set with two of each sphere and cylinder, one of each prism and disc."""
    pairs = [
        TrialLens(kind=kind, power_d=sign * step_d)
        for kind, steps in (
            (LensKind.SPHERE, SPHERE_STEPS_D),
            (LensKind.CYLINDER, CYLINDER_STEPS_D),
        )
        for step_d in steps
        for sign in (+1.0, -1.0)
    ]
    singles = [
        *(TrialLens(kind=LensKind.PRISM, power_d=step_pd) for step_pd in PRISM_STEPS_PD),
        TrialLens(kind=LensKind.PLANO),
        TrialLens(kind=LensKind.OCCLUDER),
        TrialLens(kind=LensKind.PINHOLE, aperture_mm=pinhole_mm),
        TrialLens(kind=LensKind.SLIT),
        TrialLens(kind=LensKind.RED),
        TrialLens(kind=LensKind.GREEN),
        TrialLens(kind=LensKind.ROD),
        TrialLens(kind=LensKind.NEUTRAL, density=NEUTRAL_DENSITY),
    ]
    return LensCase(
        lenses={lens.code: lens for lens in (*pairs, *singles)},
        counts={
            **{lens.code: 2 for lens in pairs},
            **{lens.code: 1 for lens in singles},
        },
    )
