"""The engine's timings, one core, grouped under their budgets, which are never asserted.

``python -m pytest tests/benchmarks --benchmark-only`` prints the table; ordinary runs skip it.
"""

import math
import statistics
import struct
import time
import zlib
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from prysm.propagation import Wavefront as LibraryWavefront

from optics.evidence.likelihood import NEAR_M, Asking, RowRead
from optics.evidence.posterior import prior, update
from optics.eye.chromatic import Spectrum, chromatic_defocus_d, white_light
from optics.eye.eye import ordinary_pair, required_vergence
from optics.eye.grid import Field, fast_size
from optics.eye.lattice import EDGE_STEPS
from optics.eye.transfer import Accuracy, transfer_function
from optics.eye.wavefront import Wavefront, aberration_path, defocus_path
from optics.eye.zernike import evaluate, mirrored
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
from tests.forms import field_of, sampled
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


FACES = ((0.25, 0.0, 0.0), (-0.25, 0.0, 0.0))
DISTANCES = tuple((-1.0 / at, 0.0, 0.0) for at in NEAR_M)
TOLD = (
    (Asking(question=Question.WHICH, vergences=FACES), "same"),
    (Asking(question=Question.NEARER, vergences=DISTANCES), "top-6"),
)


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


@pytest.mark.parametrize("accuracy", Accuracy)
@pytest.mark.parametrize("pupil_mm", [2.0, 4.0, 6.0])
def test_transfer_function_by_pupil(benchmark, pupil_mm, accuracy):
    benchmark.group = "transfer by pupil, 1 D"
    assert benchmark(transfer_function, replace(wave(1.0), pupil_mm=pupil_mm), accuracy)


@pytest.mark.parametrize("count", [1, 3, 7, 14])
def test_transfer_function_by_wavelengths(benchmark, count):
    benchmark.group = "transfer by wavelengths, 4 mm, 1 D"
    assert benchmark(transfer_function, wave(1.0), spectrum=white_light(count))


@pytest.mark.parametrize("times", [1.0, 2.0, 4.0])
def test_transfer_function_by_samples(benchmark, times):
    benchmark.group = "transfer by samples across the pupil, 4 mm, 1 D"
    assert benchmark(sampled, wave(1.0), white_light(7), times)


def by_library(pupils: list[tuple], field: Field) -> np.ndarray:
    """Return a general library's point image with our samples, amplitude and phase given it."""
    total = np.zeros((field.size, field.size))
    step_deg = 1.0 / (field.step_cpd * field.size)
    for amplitude, phase_nm, step_mm, wavelength_nm, weight in pupils:
        pupil = LibraryWavefront.from_amp_and_phase(
            amplitude, phase_nm, wavelength_nm / 1000.0, step_mm
        )
        image = pupil.focus_fixed_sampling(1000.0, math.radians(step_deg) * 1e6, field.size)
        energy = np.abs(image.data) ** 2
        total += weight * energy / energy.sum()
    return total


def lattices(one: Wavefront, light: Spectrum, field: Field) -> list[tuple]:
    """Return amplitude, phase in nm, step in mm, wavelength and weight of each wavelength."""
    found = []
    for wavelength_nm, weight in zip(light.wavelengths_nm, light.weights, strict=True):
        step_mm = wavelength_nm * 1e-6 * math.degrees(field.step_cpd)
        path = one.path + defocus_path((chromatic_defocus_d(wavelength_nm), 0.0, 0.0))
        half = math.ceil(one.radius_mm() / step_mm) + 1
        x, y = np.meshgrid(*2 * (np.arange(-half, half + 1) * step_mm,))
        amplitude = one.amplitude(x, y, EDGE_STEPS * step_mm)
        found.append((amplitude, 1000.0 * evaluate(path, x, y), step_mm, wavelength_nm, weight))
    return found


def test_transfer_function_next_to_a_general_library(benchmark, capsys):
    one, light = wave(1.0), white_light(7)
    field, _ = field_of(one, light)
    pupils = lattices(one, light, field)
    theirs = by_library(pupils, field)
    middle = field.size // 2
    folded = sum(theirs[::up, ::right][middle:, middle:] for up in (1, -1) for right in (1, -1))
    apart = np.abs(transfer_function(one).parts[0] - folded / 4.0).max() / theirs.max()
    assert apart < 0.01  # the same image
    ours_ms = median_ms(lambda: transfer_function(one))
    theirs_ms = median_ms(lambda: by_library(pupils, field), 10)
    with capsys.disabled():
        print(f"\ntransfer {ours_ms:.1f} ms, a general library's images {theirs_ms:.1f} ms")
    benchmark.group = "transfer next to a general library"
    benchmark(by_library, pupils, field)


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
@pytest.mark.parametrize("told", TOLD, ids=["which", "nearer"])
def test_an_answer_told_to_the_posterior(benchmark, laid, told):
    noted(benchmark, "posterior")
    known = prior(plain_supposed(6.0))
    if laid == "refined":
        rows = tuple(
            RowRead(size_logmar=round(1.0 - 0.1 * k, 1), right=5, letters=5) for k in range(11)
        )
        reading = Asking(question=Question.READ_DOWN, vergences=((0.0, 0.0, 0.0),))
        known, _ = update(known, reading, rows)
    assert benchmark(update, known, *told)
