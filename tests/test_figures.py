"""Fan, block, dots, spotlight and the red and green panels, drawn and seen through an eye."""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from optics.errors import TargetError
from optics.eye.eye import ordinary_pair, required_vergence
from optics.eye.grid import fast_size
from optics.eye.transfer import transfer_function
from optics.eye.wavefront import Wavefront, defocus_path
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.power import SpheroCylinder
from optics.sight.canvas import Canvas, canvas_for, canvas_on, parts_of
from optics.sight.figures import (
    DOT_PLACES,
    Bar,
    Figure,
    FigureKind,
    extent_arcmin,
    figure_patch,
    strokes_of,
)
from optics.sight.picture import blurred_picture, pattern_of, sharp_picture
from optics.sight.raster import (
    INK_LUMINANCE,
    LAMP_LUMINANCE,
    Pattern,
    _by_fast_transform,
    _by_sums,
    blurred,
    field_size,
    raster,
)
from optics.sight.scene import Scene
from optics.sight.targets import Row, Wall
from optics.sight.view import EyeView, look

FAN, BLOCK, DOTS, SPOTLIGHT = (Figure(kind=kind) for kind in FigureKind)
TURNED = Figure(kind=FigureKind.BLOCK, turned_deg=25.0, stroke_arcmin=1.5)
EVERY = (FAN, BLOCK, TURNED, DOTS, SPOTLIGHT)
ROWS = (Row(size_logmar=0.3, letters="DHNKC"), Row(size_logmar=0.2, letters="→↑←↓↗"))
DUOCHROME = Scene(rows=ROWS, duochrome=True)


def eye_view(
    sphere_d: float = 0.0, cylinder_d: float = 0.0, axis_deg: float = 180.0, *lenses: TrialLens
) -> EyeView:
    """Return an old right eye that needs such a lens, 4 mm of pupil, behind other lenses."""
    need = SpheroCylinder(sphere_d=sphere_d, cylinder_d=cylinder_d, axis_deg=axis_deg)
    vergence = required_vergence(need, 12.0, 6.0)
    frame = TrialFrame()
    for place, lens in zip((Place.CELL_1, Place.CELL_2), lenses, strict=False):
        frame = frame.with_lens(EyeSide.RIGHT, place, PlacedLens(lens=lens))
    eyes = ordinary_pair(vergence, vergence, age_y=30.0, pupil_mm=4.0)
    return look(replace(eyes, amplitude_d=0.0), frame, Wall()).right


def linear(picture: np.ndarray) -> np.ndarray:
    """Undo the display curve (IEC 61966-2-1)."""
    shown = picture / 255.0
    return np.where(shown <= 0.04045, shown / 12.92, ((shown + 0.055) / 1.055) ** 2.4)


def wave(defocus_d: float, pupil_mm: float = 4.0) -> Wavefront:
    return Wavefront(path=defocus_path((defocus_d, 0.0, 0.0)), pupil_mm=pupil_mm)


# ---- the geometry


# in strokes squared: 24 half spokes of 22; two blocks of six bars of 11; 20 dots; one disc
@pytest.mark.parametrize(
    ("figure", "area"),
    [
        (FAN, 24 * 22.0),
        (BLOCK, 2 * 6 * 11.0),
        (TURNED, 2 * 6 * 11.0),
        (DOTS, 20 * math.pi / 4.0),
        (SPOTLIGHT, math.pi / 4.0),
    ],
)
@pytest.mark.parametrize("pixels", [640, 97])
def test_the_ink_is_the_area_of_the_geometry(figure, area, pixels):
    scene = Scene(figure=figure)
    canvas = canvas_for(scene, pixels, pixels * 3 // 4)
    pattern = pattern_of(scene)
    differing = np.abs(raster(pattern, canvas) - pattern.surround).sum()
    per_ink = LAMP_LUMINANCE if figure is SPOTLIGHT else 1.0 - INK_LUMINANCE
    inked = differing / per_ink * (canvas.arcmin_per_pixel / figure.stroke_arcmin) ** 2
    assert inked == pytest.approx(area, rel=0.01)


@pytest.mark.parametrize("figure", EVERY)
def test_a_figure_stays_within_its_room_and_uses_it(figure):
    patch = figure_patch(figure)
    rows, columns = (np.flatnonzero((patch.ink > 0.5).any(axis=axis)) for axis in (1, 0))
    wide, tall = extent_arcmin(figure)
    drawn_wide = (columns[-1] - columns[0] + 1) * patch.step_arcmin
    drawn_tall = (rows[-1] - rows[0] + 1) * patch.step_arcmin
    assert drawn_wide <= wide + 2.0 * patch.step_arcmin
    assert drawn_tall <= tall + 2.0 * patch.step_arcmin
    assert drawn_wide > 0.7 * wide  # a block takes as much room as when it stands on its corner
    assert patch.ink[0].max() == patch.ink[-1].max() == 0.0
    assert patch.ink[:, 0].max() == patch.ink[:, -1].max() == 0.0


def darkness_at(figure: Figure, x: float, y: float) -> float:
    """Return the ink at a point given in strokes."""
    patch = figure_patch(figure)
    rows, columns = patch.ink.shape
    per_stroke = figure.stroke_arcmin / patch.step_arcmin
    row, column = math.floor(rows / 2 - y * per_stroke), math.floor(columns / 2 + x * per_stroke)
    return float(patch.ink[row, column])


def test_the_fan_has_a_spoke_every_half_hour_and_an_empty_middle():
    for half_hour in range(24):
        to_it = math.radians(90.0 - 15.0 * half_hour)  # 12 is up, 3 is to the right
        for out, between in ((9.0, 0.0), (20.0, 0.0), (29.0, 0.0), (20.0, 7.5), (7.0, 0.0)):
            at = to_it + math.radians(between)
            ink = darkness_at(FAN, out * math.cos(at), out * math.sin(at))
            assert (ink > 0.9) == (between == 0.0 and out > 8.0)


# the line that the examiner reads as 30 on TABO goes up to the examiner's right, that is up to
# the patient's left
@pytest.mark.parametrize(
    ("turned_deg", "along"), [(180.0, (1, 0)), (90.0, (0, 1)), (45.0, (-1, 1)), (135.0, (1, 1))]
)
def test_the_blocks_lines_run_as_the_examiner_reads_them(turned_deg, along):
    figure = Figure(kind=FigureKind.BLOCK, turned_deg=turned_deg)
    length = math.hypot(*along)
    for middle, (right, up) in ((-10.0, along), (10.0, (-along[1], along[0]))):
        to_the_side = -up / length, right / length
        for out in (-4.0, 0.0, 4.0):
            # a bar's middle lies one stroke beside that of the block, and next to it a gap
            x, y = middle + out * right / length, out * up / length
            assert darkness_at(figure, x + to_the_side[0], y + to_the_side[1]) > 0.9
            assert darkness_at(figure, x + 2 * to_the_side[0], y + 2 * to_the_side[1]) < 0.1


def test_the_dots_have_no_order_and_no_preferred_direction():
    places = np.array(DOT_PLACES)
    assert len(places) == 20
    assert places.mean(axis=0) == pytest.approx(0.0, abs=0.01)
    spread = places.T @ places / 20.0
    assert spread[0, 0] == pytest.approx(spread[1, 1], rel=0.01)
    assert abs(spread[0, 1]) < 0.01 * spread[0, 0]
    apart = (places[:, np.newaxis] - places)[np.triu_indices(20, 1)]
    distances = np.hypot(*apart.T)
    assert distances.min() > 1.8
    assert len(np.unique(distances.round(1))) > 50  # a lattice has few distances
    near = apart[distances < 4.0]
    angles = np.arctan2(near[:, 1], near[:, 0])
    for fold in (2, 4, 6):
        # of n neighbours at random, the mean turns out near 1/sqrt(n)
        assert abs(np.exp(1j * fold * angles).mean()) < 1.0 / math.sqrt(len(near))


def test_the_bars_and_the_patch_are_one_geometry():
    for figure in (FAN, TURNED):
        for bar in strokes_of(figure):
            assert isinstance(bar, Bar)
            at = bar.x_arcmin / figure.stroke_arcmin, bar.y_arcmin / figure.stroke_arcmin
            assert darkness_at(figure, *at) > 0.9


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"stroke_arcmin": 0.19}, r"stroke_arcmin must be 0.2 to 60, got 0.19"),
        ({"stroke_arcmin": 60.1}, r"stroke_arcmin must be 0.2 to 60, got 60.1"),
        ({"stroke_arcmin": math.nan}, r"stroke_arcmin must be 0.2 to 60, got nan"),
        ({"turned_deg": 0.0}, r"turned_deg must be 1 to 180, got 0.0"),
        ({"turned_deg": 181.0}, r"turned_deg must be 1 to 180, got 181.0"),
        ({"kind": "wheel"}, r"kind must be one of fan, block, dots, spotlight, got 'wheel'"),
    ],
)
def test_a_figure_is_bounded(changed, said):
    with pytest.raises(TargetError, match=said):
        replace(FAN, **changed)
    for stroke in (0.2, 60.0):
        assert canvas_for(Scene(figure=replace(BLOCK, stroke_arcmin=stroke, turned_deg=1.0)))


def test_a_figure_hangs_alone():
    for more in ({"rows": ROWS}, {"duochrome": True}):
        with pytest.raises(TargetError, match="a figure hangs alone"):
            Scene(figure=FAN, **more)


# ---- seen through an eye


def spoke_contrasts(eye: EyeView) -> dict[float, float]:
    """Return how much darker each spoke is than the paper beside it, by its lower hour."""
    scene = Scene(figure=FAN)
    canvas = canvas_for(scene, 320, 240)
    seen = linear(eye.picture(scene, canvas))
    out = np.linspace(15.0, 27.0, 150) * FAN.stroke_arcmin / canvas.arcmin_per_pixel

    def mean_along(hour: float) -> float:
        angle = math.radians(90.0 - 30.0 * hour)
        both = np.concatenate([out, -out])
        columns = np.floor(160.0 + both * math.cos(angle)).astype(int)
        rows = np.floor(120.0 - both * math.sin(angle)).astype(int)
        return float(seen[rows, columns].mean())

    return {
        line / 2.0: mean_along(line / 2.0 + 0.25) - mean_along(line / 2.0) for line in range(1, 13)
    }


# the rule of 30: the lower hour of the blackest line, times 30, is the axis of the correcting
# minus cylinder (common practice, no source; half hours by the same rule)
@pytest.mark.parametrize("axis_deg", [15.0, 30.0, 45.0, 90.0, 120.0, 165.0, 180.0])
@pytest.mark.parametrize("cylinder_d", [-0.75, -1.5])
def test_in_fog_the_blackest_spoke_follows_the_rule_of_thirty(axis_deg, cylinder_d):
    # both focal lines before the retina: the least myopic meridian fogged by 0.25 D
    contrasts = spoke_contrasts(eye_view(-0.25, cylinder_d, axis_deg))
    blackest = max(contrasts, key=lambda hour: contrasts[hour])
    assert 30.0 * blackest == axis_deg
    across = (blackest + 3.0) % 6.0 or 6.0
    assert contrasts[across] < 0.5 * contrasts[blackest]


@pytest.mark.parametrize("axis_deg", [30.0, 90.0, 135.0, 180.0])
def test_with_both_lines_behind_the_spoke_across_it_is_the_blackest(axis_deg):
    # minus needed nowhere: need +1.50/-1.25 leaves both meridians hyperopic, the axis's more
    contrasts = spoke_contrasts(eye_view(1.5, -1.25, axis_deg))
    blackest = max(contrasts, key=lambda hour: contrasts[hour])
    assert 30.0 * blackest == ((axis_deg + 90.0) % 180.0 or 180.0)


def test_an_eye_without_astigmatism_sees_all_spokes_alike():
    contrasts = list(spoke_contrasts(eye_view(-0.5)).values())
    assert min(contrasts) > 0.9 * max(contrasts)


@pytest.mark.parametrize("axis_deg", [20.0, 70.0, 90.0, 180.0])
@pytest.mark.parametrize("blacker", ["A", "B"])
def test_the_block_whose_lines_stand_across_the_minus_axis_is_blacker_in_fog(axis_deg, blacker):
    # in fog the rear focal line is the clearer one: it lies across the minus axis
    across = (axis_deg + 90.0) % 180.0 or 180.0
    turned = across if blacker == "A" else axis_deg
    scene = Scene(figure=Figure(kind=FigureKind.BLOCK, turned_deg=turned))
    seen = linear(eye_view(-0.25, -1.25, axis_deg).picture(scene, canvas_for(scene, 320, 240)))
    left, right = seen[:, :160].std(), seen[:, 160:].std()
    lines_left, lines_right = (
        np.abs(np.diff(half, axis=0)).sum() + np.abs(np.diff(half, axis=1)).sum()
        for half in (seen[:, :160], seen[:, 160:])
    )
    assert (left > right) == (blacker == "A")
    assert (lines_left > 1.3 * lines_right) == (blacker == "A")
    assert (lines_right > 1.3 * lines_left) == (blacker == "B")


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfCovered(Wavefront):
    """A pupil of which a card covers all but the half to the patient's right."""

    def inside(self, x_mm, y_mm, softness_mm):
        return Wavefront.inside(self, x_mm, y_mm, softness_mm) * (x_mm > 0.0)


@pytest.mark.parametrize(("need_d", "side"), [(-2.0, 1), (2.0, -1)])
def test_a_spotlight_in_half_a_pupil_is_half_a_disc(need_d, side):
    # as with letters: in myopia the blur lies on the side of the open half, in hyperopia across
    eye = eye_view(need_d)
    transfer = transfer_function(HalfCovered(path=eye.wavefront.path, pupil_mm=4.0))
    spot = Scene(figure=SPOTLIGHT)
    canvas = Canvas(width=200, height=200, arcmin_per_pixel=0.4)
    light = blurred(pattern_of(spot), canvas, transfer)
    at = (np.arange(200) - 99.5) * 0.4
    x = float((light.sum(axis=0) * at).sum() / light.sum())
    y = float((light.sum(axis=1) * at).sum() / light.sum())
    # half a disc of 2 mm: 4 r / (3 pi) from the middle, less by the Stiles-Crawford effect
    apart = 4.0 * 2.0 / (3.0 * math.pi) * 2.0 * 60.0 * math.degrees(1e-3)
    assert x * side == pytest.approx(apart, rel=0.25)
    assert abs(y) < 0.1 * apart
    assert pattern_of(spot).surround == 0.0


@pytest.mark.parametrize("figure", EVERY)
@pytest.mark.parametrize("defocus_d", [0.0, 2.0, 5.0, 15.0])
def test_blur_of_a_figure_does_not_wrap(figure, defocus_d):
    scene = Scene(figure=figure)
    canvas = canvas_for(scene, 120, 90)
    transfer = transfer_function(wave(defocus_d))
    wide = Canvas(width=480, height=360, arcmin_per_pixel=canvas.arcmin_per_pixel)
    expected = blurred_picture(pattern_of(scene), wide, transfer)[135:225, 180:300]
    ours = blurred_picture(pattern_of(scene), canvas, transfer)
    assert np.abs(ours.astype(int) - expected.astype(int)).max() <= 1  # a rounding of grey


@pytest.mark.parametrize("figure", EVERY)
@pytest.mark.parametrize("defocus_d", [0.5, 4.0])
def test_sums_and_transforms_are_one_picture(figure, defocus_d):
    pattern, transfer = pattern_of(Scene(figure=figure)), transfer_function(wave(defocus_d))
    # looking beside the middle, so that parts lie off the picture; pixels finer than what passes
    scale, beside = figure.stroke_arcmin / 8.0, 4.3 * figure.stroke_arcmin
    canvas = Canvas(width=120, height=90, arcmin_per_pixel=scale, middle_arcmin=(beside, -beside))
    tall, wide = (fast_size(side) for side in field_size(pattern, canvas, transfer))
    ours = _by_sums(pattern, canvas, transfer, tall, wide)
    expected = _by_fast_transform(pattern, canvas, transfer, tall, wide)
    assert np.abs(ours - expected).max() < 0.01 * max(0.2, np.abs(expected).max())


# ---- red and green


def test_the_panels_stand_side_by_side_in_their_light_and_the_dark():
    picture = sharp_picture(DUOCHROME, canvas_for(DUOCHROME))
    assert picture.shape == (480, 640, 3)
    seen = linear(picture)
    (red_left, bottom, red_right, top), (green_left, *_, green_right, _) = (
        box for _, box in DUOCHROME.panels
    )
    scale = canvas_for(DUOCHROME).arcmin_per_pixel

    def at(x: float, y: float) -> np.ndarray:
        return seen[int(240 - y / scale), int(320 + x / scale)]

    rim = 0.4 * ROWS[0].height_arcmin
    red, green = at(red_left + rim, top - rim), at(green_right - rim, bottom + rim)
    assert red[0] > 10.0 * red[1:].max()
    assert green[1] > 10.0 * green[[0, 2]].max()
    assert not at(0.0, 0.0).any()  # black between them
    assert not at(red_left - rim, 0.0).any()
    assert not at(0.0, top + rim).any()
    assert red_right < 0.0 < green_left
    # the same letters on both: mirrored nowhere, moved by one panel
    moved = round((green_left - red_left) / scale)
    first = seen[:, : 640 - moved, 0] / red[0]
    second = seen[:, moved:, 1] / green[1]
    inner = slice(round(320 + red_left / scale) + 2, round(320 + red_right / scale) - 2)
    assert np.abs(first - second)[:, inner].mean() < 0.02


# an undercorrected myope reads better on red, an overcorrected one on green (common practice)
@pytest.mark.parametrize(("need_d", "sharper"), [(-0.5, "red"), (0.5, "green")])
def test_the_letters_are_blacker_on_red_in_myopia_and_on_green_in_hyperopia(need_d, sharper):
    contrasts = panel_contrasts(eye_view(need_d))
    other = {"red": "green", "green": "red"}[sharper]
    assert contrasts[sharper] > 1.3 * contrasts[other]


def panel_contrasts(eye: EyeView) -> dict[str, float]:
    """Return the spread of light within each panel's letters, over the panel's light."""
    found = {}
    for part, (name, channel) in enumerate((("red", 0), ("green", 1)), start=1):
        seen = linear(eye.picture(DUOCHROME, canvas_on(DUOCHROME, part, 320, 240)))
        letters = seen[100:140, 40:280, channel]
        found[name] = float(letters.std() / letters.max())
    return found


def test_red_and_green_are_even_where_the_chromatic_difference_says():
    # the need is stated at 570 nm; the panels' mean wavelengths are 628 and 536 nm, there the eye
    # needs 0.25 D more and 0.19 D less plus (Thibos et al. 1992): equally blurred at -0.03 D
    red, green = (-633.46 / (nm - 214.102) + 633.46 / (570.0 - 214.102) for nm in (628.1, 535.8))
    needs = np.arange(-0.3, 0.31, 0.1)
    contrasts = [panel_contrasts(eye_view(float(need_d))) for need_d in needs]
    ahead = [one["red"] - one["green"] for one in contrasts]
    assert ahead == sorted(ahead, reverse=True)
    even_d = float(np.interp(0.0, ahead[::-1], needs[::-1]))
    assert even_d == pytest.approx(-(red + green) / 2.0, abs=0.05)


def test_what_can_be_looked_at_closer():
    panels = parts_of(DUOCHROME)
    assert len(panels) == 2
    for number, (letters, (_, box)) in enumerate(zip(panels, DUOCHROME.panels, strict=True), 1):
        assert "".join(one.letter for one in letters) == "DHNKC→↑←↓↗"
        canvas = canvas_on(DUOCHROME, number)
        assert canvas.middle_arcmin == pytest.approx(((box[0] + box[2]) / 2.0, 0.0))
        assert 0.8 < (box[2] - box[0]) / canvas.arcmin_per_pixel / canvas.width < 0.9
    for figure in EVERY:
        assert parts_of(Scene(figure=figure)) == ()
        assert canvas_on(Scene(figure=figure), 1) == canvas_for(Scene(figure=figure))


@pytest.mark.parametrize("kind", [LensKind.RED, LensKind.GREEN])
def test_a_figure_through_a_coloured_glass_is_coloured(kind):
    seen = eye_view(0.0, 0.0, 180.0, TrialLens(kind=kind)).picture(
        Scene(figure=DOTS), canvas_for(Scene(figure=DOTS), 160, 120)
    )
    assert seen.shape == (120, 160, 3)
    assert int(seen[2, 2].argmax()) == (0 if kind is LensKind.RED else 1)


def test_a_covered_eye_sees_no_figure_and_no_panel():
    covered = eye_view(0.0, 0.0, 180.0, TrialLens(kind=LensKind.OCCLUDER))
    for scene in (DUOCHROME, *(Scene(figure=figure) for figure in EVERY)):
        assert not covered.picture(scene, canvas_for(scene, 64, 48)).any()


def test_rings_are_seen_like_letters():
    # a ring with its gap right is the letter C; through an eye too
    eye = eye_view(-0.5)
    rings, letters = (Scene(rows=(Row(size_logmar=0.5, letters=text),)) for text in ("→→", "CC"))
    canvas = canvas_for(rings, 160, 120)
    assert (eye.picture(rings, canvas) == eye.picture(letters, canvas)).all()
    assert Pattern(rows=rings.rows).size_arcmin == rings.size_arcmin
