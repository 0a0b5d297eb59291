"""What is known of an eye after some answers: a density over its end point (M, J0, J45).

A grid about the density's own mean: at first it spans every case that can be, and when the
answers have made it narrow, or it runs over an edge, a new one is laid and all that was heard
is told again. Which of the nominal eyes the person resembles is carried along and summed out.
"""

from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np

from optics.evidence.likelihood import (
    WIDENED,
    Asking,
    Points,
    Reply,
    Widening,
    chances,
    log_chance_of_rows,
)
from optics.evidence.lookup import Supposed
from optics.evidence.nominal import SHARES
from optics.light.beam import Vector
from optics.units import FloatArray

LEAST_D, MOST_D = np.array([-21.0, -3.0, -3.0]), np.array([21.0, 3.0, 3.0])
FIRST_COUNT, COUNT = (85, 13, 13), (25, 17, 17)
SPANS_SD = 4.5  # how far a grid reaches either side of the mean
NARROWEST_D = 0.2
TOO_WIDE = 1.7  # times what is wanted
EDGE_SHARE = 0.004  # of the density on a face of the grid
LAID_MOST = 8
LEAST_LIKELY = 1e-12  # no reply rules an eye out
BLOCK = 2048  # points at once: of more, memory from the system took as long as the work
Told = tuple[tuple[Asking, Reply], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """A density on a grid: axes M, J0, J45 in D, shares (eyes, M x J0 x J45) that add up to 1."""

    eyes: Supposed = field(repr=False)
    widening: Widening = field(repr=False, default=WIDENED)
    axes: tuple[FloatArray, FloatArray, FloatArray] = field(repr=False)
    shares: FloatArray = field(repr=False)
    heard: Told = field(repr=False, default=())

    @property
    def points(self) -> Points:
        """The grid's points, shape (n,) each, in the order of the shares."""
        m, j0, j45 = np.meshgrid(*self.axes, indexing="ij")
        return Points(m_d=m.ravel(), j0_d=j0.ravel(), j45_d=j45.ravel())

    @property
    def density(self) -> FloatArray:
        """The share of each point, whatever nominal eye, shape (M, J0, J45)."""
        m, j0, j45 = (len(axis) for axis in self.axes)
        density: FloatArray = self.shares.sum(axis=0).reshape(m, j0, j45)
        return density

    @property
    def mean_d(self) -> Vector:
        """The mean M, J0 and J45."""
        m, j0, j45 = (float(np.sum(p * axis)) for p, axis in self._margins())
        return m, j0, j45

    @property
    def sds_d(self) -> Vector:
        """The standard deviations of M, J0 and J45."""
        parts = zip(self._margins(), self.mean_d, strict=True)
        m, j0, j45 = (float(np.sqrt(np.sum(p * (axis - at) ** 2))) for (p, axis), at in parts)
        return m, j0, j45

    @property
    def sd_d(self) -> float:
        """The standard deviation of the dioptric distance from the mean."""
        return float(np.linalg.norm(self.sds_d))

    @property
    def entropy_bits(self) -> float:
        """The entropy in bits, counted in cells of one cubic dioptre."""
        density = self.density
        cell = np.prod([axis[1] - axis[0] for axis in self.axes])
        kept = density[density > 0.0]
        return float(np.log2(cell) - np.sum(kept * np.log2(kept)))

    def holds(self, end_point: Vector, share: float = 0.9) -> bool:
        """Tell whether the smallest region of a share of the density holds a point."""
        density = self.density
        at = [
            (part - axis[0]) / (axis[1] - axis[0])
            for part, axis in zip(end_point, self.axes, strict=True)
        ]
        if any(not 0.0 <= one <= len(axis) - 1 for one, axis in zip(at, self.axes, strict=True)):
            return False
        here = _interpolated(density, at)
        return float(density[density > here].sum()) <= share

    def _margins(self) -> list[tuple[FloatArray, FloatArray]]:
        density = self.density
        others = ((1, 2), (0, 2), (0, 1))
        return [
            (density.sum(axis=rest), axis) for rest, axis in zip(others, self.axes, strict=True)
        ]


def prior(eyes: Supposed, widening: Widening = WIDENED) -> Posterior:
    """Return what is known before any answer: every end point within 21 D and J of 3, alike."""
    axes = _axes(LEAST_D, MOST_D, FIRST_COUNT)
    return _laid(Posterior(eyes=eyes, widening=widening, axes=axes, shares=np.zeros(0)))


def update(before: Posterior, asking: Asking, reply: Reply) -> tuple[Posterior, float]:
    """Return what is known after one more reply, and the bits that it gave.

    The bits are the relative entropy of what is known after to what was known before: how far
    the answer moved it, never negative. A reply that no model serves gives none.
    """
    chance = _chance(before, asking, reply)
    if chance is None:
        return before, 0.0
    after = replace(
        before,
        shares=_normed(before.shares * chance),
        heard=(*before.heard, (asking, reply)),
    )
    bits = gained_bits(before.density, after.density)
    return _refined(after), bits


def gained_bits(before: FloatArray, after: FloatArray) -> float:
    """Return the relative entropy of one density to another on the same points, in bits."""
    some = after > 1e-300
    ratio = np.log2(after[some] / np.maximum(before[some], 1e-300))
    return max(0.0, float(np.sum(after[some] * ratio)))


def _chance(known: Posterior, asking: Asking, reply: Reply) -> FloatArray | None:
    """Return a reply's chance at every point, but for a factor; None where no model serves it."""
    if not isinstance(reply, str):
        return _from_log(
            log_chance_of_rows(known.eyes, known.points, asking, reply, known.widening)
        )
    points = known.points
    parts = []
    for start in range(0, len(points.m_d), BLOCK):
        some = slice(start, start + BLOCK)
        told = chances(known.eyes, points.at(some), asking, known.widening)
        if reply not in told:
            return None
        parts.append(told[reply])
    chance: FloatArray = np.maximum(np.concatenate(parts, axis=1), LEAST_LIKELY)
    return chance


def _from_log(log: FloatArray) -> FloatArray:
    """Return what logarithms stand for, the greatest 1."""
    with np.errstate(under="ignore"):
        likely: FloatArray = np.exp(log - log.max())
    return likely


def _normed(shares: FloatArray) -> FloatArray:
    normed: FloatArray = shares / shares.sum()
    return normed


def _axes(
    least: FloatArray, most: FloatArray, counts: tuple[int, int, int]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    m, j0, j45 = (
        np.linspace(low, high, count) for low, high, count in zip(least, most, counts, strict=True)
    )
    return m, j0, j45


def _laid(known: Posterior) -> Posterior:
    """Return the density on the axes, from the prior and all that was heard."""
    points = known.points
    total = np.log(SHARES)[:, np.newaxis] + np.zeros(len(points.m_d))
    for asking, reply in known.heard:
        chance = _chance(known, asking, reply)
        total = total if chance is None else total + np.log(np.maximum(chance, LEAST_LIKELY))
    return replace(known, shares=_normed(_from_log(total)))


def _refined(known: Posterior) -> Posterior:
    """Return the density on a grid that suits it."""
    for _ in range(LAID_MOST):
        reach = np.array([(axis[-1] - axis[0]) / 2.0 for axis in known.axes])
        wanted = np.maximum(SPANS_SD * np.array(known.sds_d), NARROWEST_D)
        # what lies between two points cannot be told from the grid itself
        wanted = np.maximum(wanted, [1.5 * (axis[1] - axis[0]) for axis in known.axes])
        over = _over_edge(known)
        if not over.any() and not (reach > TOO_WIDE * wanted).any():
            return known
        reach = np.where(over, 1.6 * np.maximum(reach, wanted), np.minimum(wanted, reach))
        middle = np.array(known.mean_d)
        least, most = np.maximum(middle - reach, LEAST_D), np.minimum(middle + reach, MOST_D)
        axes = _axes(least, most, COUNT)
        if all(np.array_equal(a, b) for a, b in zip(axes, known.axes, strict=True)):
            return known
        known = _laid(replace(known, axes=axes))
    return known


def _over_edge(known: Posterior) -> np.ndarray:
    """Return for each axis whether too much lies on a face that is no end of what can be."""
    over = []
    for index, (part, axis) in enumerate(known._margins()):
        low = part[0] > EDGE_SHARE and axis[0] > LEAST_D[index] + 1e-9
        high = part[-1] > EDGE_SHARE and axis[-1] < MOST_D[index] - 1e-9
        over.append(bool(low or high))
    return np.array(over)


def _interpolated(density: FloatArray, at: list[float]) -> float:
    """Return a density between the points of its grid, places in steps."""
    total = 0.0
    corners = [min(int(one), size - 2) for one, size in zip(at, density.shape, strict=True)]
    for steps in product((0, 1), repeat=3):
        weight = np.prod(
            [
                part - corner if step else 1.0 - (part - corner)
                for part, corner, step in zip(at, corners, steps, strict=True)
            ]
        )
        index = tuple(corner + step for corner, step in zip(corners, steps, strict=True))
        total += float(weight) * float(density[index])
    return total
