"""The engine's timings, one core, grouped under their budgets, which are never asserted.

``python -m pytest tests/benchmarks --benchmark-only`` prints the table; ordinary runs skip it.
"""

import statistics
import struct
import time
import zlib
from collections.abc import Callable

import numpy as np
import pytest

from optics.evidence.likelihood import Asking, RowRead
from optics.evidence.posterior import prior, update
from optics.eye.eye import ordinary_pair, required_vergence
from optics.eye.grid import fast_size
from optics.eye.transfer import transfer_function
from optics.eye.wavefront import Wavefront, aberration_path, defocus_path
from optics.eye.zernike import mirrored
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.power import SpheroCylinder
from optics.patient.questions import Question
from optics.sight import focus
from optics.sight.canvas import canvas_for, canvas_on
from optics.sight.end_point import end_point
from optics.sight.letters import SLOAN
from optics.sight.picture import blurred_picture
from optics.sight.raster import Pattern
from optics.sight.reader import read_letters
from optics.sight.scene import Scene
from optics.sight.targets import Row, Wall
from optics.sight.view import look
from tests.supposed_eyes import plain_supposed

BUDGET_MS = {
    "transfer": 12.0,
    "picture": 25.0,
    "lens": 60.0,
    "colour": 90.0,
    "closer": 25.0,
    "acuity": 1.0,
    "posterior": 20.0,
}
TWELVE_SIZES = tuple(round(-0.3 + 0.1 * step, 1) for step in range(12))
ROWS = tuple(
    Row(size_logmar=size, letters=(SLOAN * 2)[start : start + 5])
    for start, size in enumerate((0.5, 0.4, 0.3, 0.2, 0.1, 0.0))
)
NEED = required_vergence(SpheroCylinder(sphere_d=1.5, cylinder_d=-1.0, axis_deg=30.0), 12.0, 6.0)
EYES = ordinary_pair(NEED, NEED, age_y=25.0)
OCCLUDER = PlacedLens(lens=TrialLens(kind=LensKind.OCCLUDER))


def wave(defocus_d: float) -> Wavefront:
    """Return the average eye with a 4 mm pupil."""
    path = mirrored(aberration_path(EYES.right) + defocus_path((defocus_d, 0.1, -0.1)))
    return Wavefront(path=path, pupil_mm=4.0)


def encoded(picture: np.ndarray) -> bytes:
    """Return a picture, grey or in colour, as PNG, compression level 1."""
    height, width = picture.shape[:2]
    lines = np.zeros((height, picture.size // height + 1), np.uint8)
    lines[:, 1:] = picture.reshape(height, -1)

    def chunk(name: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2 * (picture.ndim - 2), 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(lines.tobytes(), 1))
        + chunk(b"IEND", b"")
    )


def frame_with(sphere_d: float) -> TrialFrame:
    lens = PlacedLens(lens=TrialLens(kind=LensKind.SPHERE, power_d=sphere_d))
    return (
        TrialFrame()
        .with_lens(EyeSide.RIGHT, Place.CELL_1, lens)
        .with_lens(EyeSide.LEFT, Place.CELL_1, OCCLUDER)
    )


def noted(benchmark, name: str) -> None:
    benchmark.group = f"{name}: budget {BUDGET_MS[name]:g} ms"


@pytest.mark.parametrize("defocus_d", [0.0, 1.0, 3.0, 6.0])
def test_transfer_function_of_seven_wavelengths(benchmark, defocus_d):
    noted(benchmark, "transfer")
    assert benchmark(transfer_function, wave(defocus_d)) is not None


def test_picture_with_a_known_transfer_function(benchmark):
    noted(benchmark, "picture")
    canvas, transfer = canvas_for(Scene(rows=ROWS)), transfer_function(wave(0.75))
    assert benchmark(lambda: encoded(blurred_picture(Pattern(rows=ROWS), canvas, transfer)))


def floor_of(picture: np.ndarray) -> Callable[[], bytes]:
    """Return the work that no picture can do without: one transform back, and the encoding."""
    tall, wide = (fast_size(side + side // 4) for side in picture.shape)
    spectrum = np.fft.rfft2(np.zeros((tall, wide), np.float32))

    def run() -> bytes:
        np.fft.irfft2(spectrum, (tall, wide))
        return encoded(picture)

    return run


def test_floor_of_a_picture(benchmark):
    noted(benchmark, "picture")
    picture = blurred_picture(
        Pattern(rows=ROWS), canvas_for(Scene(rows=ROWS)), transfer_function(wave(0.75))
    )
    assert benchmark(floor_of(picture))


def median_ms(run: Callable[[], object], rounds: int = 40) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        run()
        times.append(1000.0 * (time.perf_counter() - start))
    return statistics.median(times)


def test_picture_over_its_floor(benchmark, capsys):
    # both timed in turn in one run, so that what else the machine does weighs on both
    canvas, transfer = canvas_for(Scene(rows=ROWS)), transfer_function(wave(0.75))
    floor = floor_of(blurred_picture(Pattern(rows=ROWS), canvas, transfer))

    def picture() -> bytes:
        return encoded(blurred_picture(Pattern(rows=ROWS), canvas, transfer))

    ours_ms, floor_ms = median_ms(picture), median_ms(floor)
    noted(benchmark, "picture")
    with capsys.disabled():
        print(
            f"\npicture {ours_ms:.1f} ms, floor {floor_ms:.1f} ms: {ours_ms / floor_ms:.2f} times"
        )
    benchmark(picture)


@pytest.mark.parametrize("kept", [False, True], ids=["first", "after others"])
def test_lens_change_to_picture_with_the_focus_found(benchmark, kept):
    noted(benchmark, "lens")
    canvas = canvas_for(Scene(rows=ROWS))
    steps = iter(range(1, 100_000))
    forget = getattr(getattr(focus, "_drive", None), "cache_clear", lambda: None)

    def change() -> bytes:
        if not kept:
            forget()
        sphere_d = 0.25 * (next(steps) % 12) - 1.375
        view = look(EYES, frame_with(sphere_d), Wall(rows=ROWS))
        return encoded(blurred_picture(Pattern(rows=ROWS), canvas, view.right.transfer))

    assert benchmark(change)


@pytest.mark.parametrize("name", ["red", "green"])
def test_lens_change_to_picture_in_colour(benchmark, name):
    noted(benchmark, "colour")
    canvas, glass = canvas_for(Scene(rows=ROWS)), PlacedLens(lens=TrialLens(kind=LensKind(name)))
    steps = iter(range(1, 100_000))

    def change() -> bytes:
        sphere_d = 0.25 * (next(steps) % 12) - 1.375
        frame = frame_with(sphere_d).with_lens(EyeSide.RIGHT, Place.CELL_3, glass)
        return encoded(look(EYES, frame, Wall(rows=ROWS)).right.picture(Scene(rows=ROWS), canvas))

    assert benchmark(change)


@pytest.mark.parametrize("defocus_d", [0.0, 1.0, 3.0, 10.0])
def test_picture_of_one_line_closer(benchmark, defocus_d):
    noted(benchmark, "closer")
    canvas, transfer = canvas_on(Scene(rows=ROWS), len(ROWS)), transfer_function(wave(defocus_d))
    assert benchmark(lambda: encoded(blurred_picture(Pattern(rows=ROWS), canvas, transfer)))


def test_acuity_of_twelve_sizes(benchmark):
    noted(benchmark, "acuity")
    transfer = transfer_function(wave(1.0))
    assert benchmark(lambda: read_letters(transfer, TWELVE_SIZES).acuity_logmar) is not None


def test_end_point_search(benchmark):
    assert benchmark.pedantic(end_point, (EYES, EyeSide.RIGHT), rounds=3, warmup_rounds=1)


@pytest.mark.parametrize("laid", ["first grid", "refined"])
def test_an_answer_told_to_the_posterior(benchmark, laid):
    noted(benchmark, "posterior")
    known = prior(plain_supposed(6.0))
    if laid == "refined":
        rows = tuple(
            RowRead(size_logmar=round(1.0 - 0.1 * k, 1), right=5, letters=5) for k in range(11)
        )
        reading = Asking(question=Question.READ_DOWN, vergences=((0.0, 0.0, 0.0),))
        known, _ = update(known, reading, rows)
    faces = ((0.25, 0.0, 0.0), (-0.25, 0.0, 0.0))
    asking = Asking(question=Question.WHICH, vergences=faces)
    assert benchmark(update, known, asking, "same")
