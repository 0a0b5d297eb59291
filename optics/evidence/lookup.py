"""What nominal eyes see with a lens before them, whatever they need: the table between its points.

The accommodation is the engine's own rule (the least that contents three chart lines), applied
to the table along M once for an amplitude. Defocus is what is left at the cornea, relaxed.
Many eyes are looked at for each answer: single precision, and steps that are all alike.
"""

from dataclasses import dataclass, field

import numpy as np

from optics.evidence.nominal import (
    ACUITY,
    CLEAR,
    EYES,
    J_D,
    LETTERS,
    LINES,
    LINES_LOGMAR,
    M_D,
    RIGHT,
    NominalEyes,
)
from optics.sight.focus import CONTENT, DRIVE_LINES_LOGMAR
from optics.sight.probit import probit
from optics.sight.reader import GUESS
from optics.units import FloatArray

STEP_D, EFFORT_STEP_D = 0.125, 0.0625  # the nodes of M_D and J_D are whole steps
EVEN_M_D = np.arange(M_D[0], M_D[-1] + STEP_D / 2.0, STEP_D)
EVEN_J_D = np.arange(J_D[0], J_D[-1] + STEP_D / 2.0, STEP_D)
ROW = len(EVEN_J_D)
FADES_PER_D = 0.1  # clarity past the table's edge, so that effort still leads towards focus
LETTERS_A_LOGMAR = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """Where each of n points lies in the table, for every nominal eye: shape (eyes, n), float32.

    ``corner`` is the flat index of the lower node, ``part_m`` and ``part_j`` how far on it is;
    ``beyond`` the logMAR by which sizes exceed those at the table's edge; ``effort_d`` what the eye
    accommodates.
    """

    corner: np.ndarray = field(repr=False)
    part_m: FloatArray = field(repr=False)
    part_j: FloatArray = field(repr=False)
    beyond: FloatArray = field(repr=False)
    effort_d: FloatArray = field(repr=False)
    past_edge: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Supposed:
    """Nominal eyes that can accommodate so much; ``efforts`` has shape (eyes, relaxed M, |J|).

    ``growth`` is how much faster than blur the size of what is read grows at the table's edge,
    ``slope_logmar`` the standard deviation of their chances of reading a letter over size.
    """

    amplitude_d: float
    growth: float
    slope_logmar: float
    columns: FloatArray = field(repr=False)  # (53, eyes x M x |J|), in even steps of both
    efforts: FloatArray = field(repr=False)

    def look(self, m_d: FloatArray, j0_d: FloatArray, j45_d: FloatArray) -> Seen:
        """Return what the eyes make of defocuses (n,), M positive where fogged."""
        m = m_d.astype(np.float32)
        cross = np.hypot(j0_d, j45_d).astype(np.float32)
        effort = self._effort(m, np.minimum(cross, np.float32(J_D[-1])))
        left = m + effort
        times = np.maximum(np.abs(left) / np.float32(M_D[-1]), cross / np.float32(J_D[-1]))
        times = np.maximum(times, np.float32(1.0))
        at_m, part_m = _place(left / times, M_D[0], len(EVEN_M_D))
        at_j, part_j = _place(cross / times, J_D[0], ROW)
        first = np.arange(EYES)[:, np.newaxis] * (len(EVEN_M_D) * ROW)
        return Seen(
            corner=first + at_m * ROW + at_j,
            part_m=part_m,
            part_j=part_j,
            beyond=np.float32(self.growth / np.log(10.0)) * np.log(times),
            effort_d=effort,
            past_edge=bool(times.max() > 1.0),
        )

    def _effort(self, m_d: FloatArray, cross_d: FloatArray) -> FloatArray:
        if self.amplitude_d <= 0.0:
            return np.zeros((EYES, len(m_d)), np.float32)
        rows = self.efforts.shape[1]
        at_m, part_m = _place(m_d, float(M_D[0]) - self.amplitude_d, rows)
        at_j, part_j = _place(cross_d, J_D[0], ROW)
        first = np.arange(EYES)[:, np.newaxis] * (rows * ROW)
        return _between(self.efforts.ravel(), first + (at_m * ROW + at_j), part_m, part_j)

    def column(self, seen: Seen, column: int) -> FloatArray:
        """Return a column of the table at points, shape (eyes, n); blur ends at the edge."""
        return _between(self.columns[column], seen.corner, seen.part_m, seen.part_j)

    def of_line(self, seen: Seen, first: int, line_logmar: float) -> FloatArray:
        """Return what belongs to a line (clarity, colours or letters), shape (eyes, n)."""
        place = (line_logmar - LINES_LOGMAR[0]) * 10.0
        if not seen.past_edge and abs(place - round(place)) < 1e-6 and 0 <= place <= LINES - 1:
            return self.column(seen, first + round(place))
        return self.of_lines(seen, first, np.full(seen.part_m.shape, line_logmar))

    def of_lines(self, seen: Seen, first: int, lines_logmar: FloatArray) -> FloatArray:
        """Return what belongs to a line of its own at every point, shape (eyes, n)."""
        at, part = _place(lines_logmar - seen.beyond, LINES_LOGMAR[0], LINES, 0.1)
        size = self.columns.shape[1]
        flat, corner = self.columns.ravel(), (first + at) * size + seen.corner
        low = _between(flat, corner, seen.part_m, seen.part_j)
        high = _between(flat, corner + size, seen.part_m, seen.part_j)
        mixed: FloatArray = low + part * (high - low)
        return mixed

    def acuity_logmar(self, seen: Seen) -> FloatArray:
        """Return the acuity at points, shape (eyes, n)."""
        return self.column(seen, ACUITY) + seen.beyond

    def letters(self, seen: Seen) -> FloatArray:
        """Return how many letters of the whole chart are read at points, shape (eyes, n)."""
        read: FloatArray = self.column(seen, LETTERS) - LETTERS_A_LOGMAR * seen.beyond
        return np.maximum(read, 0.0)


def _place(
    values: FloatArray, first: float, count: int, step: float = STEP_D
) -> tuple[np.ndarray, FloatArray]:
    """Return the lower node and the part of the way to the next, on an axis of even steps."""
    place = (values - np.float32(first)) * np.float32(1.0 / step)
    place = np.clip(place, np.float32(0.0), np.float32(count - 1))
    at = np.minimum(place.astype(np.intp), count - 2)
    return at, place - at.astype(np.float32)


def _between(
    flat: FloatArray, corner: np.ndarray, part_m: FloatArray, part_j: FloatArray
) -> FloatArray:
    """Return values between four nodes of a flat table whose rows are ROW long."""
    near = flat.take(corner)
    near += part_j * (flat.take(corner + 1) - near)
    far = flat.take(corner + ROW)
    far += part_j * (flat.take(corner + (ROW + 1)) - far)
    mixed: FloatArray = near + part_m * (far - near)
    return mixed


def supposed(eyes: NominalEyes, amplitude_d: float) -> Supposed:
    """Return nominal eyes that accommodate; the amplitude in D is that of the person's age."""
    even = _even(_even(eyes.values, M_D, EVEN_M_D, 1), J_D, EVEN_J_D, 2)
    return Supposed(
        amplitude_d=amplitude_d,
        growth=_growth(eyes.values),
        slope_logmar=_slope_logmar(eyes.values),
        columns=np.ascontiguousarray(np.moveaxis(even, -1, 0)).reshape(even.shape[-1], -1),
        efforts=_even(_efforts(eyes.values, amplitude_d), J_D, EVEN_J_D, 2),
    )


def _even(values: FloatArray, nodes: FloatArray, even: FloatArray, axis: int) -> FloatArray:
    """Return values at even steps of an axis, in proportion between its nodes; float32."""
    place = np.interp(even, nodes, np.arange(len(nodes)))
    low = np.minimum(place.astype(int), len(nodes) - 2)
    part = (place - low).reshape([-1 if n == axis else 1 for n in range(values.ndim)])
    mixed = values.take(low, axis) * (1.0 - part) + values.take(low + 1, axis) * part
    single: FloatArray = mixed.astype(np.float32)
    return single


def _growth(values: FloatArray) -> float:
    """Return d logMAR / d log10 M of an ordinary eye's acuity at both ends of the table."""
    acuity = values[1, :, 0, ACUITY]
    grown = (acuity[-1] - acuity[-2]) + (acuity[0] - acuity[1])
    return float(grown / (2.0 * np.log10(M_D[-1] / M_D[-2])))


def _efforts(values: FloatArray, amplitude_d: float) -> FloatArray:
    """Return the accommodation of each relaxed M and |J|, shape (eyes, M, |J|)."""
    relaxed = np.arange(M_D[0] - amplitude_d, M_D[-1] + STEP_D / 2, STEP_D)
    trials = np.append(np.arange(0.0, amplitude_d, EFFORT_STEP_D), amplitude_d)
    lines = [CLEAR + LINES_LOGMAR.index(line) for line in DRIVE_LINES_LOGMAR]
    drive = values[..., lines].mean(axis=-1)
    left = relaxed[:, np.newaxis] + trials
    past = FADES_PER_D * np.maximum(np.abs(left) - M_D[-1], 0.0)
    efforts = np.empty((EYES, len(relaxed), len(J_D)), np.float32)
    for eye in range(EYES):
        for j in range(len(J_D)):
            clear = np.interp(left, M_D, drive[eye, :, j]) - past
            content = clear >= clear.max(axis=1, keepdims=True) - CONTENT
            efforts[eye, :, j] = trials[content.argmax(axis=1)]
    return efforts


def _slope_logmar(values: FloatArray) -> float:
    """Return the size step of one standard deviation of the chance to name a letter, the mean.

    By least squares, from the chances that tell and the acuity of the same eye and blur.
    """
    right = (values[..., RIGHT : RIGHT + LINES] - GUESS) / (1.0 - GUESS)
    above = np.array(LINES_LOGMAR) - values[..., ACUITY, np.newaxis]
    told = (right > 0.15) & (right < 0.85) & (np.abs(above) > 0.02)
    z = probit(np.where(told, right, 0.5))
    return float(np.sum(above[told] ** 2) / np.sum(above[told] * z[told]))
