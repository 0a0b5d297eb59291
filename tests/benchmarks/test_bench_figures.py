"""Timings of figures and panels, beside those of letters."""

import pytest

from optics.eye.transfer import transfer_function
from optics.light.frame import TrialFrame
from optics.sight import figures, raster
from optics.sight.canvas import canvas_for
from optics.sight.figures import Figure, FigureKind
from optics.sight.picture import blurred_picture, pattern_of
from optics.sight.scene import Scene
from optics.sight.targets import Wall
from optics.sight.view import look
from tests.benchmarks.test_bench_optics import EYES, ROWS, encoded, frame_with, noted, wave


@pytest.mark.parametrize("kind", FigureKind)
@pytest.mark.parametrize("defocus_d", [0.75, 6.0])
def test_picture_of_a_figure_seen_before(benchmark, kind, defocus_d):
    noted(benchmark, "picture")
    scene, transfer = Scene(figure=Figure(kind=kind)), transfer_function(wave(defocus_d))
    canvas = canvas_for(scene)
    assert benchmark(lambda: encoded(blurred_picture(pattern_of(scene), canvas, transfer)))


@pytest.mark.parametrize("kind", FigureKind)
def test_picture_of_a_figure_never_seen_before(benchmark, kind):
    scene, transfer = Scene(figure=Figure(kind=kind)), transfer_function(wave(0.75))
    canvas = canvas_for(scene)

    def first() -> bytes:
        figures.figure_patch.cache_clear()
        raster._fast_spectrum.cache_clear()
        return encoded(blurred_picture(pattern_of(scene), canvas, transfer))

    assert benchmark(first)


def test_lens_change_to_picture_of_red_and_green(benchmark):
    noted(benchmark, "colour")
    scene = Scene(rows=ROWS, duochrome=True)
    canvas = canvas_for(scene)
    steps = iter(range(1, 100_000))
    look(EYES, TrialFrame(), Wall(rows=ROWS))

    def change() -> bytes:
        sphere_d = 0.25 * (next(steps) % 12) - 1.375
        view = look(EYES, frame_with(sphere_d), Wall(rows=ROWS))
        return encoded(view.right.picture(scene, canvas))

    assert benchmark(change)
