"""A frame that sits askew: tilt, prism, magnification, field, against formulae and rays.

Facing frame: x to the examiner's right. Rays are traced here with matrices of their own.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from optics.light.beam import Beam, beam_at_cornea
from optics.light.frame import Place, TrialFrame
from optics.light.lens import FULL_RIM_MM, EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.power import SpheroCylinder, from_matrix, power_matrix
from optics.light.tilt import tilted
from tests.published.test_stack import AT_MM, PINHOLE, cylinder, frame_of, sphere, turned

RIGHT, LEFT = EyeSide.RIGHT, EyeSide.LEFT
PUPIL_M = 0.003  # entrance pupil behind the cornea


def seen(frame: TrialFrame, side: EyeSide = RIGHT, distance_m: float = math.inf) -> Beam:
    return beam_at_cornea(frame, side, distance_m)


# ---- tilt: Martin's formulae, S' = S (1 + sin^2 t / 2n), C' = S' tan^2 t (course notes of a
# school of opticians; the values for n = 1.5 are arithmetic)


@pytest.mark.parametrize(
    ("power_d", "tilt_deg", "sphere_d", "cylinder_d"),
    [
        (15.0, 10.0, 15.15, 0.47),
        (-10.0, 5.0, -10.03, -0.08),
        (-10.0, 10.0, -10.10, -0.31),
        (-10.0, 15.0, -10.22, -0.73),
        (-10.0, 20.0, -10.39, -1.38),
        (-10.0, 30.0, -10.83, -3.61),
    ],
)
def test_a_tilted_sphere_is_martins(power_d, tilt_deg, sphere_d, cylinder_d):
    power = power_d * np.eye(2)
    for tilt, turn, axis_deg in ((tilt_deg, 0.0, 180.0), (0.0, tilt_deg, 90.0)):
        found = from_matrix(tilted(power, tilt, turn, index=1.5))
        form = found.in_plus_cylinder() if power_d > 0 else found
        assert form.sphere_d == pytest.approx(sphere_d, abs=0.006)
        assert form.cylinder_d == pytest.approx(cylinder_d, abs=0.006)
        assert form.axis_deg == pytest.approx(axis_deg, abs=1e-6)


# a cylinder's power lies across its axis: unchanged along the tilt's axis but for Martin's first
# factor, by 1/cos^2 across it
@pytest.mark.parametrize(("axis_deg", "share"), [(90.0, 1.0), (180.0, 1.0 / math.cos(0.3) ** 2)])
def test_a_cylinder_feels_the_tilt_by_its_meridian(axis_deg, share):
    lens = SpheroCylinder(sphere_d=0.0, cylinder_d=-5.0, axis_deg=axis_deg)
    found = from_matrix(tilted(power_matrix(lens), math.degrees(0.3), 0.0))
    stronger = 1.0 + math.sin(0.3) ** 2 / (2.0 * 1.523)
    assert found.sphere_d == pytest.approx(0.0, abs=1e-9)
    assert found.cylinder_d == pytest.approx(-5.0 * stronger * share, abs=1e-9)
    assert found.axis_deg == pytest.approx(axis_deg, abs=1e-9)


@pytest.mark.parametrize(("tilt_deg", "turn_deg"), [(12.0, 8.0), (-5.0, 15.0), (20.0, -5.0)])
def test_tilt_and_wrap_together_are_one_oblique_plane(tilt_deg, turn_deg):
    # the lens's bending, a quadratic form of places on its own plane, looked at along the line
    # of sight; the plane is turned about the vertical, then tilted about the horizontal
    tilt, turn = math.radians(tilt_deg), math.radians(turn_deg)
    about_y = np.array(
        [
            [math.cos(turn), 0.0, math.sin(turn)],
            [0.0, 1.0, 0.0],
            [-math.sin(turn), 0.0, math.cos(turn)],
        ]
    )
    about_x = np.array(
        [
            [1.0, 0.0, 0.0],
            [0.0, math.cos(tilt), -math.sin(tilt)],
            [0.0, math.sin(tilt), math.cos(tilt)],
        ]
    )
    plane = about_x @ about_y
    front = plane @ [0.0, 0.0, 1.0]  # z from the patient to the examiner
    assert math.copysign(1.0, front[1]) == -math.copysign(
        1.0, tilt_deg
    )  # lower edge in: looks down
    assert math.copysign(1.0, front[0]) == math.copysign(1.0, turn_deg)
    power = power_matrix(SpheroCylinder(sphere_d=-6.0, cylinder_d=-3.0, axis_deg=35.0))
    on_lens = np.random.default_rng(3).uniform(-1.0, 1.0, (40, 2))
    looked_at = (np.pad(on_lens, ((0, 0), (0, 1))) @ plane.T)[:, :2]
    bending = np.einsum("ni,ij,nj->n", on_lens, power, on_lens)
    x, y = looked_at.T
    (a, b, c), *_ = np.linalg.lstsq(
        np.stack([x * x, 2 * x * y, y * y], axis=1), bending, rcond=None
    )
    stronger = 1.0 + (1.0 - front[2] ** 2) / (2.0 * 1.523)
    expected = stronger * np.array([[a, b], [b, c]])
    assert tilted(power, tilt_deg, turn_deg) == pytest.approx(expected, abs=1e-9)


def test_wrap_turns_the_two_eyes_apart_and_tilt_alike():
    # outer edges to the temples: the right eye's lens faces the examiner's left
    frame = TrialFrame(tilt_deg=10.0, wrap_deg=6.0)
    assert (frame.turn_deg(RIGHT), frame.turn_deg(LEFT)) == (-6.0, 6.0)


# ---- prism


# Prentice: 5 mm x 6.00 is 3 prism dioptres, 10 mm x 4.00 is 4 (handbook arithmetic); the base
# lies where a plus lens is, opposite a minus lens
@pytest.mark.parametrize(
    ("power_d", "centre_mm", "prism_pd"),
    [
        (+6.0, (5.0, 0.0), (3.0, 0.0)),
        (-6.0, (5.0, 0.0), (-3.0, 0.0)),
        (+4.0, (0.0, -10.0), (0.0, -4.0)),
    ],
)
def test_a_lens_off_its_centre_is_prentices_prism(power_d, centre_mm, prism_pd):
    plain = frame_of({"1": sphere(power_d)})
    beam = seen(replace(plain, centre_right_mm=centre_mm))
    assert beam.prism_pd == pytest.approx(prism_pd)
    assert beam.vergence == seen(plain).vergence
    # the world moves away from the base
    assert np.dot(beam.image_shift_pd, prism_pd) < 0.0


def test_a_cylinder_off_its_centre_moves_the_world_across_its_axis():
    # 2 D of power at right angles to axis 45: c = (3, 0) mm lies half across it, so that
    # F c = 2 (0.3, 0) . (-1, 1)/sqrt2 (-1, 1)/sqrt2 = (0.3, -0.3) (vector Prentice, by hand)
    frame = replace(frame_of({"1": cylinder(+2.0, 45.0)}), centre_right_mm=(3.0, 0.0))
    assert seen(frame).prism_pd == pytest.approx((0.3, -0.3))


def test_prism_at_the_eye_is_that_of_the_lens_magnified():
    # a distant object through +10.00 at 15 mm from the entrance pupil, 4 mm off: 4 / (1 - 0.15)
    frame = replace(frame_of({"1": sphere(+10.0)}), centre_right_mm=(4.0, 0.0))
    assert seen(frame).prism_pd == pytest.approx((4.0, 0.0))
    assert seen(frame).image_shift_pd == pytest.approx((-4.0 / 0.85, 0.0))


def test_a_prism_does_less_for_a_near_object():
    # the ray bent at 12 mm comes from 0.4 m: 6 (400 - 12) / (400 + 3) (similar triangles)
    beam = seen(frame_of({"1": turned(LensKind.PRISM, 6.0, 360)}), RIGHT, 0.4)
    assert beam.image_shift_pd == pytest.approx((-6.0 * 388.0 / 403.0, 0.0))


# ---- magnification: power factor 1 / (1 - h F), h = 15 mm (handbook values)


@pytest.mark.parametrize(
    ("power_d", "magnified"),
    [(-10.0, 0.870), (-6.0, 0.917), (6.0, 1.099), (10.0, 1.176), (12.0, 1.220)],
)
def test_lenses_magnify_by_their_power(power_d, magnified):
    beam = seen(frame_of({"1": sphere(power_d)}))
    assert beam.mean_magnification == pytest.approx(magnified, abs=0.0006)
    assert np.reshape(beam.magnification, (2, 2)) == pytest.approx(
        beam.mean_magnification * np.eye(2)
    )


def test_a_cylinder_magnifies_across_its_axis_alone():
    a, b, c, d = seen(frame_of({"1": cylinder(-5.0, 180.0)})).magnification
    assert (a, b, c, d) == pytest.approx((1.0, 0.0, 0.0, 1.0 / 1.075))


@pytest.mark.parametrize("distance_m", [0.1, 0.4, 6.0, math.inf])
def test_nothing_before_the_eye_changes_nothing(distance_m):
    beam = seen(TrialFrame(tilt_deg=10.0, centre_right_mm=(2.0, 1.0)), RIGHT, distance_m)
    assert beam.magnification == pytest.approx((1.0, 0.0, 0.0, 1.0))
    assert (beam.prism_pd, beam.image_shift_pd) == ((0.0, 0.0), (0.0, 0.0))
    assert (beam.transmittance, beam.field_half_deg, beam.dark) == (1.0, 90.0, False)


# ---- everything at once, by ray-transfer matrices over (x, y, slope x, slope y, 1)

TILT_DEG, CENTRE_MM = 12.0, (2.5, -1.5)
STACK = {
    "1": sphere(-6.0),
    "2": turned(LensKind.PRISM, 3.0, 90),
    "3": cylinder(-3.0, 180.0),
    "4": PINHOLE,
    "hand": sphere(+2.0),
}


def gap(length_m: float) -> np.ndarray:
    matrix = np.eye(5)
    matrix[:2, 2:4] = length_m * np.eye(2)
    return matrix


def oblique_lens(placed: PlacedLens) -> np.ndarray:
    """Return a lens of the stack, its powers by Martin, bending towards its own centre."""
    stronger = 1.0 + math.sin(math.radians(TILT_DEG)) ** 2 / (2.0 * 1.523)
    upright = stronger / math.cos(math.radians(TILT_DEG)) ** 2
    power_d = placed.lens.power_d
    power = {
        LensKind.SPHERE: np.diag([power_d * stronger, power_d * upright]),
        LensKind.CYLINDER: np.diag([0.0, power_d * upright]),
    }.get(placed.lens.kind, np.zeros((2, 2)))
    matrix = np.eye(5)
    matrix[2:4, :2] = -power
    matrix[2:4, 4] = power @ np.array(CENTRE_MM) / 1000.0
    if placed.lens.kind is LensKind.PRISM:
        matrix[3, 4] += power_d / 100.0  # base up
    return matrix


def through_to(distance_m: float, stop_at: str | None = None) -> np.ndarray:
    """Return the system from the object's plane to the entrance pupil, or to a place."""
    system, from_m = np.eye(5), distance_m
    for place, placed in reversed(STACK.items()):
        at_m = AT_MM[place] / 1000.0
        system, from_m = gap(from_m - at_m) @ system, at_m
        if place == stop_at:
            return system
        system = oblique_lens(placed) @ system
    return gap(from_m + (PUPIL_M if stop_at is None else 0.0)) @ system


def chief_slope(system: np.ndarray, object_m: tuple[float, float]) -> np.ndarray:
    """Return the slope at the system's end of the ray from a point that crosses its middle."""
    start = np.array([*object_m, 0.0, 0.0, 1.0])
    start[2:4] = np.linalg.solve(system[:2, 2:4], -(system @ start)[:2])
    return (system @ start)[2:4]


@pytest.mark.parametrize("side", EyeSide)
@pytest.mark.parametrize("distance_m", [0.15, 0.4, 6.0])
def test_a_frame_askew_does_what_rays_do(side, distance_m):
    frame = TrialFrame(centre_right_mm=CENTRE_MM, centre_left_mm=CENTRE_MM, tilt_deg=TILT_DEG)
    for place, placed in STACK.items():
        frame = frame.with_lens(side, Place(place), placed)
    beam = seen(frame, side, distance_m)

    at_pupil = through_to(distance_m)
    assert beam.image_shift_pd == pytest.approx(-100.0 * chief_slope(at_pupil, (0.0, 0.0)))
    straight = chief_slope(at_pupil, (0.0, 0.0))
    bare = 0.001 / (distance_m + PUPIL_M)
    magnified = [
        (straight - chief_slope(at_pupil, aside)) / bare for aside in ((0.001, 0.0), (0.0, 0.001))
    ]
    ours = np.reshape(beam.magnification, (2, 2)).T
    assert ours == pytest.approx(np.array(magnified))

    at_cornea = through_to(distance_m, "eye")
    vergence = -at_cornea[2:4, 2:4] @ np.linalg.inv(at_cornea[:2, 2:4])
    m, j0, j45 = beam.vergence
    assert np.array([[m + j0, j45], [j45, m - j0]]) == pytest.approx(vergence)

    # where the ray to a pupil point crosses the disc, from the middle of its hole
    (stop,) = beam.stops
    at_disc = through_to(distance_m, "4")
    for pupil_mm in ((0.0, 0.0), (1.5, -0.7)):
        wanted = np.array(pupil_mm) / 1000.0 - at_cornea[:2, 4]
        ray = np.array([0.0, 0.0, *np.linalg.solve(at_cornea[:2, 2:4], wanted), 1.0])
        crossed_mm = 1000.0 * (at_disc @ ray)[:2]
        ours = np.reshape(stop.from_pupil, (2, 2)) @ pupil_mm - stop.centre_mm
        assert ours == pytest.approx(crossed_mm - CENTRE_MM, abs=1e-9)


def test_a_mirrored_patient_has_the_mirrored_light():
    def frame(side: EyeSide, sign: float) -> TrialFrame:
        lenses = {
            Place.CELL_1: sphere(-8.0),
            Place.CELL_2: cylinder(-2.5, 90.0 - sign * 40.0),
            Place.CELL_3: turned(LensKind.PRISM, 2.0, 90.0 - sign * 50.0),
            Place.CELL_4: PINHOLE,
        }
        centre_mm = (sign * 1.2, -0.8)
        empty = TrialFrame(
            tilt_deg=9.0, wrap_deg=7.0, centre_right_mm=centre_mm, centre_left_mm=centre_mm
        )
        for place, placed in lenses.items():
            empty = empty.with_lens(side, place, placed)
        return empty

    right = seen(frame(RIGHT, -1.0), RIGHT, 0.5)
    left = seen(frame(LEFT, +1.0), LEFT, 0.5)
    m, j0, j45 = left.vergence
    assert right.vergence == pytest.approx((m, j0, -j45))
    assert right.vergence != pytest.approx(left.vergence)
    for one, other in (
        (right.prism_pd, left.prism_pd),
        (right.image_shift_pd, left.image_shift_pd),
        (right.stops[0].centre_mm, left.stops[0].centre_mm),
    ):
        assert one == pytest.approx((-other[0], other[1]))
    a, b, c, d = left.magnification
    assert right.magnification == pytest.approx((a, -b, -c, d))
    assert right.field_half_deg == pytest.approx(left.field_half_deg)


# ---- the rim: 20 mm clear in a reduced aperture lens, 38 in a full one (common practice)


def test_the_nearest_rim_limits_what_is_seen():
    assert seen(frame_of({"1": sphere(-4.0)})).field_half_deg == pytest.approx(
        math.degrees(math.atan(10.0 / 15.0))
    )
    full = PlacedLens(lens=TrialLens(kind=LensKind.SPHERE, power_d=-4.0, rim_mm=FULL_RIM_MM))
    assert seen(frame_of({"1": full})).field_half_deg == pytest.approx(
        math.degrees(math.atan(19.0 / 15.0))
    )


def test_a_farther_rim_is_seen_through_the_lens_behind_it():
    # a ray at slope s leaves the entrance pupil, crosses +10.00 at 15 mm, height 15 s, and goes on
    # with s - 0.15 s to the rim 10.5 mm farther: 23.925 s is 10 mm (by hand)
    plano = PlacedLens(lens=TrialLens(kind=LensKind.PLANO))
    both = seen(frame_of({"1": sphere(+10.0), "4": plano}))
    assert both.field_half_deg == pytest.approx(math.degrees(math.atan(10.0 / 23.925)))


def test_a_rim_off_the_centre_leaves_less():
    frame = replace(frame_of({"1": sphere(-4.0)}), centre_right_mm=(3.0, 4.0))
    assert seen(frame).field_half_deg == pytest.approx(math.degrees(math.atan(5.0 / 15.0)))
    lost = replace(frame, centre_right_mm=(11.0, 0.0))
    assert seen(lost).field_half_deg == 0.0


def test_a_disc_with_a_hole_has_no_field_of_its_own():
    assert seen(frame_of({"4": PINHOLE})).field_half_deg == 90.0


# ---- what passes


def test_uncoated_glass_reflects_a_twelfth():
    # Fresnel: each surface of n = 1.523 reflects (0.523 / 2.523)^2 = 4.3 %
    surface = 1.0 - (0.523 / 2.523) ** 2
    frame = frame_of({"1": sphere(-4.0), "2": cylinder(-1.0, 90.0)})
    assert seen(frame).transmittance == pytest.approx(surface**4)
    assert 0.91 < surface**2 < 0.93


def test_filters_are_named_and_grey_ones_weighed():
    def one(kind: LensKind, **more: float) -> Beam:
        return seen(frame_of({"1": PlacedLens(lens=TrialLens(kind=kind, **more))}))

    assert one(LensKind.NEUTRAL, density=0.6).transmittance == pytest.approx(0.251, abs=5e-4)
    assert one(LensKind.NEUTRAL, density=2.0).transmittance == pytest.approx(0.01)
    assert one(LensKind.OCCLUDER).transmittance == 0.0
    for kind, names in (
        (LensKind.RED, ("red",)),
        (LensKind.GREEN, ("green",)),
        (LensKind.ROD, ("red",)),
        (LensKind.NEUTRAL, ()),
    ):
        beam = one(kind, density=0.3)
        assert beam.filters == names
        assert (beam.vergence[0], beam.rod_deg) == (0.0, 180.0 if kind is LensKind.ROD else None)
