"""Two shipped eyes that no lens makes good: an amblyopic one, and one behind a clouded lens."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from optics.eye.eye import EyePair, ordinary_pair, required_vergence
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.power import SpheroCylinder
from optics.sight.clarity import COMPARISON_SD, clarity
from optics.sight.end_point import end_point, lens_for
from optics.sight.targets import Wall
from optics.sight.view import EyeView, look
from server.casebook import read_case
from server.settings import REPOSITORY

RIGHT, LEFT = EyeSide.RIGHT, EyeSide.LEFT
STEP_D, FARTHEST_D = 0.125, 0.75


def eyes_of(stem: str) -> EyePair:
    return read_case(REPOSITORY / "cases" / f"{stem}.toml").eyes


def lens(kind: LensKind, direction_deg: float = 180.0, **figures: float) -> PlacedLens:
    return PlacedLens(lens=TrialLens(kind=kind, **figures), direction_deg=direction_deg)


PINHOLE = lens(LensKind.PINHOLE, aperture_mm=1.2)


def bench(eyes: EyePair, side: EyeSide) -> Callable[..., EyeView]:
    """Return a look through an eye's best lens (or none), more plus, and a pinhole if wanted."""
    best = lens_for(end_point(eyes, side).vergence, 12.0, 6.0)
    other = LEFT if side is RIGHT else RIGHT
    covered = TrialFrame().with_lens(other, Place.CELL_1, lens(LensKind.OCCLUDER))

    def seen(*, corrected: bool = True, plus_d: float = 0.0, pinhole: bool = False) -> EyeView:
        frame = covered
        if corrected:
            sphere = lens(LensKind.SPHERE, power_d=best.sphere_d + plus_d)
            frame = frame.with_lens(side, Place.CELL_1, sphere)
        if corrected and best.cylinder_d:
            turned = lens(LensKind.CYLINDER, best.axis_deg, power_d=best.cylinder_d)
            frame = frame.with_lens(side, Place.CELL_2, turned)
        if pinhole:
            frame = frame.with_lens(side, Place.CELL_4, PINHOLE)
        return look(eyes, frame, Wall()).eye(side)

    return seen


def acuity(view: EyeView) -> float:
    assert view.reading is not None
    return view.reading.acuity_logmar


def just_noticeable_d(eyes: EyePair, side: EyeSide) -> float:
    """Return the plus before the best lens that costs one comparison noise of clarity.

    On the smallest line, by tenths, that is at least half a line larger than the eye reads.
    """
    seen = bench(eyes, side)
    line = np.ceil(10.0 * acuity(seen()) + 0.5) / 10.0
    plus_d = np.arange(0.0, FARTHEST_D + STEP_D / 2.0, STEP_D)
    clear = np.array([clear_at(seen(plus_d=float(one)), float(line)) for one in plus_d])
    return float(np.interp(COMPARISON_SD, clear[0] - clear, plus_d))


def clear_at(view: EyeView, line: float) -> float:
    assert view.transfer is not None
    return float(clarity(view.transfer, (round(line, 1),), view.nerve)[0])


# the just-noticeable change of sphere grows as acuity falls: about 0.25 D at 6/6 and 0.50 D at
# 6/15 (rule of thumb of low vision clinics, from memory); one-sided, with half of that growth
def test_an_amblyopic_eye_notices_changes_of_sphere_less():
    eyes = eyes_of("aspen")
    ordinary = ordinary_pair((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), age_y=eyes.age_y)
    amblyopic, fellow, young = (
        just_noticeable_d(*one) for one in ((eyes, LEFT), (eyes, RIGHT), (ordinary, RIGHT))
    )
    assert amblyopic < FARTHEST_D
    assert amblyopic >= 1.5 * young
    assert amblyopic >= 1.5 * fellow


def test_a_pinhole_does_not_help_an_amblyopic_eye():
    # common practice: what a pinhole does not improve is no error of focus
    seen = bench(eyes_of("aspen"), LEFT)
    best = acuity(seen())
    assert best == pytest.approx(0.42, abs=0.02)  # as the case states
    for corrected in (True, False):
        assert acuity(seen(corrected=corrected, pinhole=True)) >= best


# from below 6/12 to 6/12 or better through a pinhole tells of an error of focus: specificity
# 98.8 % in 488 people (Clin Exp Optom 2014)
def test_a_pinhole_does_help_an_eye_that_reads_as_badly_for_want_of_a_lens():
    need = required_vergence(SpheroCylinder(sphere_d=-1.5), 12.0, 6.0)
    seen = bench(ordinary_pair(need, need, age_y=26.0), LEFT)
    assert acuity(seen(corrected=False)) > 0.3
    assert acuity(seen(corrected=False, pinhole=True)) <= 0.3


# the pinhole under-predicts what a lens does for eyes with disease (64 eyes, Optom Vis Sci
# 1999;76:50-58: by 6 letters in the mean), the more where the cloud lies in the middle
def test_a_pinhole_proves_nothing_about_a_clouded_lens():
    seen = bench(eyes_of("juniper"), RIGHT)
    best, bare = acuity(seen()), acuity(seen(corrected=False))
    assert acuity(seen(pinhole=True)) >= best + 0.05
    through = acuity(seen(corrected=False, pinhole=True))
    assert bare > through  # it improves, as if an error of focus were all
    assert through >= best + 0.1  # and promises less than a lens gives


def test_the_cloud_makes_the_pinhole_worse_than_the_error_of_focus_does():
    clouded = eyes_of("juniper")
    clear = clouded.with_eye(
        replace(clouded.right, media=replace(clouded.right.media, opacities=()))
    )
    lost = []
    for eyes in (clouded, clear):
        seen = bench(eyes, RIGHT)
        lost.append(acuity(seen(pinhole=True)) - acuity(seen()))
    assert lost[0] > lost[1] > 0.0
