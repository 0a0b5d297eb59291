"""Letters are geometry, and the reader's closed form is the reader it stands for."""

import math
from itertools import pairwise

import numpy as np
import pytest

from optics.errors import TargetError
from optics.eye.eye import ordinary_eye, ordinary_pair
from optics.eye.transfer import transfer_function
from optics.eye.wavefront import Wavefront, aberration_path, defocus_path
from optics.eye.zernike import mirrored
from optics.light.frame import TrialFrame
from optics.light.lens import EyeSide
from optics.patient.replies import read_rows
from optics.sight.letters import LETTERS, RINGS, SLOAN, letter_ink, ring_spectra, sloan_spectra
from optics.sight.neural import neural_transfer
from optics.sight.probit import normal_cdf, probit
from optics.sight.reader import GUESS, STEEPER, Reading, read_letters
from optics.sight.targets import CHART_LINES_LOGMAR, Row, Wall, chart_size_arcmin, laid_out
from optics.sight.view import look
from optics.units import (
    decimal_acuity,
    feet_snellen,
    letter_height_deg,
    letter_height_mm,
    metric_snellen,
)

PIXELS = 500
FIFTH = PIXELS // 5

# a point in the middle of a stroke and the direction of that stroke, both in fifths of the
# letter, x to the right, y up; how the letter is built (Sloan, Am J Ophthalmol 1959, memory)
STROKES = {
    "C": [((0.5, 2.5), 90), ((2.5, 0.5), 0), ((2.5, 4.5), 0), ((0.73, 0.73), 135)],
    "D": [((0.5, 2.5), 90), ((1.5, 4.5), 0), ((1.5, 0.5), 0), ((4.5, 2.5), 90)],
    "H": [((0.5, 1.0), 90), ((4.5, 4.0), 90), ((2.5, 2.5), 0)],
    "K": [((0.5, 0.8), 90), ((3.3, 4.12), 42.8), ((3.9, 0.65), 126.9)],
    "N": [((0.5, 1.0), 90), ((4.5, 4.0), 90), ((2.5, 2.5), 126.9)],
    "O": [((0.5, 2.5), 90), ((4.5, 2.5), 90), ((2.5, 4.5), 0), ((3.91, 3.91), 135)],
    "R": [((0.5, 1.0), 90), ((2.0, 4.5), 0), ((2.0, 2.5), 0), ((3.9, 0.76), 123.4)],
    "S": [((2.5, 4.5), 0), ((2.5, 2.5), 0), ((2.5, 0.5), 0), ((0.5, 3.5), 90)],
    "V": [((1.3, 3.06), 111.4), ((3.7, 3.06), 68.6)],
    "Z": [((2.5, 4.5), 0), ((2.5, 0.5), 0), ((2.5, 2.5), 40.8)],
}


def run_across(ink: np.ndarray, point, direction_deg: float) -> float:
    """Return the length of ink through a point at right angles to a stroke, in fifths."""
    across = math.radians(direction_deg + 90.0)
    step = 0.25 / FIFTH
    reach = [0, 0]
    for index, sign in enumerate((1.0, -1.0)):
        for count in range(1, 2000):
            x = point[0] + sign * count * step * math.cos(across)
            y = point[1] + sign * count * step * math.sin(across)
            column, row = math.floor(x * FIFTH), math.floor((5.0 - y) * FIFTH)
            if not (0 <= column < PIXELS and 0 <= row < PIXELS) or ink[row, column] < 0.5:
                break
            reach[index] = count
    return (sum(reach) + 1) * step


@pytest.mark.parametrize("letter", SLOAN)
def test_every_stroke_is_a_fifth_of_the_letter(letter):
    # ISO 10938: sizes within 5 %
    ink = letter_ink(letter, PIXELS, 2)
    for point, direction_deg in STROKES[letter]:
        assert run_across(ink, point, direction_deg) == pytest.approx(1.0, rel=0.05), point


@pytest.mark.parametrize("letter", SLOAN)
def test_a_letter_fills_its_square_and_no_more(letter):
    inked = letter_ink(letter, PIXELS, 2) > 0.5
    rows, columns = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
    assert (rows[0], rows[-1]) == (0, PIXELS - 1)
    assert columns[0] == 0
    assert columns[-1] >= PIXELS - (FIFTH * 0.15 if letter == "C" else 1)  # the gap opens C
    for shape in LETTERS[letter]:
        for x, y in shape.corners:
            assert 0.0 <= x <= 5.0
            assert 0.0 <= y <= 5.0


def test_c_differs_from_o_in_its_gap_alone():
    apart = letter_ink("O", PIXELS, 2) - letter_ink("C", PIXELS, 2)
    assert apart.min() == 0.0
    rows, columns = np.nonzero(apart)
    assert (rows.min(), rows.max()) == (2 * FIFTH, 3 * FIFTH - 1)  # one stroke high, in the middle
    assert columns.min() >= 3 * FIFTH  # on the right, through the ring alone
    assert apart[2 * FIFTH : 3 * FIFTH, 4 * FIFTH + 5 : -5].min() == 1.0


@pytest.mark.parametrize("letter", ["H", "O", "N", "Z", "S"])
def test_turned_letters_are_what_half_a_turn_makes_of_them(letter):
    ink = letter_ink(letter, 100)
    assert ink[::-1, ::-1] == pytest.approx(ink, abs=0.3)
    assert np.abs(ink[::-1, ::-1] - ink).mean() < 0.003


@pytest.mark.parametrize("letter", ["A", "c", "", "CC", "<b>"])
def test_other_letters_are_refused(letter):
    with pytest.raises(TargetError, match="must be one of CDHKNORSVZ"):
        letter_ink(letter, 50)
    with pytest.raises(TargetError, match="holds letters of"):
        Row(size_logmar=0.0, letters=letter if letter != "CC" else "CCA")


# h = 2 d tan(2.5' x 10^logMAR), ISO 8596, in mm to the digits shown
@pytest.mark.parametrize(
    ("size_logmar", "at_4_m", "at_6_m"),
    [
        *((1.0, 58.18, 87.27), (0.8, 36.71, 55.06), (0.6, 23.16, 34.74), (0.5, 18.40, 27.60)),
        *((0.4, 14.61, 21.92), (0.3, 11.61, 17.41), (0.2, 9.22, 13.83), (0.1, 7.32, 10.99)),
        *((0.0, 5.818, 8.727), (-0.1, 4.62, 6.93), (-0.2, 3.67, 5.51), (-0.3, 2.92, 4.37)),
    ],
)
def test_letters_are_printed_as_high_as_the_standard_has_them(size_logmar, at_4_m, at_6_m):
    assert letter_height_mm(size_logmar, 4.0) == pytest.approx(at_4_m, rel=0.003)
    assert letter_height_mm(size_logmar, 6.0) == pytest.approx(at_6_m, rel=0.003)


# the usual names of the steps (common practice, no source)
@pytest.mark.parametrize(
    ("acuity_logmar", "metric", "feet", "decimal"),
    [
        *(
            (1.0, "6/60", "20/200", 0.10),
            (0.8, "6/38", "20/126", 0.16),
            (0.6, "6/24", "20/80", 0.25),
        ),
        *(
            (0.3, "6/12", "20/40", 0.50),
            (0.2, "6/9.5", "20/32", 0.63),
            (0.1, "6/7.5", "20/25", 0.79),
        ),
        *((0.0, "6/6", "20/20", 1.0), (-0.1, "6/4.8", "20/16", 1.26), (-0.3, "6/3", "20/10", 2.0)),
    ],
)
def test_an_acuity_has_its_usual_names(acuity_logmar, metric, feet, decimal):
    assert metric_snellen(acuity_logmar) == metric
    assert feet_snellen(acuity_logmar) == feet
    assert decimal_acuity(acuity_logmar) == pytest.approx(decimal, abs=0.005)


def test_a_chart_is_laid_out_as_bailey_and_lovie_have_it():
    # a letter's width between letters, rows apart by the height of the lower one (1976)
    rows = tuple(Row(size_logmar=size, letters="CDHKN") for size in CHART_LINES_LOGMAR[:3])
    laid = list(laid_out(rows))
    wide, tall = chart_size_arcmin(rows)
    for first, second in pairwise(laid):
        if first.height_arcmin == second.height_arcmin:
            gap = second.x_arcmin - first.x_arcmin - first.height_arcmin
            assert gap == pytest.approx(first.height_arcmin)
            assert second.y_arcmin == first.y_arcmin
        else:
            gap = first.y_arcmin - second.y_arcmin
            gap -= (first.height_arcmin + second.height_arcmin) / 2.0
            assert gap == pytest.approx(second.height_arcmin)
            assert second.height_arcmin == pytest.approx(first.height_arcmin / 10.0**0.1, rel=1e-6)
    top, bottom = laid[0], laid[-1]
    assert top.y_arcmin + top.height_arcmin / 2 == pytest.approx(tall / 2)
    assert bottom.y_arcmin - bottom.height_arcmin / 2 == pytest.approx(-tall / 2)
    assert top.x_arcmin - top.height_arcmin / 2 == pytest.approx(-wide / 2)


def transfer_of(m: float, j0: float = 0.0, j45: float = 0.0, pupil_mm: float = 4.0):
    eye = ordinary_eye(EyeSide.RIGHT, (0.0, 0.0, 0.0))
    path = mirrored(aberration_path(eye) + defocus_path((m, j0, j45)))
    return transfer_function(Wavefront(path=path, pupil_mm=pupil_mm))


def memories_alike(size_logmar: float) -> np.ndarray:
    """Return how alike the sharp letters are after the neural transfer, (10, 10)."""
    letters = sloan_spectra()
    radius = np.hypot(letters.ux, letters.uy) / letter_height_deg(size_logmar)
    seen = letters.distinct * neural_transfer(radius) * np.sqrt(letters.count)
    gram = (seen @ seen.conj().T).real
    return gram / np.sqrt(np.outer(np.diag(gram), np.diag(gram)))


def simulated(reading: Reading, rng: np.random.Generator, trials: int = 8_000) -> np.ndarray:
    """Return the share of trials in which the shown letter's noisy match is the largest."""
    right = np.zeros((len(reading.sizes_logmar), 10))
    for index, size_logmar in enumerate(reading.sizes_logmar):
        values, vectors = np.linalg.eigh(memories_alike(size_logmar))
        spread = vectors * np.sqrt(np.maximum(values, 0.0))
        for letter in range(10):
            noise = rng.standard_normal((trials, 10)) @ spread.T
            answers = (reading.match[index, letter] + noise).argmax(axis=1)
            right[index, letter] = (answers == letter).mean()
    return right


def threshold(sizes_logmar, right: np.ndarray) -> float:
    """Return the size where the mean, corrected for guessing, passes one half."""
    z = probit((right.mean(axis=1) - GUESS) / (1.0 - GUESS))
    last = int(np.flatnonzero(z < 0.0)[-1])
    part = -z[last] / (z[last + 1] - z[last])
    return sizes_logmar[last] + part * (sizes_logmar[last + 1] - sizes_logmar[last])


@pytest.mark.parametrize(
    ("m", "j0", "j45"), [(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.5, 0.5), (-0.75, 0.0, 0.25)]
)
def test_the_closed_form_is_the_reader_that_draws_its_noise(m, j0, j45):
    transfer = transfer_of(m, j0, j45)
    middle = round(read_letters(transfer).acuity_logmar, 1)
    sizes = tuple(round(middle + 0.1 * step, 1) for step in range(-2, 3))
    reading = read_letters(transfer, sizes)
    drawn = simulated(reading, np.random.default_rng(20261124))
    assert reading.acuity_logmar == pytest.approx(threshold(sizes, drawn), abs=0.01)
    # what people's steeper curves add is put on the mean's probit and taken off again here
    z = probit((reading.right.mean(axis=1) - GUESS) / (1.0 - GUESS)) / STEEPER
    expected = GUESS + (1.0 - GUESS) * normal_cdf(z)
    assert expected == pytest.approx(drawn.mean(axis=1), abs=0.03)


@pytest.mark.parametrize("letter", SLOAN)
@pytest.mark.parametrize("size_logmar", [-0.4, 0.0, 0.33, 1.0])
def test_ten_answers_share_all_the_chances(letter, size_logmar):
    named = read_letters(transfer_of(0.75)).named(letter, size_logmar)
    assert named.sum() == pytest.approx(1.0, abs=1e-9)
    assert named.min() >= 0.0


@pytest.mark.parametrize(("shown", "taken_for"), [("C", "O"), ("O", "C"), ("H", "N"), ("N", "H")])
def test_letters_of_like_shape_are_taken_for_each_other(shown, taken_for):
    # near the limit of an eye in focus, what people confuse (common practice, no source)
    named = read_letters(transfer_of(0.0)).named(shown, 0.0)
    named[SLOAN.index(shown)] = 0.0
    assert SLOAN[int(named.argmax())] == taken_for


def test_larger_letters_are_read_better():
    reading = read_letters(transfer_of(1.0))
    chances = [reading.of_line(size) for size in (0.0, 0.2, 0.4, 0.6, 1.0)]
    assert chances == sorted(chances)
    assert chances[0] < 0.3
    assert chances[-1] > 0.99


# Phi to five digits (Abramowitz & Stegun, Table 26.1)
@pytest.mark.parametrize(
    ("z", "probability"),
    [(0.0, 0.5), (0.5, 0.69146), (1.0, 0.84134), (1.96, 0.97500), (-1.0, 0.15866), (3.0, 0.99865)],
)
def test_the_normal_table_is_the_handbooks(z, probability):
    assert normal_cdf(np.array([z]))[0] == pytest.approx(probability, abs=6e-6)
    assert probit(np.array([probability]))[0] == pytest.approx(z, abs=2e-3)


# ---- rings (ISO 8596: five strokes across, stroke and gap one stroke)

TO_THE_GAP = dict(
    zip(
        "→↗↑↖←↙↓↘",
        ((1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1)),
        strict=True,
    )
)
# between two circles, one stroke wide with parallel sides, in strokes squared
BESIDE = np.linspace(-0.5, 0.5, 1001)
GAP_AREA = np.trapezoid(np.sqrt(6.25 - BESIDE**2) - np.sqrt(2.25 - BESIDE**2), BESIDE)


def test_there_are_eight_rings_and_a_row_holds_rings_or_letters():
    assert set(RINGS) == TO_THE_GAP.keys()
    assert not set(RINGS) & set(SLOAN)
    assert Row(size_logmar=0.0, letters=RINGS).letters == RINGS
    with pytest.raises(TargetError, match="letters of CDHKNORSVZ or rings of →↗↑↖←↙↓↘, got 'C→'"):
        Row(size_logmar=0.0, letters="C→")


@pytest.mark.parametrize("ring", RINGS)
def test_the_gap_lies_where_the_arrow_points(ring):
    missing = letter_ink("O", PIXELS, 2) - letter_ink(ring, PIXELS, 2)
    assert missing.min() >= 0.0
    at = (np.arange(PIXELS) + 0.5) / FIFTH - 2.5
    x = float((missing.sum(axis=0) * at).sum() / missing.sum())
    y = float(-(missing.sum(axis=1) * at).sum() / missing.sum())
    right, up = TO_THE_GAP[ring]
    # the gap's middle: 2 strokes out but for the curve of both edges
    assert math.hypot(x, y) == pytest.approx(2.0, abs=0.05)
    assert x * up - y * right == pytest.approx(0.0, abs=0.01)
    assert x * right + y * up > 0.0
    assert missing.sum() / FIFTH**2 == pytest.approx(GAP_AREA, rel=0.01)
    across = math.radians(90.0) + math.atan2(up, right)
    for out in (1.7, 2.3):
        for side, open_there in ((0.45, 1.0), (0.55, 0.0)):
            for sign in (-1.0, 1.0):
                px = 2.5 + out * math.cos(across - math.pi / 2) + sign * side * math.cos(across)
                py = 2.5 + out * math.sin(across - math.pi / 2) + sign * side * math.sin(across)
                found = missing[math.floor((5.0 - py) * FIFTH), math.floor(px * FIFTH)]
                assert found == open_there


@pytest.mark.parametrize("place", range(8))
def test_a_quarter_of_a_turn_makes_one_ring_of_another(place):
    turned = np.rot90(letter_ink(RINGS[place], 200))
    other = letter_ink(RINGS[(place + 2) % 8], 200)
    assert np.abs(turned - other).max() <= 0.25  # a point on an edge falls to one side
    assert np.abs(turned - other).mean() < 1e-3


def test_the_rings_spectra_are_those_of_rings():
    rings = ring_spectra()
    assert rings.spectra.shape == (8, len(rings.ux))
    assert (rings.ux == sloan_spectra().ux).all()
    zero = int(np.flatnonzero((rings.ux == 0.0) & (rings.uy == 0.0))[0])
    area = math.pi / 4.0 * (1.0 - 0.6**2) - GAP_AREA / 25.0
    assert rings.spectra[:, zero].real == pytest.approx(area, rel=0.002)
    assert rings.spectra[0] == pytest.approx(sloan_spectra().spectra[SLOAN.index("C")])
    # what is missing on the right leaves more ink left: the sine part there is positive
    beside = int(np.flatnonzero((rings.uy == 0.0) & (np.abs(rings.ux - 1 / 3) < 1e-9))[0])
    sines = dict(zip(RINGS, rings.spectra[:, beside].imag, strict=True))
    for ring, (right, _) in TO_THE_GAP.items():
        assert (sines[ring] > 1e-3, sines[ring] < -1e-3) == (right > 0, right < 0)


def test_rings_are_read_by_where_their_gap_lies():
    """Eight ways, so a guess is right one time in eight; astigmatism blurs gaps its own way."""
    view = look(ordinary_pair((-3.0, 0.0, 0.0), (-3.0, 0.0, 0.0), age_y=30.0), TrialFrame(), Wall())
    reading = view.right.reading_rings
    assert reading is not None
    assert reading.of_line(-0.4) == pytest.approx(1.0 / 8.0, abs=0.03)
    assert reading.of_line(2.0) == pytest.approx(1.0, abs=1e-3)
    for ring in RINGS:
        named = reading.named(ring, 1.4)
        assert named.sum() == pytest.approx(1.0)
        assert RINGS[int(named.argmax())] == ring


def test_a_row_of_rings_is_answered_with_rings():
    view = look(ordinary_pair((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), age_y=30.0), TrialFrame(), Wall())
    [reply] = read_rows(view, (Row(size_logmar=0.5, letters=RINGS[:5]),))
    assert reply.tried
    assert [len(chances) for chances in reply.chances] == [8] * 5
    assert all(np.argmax(chances) == place for place, chances in enumerate(reply.chances))
