"""What a ghost, and how near a letter must come, tell of the end point, beside hand derivations."""

import math
from dataclasses import replace

import numpy as np
import pytest

from optics.evidence import nominal
from optics.evidence.likelihood import (
    AT_FACE_VALUE,
    NEAR_M,
    WIDENED,
    Asking,
    Points,
    RowRead,
    chances,
)
from optics.evidence.posterior import Posterior, prior, update
from optics.light.lens import EyeSide
from optics.patient.far_off import first_that_succeeds
from optics.patient.questions import Question
from optics.sight.probit import normal_cdf
from server.attempts import told as told_module
from server.attempts.told import asking_at, told
from tests.student import Student, case_text, opened
from tests.supposed_eyes import BEST_LOGMAR, FALL_PER_D, SLOPE, plain_supposed

PLANO = (0.0, 0.0, 0.0)
BARE = tuple((-1.0 / at, 0.0, 0.0) for at in (6.0, 3.0, 2.0, 1.0, 0.5))  # at the cornea, no lens
NEARER = Asking(question=Question.NEARER, vergences=BARE)
DOUBLED = Asking(question=Question.DOUBLED, vergences=(PLANO,))
CODES = {
    Question.NEARER: {
        *("top-6", "top-3", "top-2", "top-1", "fingers-1", "fingers-0.5", "hand", "light"),
    },
    Question.DOUBLED: {"single", "doubled"},
}


def points(*end_points: tuple[float, float, float]) -> Points:
    m, j0, j45 = np.array(end_points, float).T
    return Points(m_d=m, j0_d=j0, j45_d=j45)


def below(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def near_focus() -> Posterior:
    """Return what is known after a chart read to 6/6 through plano."""
    rows = tuple(
        RowRead(size_logmar=round(1.0 - 0.1 * k, 1), right=5, letters=5) for k in range(11)
    )
    reading = Asking(question=Question.READ_DOWN, vergences=(PLANO,))
    return update(prior(plain_supposed()), reading, rows)[0]


def test_the_distances_are_those_at_which_it_is_tried():
    assert NEAR_M == (6.0, 3.0, 2.0, 1.0, 0.5)


@pytest.mark.parametrize("asking", [NEARER, DOUBLED], ids=lambda one: one.question.value)
@pytest.mark.parametrize("widening", [WIDENED, AT_FACE_VALUE], ids=["widened", "at face value"])
def test_the_chances_of_all_replies_add_up(asking, widening):
    dice = np.random.default_rng(1)
    m, j0, j45 = dice.uniform(-20, 20, 50), dice.uniform(-3, 3, 50), dice.uniform(-3, 3, 50)
    some = Points(m_d=m, j0_d=j0, j45_d=j45)
    replies = chances(plain_supposed(6.0), some, asking, widening)
    assert set(replies) == CODES[asking.question]
    assert sum(replies.values()) == pytest.approx(np.ones((nominal.EYES, 50)), abs=1e-9)
    least = min(float(chance.min()) for chance in replies.values())
    assert least > 0.0 if widening is WIDENED else least >= 0.0


def test_what_is_tried_in_turn_succeeds_first_by_hand():
    told_chances = first_that_succeeds({"one": 0.5, "two": 0.4, "three": 1.0})
    assert told_chances == pytest.approx({"one": 0.5, "two": 0.2, "three": 0.3, "light": 0.0})


@pytest.mark.parametrize("end_d", [-2.4, -2.2, -2.0, 2.0])
@pytest.mark.parametrize("spread", [0.0, 0.1])
def test_the_top_letter_is_read_where_the_formulas_let_it(end_d, spread):
    widening = replace(AT_FACE_VALUE, acuity_logmar=spread)
    found = chances(plain_supposed(), points((end_d, 0.0, 0.0)), NEARER, widening)
    left = 1.0
    for at in (6.0, 3.0, 2.0, 1.0):
        blur = abs(-1.0 / at - end_d)
        if blur > 3.0:
            break  # past the table
        size = 1.0 + math.log10(6.0 / at)  # 6/60, nearer and so larger
        sd = math.hypot(SLOPE, spread)
        chance = below((size - BEST_LOGMAR - FALL_PER_D * blur) / sd)
        # the table takes its slope from chances 0.1 logMAR apart: 3 %, at most 0.01 here
        assert found[f"top-{at:g}"][:, 0] == pytest.approx(left * chance, abs=0.012)
        left *= 1.0 - chance


def acuity_logmar(blur: np.ndarray) -> np.ndarray:
    """Return the plain eyes' acuity: by the formula to 3 D and |J| of 1.5, then as sizes grow."""
    m, cross = np.abs(blur[:, 0]), np.hypot(blur[:, 1], blur[:, 2])
    times = np.maximum(np.maximum(m / 3.0, cross / 1.5), 1.0)
    growth = FALL_PER_D * 0.5 / math.log10(3.0 / 2.5)  # between the last two nodes
    return BEST_LOGMAR + FALL_PER_D * np.hypot(m, cross) / times + growth * np.log10(times)


def test_a_letter_read_only_at_a_metre_tells_of_strong_myopia():
    # the same by chance: even eyes weighed by the formulas, past the table by its rule
    known, bits = update(prior(plain_supposed(), AT_FACE_VALUE), NEARER, "top-1")
    dice = np.random.default_rng(8)
    end = dice.uniform((-21.0, -3.0, -3.0), (21.0, 3.0, 3.0), (400_000, 3))
    weight = np.ones(len(end))
    for at in (6.0, 3.0, 2.0, 1.0):
        acuity = acuity_logmar(end + np.array([1.0 / at, 0.0, 0.0]))
        read = normal_cdf((1.0 + math.log10(6.0 / at) - acuity) / SLOPE)
        weight *= read if at == 1.0 else 1.0 - read
    weight /= weight.sum()
    mean = weight @ end
    minus = weight[end[:, 0] < 0.0].sum()
    assert minus > 0.6
    assert known.mean_d == pytest.approx(mean, abs=0.15)
    share = known.density.sum(axis=(1, 2))
    assert float(share[known.axes[0] < 0.0].sum()) == pytest.approx(minus, abs=0.08)
    assert bits > 3.0


@pytest.mark.parametrize(("cross", "share"), [(0.0, 0.0), (0.5, 0.25), (0.75, 0.375), (1.5, 0.75)])
def test_a_ghost_is_as_likely_as_among_six_eyes_and_half_an_eye(cross, share):
    found = chances(plain_supposed(), points((0.0, cross, 0.0)), DOUBLED, AT_FACE_VALUE)
    wanted = (6.0 * share + 0.5) / 7.0
    assert found["doubled"][:, 0] == pytest.approx(wanted, abs=1e-6)


def test_far_past_the_table_nearly_every_eye_has_a_ghost():
    found = chances(plain_supposed(), points((10.0, 0.0, 0.0)), DOUBLED, AT_FACE_VALUE)
    assert found["doubled"][:, 0] == pytest.approx((6.0 * 0.93 + 0.5) / 7.0, abs=1e-6)


def test_a_ghost_tells_of_blur_and_a_single_image_of_little():
    start = prior(plain_supposed())
    sds = {reply: update(start, DOUBLED, reply)[0].sds_d for reply in ("single", "doubled")}
    assert sds["single"][0] < start.sds_d[0] < sds["doubled"][0]


@pytest.mark.parametrize("widening", [WIDENED, AT_FACE_VALUE], ids=["widened", "at face value"])
@pytest.mark.parametrize(
    ("asking", "reply"), [(NEARER, "hand"), (NEARER, "light"), (DOUBLED, "doubled")]
)
def test_a_reply_held_impossible_rules_nothing_out(asking, reply, widening):
    known = replace(near_focus(), widening=widening)
    after = known
    for _ in range(3):
        after, bits = update(after, asking, reply)
        assert np.isfinite(after.shares).all()
        assert after.shares.sum() == pytest.approx(1.0, abs=1e-9)
        assert math.isfinite(bits)
    assert after.mean_d == pytest.approx(known.mean_d, abs=0.5)


def test_waiting_and_unknown_replies_tell_nothing():
    known = near_focus()
    waiting = Asking(question=Question.WAIT, vergences=(PLANO,))
    for asking, reply in ((waiting, "clears"), (waiting, "stays"), (NEARER, "no-light")):
        assert update(known, asking, reply) == (known, 0.0)


def test_the_true_optics_find_ghosts(monkeypatch):
    # a point in focus is one point; with 1.50 D of J0 left, eyes with aberrations see some double
    monkeypatch.setattr(nominal, "M_D", np.array([0.0]))
    monkeypatch.setattr(nominal, "J_D", np.array([0.0, 1.5]))
    ghosts = nominal.nominal_eyes(40.0, lambda _: None).values[:, 0, :, nominal.GHOST]
    assert np.ptp(ghosts, axis=0) == pytest.approx((0.0, 0.0))  # of all drawn eyes together
    assert ghosts[0, 0] < 0.01
    assert 0.2 < ghosts[0, 1] <= 1.0


def test_a_log_tells_by_the_light_at_each_distance(tmp_path):
    with opened(tmp_path, one=case_text("-6.00", "-6.00")) as browser:
        student = Student.begins(browser, "practice")
        student.does("ask", question="nearer")  # both eyes: counts for nothing
        student.does("place", at="L.1", code="occluder")
        for question in ("nearer", "doubled", "wait"):
            student.does("ask", question=question)
        events = student.events
    asked = list(told_module._asked(events))
    side, asking = asking_at(asked[1][0], Question.NEARER)
    assert side is EyeSide.RIGHT
    assert np.array(asking.vergences) == pytest.approx(np.array(BARE), abs=1e-9)
    found = told(events, plain_supposed())
    assert [one.question for one in found] == ["nearer", "nearer", "doubled", "wait"]
    assert (found[0].side, found[0].bits) == (None, 0.0)
    assert found[1].bits > 1.0
    assert found[3].bits == 0.0
    assert found[3].mean == found[2].mean
