"""The neural part of sight: what the retina and beyond let through of each frequency."""

import numpy as np

from optics.units import FloatArray

SURROUND_CPD, DECAY_CPD = 3.0, 7.5  # fitted to published acuities with the reader's noise
HIGHEST_CPD = 60.0


def neural_transfer(frequency_cpd: FloatArray, loss: float = 1.0) -> FloatArray:
    """Return the neural transfer at frequencies (any shape) in cycles per degree.

    An antagonistic surround times an exponential decay, zero above 60 c/deg; a loss above 1
    coarsens it to N(loss f) / loss.
    """
    frequency_cpd = frequency_cpd * loss
    within_cpd = np.minimum(frequency_cpd, HIGHEST_CPD)
    surround = 1.0 - np.exp(-((within_cpd / SURROUND_CPD) ** 2))
    decay = np.exp(-within_cpd / DECAY_CPD)
    passed: FloatArray = np.where(frequency_cpd > HIGHEST_CPD, 0.0, 100.0 * surround * decay / loss)
    return passed
