"""The end point: the correction with which an eye sees most clearly, the truth that is marked.

The peak of the clarity of the 6/6 line (a larger one for a coarser nerve) over (M, J0, J45),
accommodation at its floor, on the standard wall, the other eye covered, found by search through
the optics. It differs from the need by what aberrations do through the pupil of the moment.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from optics.eye.eye import Eye, EyePair
from optics.eye.grid import TransferFunction
from optics.eye.nerve import ORDINARY, Nerve
from optics.eye.pupil import pupil_diameter_mm
from optics.eye.transfer import Accuracy, transfer_function
from optics.eye.wavefront import Wavefront, aberration_path, accommodated_path, defocus_path
from optics.eye.zernike import mirrored
from optics.light.beam import Vector
from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder, from_matrix, stepped, vector_matrix
from optics.sight.clarity import clarity
from optics.sight.reader import read_letters
from optics.sight.targets import STANDARD_FIELD_DEG2, STANDARD_LUMINANCE_CD_M2
from optics.units import FloatArray

PEAK_LINE_LOGMAR = 0.0
UNREADABLE = 9.0
REACH_D = 1.0  # how far from the need the peak may lie
COARSE_D, FINE_D = 1 / 8, 1 / 16
CLIMBS = 3  # each with half the reach of the one before


@dataclass(frozen=True, slots=True, kw_only=True)
class EndPoint:
    """The vergence at the cornea (M, J0, J45 in D) that an eye sees best with, and what it sees.

    ``transfer`` is None where no light passes the eye.
    """

    vergence: Vector = field(repr=False)
    acuity_logmar: float
    transfer: TransferFunction | None = field(repr=False)


def end_point(eyes: EyePair, side: EyeSide, *, roughly: bool = False) -> EndPoint:
    """Return an eye's end point on the standard wall, the other eye covered.

    ``roughly`` leaves out the last steps: half the time, 0.03 D and 0.002 logMAR away.
    """
    eye = eyes.eye(side)
    wave = _wave_of_defocus(eye, eyes)

    def judged(accuracy: Accuracy) -> Callable[[FloatArray], float]:
        return lambda defocus: peak_clarity(wave(defocus), accuracy, eye.nerve)

    best = peak(judged(Accuracy.QUICK))
    if not roughly:  # as finely as what is shown: three wavelengths alone miss by 0.01 D
        best = climbed(judged(Accuracy.FINE), best, FINE_D)
    transfer = transfer_function(wave(best))
    reading = None if transfer is None else read_letters(transfer, nerve=eye.nerve)
    acuity = UNREADABLE if reading is None else reading.acuity_logmar
    m, j0, j45 = (need + more for need, more in zip(eye.required_vergence, best, strict=True))
    return EndPoint(vergence=(m - eyes.floor_d, j0, j45), acuity_logmar=acuity, transfer=transfer)


def _wave_of_defocus(eye: Eye, eyes: EyePair) -> Callable[[FloatArray], Wavefront]:
    pupil_mm = eye.pupil_mm or pupil_diameter_mm(
        STANDARD_LUMINANCE_CD_M2, STANDARD_FIELD_DEG2, eyes.age_y, eyes_open=1
    )
    base = aberration_path(eye)
    if eye.zernike_um:
        base = base + accommodated_path(eyes.floor_d, pupil_mm)

    def wave(defocus: FloatArray) -> Wavefront:
        m, j0, j45 = (float(part) for part in defocus)
        path = mirrored(base + defocus_path((m, j0, j45)))
        return Wavefront(path=path, pupil_mm=pupil_mm, media=eye.media)

    return wave


def peak_clarity(wave: Wavefront, accuracy: Accuracy, nerve: Nerve = ORDINARY) -> float:
    """Return the clarity that an end point is the peak of, 0 where no light passes."""
    transfer = transfer_function(wave, accuracy)
    if transfer is None:
        return 0.0
    line = PEAK_LINE_LOGMAR + round(math.log10(nerve.loss), 1)
    return float(clarity(transfer, (line,), nerve)[0])


def peak(score: Callable[[FloatArray], float]) -> FloatArray:
    """Return the defocus (3,) of about the highest score: a sweep of M, then a climb."""
    sweep = np.arange(-REACH_D, REACH_D + 1e-9, COARSE_D)
    best = max((np.array([m, 0.0, 0.0]) for m in sweep), key=score)
    for halving in range(CLIMBS):
        best = climbed(score, best, COARSE_D / 2**halving)
    return best


def climbed(score: Callable[[FloatArray], float], start: FloatArray, reach_d: float) -> FloatArray:
    """Return the defocus (3,) at the tops of parabolas through start and ``reach_d`` either side.

    No part moves farther than ``reach_d``.
    """
    centre, moved = score(start), start.copy()
    for axis in range(3):
        step = reach_d * np.eye(3)[axis]
        plus, minus = score(start + step), score(start - step)
        bend = 2.0 * centre - plus - minus
        if bend > 1e-9:
            part = float(np.clip(0.5 * (plus - minus) / bend, -1.0, 1.0))
        else:
            part = float(np.sign(plus - minus))
        moved = moved + part * step
    return moved


def lens_for(vergence: Vector, vertex_mm: float, distance_m: float) -> SpheroCylinder:
    """Return the lens at a vertex that gives that vergence at the cornea, object at a distance."""
    behind = stepped(vector_matrix(np.array(vergence)), -vertex_mm / 1000.0)
    incoming = -np.eye(2) / (distance_m - vertex_mm / 1000.0)
    return from_matrix(behind - incoming)
