"""Is it doubled or ghosted? Whether a point of light has a second image beside the first."""

import numpy as np

from optics.eye.grid import TransferFunction
from optics.patient.compare import Answer, Asked, with_lapses
from optics.sight.neural import neural_transfer
from optics.sight.probit import chance_below
from optics.sight.view import EyeView
from optics.units import FloatArray

ONE, DOUBLED, UNSEEN = "single", "doubled", "unseen"
FIELD_DEG, POINTS = 1.0, 128
APART_ARCMIN = 2.0  # nearer images look like one that is blurred; common practice, no source
NOTICED, NOTICED_SD = 0.45, 0.12  # of the first image's height; common practice, no source


def doubled(eye: EyeView | None, asked: Asked) -> Answer:
    """Return the answer to "is it doubled or ghosted?": single, doubled, or unseen."""
    if eye is None or eye.transfer is None:
        return Answer(chances={UNSEEN: 1.0})
    second = second_image(eye.transfer)
    chance = chance_noticed(second, asked.noise)
    chances = with_lapses({ONE: 1.0 - chance, DOUBLED: chance}, asked.traits.lapse, forced=False)
    return Answer(chances=chances, facts={"second_image": second})


def chance_noticed(second: float, noise: float = 1.0) -> float:
    """Return the chance that a second image of a height is noticed."""
    return chance_below((second - NOTICED) / (NOTICED_SD * noise))


def second_image(transfer: TransferFunction) -> float:
    """Return the height of a point's second image as a share of the first; 0 if there is none.

    After the neural transfer; an image counts where it is higher than all around it and more
    than 2 minutes of arc away.
    """
    seen = _point(transfer)
    step = 60.0 * FIELD_DEG / POINTS
    peak = np.unravel_index(int(seen.argmax()), seen.shape)
    around = [np.roll(seen, shift, (0, 1)) for shift in _NEIGHBOURS]
    top = np.all([seen > other for other in around], axis=0)
    rows, columns = np.nonzero(top)
    apart = step * np.hypot(_wrapped(rows - int(peak[0])), _wrapped(columns - int(peak[1])))
    heights = seen[rows, columns][apart > APART_ARCMIN]
    if not len(heights):
        return 0.0
    return max(0.0, float(heights.max() / seen[peak]))


_NEIGHBOURS = [(y, x) for y in (-1, 0, 1) for x in (-1, 0, 1) if (y, x) != (0, 0)]


def _wrapped(places: np.ndarray) -> np.ndarray:
    wrapped: np.ndarray = (places + POINTS // 2) % POINTS - POINTS // 2
    return wrapped


def _point(transfer: TransferFunction) -> FloatArray:
    """Return a point's image on a square of one degree, without its mean, (points, points)."""
    x_cpd = np.arange(POINTS // 2 + 1) / FIELD_DEG
    y_cpd = np.fft.fftfreq(POINTS, FIELD_DEG / POINTS)
    weight = neural_transfer(np.hypot(x_cpd, y_cpd[:, np.newaxis]))
    order = np.argsort(y_cpd)
    values = np.zeros((POINTS, len(x_cpd)), complex)
    inside_x = x_cpd <= transfer.limit_cpd
    inside_y = np.abs(y_cpd[order]) <= transfer.limit_cpd
    block = transfer.on_grid(x_cpd[inside_x], y_cpd[order][inside_y])
    values[np.ix_(order[inside_y], np.flatnonzero(inside_x))] = block
    image: FloatArray = np.fft.irfft2(values * weight, (POINTS, POINTS))
    return image
