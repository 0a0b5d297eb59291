"""The stack of cells against ray-transfer matrices written here, and the need's round trip."""

import math

import numpy as np
import pytest

from optics.eye.eye import Eye, required_vergence
from optics.eye.wavefront import over_refraction
from optics.light.beam import beam_at_cornea
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.power import SpheroCylinder
from optics.sight.end_point import lens_for

RIGHT = EyeSide.RIGHT
AT_MM = {"1": 12.0, "2": 15.5, "3": 19.0, "4": 22.5, "hand": 28.0}  # common practice, no source


def sphere(power_d: float) -> PlacedLens:
    return PlacedLens(lens=TrialLens(kind=LensKind.SPHERE, power_d=power_d))


def turned(kind: LensKind, power_d: float, axis_deg: float) -> PlacedLens:
    return PlacedLens(lens=TrialLens(kind=kind, power_d=power_d), direction_deg=axis_deg)


def cylinder(power_d: float, axis_deg: float) -> PlacedLens:
    return turned(LensKind.CYLINDER, power_d, axis_deg)


def cross(power_d: float, minus_axis_deg: float) -> PlacedLens:
    return turned(LensKind.CROSS_CYLINDER, power_d, minus_axis_deg)


def frame_of(stack: dict[str, PlacedLens]) -> TrialFrame:
    frame = TrialFrame()
    for place, placed in stack.items():
        frame = frame.with_lens(RIGHT, Place(place), placed)
    return frame


def thin_lens(placed: PlacedLens) -> np.ndarray:
    """Return the ray-transfer matrix (4, 4) of a lens: heights (x, y), then slopes (x, y)."""
    sphere_d, cylinder_d = {
        LensKind.SPHERE: (placed.lens.power_d, 0.0),
        LensKind.CYLINDER: (0.0, placed.lens.power_d),
        LensKind.CROSS_CYLINDER: (placed.lens.power_d, -2.0 * placed.lens.power_d),
    }[placed.lens.kind]
    axis = math.radians(placed.direction_deg)
    across = np.array([-math.sin(axis), math.cos(axis)])
    matrix = np.eye(4)
    matrix[2:, :2] = -(sphere_d * np.eye(2) + cylinder_d * np.outer(across, across))
    return matrix


def gap(length_m: float) -> np.ndarray:
    matrix = np.eye(4)
    matrix[:2, 2:] = length_m * np.eye(2)
    return matrix


def traced_vergence(stack: dict[str, PlacedLens], distance_m: float) -> tuple[float, ...]:
    """Return (M, J0, J45) at the cornea by following rays from a point of the object.

    Rays that leave the point with slopes a reach the cornea at heights B a with slopes D a; a
    vergence L bends slopes by -L times height, so that L = -D B^-1. A far object sends rays
    with equal slopes, and heights take the slopes' place.
    """
    system, from_m = np.eye(4), distance_m
    for place, placed in sorted(stack.items(), key=lambda item: -AT_MM[item[0]]):
        at_m = AT_MM[place] / 1000.0
        length_m = 0.0 if math.isinf(from_m) else from_m - at_m
        system, from_m = thin_lens(placed) @ gap(length_m) @ system, at_m
    last_m = 0.0 if math.isinf(from_m) else from_m
    system = gap(last_m) @ system
    columns = slice(0, 2) if math.isinf(distance_m) else slice(2, 4)
    heights, slopes = system[:2, columns], system[2:, columns]
    vergence = -slopes @ np.linalg.inv(heights)
    assert vergence[0, 1] == pytest.approx(vergence[1, 0], abs=1e-9)
    (a, b), (_, d) = vergence
    return ((a + d) / 2.0, (a - d) / 2.0, b)


STACKS = {
    "empty": {},
    "one sphere": {"1": sphere(-6.00)},
    "sphere and cylinder": {"1": sphere(-4.50), "3": cylinder(-2.25, 35.0)},
    "cylinders crossed in two cells": {"2": cylinder(-3.50, 20.0), "4": cylinder(+5.00, 75.0)},
    "strong plus and held lens": {"1": sphere(+14.00), "hand": sphere(-1.00)},
    "cross cylinder held": {
        "1": sphere(-8.00),
        "3": cylinder(-3.00, 160.0),
        "hand": cross(0.5, 45),
    },
    "all full": {
        "1": sphere(+9.00),
        "2": sphere(-3.00),
        "3": cylinder(-6.00, 12.0),
        "4": cylinder(+4.00, 133.0),
        "hand": cross(1.0, 90.0),
    },
}


@pytest.mark.parametrize("distance_m", [6.0, 4.0, 0.4, math.inf])
@pytest.mark.parametrize("name", STACKS)
def test_a_stack_does_what_ray_transfer_matrices_say(name, distance_m):
    beam = beam_at_cornea(frame_of(STACKS[name]), RIGHT, distance_m)
    expected = traced_vergence(STACKS[name], distance_m)
    assert beam.vergence == pytest.approx(expected, abs=1e-9)


def test_a_chart_at_six_metres_is_not_at_infinity():
    # 1/6 D: the light of a near object diverges (arithmetic)
    assert beam_at_cornea(TrialFrame(), RIGHT, 6.0).vergence[0] == pytest.approx(-1.0 / 6.0)
    assert beam_at_cornea(TrialFrame(), RIGHT, math.inf).vergence[0] == 0.0


def test_a_minus_lens_further_out_is_weaker():
    # -6.00 moved 3.5 mm outwards acts as -6 / (1 + 0.0035 x 6) = -5.877 D (arithmetic)
    outer = beam_at_cornea(frame_of({"2": sphere(-6.00)}), RIGHT, math.inf)
    inner = beam_at_cornea(frame_of({"1": sphere(-5.877)}), RIGHT, math.inf)
    assert outer.vergence[0] == pytest.approx(inner.vergence[0], abs=0.001)


def test_lenses_before_the_left_eye_leave_the_right_eye_alone():
    frame = TrialFrame().with_lens(EyeSide.LEFT, Place.CELL_1, sphere(-6.00))
    assert beam_at_cornea(frame, RIGHT, 6.0).vergence == pytest.approx((-1.0 / 6.0, 0.0, 0.0))


PINHOLE = PlacedLens(lens=TrialLens(kind=LensKind.PINHOLE, aperture_mm=1.2))


@pytest.mark.parametrize(
    "behind",
    [
        {},
        {"1": sphere(+10.00)},
        {"1": sphere(-8.00), "2": cylinder(-4.00, 25.0), "3": cylinder(+2.00, 140.0)},
    ],
    ids=["nothing", "a plus lens", "a minus lens and crossed cylinders"],
)
def test_a_disc_is_seen_from_the_pupil_through_what_stands_behind_it(behind):
    # rays through the disc at heights H1 a reach the pupil at heights H2 a: H1 H2^-1 goes back
    (stop,) = beam_at_cornea(frame_of(behind | {"4": PINHOLE}), RIGHT, 0.5).stops
    at_disc = gap(0.5 - 0.0225)
    system, from_m = at_disc, 0.0225
    for place, placed in sorted(behind.items(), key=lambda item: -AT_MM[item[0]]):
        at_m = AT_MM[place] / 1000.0
        system, from_m = thin_lens(placed) @ gap(from_m - at_m) @ system, at_m
    at_pupil = gap(from_m) @ system
    expected = at_disc[:2, 2:] @ np.linalg.inv(at_pupil[:2, 2:])
    assert np.reshape(stop.from_pupil, (2, 2)) == pytest.approx(expected, abs=1e-12)


NEEDS = [
    SpheroCylinder(sphere_d=0.0),
    SpheroCylinder(sphere_d=-2.0, cylinder_d=-1.0, axis_deg=30.0),
    SpheroCylinder(sphere_d=-12.0, cylinder_d=-4.5, axis_deg=170.0),
    SpheroCylinder(sphere_d=+13.0, cylinder_d=-2.0, axis_deg=95.0),
]


@pytest.mark.parametrize("distance_m", [6.0, 4.0, math.inf])
@pytest.mark.parametrize("vertex_mm", [0.0, 12.0, 14.0])
@pytest.mark.parametrize("need", NEEDS, ids=lambda need: f"{need.sphere_d:+.0f}")
def test_a_need_comes_back_from_the_vergence_it_means(need, vertex_mm, distance_m):
    vergence = required_vergence(need, vertex_mm, distance_m)
    assert lens_for(vergence, vertex_mm, distance_m) == need


@pytest.mark.parametrize("need", NEEDS, ids=lambda need: f"{need.sphere_d:+.0f}")
def test_the_needed_lens_at_its_own_vertex_leaves_nothing_to_correct(need):
    # sphere and cylinder as one lens in cell 1: a stack of two cells at one vertex distance
    vertex_mm = (12.0, 12.0, 19.0, 22.5, 28.0)
    frame = TrialFrame(vertex_mm=vertex_mm)
    if need.sphere_d:
        frame = frame.with_lens(RIGHT, Place.CELL_1, sphere(need.sphere_d))
    if need.cylinder_d:
        frame = frame.with_lens(RIGHT, Place.CELL_2, cylinder(need.cylinder_d, need.axis_deg))
    eye = Eye(side=RIGHT, required_vergence=required_vergence(need, 12.0, 6.0))
    left = over_refraction(eye, beam_at_cornea(frame, RIGHT, 6.0))
    assert left == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)


def test_the_need_at_six_metres_is_a_sixth_too_plus_for_infinity():
    # an end point found at d metres is 1/d D too plus for infinity (common practice)
    vergence = required_vergence(SpheroCylinder(sphere_d=0.0), 0.0, 6.0)
    assert lens_for(vergence, 0.0, math.inf).sphere_d == pytest.approx(-1.0 / 6.0)
