"""An eye's nerve, solved so that its best-corrected acuity is what is stated.

The loss takes most of what the eye reads worse than its optics and age let it; the noise then
meets the stated acuity on the standard wall, at the end point, the other eye covered.
"""

import math
from dataclasses import replace

from optics.errors import EyeError
from optics.eye.eye import EyePair
from optics.eye.grid import TransferFunction
from optics.eye.nerve import Nerve
from optics.light.lens import EyeSide
from optics.sight.end_point import end_point
from optics.sight.reader import read_letters

LOSS_SHARE = 0.8  # of the lost logMAR; amblyopic eyes are coarser rather than noisier
NOISE_FACTORS = (0.25, 20.0)
HALVINGS = 18


def nerve_for(eyes: EyePair, side: EyeSide, best_logmar: float) -> Nerve:
    """Return the nerve with which an eye's best acuity is the stated one.

    Raises
    ------
    EyeError
        If no loss and noise within bounds reach it, naming the range.
    """
    own = eyes.eye(side).nerve
    lost = best_logmar - end_point(eyes, side, roughly=True).acuity_logmar
    loss = max(own.loss, round(own.loss * 10.0 ** (LOSS_SHARE * max(lost, 0.0)), 3))
    coarse = eyes.with_eye(replace(eyes.eye(side), nerve=replace(own, loss=loss)))
    transfer = end_point(coarse, side).transfer
    low, high = (math.log(own.noise * factor) for factor in NOISE_FACTORS)
    finest, coarsest = (_acuity(transfer, loss, noise) for noise in (low, high))
    if not finest <= best_logmar <= coarsest:
        raise EyeError(
            f"this eye's best acuity can be {finest:.2f} to {coarsest:.2f} logMAR"
            f" by its optics, got {best_logmar:g}"
        )
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        if _acuity(transfer, loss, middle) < best_logmar:
            low = middle
        else:
            high = middle
    return Nerve(loss=loss, noise=math.exp((low + high) / 2.0))


def _acuity(transfer: TransferFunction | None, loss: float, log_noise: float) -> float:
    if transfer is None:
        return math.inf
    nerve = Nerve(loss=loss, noise=math.exp(log_noise))
    return read_letters(transfer, nerve=nerve).acuity_logmar
