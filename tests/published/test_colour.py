"""Filters and colour against the observer's tables, the display's standard and common practice."""

import warnings

import numpy as np
import pytest

from optics.errors import EyeError
from optics.eye.chromatic import (
    FILTER_NAMES,
    chromatic_refraction_d,
    filter_transmittance,
    filtered_light,
    luminous_transmittance,
    white_light,
)
from optics.eye.colour import (
    BRADFORD,
    LUMINANCE_OF_RGB,
    RGB_OF_XYZ,
    X_BAR,
    Z_BAR,
    colour_channels,
    rgb_matching,
    shown_rgb,
)

TENS_NM = np.arange(400.0, 701.0, 10.0)
ONES_NM = np.arange(400.0, 701.0, 1.0)
PANELS = ("red-panel", "green-panel")


@pytest.fixture(scope="module")
def science():
    """Return the general colour library, which is told not to miss its optional parts."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


@pytest.fixture(scope="module")
def observer(science):
    return science.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]


@pytest.fixture(scope="module")
def efficiency(observer) -> np.ndarray:
    """Return the luminous efficiency by single nanometres (y of the 1931 observer)."""
    return np.array([observer[at][1] for at in ONES_NM])


def rx(wavelengths_nm: np.ndarray) -> np.ndarray:
    # Thibos, Ye, Zhang & Bradley 1992, written out
    return 1.68524 - 633.46 / (wavelengths_nm - 214.102)


def test_the_observer_is_the_published_one(observer):
    table = np.array([observer[at] for at in TENS_NM])
    assert pytest.approx(table[:, 0], abs=5e-6) == X_BAR  # the table's last digit
    assert pytest.approx(table[:, 2], abs=5e-6) == Z_BAR


def test_the_light_before_a_filter_is_the_equal_energy_illuminant(science):
    illuminant = science.SDS_ILLUMINANTS["E"]
    assert len({float(illuminant[at]) for at in TENS_NM}) == 1


def test_the_display_and_the_adaptation_are_the_librarys(science):
    assert pytest.approx(science.RGB_COLOURSPACES["sRGB"].matrix_XYZ_to_RGB) == RGB_OF_XYZ
    assert pytest.approx(science.adaptation.CHROMATIC_ADAPTATION_TRANSFORMS["Bradford"]) == BRADFORD
    luminances = np.linalg.inv(RGB_OF_XYZ)[1]
    assert pytest.approx(luminances, abs=2e-4) == LUMINANCE_OF_RGB


@pytest.mark.parametrize("name", [*FILTER_NAMES, "none"])
def test_a_lights_colour_is_the_librarys(science, observer, name):
    # the library's own sum over its own table, adapted from equal-energy white to D65
    passed = filter_transmittance(name, TENS_NM) if name != "none" else np.ones_like(TENS_NM)
    table = np.array([observer[at] for at in TENS_NM])
    xyz = passed @ table / table[:, 1].sum()
    adapt = science.adaptation.matrix_chromatic_adaptation_VonKries(
        table.sum(axis=0) / table[:, 1].sum(), np.array([0.95047, 1.0, 1.08883]), "Bradford"
    )
    expected = science.RGB_COLOURSPACES["sRGB"].matrix_XYZ_to_RGB @ adapt @ xyz
    assert rgb_matching() @ passed == pytest.approx(expected, abs=1e-3)


def test_white_shows_as_white_and_nothing_shows_below_black():
    assert shown_rgb(()) == pytest.approx((1.0, 1.0, 1.0), abs=1e-9)
    for name in FILTER_NAMES:
        assert min(shown_rgb((name,))) >= 0.0
        # what is left out of the colour is not left out of the light; adaptation shifts a little
        shown = np.dot(shown_rgb((name,)), LUMINANCE_OF_RGB)
        assert shown == pytest.approx(luminous_transmittance((name,)), rel=0.08)


@pytest.mark.parametrize(
    ("name", "strongest"), [("red", 0), ("green", 1), ("red-panel", 0), ("green-panel", 1)]
)
def test_each_filter_shows_in_its_colour(name, strongest):
    rgb = shown_rgb((name,))
    assert max(rgb) == rgb[strongest]
    assert sum(rgb) - max(rgb) < 0.05 * max(rgb)


# of luminous efficiency times transmittance: 620 and 535 nm, from memory
@pytest.mark.parametrize(
    ("name", "peak_nm"), [("red", 620), ("green", 535), ("red-panel", 620), ("green-panel", 535)]
)
def test_what_passes_looks_brightest_where_filters_are_said_to(efficiency, name, peak_nm):
    seen = efficiency * filter_transmittance(name, ONES_NM)
    assert ONES_NM[int(seen.argmax())] == pytest.approx(peak_nm, abs=5.0)


@pytest.mark.parametrize("name", FILTER_NAMES)
def test_luminous_transmittance_is_the_observers_integral(efficiency, name):
    expected = np.sum(efficiency * filter_transmittance(name, ONES_NM)) / efficiency.sum()
    assert luminous_transmittance((name,)) == pytest.approx(expected, rel=0.01)  # tens for ones
    assert 0.05 < expected < 0.35  # from memory: a tenth to a third


def test_panels_are_equally_bright_and_each_glass_hides_the_other_colour():
    red, green = (luminous_transmittance((name,)) for name in PANELS)
    assert red == pytest.approx(green, rel=0.1)
    for glass, other in (("red", "green-panel"), ("green", "red-panel")):
        assert luminous_transmittance((glass, other)) < 0.01 * luminous_transmittance((other,))


def test_the_duochrome_interval_is_the_published_one(efficiency):
    # 620 less 535 nm gives 0.41 D; 0.38 to 0.55 is accepted
    means = [
        float(np.average(rx(ONES_NM), weights=efficiency * filter_transmittance(name, ONES_NM)))
        for name in PANELS
    ]
    ours = [
        sum(
            weight * chromatic_refraction_d(at)
            for at, weight in zip(light.wavelengths_nm, light.weights, strict=True)
        )
        for light in (filtered_light((name,), 3) for name in PANELS)
    ]
    assert ours == pytest.approx(means, abs=0.01)
    assert 0.38 <= ours[0] - ours[1] <= 0.55
    assert rx(np.array([620.0]))[0] - rx(np.array([535.0]))[0] == pytest.approx(0.413, abs=0.001)


@pytest.mark.parametrize("count", [3, 5, 7])
@pytest.mark.parametrize("filters", [("red",), ("green",), PANELS[:1], PANELS[1:], ("red", "red")])
def test_a_few_wavelengths_stand_for_filtered_light(observer, filters, count):
    weight = np.array([observer[at][1] for at in TENS_NM])
    for name in filters:
        weight = weight * filter_transmittance(name, TENS_NM)
    light = filtered_light(filters, count)
    nodes, shares = np.array(light.wavelengths_nm), np.array(light.weights)
    assert shares.sum() == pytest.approx(1.0, abs=1e-12)
    assert min(shares) > 0.0
    for degree in range(2 * count):
        expected = np.average(((TENS_NM - 550.0) / 150.0) ** degree, weights=weight)
        assert np.sum(shares * ((nodes - 550.0) / 150.0) ** degree) == pytest.approx(
            expected, abs=1e-6
        )


def test_no_filter_is_white_light():
    assert filtered_light((), 7) == white_light(7)


def test_the_channels_of_white_light_lie_where_their_colours_do():
    red, green, blue = (
        np.average(one.spectrum.wavelengths_nm, weights=one.spectrum.weights)
        for one in colour_channels(())
    )
    assert blue < 490.0 < green < 570.0 < 590.0 < red


@pytest.mark.parametrize("name", FILTER_NAMES)
def test_a_channel_without_light_has_no_spectrum(name):
    for channel in colour_channels((name,)):
        assert (channel.spectrum is None) == (channel.level == 0.0)
        if channel.spectrum is not None:
            # a narrow light: its one channel is focused where the whole of it is
            centre = np.average(
                rx(np.array(channel.spectrum.wavelengths_nm)), weights=channel.spectrum.weights
            )
            light = filtered_light((name,), 7)
            whole = np.average(rx(np.array(light.wavelengths_nm)), weights=light.weights)
            assert centre == pytest.approx(whole, abs=0.05)


def test_an_unknown_filter_is_refused():
    with pytest.raises(EyeError, match="red, green, red-panel, green-panel, got 'blue'"):
        filter_transmittance("blue", TENS_NM)
