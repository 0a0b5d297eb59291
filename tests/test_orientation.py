"""Strokes of every direction count, in reading and in comparing."""

import numpy as np
import pytest

from optics.sight.clarity import clarity
from optics.sight.letters import sloan_spectra
from optics.sight.orientation import part_taken, shares_of
from tests.acceptance.eyes import astigmatism, ordinary

LINE_LOGMAR = 0.5  # about the smallest that an eye reads without its cylinder of 2.50 D
SPHERES_D = np.arange(-1.5, 1.6, 0.125)


def crossed(upright: complex) -> tuple[np.ndarray, np.ndarray]:
    """Return contrast and transfers of a detail of two directions, of which one is seen whole."""
    letters = sloan_spectra()
    level = np.isclose(letters.uy, 0.0) & ~np.isclose(letters.ux, 0.0)
    erect = np.isclose(letters.ux, 0.0) & ~np.isclose(letters.uy, 0.0)
    contrast = (level / level.sum() + erect / erect.sum())[np.newaxis]
    seen = np.where(erect, upright, 1.0)[np.newaxis].astype(np.complex64)
    return contrast, seen


# of energies 1 and a^2 of two directions: (1 + a^2)^2 / (2 (1 + a^4)), whatever the phase
@pytest.mark.parametrize(
    ("upright", "part"),
    [(1.0, 1.0), (0.0, 0.5), (0.5, 1.5625 / 2.125), (-0.5, 1.5625 / 2.125), (0.5j, 1.5625 / 2.125)],
)
def test_the_part_that_two_directions_take(upright, part):
    contrast, seen = crossed(upright)
    found = part_taken(shares_of(contrast), contrast, seen)
    assert found == pytest.approx([part], rel=1e-5)


def test_a_veil_over_all_directions_leaves_each_its_part():
    contrast, seen = crossed(1.0)
    assert part_taken(shares_of(contrast), contrast, 0.1 * seen) == pytest.approx([1.0], rel=1e-5)


def test_astigmats_see_clearest_and_read_best_about_the_circle_of_least_confusion():
    """Neither focal line pleases more. Common practice, no source: there a sphere ends."""
    for one in ordinary(4, first=61_001):
        bent = astigmatism(2.5, one.rng(7).uniform(0.0, 180.0))
        seen = [one.view((m, *bent)).right for m in SPHERES_D]
        clear = [float(clarity(eye.transfer, (LINE_LOGMAR,), eye.nerve)[0]) for eye in seen]
        read = [eye.reading.acuity_logmar for eye in seen]
        best = int(np.argmax(clear))
        assert abs(SPHERES_D[best]) <= 0.25
        assert read[best] <= min(read) + 0.03
