"""How patients answer: chances against drawn noise, details against rasters, habits in bounds."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from optics.errors import EyeError
from optics.eye.eye import EyePair, ordinary_pair, required_vergence
from optics.eye.nerve import Nerve
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.power import SpheroCylinder
from optics.patient.change import (
    CLEARER,
    FEWER,
    MORE,
    SAME,
    SMALLER,
    WORSE,
    better_or_worse,
    clearer_or_smaller,
    more_letters,
)
from optics.patient.colours import GREEN, RED, UNSEEN, red_or_green
from optics.patient.compare import FIRST, SECOND, Asked, Looked, pair_chances
from optics.patient.lines import EQUAL, blackest_lines, blocks_equal, clarity_of_spokes, spoke_name
from optics.patient.traits import Manner, Traits
from optics.sight.clarity import COMPARISON_SD, clarity
from optics.sight.details import DOTS, LETTERS, RINGS, bars, contrast_power
from optics.sight.figures import DOT_PLACES
from optics.sight.letters import RINGS as RING_NAMES
from optics.sight.letters import SLOAN, letter_ink, sloan_spectra
from optics.sight.targets import Wall
from optics.sight.view import View, look

RIGHT, LEFT = EyeSide.RIGHT, EyeSide.LEFT
OCCLUDER = PlacedLens(lens=TrialLens(kind=LensKind.OCCLUDER))
DRAWS = 200_000
CHANCE_ROOM = 4.0 * math.sqrt(0.25 / DRAWS)  # four standard errors of a drawn share


def person(
    sphere_d: float = 0.0, cylinder_d: float = 0.0, axis_deg: float = 180.0, age_y: float = 60.0
) -> EyePair:
    need = SpheroCylinder(sphere_d=sphere_d, cylinder_d=cylinder_d, axis_deg=axis_deg)
    vergence = required_vergence(need, 12.0, 6.0)
    pair = ordinary_pair(vergence, vergence, age_y=age_y, pupil_mm=4.0)
    return replace(pair, amplitude_d=0.0) if age_y == 60.0 else pair


@cache
def seen(eyes: EyePair, sphere_d: float = 0.0, dark: bool = False) -> View:
    frame = TrialFrame().with_lens(LEFT, Place.CELL_4, OCCLUDER)
    if sphere_d:
        lens = TrialLens(kind=LensKind.SPHERE, power_d=sphere_d)
        frame = frame.with_lens(RIGHT, Place.CELL_1, PlacedLens(lens=lens))
    if dark:
        frame = frame.with_lens(RIGHT, Place.CELL_4, OCCLUDER)
    return look(eyes, frame, Wall())


# ---- two views


@pytest.mark.parametrize("manner", Manner)
@pytest.mark.parametrize("ahead_sd", [-1.7, 0.0, 0.4, 2.5])
@pytest.mark.parametrize(
    "traits",
    [
        Traits(),
        Traits(noise=2.0, band_sd=1.0, lean_sd=0.7),
        Traits(lapse=0.25, suggestible=0.5),
        Traits(noise=0.7, band_sd=0.0, lean_sd=-1.0, lapse=1.0),
    ],
    ids=["ordinary", "noisy", "lapsing", "without looking"],
)
def test_chances_of_a_pair_are_those_of_drawn_noise(traits, ahead_sd, manner):
    """Noise is drawn in units of the ordinary person's, whose band and lean go with his own."""
    rng = np.random.default_rng(20261125)
    lean_sd = traits.lean_sd
    if manner is Manner.LEADING:
        lean_sd += 0.5 + 1.0 * traits.suggestible
    felt = ahead_sd + traits.noise * (rng.standard_normal(DRAWS) - lean_sd)
    band = traits.noise * traits.band_sd if manner is Manner.OFFERED else 0.0
    replies = np.select([felt > band, felt < -band], [0, 1], 2)
    away = rng.random(DRAWS) < traits.lapse
    replies[away] = rng.integers(0, 3 if manner is Manner.OFFERED else 2, int(away.sum()))
    share = np.bincount(replies, minlength=3) / DRAWS
    told = pair_chances(ahead_sd, Asked(traits=traits, manner=manner))
    assert [told[FIRST], told[SECOND], told["same"]] == pytest.approx(share, abs=CHANCE_ROOM)
    assert sum(told.values()) == pytest.approx(1.0, abs=1e-12)


def test_one_who_tires_has_twice_the_noise_after_twenty_minutes():
    tiring = Asked(traits=Traits(tires=1.0), minutes=20.0)
    assert pair_chances(1.0, tiring) == pair_chances(1.0, Asked(traits=Traits(noise=2.0)))
    assert Asked(traits=Traits(tires=0.5), minutes=10.0).noise == 1.25
    assert Asked(traits=Traits(tires=1.0), minutes=-3.0).noise == 1.0


@pytest.mark.parametrize(
    ("field", "value", "allowed"),
    [
        *(("noise", 0.0, "0.1 to 10"), ("noise", math.nan, "0.1 to 10")),
        *(("band_sd", -0.1, "0 to 5"), ("lapse", 1.1, "0 to 1"), ("lean_sd", 5.5, "-5 to 5")),
        *(("tires", -0.1, "0 to 1"), ("suggestible", 2.0, "0 to 1")),
        *(("claims_logmar", 3.5, "-0.5 to 3"), ("claims_logmar", math.inf, "-0.5 to 3")),
    ],
)
def test_a_habit_out_of_bounds_is_refused_by_name(field, value, allowed):
    with pytest.raises(EyeError, match=f"^{field} must be {allowed}, got {value}$"):
        Traits(**{field: value})


def test_what_the_nerve_passes_nothing_of_has_no_clarity():
    # N(f) is zero above 60 c/deg: with a loss of 30 above 2, where no 6/6 letter has any power
    clear = clarity(seen(person()).right.transfer, (0.0, 1.0, 2.0), Nerve(loss=30.0))
    assert clear[0] == 0.0
    assert 0.0 <= clear[1] < clear[2]


# ---- a change of lens


def test_more_plus_than_needed_is_worse_and_the_lens_needed_is_better():
    eyes = person(-1.0)
    needed, bare, fogged = (seen(eyes, power_d) for power_d in (-1.0, 0.0, 0.5))
    looked = Looked(size_logmar=0.5)  # 1 D costs about 0.3: still read, and not far too large
    assert better_or_worse(needed, bare, looked, Asked()).chances["better"] > 0.9
    assert better_or_worse(fogged, bare, looked, Asked()).chances["worse"] > 0.9
    assert more_letters(needed, bare, Asked()).chances[MORE] > 0.99
    assert more_letters(bare, needed, Asked()).chances[FEWER] > 0.99
    assert more_letters(bare, bare, Asked()).chances["same"] > 0.4


def test_what_only_makes_the_young_work_looks_smaller_and_darker():
    # accept minus only for letters: "smaller and blacker" without them is refused (teaching rule)
    young, old = person(age_y=20.0), person()
    looked = Looked(size_logmar=0.1)
    told = clearer_or_smaller(seen(young, -1.0), seen(young), looked, Asked()).chances
    assert told[SMALLER] > 10.0 * told[SAME]
    assert told[SMALLER] > told[CLEARER]
    told = clearer_or_smaller(seen(old, -1.0), seen(old), looked, Asked()).chances
    assert told[WORSE] > 0.9
    assert told[SMALLER] < 0.001


# ---- lines

TWELVE = np.arange(12)


@pytest.mark.parametrize(
    ("sphere_d", "cylinder_d", "axis_deg"),
    [(1.0, -0.5, 20.0), (0.0, -0.5, 100.0), (0.25, -1.0, 63.0), (0.0, 0.0, 180.0)],
)
@pytest.mark.parametrize("noise", [1.0, 3.0])
def test_the_fans_chances_are_those_of_twelve_noisy_lines(sphere_d, cylinder_d, axis_deg, noise):
    """A line's noise is that of one view: 1/sqrt 2 of a difference's, twice as large on a fan."""
    eye = seen(person(sphere_d, cylinder_d, axis_deg)).right
    stroke = math.log10(3.0)
    clear = clarity_of_spokes(eye.transfer, eye, stroke) / COMPARISON_SD
    rng = np.random.default_rng(31)
    lines = clear + 2.0 * noise / math.sqrt(2.0) * rng.standard_normal((DRAWS, 12))
    # a wave once around the half turn of lines, by least squares
    wave = np.stack([np.cos(math.pi * TWELVE / 6.0), np.sin(math.pi * TWELVE / 6.0)], axis=1)
    parts = np.linalg.lstsq(wave, (lines - lines.mean(axis=1, keepdims=True)).T, rcond=None)[0]
    contrast = 2.0 * np.hypot(*parts)
    # equal: less between the blackest and the faintest than twice the band of 0.6 of the noise
    equal = contrast < 2.0 * 0.6 * 2.0 * noise
    best = np.rint(np.arctan2(parts[1], parts[0]) * 6.0 / math.pi).astype(int) % 12
    told = blackest_lines(eye, stroke, Asked(traits=Traits(noise=noise))).chances
    share = {spoke_name(spoke): np.mean(~equal & (best == spoke)) for spoke in TWELVE}
    for name, chance in (share | {EQUAL: equal.mean()}).items():
        # 48 radii and 360 directions stand for the plane: half a hundredth
        assert told[name] == pytest.approx(chance, abs=CHANCE_ROOM + 0.005), name
    assert sum(told.values()) == pytest.approx(1.0, abs=1e-9)


def test_twelve_lines_have_the_names_of_the_clock():
    # three to nine o'clock lies across; clockwise, half an hour a line
    assert [spoke_name(spoke) for spoke in TWELVE] == [
        *("3", "3.5", "4", "4.5", "5", "5.5", "6", "0.5", "1", "1.5", "2", "2.5")
    ]


@pytest.mark.parametrize("axis_deg", [180.0, 90.0, 30.0, 120.0])
def test_the_rule_of_thirty_and_the_blocks_agree(axis_deg):
    """Fogged: the line at axis / 30 hours is blackest, and the block whose lines run along it.

    The meridian of the axis is the least myopic; its focal line, nearest the retina, runs across
    it, so the clear block is the one whose lines stand across the axis.
    """
    # the circle of least confusion lies C / 2 + 0.25 in front of the retina
    fogged = seen(person(-0.25, -2.0, axis_deg)).right
    told = blackest_lines(fogged, math.log10(3.0), Asked()).chances
    assert max(told, key=told.get) == f"{axis_deg / 30.0:g}"
    along, across = (
        blocks_equal(fogged, math.log10(3.0), turned, Asked()).chances
        for turned in (axis_deg, (axis_deg + 90.0) % 180.0 or 180.0)
    )
    assert along[SECOND] > 0.95
    assert across[FIRST] == pytest.approx(along[SECOND], abs=1e-6)


def test_two_colours_turn_over_with_the_sphere():
    # too much plus: red; too much minus: green
    told = [red_or_green(seen(person(), m).right, 0.3, Asked()).chances for m in (0.75, -0.75)]
    assert told[0][RED] > 0.95
    assert told[1][GREEN] > 0.95


def test_in_the_dark_no_line_and_no_colour_is_seen():
    dark = seen(person(), dark=True).better
    assert blackest_lines(dark, 0.5, Asked()).chances == {"unseen": 1.0}
    assert blocks_equal(dark, 0.5, 180.0, Asked()).chances == {"unseen": 1.0}
    assert red_or_green(dark, 0.3, Asked()).chances == {UNSEEN: 1.0}


# ---- details against rasters of them

PIXELS = 300


def power_of(raster: np.ndarray) -> np.ndarray:
    """Return the power of a raster of the unit square at the letters' points, by a padded FFT.

    Three squares wide, its steps are thirds of a cycle a letter: the letters' own.
    """
    spectra = sloan_spectra()
    size = len(raster)
    whole = np.fft.fft2(raster, (3 * size, 3 * size)) / size**2
    across, upward = (np.rint(3.0 * part).astype(int) for part in (spectra.ux, spectra.uy))
    power: np.ndarray = np.abs(whole[-upward, across]) ** 2 * spectra.count
    return power


def axes() -> tuple[np.ndarray, np.ndarray]:
    steps = (np.arange(PIXELS) + 0.5) / PIXELS - 0.5
    return steps[np.newaxis, :], -steps[:, np.newaxis]


@pytest.mark.parametrize("angle_deg", [0.0, 90.0])
def test_bars_have_the_power_of_three_bars_less_grey(angle_deg):
    x, y = axes()
    across = y if angle_deg == 0.0 else x
    striped = (np.abs(np.abs(across) - 0.2) > 0.1) & (np.abs(across) < 0.5)
    raster = np.where(striped, 1.0, 0.0) + np.zeros((PIXELS, PIXELS)) - 0.6
    power = contrast_power(bars(angle_deg))
    assert power == pytest.approx(power_of(raster), abs=0.005 * power.max())


def test_bars_turn_with_their_angle():
    spectra = sloan_spectra()
    for angle_deg in (0.0, 30.0, 75.0):
        power = contrast_power(bars(angle_deg))
        angle = math.radians(angle_deg)
        along = spectra.ux * math.cos(angle) + spectra.uy * math.sin(angle)
        across = spectra.uy * math.cos(angle) - spectra.ux * math.sin(angle)
        assert (power * across**2).sum() > 5.0 * (power * along**2).sum()
    assert contrast_power(bars(180.0)) == pytest.approx(contrast_power(bars(0.0)))


@pytest.mark.parametrize(("detail", "names"), [(LETTERS, SLOAN), (RINGS, RING_NAMES)])
def test_letters_and_rings_have_the_power_that_tells_them_apart(detail, names):
    inks = np.array([letter_ink(name, 120) for name in names])
    power = np.mean([power_of(ink - inks.mean(axis=0)) for ink in inks], axis=0)
    assert contrast_power(detail) == pytest.approx(power, abs=0.005 * power.max())


def test_rings_differ_less_than_letters_do():
    # eight rings share all but a gap
    assert contrast_power(RINGS).sum() < 0.5 * contrast_power(LETTERS).sum()


def test_dots_have_the_power_of_twenty_discs():
    x, y = axes()
    disc = np.where(np.hypot(x, y) < 0.1, 1.0, 0.0)
    discs = 20.0 * power_of(disc)
    power = contrast_power(DOTS)
    assert power == pytest.approx(discs, abs=0.03 * discs.max())
    # the cluster that hangs on the wall: its powers add, but for their chance of one throw
    spectra = sloan_spectra()
    places = 0.2 * np.array(DOT_PLACES)
    phases = np.outer(places[:, 0], spectra.ux) + np.outer(places[:, 1], spectra.uy)
    joint = np.abs(np.exp(2j * math.pi * phases).sum(axis=0)) ** 2 / 20.0
    radius = np.hypot(spectra.ux, spectra.uy)
    assert np.mean(joint[(radius > 1.0) & (radius <= 5.0)]) == pytest.approx(1.0, abs=0.25)
