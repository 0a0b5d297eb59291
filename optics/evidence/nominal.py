"""Nominal eyes: what an examiner may suppose of an eye that nobody has measured.

Clarity, letters read and what two colours and lines look like, over defocus (M, |J|) about the
end point, for a few eyes in its stead: low, mean and high spherical aberration with an ordinary
nerve, and two poor nerves. Each is the mean of two drawn eyes, their own end points laid on
each other. An eye is taken as the same in every meridian, so that two axes serve for three.
Past the table's edge sizes grow with blur as they do before it.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np

from optics.errors import EyeError
from optics.eye.chromatic import Filters
from optics.eye.eye import Eye, ordinary_eye
from optics.eye.grid import TransferFunction
from optics.eye.nerve import Nerve
from optics.eye.population import SPREAD_UM, Terms, average_aberrations, standardised_sample
from optics.eye.pupil import pupil_diameter_mm
from optics.eye.transfer import Accuracy, transfer_function
from optics.eye.wavefront import Wavefront, aberration_path, defocus_path
from optics.eye.zernike import mirrored
from optics.light.lens import EyeSide
from optics.patient.colours import PANELS
from optics.patient.ghost import chance_noticed, second_image
from optics.sight.clarity import clarity
from optics.sight.details import bars
from optics.sight.end_point import peak, peak_clarity
from optics.sight.reader import read_letters
from optics.sight.sampling import Sizes
from optics.sight.targets import (
    CHART_LINES_LOGMAR,
    LETTERS_A_ROW,
    STANDARD_FIELD_DEG2,
    STANDARD_LUMINANCE_CD_M2,
)
from optics.units import FloatArray

LINES_LOGMAR: Sizes = tuple(round(-0.3 + 0.1 * step, 1) for step in range(16))
STROKE_LOGMAR = 0.477  # of fan and blocks: three minutes of arc
AGES_Y = (20.0, 40.0, 60.0, 80.0)
_FAR = np.array([1.5, 2.0, 2.5, 3.0])
M_D = np.concatenate([-_FAR[::-1], np.arange(-1.25, 1.26, 0.125), _FAR])
J_D = np.concatenate([np.arange(0.0, 0.51, 0.125), [0.75, 1.0, 1.5]])
LEVELS_SD = (-1.22, 0.0, 1.22)  # of C(4,0): three points that stand for a normal spread
DRAWN_A_LEVEL, SAMPLE_SEED = 2, 11
LOSSES = (2.0, 4.0)  # poor nerves: best acuity of about 6/12 and 6/24
SHARES = np.array([0.25, 0.40, 0.25, 0.06, 0.04])  # before any answer; no source
EYES = len(SHARES)
DRAWN = len(LEVELS_SD) * DRAWN_A_LEVEL
STEPS = DRAWN * len(M_D) * len(J_D)
LINES = len(LINES_LOGMAR)
# one row a defocus: clarity, red less green, chance of a letter (by line); then the single ones
CLEAR, COLOUR, RIGHT, ACUITY, LETTERS, PULL, ACROSS, GHOST = 0, LINES, 2 * LINES, *range(48, 53)
WIDTH = 3 * LINES + 5

Each = Callable[[int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class NominalEyes:
    """The table, shape (eyes, M, |J|, 53) float32: see the names of its columns.

    ``pull`` is the second harmonic of a fan's clarity over its directions with the eye's axis
    along one of its lines, ``across`` the clarity of lines along less those at right angles.
    ``ghost`` is the share of all DRAWN eyes that notice a second image, the same for each nominal
    eye: aberrations of which it has none of its own decide it.
    """

    age_y: float
    values: FloatArray = field(repr=False)

    def as_bytes(self) -> bytes:
        """Return the table as it is kept, float32 little-endian."""
        return self.values.astype("<f4").tobytes()

    @classmethod
    def from_bytes(cls, age_y: float, kept: bytes) -> "NominalEyes":
        """Return a table that was kept.

        Raises
        ------
        EyeError
            If it is of another size, or holds what is no number.
        """
        shape = (EYES, len(M_D), len(J_D), WIDTH)
        if len(kept) != 4 * int(np.prod(shape)):
            raise EyeError(f"a table of nominal eyes has {4 * int(np.prod(shape))} bytes")
        values = np.frombuffer(kept, "<f4").reshape(shape).astype(np.float32)
        if not np.isfinite(values).all():
            raise EyeError("a table of nominal eyes holds finite numbers alone")
        return cls(age_y=age_y, values=values)


def nominal_age_y(age_y: float) -> float:
    """Return the age whose table serves a person of an age: the nearest of those made."""
    return min(AGES_Y, key=lambda made: abs(made - age_y))


def nominal_eyes(age_y: float, each: Each) -> NominalEyes:
    """Compute the table of an age; ``each`` hears how many of STEPS are done, and may raise.

    The pupil is that of the age on the standard wall, the other eye covered.
    """
    values = np.zeros((EYES, len(M_D), len(J_D), WIDTH))
    done = 0
    for level, eye, upright in _drawn(age_y):
        ordinary = eye.nerve
        nerves = {level: ordinary}
        if level == 1:
            nerves |= {3 + n: replace(ordinary, loss=loss) for n, loss in enumerate(LOSSES)}
        shift = _end(eye)
        for (i, m), (j, cross) in product(enumerate(M_D), enumerate(J_D)):
            wave = _wave(eye, shift + np.array([m, cross if upright else -cross, 0.0]))
            white = _transfer(wave)
            for number, row in _rows(wave, white, nerves, 0.0 if upright else 90.0):
                values[number, i, j, :GHOST] += row / DRAWN_A_LEVEL
            values[:, i, j, GHOST] += chance_noticed(second_image(white)) / DRAWN
            done += 1
            each(done)
    return NominalEyes(age_y=age_y, values=values.astype(np.float32))


def _drawn(age_y: float) -> Iterator[tuple[int, Eye, bool]]:
    """Yield levels of spherical aberration and eyes of it, DRAWN_A_LEVEL for each.

    Last whether its astigmatism lies upright: every other eye's is turned by 90 degrees.
    """
    pupil_mm = pupil_diameter_mm(STANDARD_LUMINANCE_CD_M2, STANDARD_FIELD_DEG2, age_y, eyes_open=1)
    plain = ordinary_eye(EyeSide.RIGHT, (0.0, 0.0, 0.0), pupil_mm, age_y)
    mean = dict(average_aberrations(EyeSide.RIGHT, age_y))[4, 0]
    spread = dict(SPREAD_UM)[4, 0]
    sample = standardised_sample(DRAWN, SAMPLE_SEED, age_y)
    for number, terms in enumerate(sample):
        level = number // DRAWN_A_LEVEL
        spherical = mean + LEVELS_SD[level] * spread
        drawn = replace(plain, zernike_um=_with_spherical(terms, spherical))
        yield level, drawn, number % 2 == 0


def _with_spherical(terms: Terms, um: float) -> Terms:
    return tuple((term, um if term == (4, 0) else own) for term, own in terms)


def _wave(eye: Eye, defocus: FloatArray) -> Wavefront:
    m, j0, j45 = (float(part) for part in defocus)
    path = mirrored(aberration_path(eye) + defocus_path((m, j0, j45)))
    return Wavefront(path=path, pupil_mm=eye.pupil_mm or 4.0, media=eye.media)


def _end(eye: Eye) -> FloatArray:
    """Return the defocus (3,) of an eye's end point."""
    return peak(lambda defocus: peak_clarity(_wave(eye, defocus), Accuracy.QUICK, eye.nerve))


def _transfer(wave: Wavefront, filters: Filters = ()) -> TransferFunction:
    transfer = transfer_function(wave, Accuracy.QUICK, filters=filters)
    if transfer is None:
        raise EyeError("a nominal eye gets light")
    return transfer


def _rows(
    wave: Wavefront, white: TransferFunction, nerves: dict[int, Nerve], axis_deg: float
) -> Iterator[tuple[int, FloatArray]]:
    """Yield each nominal eye's number and its row of the table at one defocus, without a ghost."""
    red, green = (_transfer(wave, (panel,)) for panel in PANELS)
    for number, nerve in nerves.items():
        reading = read_letters(white, nerve=nerve)
        right = np.array([reading.of_line(line) for line in LINES_LOGMAR])
        chart = sum(reading.of_line(line) for line in CHART_LINES_LOGMAR)
        along, off, far, across = (
            float(clarity(white, (STROKE_LOGMAR,), nerve, bars(axis_deg + angle))[0])
            for angle in (0.0, 30.0, 60.0, 90.0)
        )
        # of six directions 30 degrees apart, those at 120 and 150 like 60 and 30
        pull = (along + off - far - across) / 3.0
        colours = clarity(red, LINES_LOGMAR, nerve) - clarity(green, LINES_LOGMAR, nerve)
        single = [reading.acuity_logmar, LETTERS_A_ROW * chart, pull, along - across]
        yield number, np.concatenate([clarity(white, LINES_LOGMAR, nerve), colours, right, single])
