"""What is seen changes smoothly with defocus, whatever fields and forms the engine takes."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pytest

from optics.eye import transfer
from optics.eye.grid import TransferFunction
from optics.eye.wavefront import Wavefront, defocus_path
from optics.eye.zernike import zernike_path
from optics.sight.canvas import canvas_for
from optics.sight.raster import Pattern, blurred
from optics.sight.reader import read_letters
from optics.sight.scene import Scene
from optics.sight.targets import Row

AVERAGE = {(3, -3): -0.021, (3, -1): -0.032, (3, 1): 0.002, (3, 3): -0.003, (4, 0): 0.094}
STEP_D = 0.02
# 0.02 D apart where all is quick
DEFOCUS_D = np.concatenate([np.arange(0.0, 7.0, STEP_D), np.arange(7.0, 20.0, 10 * STEP_D)])
FORMS = ("sampled_form", "shadow_form", "overlap_form")
ROWS = (Row(size_logmar=1.6, letters="R"), Row(size_logmar=1.0, letters="HSZ"))
CANVAS = canvas_for(Scene(rows=ROWS))


def wave(pupil_mm: float, defocus_d: float) -> Wavefront:
    path = defocus_path((defocus_d, 0.1, -0.1)) + zernike_path(AVERAGE, 3.0)
    return Wavefront(path=path, pupil_mm=pupil_mm)


def acuity_logmar(seen: TransferFunction) -> float:
    return read_letters(seen).acuity_logmar


def contrast(seen: TransferFunction) -> float:
    """Return the standard deviation of the light of a picture of four letters."""
    return float(blurred(Pattern(rows=ROWS), CANVAS, seen).std())


@dataclass(frozen=True)
class Way:
    """The form that the engine takes for a wavefront, with its field and what else it is told."""

    name: str
    told: tuple
    take: Callable[..., TransferFunction]


def borders(pupil_mm: float, monkeypatch) -> list[tuple[float, Way, Way]]:
    """Return where the way changes between 0 and 20 D, with the ways before and after."""
    ways: list[Way] = []
    with monkeypatch.context() as patch:
        for name in FORMS:
            form = getattr(transfer, name)
            patch.setattr(
                transfer,
                name,
                lambda _, *told, name=name, form=form: ways.append(Way(name, told, form)),
            )
        defocus = np.arange(0.0, 20.0, STEP_D)
        for defocus_d in defocus:
            transfer.transfer_function(wave(pupil_mm, float(defocus_d)))

    def kind(way: Way) -> tuple:
        return way.name, way.told[1:3]  # field and limit

    return [
        (float(at), before, after)
        for at, (before, after) in zip(defocus[1:], pairwise(ways), strict=True)
        if kind(before) != kind(after)
    ]


@pytest.mark.parametrize("pupil_mm", [3.0, 4.0, 6.0])
def test_both_ways_show_the_same_at_every_border(pupil_mm, monkeypatch):
    found = borders(pupil_mm, monkeypatch)
    assert len(found) > 20
    assert {way.name for _, before, after in found for way in (before, after)} > {"shadow_form"}
    for at_d, *ways in found:
        one, other = (way.take(wave(pupil_mm, at_d), *way.told) for way in ways)
        assert contrast(one) == pytest.approx(contrast(other), rel=0.01), at_d
        assert acuity_logmar(one) == pytest.approx(acuity_logmar(other), abs=0.03), at_d


@lru_cache(maxsize=3)
def sweep(pupil_mm: float) -> np.ndarray:
    """Return contrast and acuity at every defocus, shape (2, n)."""
    each = (transfer.transfer_function(wave(pupil_mm, defocus_d)) for defocus_d in DEFOCUS_D)
    return np.array([(contrast(seen), acuity_logmar(seen)) for seen in each]).T


@pytest.mark.parametrize("pupil_mm", [3.0, 4.0, 6.0])
def test_contrast_of_a_picture_does_not_jump(pupil_mm):
    steps = np.diff(np.log(sweep(pupil_mm)[0, :350]))
    assert np.abs(np.diff(steps)).max() <= 0.01  # beyond what the step before changed


def largest_jump(pupil_mm: float, low: tuple, high: tuple, limit: float) -> float:
    """Return the most that acuity changes within 0.02 D between two (defocus, acuity)."""
    (low_d, low_logmar), (high_d, high_logmar) = low, high
    change = abs(high_logmar - low_logmar)
    if change <= limit or high_d - low_d < 1.01 * STEP_D:
        return change
    middle_d = (low_d + high_d) / 2.0
    middle = middle_d, acuity_logmar(transfer.transfer_function(wave(pupil_mm, middle_d)))
    halves = (low, middle), (middle, high)
    return max(largest_jump(pupil_mm, *half, limit) for half in halves)


@pytest.mark.parametrize("pupil_mm", [3.0, 4.0, 6.0])
def test_acuity_does_not_jump(pupil_mm):
    points = list(zip(DEFOCUS_D, sweep(pupil_mm)[1], strict=True))
    assert max(largest_jump(pupil_mm, *pair, 0.03) for pair in pairwise(points)) <= 0.03
