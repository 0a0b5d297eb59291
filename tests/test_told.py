"""What the answers told: the density over the end point, beside what a hand would derive."""

import math
from dataclasses import replace

import numpy as np
import pytest

from optics.evidence import nominal
from optics.evidence.likelihood import (
    AT_FACE_VALUE,
    WIDENED,
    Asking,
    Points,
    RowRead,
    Widening,
    chances,
    log_chance_of_rows,
)
from optics.evidence.nominal import CLEAR, M_D
from optics.evidence.posterior import Posterior, gained_bits, prior, update
from optics.evidence.telling import enough_at, expected_bits, most_telling
from optics.light.power import SpheroCylinder, power_vector
from optics.patient.lines import spoke_name
from optics.patient.questions import Question
from optics.sight.clarity import COMPARISON_SD
from optics.sight.focus import CONTENT
from tests.supposed_eyes import chance_of_a_letter, plain_eyes, plain_supposed

PLANO = (0.0, 0.0, 0.0)
EXACT = Widening(noise=1.0, lapse=0.0, acuity_logmar=0.0)
WIDE_BITS = math.log2(42.0 * 6.0 * 6.0)  # of an even density over M within 21, J within 3 D


def points(*end_points: tuple[float, float, float]) -> Points:
    m, j0, j45 = np.array(end_points, float).T
    return Points(m_d=m, j0_d=j0, j45_d=j45)


# ---- one letter, one flip, a fan, by hand


def test_before_any_answer_all_is_alike_and_as_wide_as_what_can_be():
    known = prior(plain_supposed())
    assert np.ptp(known.density) < 1e-12
    # a grid's cells reach half a step past its ends: 85/84, 13/12 and 13/12 of the span
    past = math.log2(85 / 84 * (13 / 12) ** 2)
    assert known.entropy_bits == pytest.approx(WIDE_BITS + past, abs=1e-6)
    assert known.mean_d == pytest.approx(PLANO, abs=1e-9)
    assert known.sds_d[0] == pytest.approx(42.0 / math.sqrt(12.0), rel=0.02)


@pytest.mark.parametrize(("right", "letters"), [(1, 1), (0, 1), (3, 5)])
def test_letters_read_weigh_eyes_by_bayes(right, letters):
    near, far = (0.25, 0.0, 0.0), (0.0, 0.75, 0.0)
    row = RowRead(size_logmar=0.2, right=right, letters=letters)
    logs = log_chance_of_rows(plain_supposed(), points(near, far), read_line(0.2), (row,), EXACT)
    # 0.25 and 0.75 are nodes of the table; nobody is surer than 98 %
    p, q = (min(max(chance_of_a_letter(0.2, blur), 0.02), 0.98) for blur in (0.25, 0.75))
    wanted = right * math.log(p / q) + (letters - right) * math.log((1.0 - p) / (1.0 - q))
    # the table's lines are 0.1 logMAR apart, from which the slope is taken: 3 %
    assert logs[:, 0] - logs[:, 1] == pytest.approx(wanted, rel=0.03)


def test_one_letter_on_an_even_density_leaves_it_in_proportion():
    known = prior(plain_supposed(), EXACT)
    row = RowRead(size_logmar=0.2, right=1, letters=1)
    log_chance = log_chance_of_rows(known.eyes, known.points, read_line(0.2), (row,), EXACT)
    after = np.exp(log_chance[1]) / np.exp(log_chance[1]).sum()
    here = known.points
    blur = np.sqrt(here.m_d**2 + here.j0_d**2 + here.j45_d**2)
    near = blur < 1.4  # within the table
    wanted = np.array([min(chance_of_a_letter(0.2, one), 0.98) for one in blur[near]])
    ratio = after[near] / wanted
    assert ratio / ratio.mean() == pytest.approx(np.ones(near.sum()), abs=0.06)
    assert after[blur > 3.0] / ratio.mean() == pytest.approx(0.1, abs=0.01)  # a guess


def read_line(line_logmar: float) -> Asking:
    return Asking(question=Question.READ_LINE, vergences=(PLANO,), line_logmar=line_logmar)


def test_people_who_differ_in_acuity_make_a_reading_weigh_less_but_gross_misses_as_much():
    rows = (
        RowRead(size_logmar=0.0, right=5, letters=5),
        RowRead(size_logmar=-0.1, right=2, letters=5),
    )
    some = points(PLANO, (0.25, 0.0, 0.0), (6.0, 0.0, 0.0))
    apart = {}
    for spread in (0.0, 0.1):
        widening = replace(WIDENED, acuity_logmar=spread)
        logs = log_chance_of_rows(plain_supposed(), some, read_line(0.0), rows, widening)[1]
        apart[spread] = (abs(logs[0] - logs[1]), logs[:2].max() - logs[2])
    assert apart[0.1][0] < 0.5 * apart[0.0][0]
    assert apart[0.1][1] > 8.0


@pytest.mark.parametrize(("reply", "sign"), [("first", 1.0), ("second", -1.0)])
def test_a_flip_moves_the_density_to_the_side_of_what_was_clearer(reply, sign):
    start = near_focus()
    plus, minus = (0.25, 0.0, 0.0), (-0.25, 0.0, 0.0)
    asking = Asking(question=Question.WHICH, vergences=(plus, minus), line_logmar=0.1)
    known, bits = update(start, asking, reply)
    # clearer through plus: the eye's end point lies on the plus side
    assert sign * (known.mean_d[0] - start.mean_d[0]) > 0.05
    assert bits > 0.0


@pytest.mark.parametrize(("reply", "axis"), [("first", 1), ("second", 1), ("first", 2)])
def test_a_cross_cylinder_moves_it_along_its_own_direction(reply, axis):
    start = near_focus()
    first = tuple(0.25 * np.eye(3)[axis])
    second = tuple(-0.25 * np.eye(3)[axis])
    asking = Asking(question=Question.WHICH, vergences=(first, second), line_logmar=0.1)
    moved = np.subtract(update(start, asking, reply)[0].mean_d, start.mean_d)
    sign = 1.0 if reply == "first" else -1.0
    assert sign * moved[axis] > 0.02
    assert np.abs(np.delete(moved, axis)).max() < 0.01


def near_focus() -> Posterior:
    """Return what is known after a chart read to 6/6 through plano."""
    rows = tuple(
        RowRead(size_logmar=round(1.0 - 0.1 * k, 1), right=5, letters=5) for k in range(11)
    )
    asking = Asking(question=Question.READ_DOWN, vergences=(PLANO,))
    known = prior(plain_supposed(), replace(EXACT, lapse=0.1))
    return update(known, asking, rows)[0]


def test_the_fan_answers_as_twelve_lines_with_noise_would():
    # by chance: each of twelve lines' clarities with its noise, the second harmonic's direction
    eyes, widening = plain_supposed(), Widening(noise=2.0, lapse=0.0, acuity_logmar=0.0)
    end = (-1.0, 0.5 * math.cos(math.radians(60)), 0.5 * math.sin(math.radians(60)))
    asking = Asking(question=Question.LINES, vergences=(PLANO,))
    told_chances = chances(eyes, points(end), asking, widening)
    pull = 0.5 * 0.5 / (COMPARISON_SD * 2.0)  # the formula of plain eyes at M = 1, |J| = 0.5
    doubled = math.atan2(-end[2], -end[1])
    dice = np.random.default_rng(3)
    angles = np.deg2rad(30.0 * np.arange(12))
    seen = pull * np.cos(angles - doubled) + dice.normal(0.0, 2.0 / math.sqrt(2.0), (200_000, 12))
    across, upward = (seen @ np.stack([np.cos(angles), np.sin(angles)], axis=1) / 6.0).T
    equal = 2.0 * np.hypot(across, upward) < 0.6 * 2.0
    spokes = np.rint(np.degrees(np.arctan2(upward, across)) / 30.0).astype(int) % 12
    for spoke in range(12):
        share = np.mean((spokes == spoke) & ~equal)
        assert told_chances[spoke_name(spoke)][0, 0] == pytest.approx(share, abs=0.005)
    assert told_chances["equal"][0, 0] == pytest.approx(np.mean(equal), abs=0.005)


@pytest.mark.parametrize(
    ("question", "views"),
    [
        (Question.WHICH, 2),
        (Question.BETTER, 2),
        (Question.SMALLER, 2),
        (Question.MORE, 2),
        (Question.COLOUR, 1),
        (Question.BLOCKS, 1),
        (Question.LINES, 1),
    ],
)
def test_the_chances_of_all_replies_add_up(question, views):
    dice = np.random.default_rng(1)
    m, j0, j45 = dice.uniform(-6, 6, 50), dice.uniform(-3, 3, 50), dice.uniform(-3, 3, 50)
    some = Points(m_d=m, j0_d=j0, j45_d=j45)
    asking = Asking(question=question, vergences=((0.5, 0.2, 0.1), PLANO)[:views], line_logmar=0.3)
    replies = chances(plain_supposed(6.0), some, asking)
    assert sum(replies.values()) == pytest.approx(np.ones((nominal.EYES, 50)), abs=1e-9)
    assert min(float(chance.min()) for chance in replies.values()) > 0.0


def test_the_accommodation_is_the_least_that_contents():
    # 2 D of hyperopia: clear at 2 D; the plain formulas give the rest by hand
    eyes = plain_supposed(6.0)
    effort = float(eyes.look(np.array([-2.0]), np.zeros(1), np.zeros(1)).effort_d[0, 0])
    values = plain_eyes().values[1]
    lines = [CLEAR + nominal.LINES_LOGMAR.index(line) for line in (0.0, 0.3, 0.6)]
    drive = values[:, 0, :][:, lines].mean(axis=1)
    blur = 2.0 - effort
    assert 0.0 <= blur <= 0.25
    lost = drive.max() - np.interp(-blur, M_D, drive)
    assert lost == pytest.approx(CONTENT, abs=CONTENT)
    assert float(eyes.look(np.array([0.5]), np.zeros(1), np.zeros(1)).effort_d[0, 0]) == 0.0


# ---- the whole


EYE = power_vector(SpheroCylinder(sphere_d=-8.50, cylinder_d=-3.00, axis_deg=20.0))


def likeliest(known: Posterior, asking: Asking, end: np.ndarray) -> str:
    at = Points(m_d=end[:1], j0_d=end[1:2], j45_d=end[2:])
    replies = chances(known.eyes, at, asking, AT_FACE_VALUE)
    return max(replies, key=lambda reply: float(replies[reply][1, 0]))


def reading(vergence: tuple[float, float, float], end: np.ndarray) -> tuple[RowRead, ...]:
    """Return a chart as the eye at ``end`` reads it, without luck."""
    blur = float(np.linalg.norm(np.subtract(vergence, end)))
    sizes = [round(1.0 - 0.1 * k, 1) for k in range(14)]
    rows = [
        RowRead(size_logmar=size, right=round(5 * chance_of_a_letter(size, blur)), letters=5)
        for size in sizes
    ]
    last = next((n for n, row in enumerate(rows) if row.right < 2), len(rows) - 1)
    return tuple(rows[: last + 1])


def test_coarse_to_fine_finds_an_eye_far_from_plano():
    # spheres for the whole range are tried, then flips about what is thought so far
    known = prior(plain_supposed())
    for m in (*np.arange(-12.0, 6.1, 2.0), -10.0, -10.0):
        view = (float(m), 0.0, 0.0)
        known, _ = update(
            known, Asking(question=Question.READ_DOWN, vergences=(view,)), reading(view, EYE)
        )
    assert known.sd_d > 0.5
    for _ in range(12):
        middle = known.mean_d
        rows = reading(middle, EYE)
        known, _ = update(known, Asking(question=Question.READ_DOWN, vergences=(middle,)), rows)
        line = min(row.size_logmar for row in rows if row.right >= 3) if rows[0].right >= 3 else 1.0
        for axis, power in ((0, 0.5), (1, 0.5), (2, 0.5), (0, 0.25), (1, 0.25), (2, 0.25)):
            step = power * np.eye(3)[axis]
            faces = tuple(tuple(float(x) for x in middle + sign * step) for sign in (1.0, -1.0))
            asking = Asking(question=Question.WHICH, vergences=faces, line_logmar=line)
            known, _ = update(known, asking, likeliest(known, asking, EYE))
    assert np.subtract(known.mean_d, EYE) == pytest.approx(np.zeros(3), abs=0.25)
    assert known.holds(tuple(EYE))
    assert known.sd_d < 0.4
    # the grid was laid about its own mean, and is fine enough for what is known
    for axis, mean, sd in zip(known.axes, known.mean_d, known.sds_d, strict=True):
        assert axis[0] < mean - 2.0 * sd < mean + 2.0 * sd < axis[-1]
        assert axis[1] - axis[0] < sd


def test_the_region_of_a_normal_density_is_its_ellipsoid():
    axes = tuple(np.linspace(-1.0, 1.0, 41) for _ in range(3))
    m, j0, j45 = np.meshgrid(*axes, indexing="ij")
    sds = (0.2, 0.15, 0.1)
    density = np.exp(-((m / sds[0]) ** 2 + (j0 / sds[1]) ** 2 + (j45 / sds[2]) ** 2) / 2.0)
    shares = np.zeros((nominal.EYES, density.size))
    shares[1] = (density / density.sum()).ravel()
    known = replace(prior(plain_supposed()), axes=axes, shares=shares)
    assert known.sds_d == pytest.approx(sds, rel=0.01)
    assert known.sd_d == pytest.approx(math.hypot(*sds), rel=0.01)
    # entropy of a normal density: log2 of (2 pi e)^(3/2) times the product of its SDs
    wanted = math.log2((2.0 * math.pi * math.e) ** 1.5 * math.prod(sds))
    assert known.entropy_bits == pytest.approx(wanted, abs=0.01)
    radius = math.sqrt(6.251)  # 90 % point of chi squared with three degrees (tables)
    for direction in np.eye(3):
        inside, outside = (
            tuple(float(x) for x in part * radius * direction * sds) for part in (0.96, 1.04)
        )
        assert known.holds(inside)
        assert not known.holds(outside)
    assert not known.holds((5.0, 0.0, 0.0))


def test_bits_are_those_of_halving():
    whole = np.full(8, 1.0 / 8.0)
    half = np.array([0.25] * 4 + [0.0] * 4)
    assert gained_bits(whole, half) == pytest.approx(1.0)
    assert gained_bits(whole, whole) == 0.0


def test_expected_bits_are_the_mean_over_replies_of_what_they_give():
    start = near_focus()
    asking = Asking(
        question=Question.WHICH, vergences=((0.25, 0.0, 0.0), (-0.25, 0.0, 0.0)), line_logmar=0.1
    )
    replies = chances(start.eyes, start.points, asking, start.widening)
    mean = 0.0
    for reply, chance in replies.items():
        share = float((start.shares * chance).sum())
        mean += share * update(start, asking, reply)[1]
    assert expected_bits(start, asking) == pytest.approx(mean, rel=1e-6)
    assert 0.0 < mean < math.log2(3.0)


def test_a_question_in_the_dark_of_blur_tells_less_than_one_near_focus():
    start = near_focus()
    flips = {
        name: Asking(
            question=Question.WHICH,
            vergences=((m + 0.25, 0.0, 0.0), (m - 0.25, 0.0, 0.0)),
            line_logmar=0.1,
        )
        for name, m in (("near", 0.0), ("far", 8.0))
    }
    (first, most), (last, least) = most_telling(start, flips)
    assert (first, last) == ("near", "far")
    assert most > 0.1 > 0.01 > least


@pytest.mark.parametrize(
    ("sds", "at"),
    [([2.0, 0.2], 1), ([2.0, 0.2, 0.3, 0.1], 3), ([2.0, 0.3], None), ([], None), ([0.1], 0)],
)
def test_enough_is_known_from_the_answer_after_which_it_stays_so(sds, at):
    assert enough_at(sds) == at
