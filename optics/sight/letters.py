"""Sloan's ten letters and the eight Landolt rings as geometry, and their spectra.

A letter lies in the unit square, x to the right, y up, strokes a fifth of its height: drawn
on a 5 x 5 grid (Sloan, Am J Ophthalmol 1959;48:807-813, from memory; the curves' centres are
our own reading of it). A ring is five strokes across, its gap one stroke wide with parallel
sides (ISO 8596). Shapes are painted one after the other, as ink or as paper. Spectra are in
cycles per letter.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optics.errors import TargetError
from optics.units import ComplexArray, FloatArray

SLOAN = "CDHKNORSVZ"
RINGS = "→↗↑↖←↙↓↘"  # each the way to its gap as the patient sees it, 45 degrees apart
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A polygon or a sector of a disc, in fifths of a letter; ``ink`` or the paper over it."""

    ink: bool = True
    corners: tuple[Point, ...] = ()
    centre: Point = (0.0, 0.0)
    radius: float = 0.0
    quarter: tuple[float, float] = (0.0, 360.0)

    def covers(self, x: FloatArray, y: FloatArray) -> np.ndarray:
        """Return which points lie inside, boolean, the shape of x and y."""
        if self.corners:
            return _inside_convex(self.corners, x, y)
        dx, dy = x - self.centre[0], y - self.centre[1]
        start, end = (math.radians(angle) for angle in self.quarter)
        turned = np.mod(np.arctan2(dy, dx) - start, 2.0 * math.pi)
        covered: np.ndarray = (np.hypot(dx, dy) <= self.radius) & (turned <= end - start)
        return covered


def _inside_convex(corners: tuple[Point, ...], x: FloatArray, y: FloatArray) -> np.ndarray:
    """Return which points lie in a convex polygon given counter-clockwise."""
    inside = np.ones(np.broadcast(x, y).shape, bool)
    for (ax, ay), (bx, by) in zip(corners, corners[1:] + corners[:1], strict=True):
        inside &= (bx - ax) * (y - ay) - (by - ay) * (x - ax) >= 0.0
    return inside


def _box(left: float, bottom: float, right: float, top: float, *, ink: bool = True) -> Shape:
    return Shape(ink=ink, corners=((left, bottom), (right, bottom), (right, top), (left, top)))


def _disc(
    x: float, y: float, radius: float, start: float, end: float, *, ink: bool = True
) -> Shape:
    return Shape(ink=ink, centre=(x, y), radius=radius, quarter=(start, end))


def _blade(*corners: Point) -> Shape:
    turns = zip(corners, corners[1:] + corners[:1], strict=True)
    clockwise = sum(ax * by - bx * ay for (ax, ay), (bx, by) in turns) < 0.0
    return Shape(corners=corners[::-1] if clockwise else corners)


_RING = (_disc(2.5, 2.5, 2.5, 0, 360), _disc(2.5, 2.5, 1.5, 0, 360, ink=False))


def _gap(direction_deg: float) -> Shape:
    """Return the paper of a ring's gap, from the middle outwards."""
    along, across = (math.radians(direction_deg + more) for more in (0.0, 90.0))

    def corner(out: float, beside: float) -> Point:
        return (
            2.5 + out * math.cos(along) + beside * math.cos(across),
            2.5 + out * math.sin(along) + beside * math.sin(across),
        )

    corners = corner(0.0, -0.5), corner(2.5, -0.5), corner(2.5, 0.5), corner(0.0, 0.5)
    return Shape(ink=False, corners=corners)


LETTERS: dict[str, tuple[Shape, ...]] = {
    "C": (*_RING, _gap(0.0)),
    "D": (
        _box(0, 0, 2.5, 5),
        _disc(2.5, 2.5, 2.5, -90, 90),
        _box(1, 1, 2.5, 4, ink=False),
        _disc(2.5, 2.5, 1.5, -90, 90, ink=False),
    ),
    "H": (_box(0, 0, 1, 5), _box(4, 0, 5, 5), _box(1, 2, 4, 3)),
    "K": (
        _box(0, 0, 1, 5),
        _blade((1, 1.3), (1, 2.662), (3.527, 5), (5, 5)),
        _blade((1.8, 2.6), (2.525, 3.3), (5, 0), (3.75, 0)),
    ),
    "N": (_box(0, 0, 1, 5), _box(4, 0, 5, 5), _blade((0, 5), (3.75, 0), (5, 0), (1.25, 5))),
    "O": _RING,
    "R": (
        _box(0, 0, 1, 5),
        _box(1, 2, 3.5, 5),
        _disc(3.5, 3.5, 1.5, -90, 90),
        _box(1, 3, 3.5, 4, ink=False),
        _disc(3.5, 3.5, 0.5, -90, 90, ink=False),
        _blade((2.35, 2.2), (3.55, 2.2), (5, 0), (3.8, 0)),
    ),
    "S": (
        _disc(1.5, 3.5, 1.5, 90, 270),
        _disc(3.5, 3.5, 1.5, 0, 90),
        _box(1.5, 2, 3.5, 5),
        _disc(3.5, 1.5, 1.5, -90, 90),
        _disc(1.5, 1.5, 1.5, 180, 270),
        _box(1.5, 0, 3.5, 3),
        _disc(1.5, 3.5, 0.5, 90, 270, ink=False),
        _disc(3.5, 3.5, 0.5, 0, 90, ink=False),
        _box(1.5, 3, 3.5, 4, ink=False),
        _disc(3.5, 1.5, 0.5, -90, 90, ink=False),
        _disc(1.5, 1.5, 0.5, 180, 270, ink=False),
        _box(1.5, 1, 3.5, 2, ink=False),
        _box(3.5, 3, 5, 3.5, ink=False),
        _box(0, 1.5, 1.5, 2, ink=False),
    ),
    "V": (
        _blade((0, 5), (1.963, 0), (3.037, 0), (1.074, 5)),
        _blade((3.926, 5), (1.963, 0), (3.037, 0), (5, 5)),
    ),
    "Z": (_box(0, 4, 5, 5), _box(0, 0, 5, 1), _blade((0, 1), (1.529, 1), (5, 4), (3.471, 4))),
    **{ring: (*_RING, _gap(45.0 * eighth)) for eighth, ring in enumerate(RINGS)},
}


def letter_ink(letter: str, pixels: int, oversampling: int = 4) -> FloatArray:
    """Return how much ink each pixel of a letter holds, 0 to 1, (pixels, pixels), rows downward.

    Raises
    ------
    TargetError
        If it is none of the ten letters and eight rings.
    """
    shapes = LETTERS.get(letter)
    if shapes is None:
        raise TargetError(
            f"a letter must be one of {SLOAN} or a ring of {RINGS}, got {letter[:10]!r}"
        )
    fine = pixels * oversampling
    axis = (np.arange(fine) + 0.5) * (5.0 / fine)
    ink = np.zeros((fine, fine), bool)
    for shape in shapes:
        covered = shape.covers(axis[np.newaxis, :], axis[::-1, np.newaxis])
        ink = ink | covered if shape.ink else ink & ~covered
    blocks: FloatArray = ink.reshape(pixels, oversampling, pixels, oversampling).mean(
        axis=(1, 3), dtype=np.float64
    )
    return blocks


HIGHEST_CYCLES = 5.0
STEP_CYCLES = 1.0 / 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LetterSpectra:
    """Spectra of a set of letters at half-plane points (ux, uy) in cycles per letter.

    ``spectra`` has shape (letters, n) for letters of height 1 and ink 1; ``count`` is 2 where a
    point stands for its mirror image too, 1 at zero.
    """

    ux: FloatArray
    uy: FloatArray
    count: FloatArray
    spectra: ComplexArray

    @property
    def steps(self) -> tuple[np.ndarray, np.ndarray]:
        """Ux and uy as whole numbers of steps."""
        across, upward = (np.round(u / STEP_CYCLES).astype(int) for u in (self.ux, self.uy))
        return across, upward

    @property
    def distinct(self) -> ComplexArray:
        """Each letter less the mean letter, shape (letters, n)."""
        distinct: ComplexArray = self.spectra - self.spectra.mean(axis=0)
        return distinct


@lru_cache(maxsize=1)
def sloan_spectra() -> LetterSpectra:
    """Return the ten letters' spectra, centred on the letter, read-only."""
    return _spectra_of(SLOAN)


@lru_cache(maxsize=1)
def ring_spectra() -> LetterSpectra:
    """Return the eight rings' spectra, centred on the ring, read-only."""
    return _spectra_of(RINGS)


def _spectra_of(letters: str) -> LetterSpectra:
    reach = round(HIGHEST_CYCLES / STEP_CYCLES)
    axis = np.arange(-reach, reach + 1) * STEP_CYCLES
    uy, ux = (part.ravel() for part in np.meshgrid(axis, axis, indexing="ij"))
    keep = (np.hypot(ux, uy) <= HIGHEST_CYCLES + 1e-9) & (
        (uy > 1e-9) | ((abs(uy) < 1e-9) & (ux > -1e-9))
    )
    ux, uy = ux[keep], uy[keep]
    spectra = np.stack([_spectrum(letter_ink(letter, 120), ux, uy) for letter in letters])
    count = np.where((abs(ux) < 1e-9) & (abs(uy) < 1e-9), 1.0, 2.0)
    for part in (ux, uy, count, spectra):
        part.setflags(write=False)
    return LetterSpectra(ux=ux, uy=uy, count=count, spectra=spectra)


def _spectrum(ink: FloatArray, ux: FloatArray, uy: FloatArray) -> ComplexArray:
    """Return the Fourier transform of a raster of the unit square at points (n,)."""
    pixels = len(ink)
    across = (np.arange(pixels) + 0.5) / pixels - 0.5
    upward = -across
    wave: Callable[[FloatArray, FloatArray], ComplexArray] = lambda u, at: np.exp(  # noqa: E731
        -2j * math.pi * np.outer(u, at)
    )
    rows = wave(uy, upward) @ ink
    values: ComplexArray = np.einsum("np,np->n", rows, wave(ux, across)) / pixels**2
    return values
